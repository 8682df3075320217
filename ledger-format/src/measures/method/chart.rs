//! Charts over time: limits that chance alone keeps to, and rules for what is beyond it.

/// Expected mean step between two points of a normal series, in standard deviations.
const MEAN_STEP: f64 = 1.128;

/// Limits of shares that vary more, or less, than counting alone would have them.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// Pooled share.
    pub center: f64,
    /// How much the points vary beside what counting alone gives; 1 is as much.
    pub sigma_z: f64,
    /// Each point's distance from the centre, in standard deviations after `sigma_z`.
    pub z: Vec<f64>,
    /// Lower limit of each point, at 3.
    pub lower: Vec<f64>,
    /// Upper limit of each point, at 3.
    pub upper: Vec<f64>,
}

/// Laney's p' chart (2002): x of n each time. None for fewer than two points, an empty point, or a share of 0 or 1.
pub fn laney_p(x: &[u64], n: &[u64]) -> Option<Chart> {
    if x.len() != n.len() || x.iter().zip(n).any(|(x, n)| *n == 0 || x > n) {
        return None;
    }
    let center = x.iter().sum::<u64>() as f64 / n.iter().sum::<u64>() as f64;
    let sigmas: Vec<f64> = n.iter().map(|n| (center * (1.0 - center) / *n as f64).sqrt()).collect();
    let shares: Vec<f64> = x.iter().zip(n).map(|(x, n)| *x as f64 / *n as f64).collect();
    if !(center > 0.0 && center < 1.0) {
        return None;
    }
    laney(center, &shares, &sigmas, 1.0)
}

/// Laney's u' chart (2002): counts per exposure. None for fewer than two points, no exposure, or no event.
pub fn laney_u(x: &[u64], exposure: &[f64]) -> Option<Chart> {
    let Limited { center, .. } = u(x, exposure)?;
    let sigmas: Vec<f64> = exposure.iter().map(|of| (center / of).sqrt()).collect();
    let values: Vec<f64> = x.iter().zip(exposure).map(|(x, of)| *x as f64 / of).collect();
    if center <= 0.0 {
        return None;
    }
    laney(center, &values, &sigmas, f64::MAX)
}

fn laney(center: f64, values: &[f64], sigmas: &[f64], most: f64) -> Option<Chart> {
    let raw: Vec<f64> = values.iter().zip(sigmas).map(|(value, sigma)| (value - center) / sigma).collect();
    let steps: f64 = raw.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum();
    let sigma_z = steps / raw.len().checked_sub(1).filter(|steps| *steps > 0)? as f64 / MEAN_STEP;
    if sigma_z <= 0.0 {
        return None;
    }
    Some(Chart {
        center,
        sigma_z,
        z: raw.iter().map(|z| z / sigma_z).collect(),
        lower: sigmas.iter().map(|sigma| (center - 3.0 * sigma * sigma_z).max(0.0)).collect(),
        upper: sigmas.iter().map(|sigma| (center + 3.0 * sigma * sigma_z).min(most)).collect(),
    })
}

impl Chart {
    /// These limits, or those of counting alone where these are narrower; `counted` are those of the same points.
    ///
    /// Where the same animals are seen each time, neighbouring points are alike, their mean step says nothing of how
    /// far a series wanders, and limits made from it are far too narrow. Without steps (all points alike) there is
    /// no chart to widen: then the limits are those of counting alone, too.
    pub fn not_under(laney: Option<Self>, counted: Limited) -> Self {
        let sigma_z = laney.as_ref().map_or(0.0, |chart| chart.sigma_z);
        let z = laney.as_ref().map_or_else(|| vec![0.0; counted.lower.len()], |chart| chart.z.clone());
        match laney {
            Some(chart) if sigma_z >= 1.0 => chart,
            _ => Self {
                center: counted.center,
                sigma_z,
                z: z.iter().map(|z| z * sigma_z).collect(),
                lower: counted.lower,
                upper: counted.upper,
            },
        }
    }
}

/// Points more than 3 from the centre, by place from 0.
pub fn beyond(z: &[f64]) -> Vec<usize> {
    (0..z.len()).filter(|at| z[*at].abs() > 3.0).collect()
}

/// Points that end a run of eight on one side of the centre, by place from 0; a run is told once, at its eighth point.
pub fn eight_on_one_side(z: &[f64]) -> Vec<usize> {
    let (mut ends, mut run, mut side) = (Vec::new(), 0, None);
    for (at, z) in z.iter().enumerate() {
        let now = z.partial_cmp(&0.0).filter(|side| side.is_ne());
        run = if now.is_some() && now == side { run + 1 } else { u32::from(now.is_some()) };
        side = now;
        if run == 8 {
            ends.push(at);
        }
    }
    ends
}

/// Centre and limits, and which points are outside them, by place from 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Limited {
    /// The centre.
    pub center: f64,
    /// Lower limit of each point.
    pub lower: Vec<f64>,
    /// Upper limit of each point.
    pub upper: Vec<f64>,
    /// Points outside their limits.
    pub beyond: Vec<usize>,
}

fn limited(center: f64, values: &[f64], reach: impl Fn(usize) -> f64, most: f64) -> Limited {
    let lower: Vec<f64> = (0..values.len()).map(|at| (center - reach(at)).max(0.0)).collect();
    let upper: Vec<f64> = (0..values.len()).map(|at| (center + reach(at)).min(most)).collect();
    let beyond = (0..values.len()).filter(|at| values[*at] < lower[*at] || values[*at] > upper[*at]).collect();
    Limited { center, lower, upper, beyond }
}

/// Shares, x of n each time, with the limits that counting alone keeps to (p chart). None of none.
pub fn p(x: &[u64], n: &[u64]) -> Option<Limited> {
    if x.is_empty() || x.len() != n.len() || x.iter().zip(n).any(|(x, n)| *n == 0 || x > n) {
        return None;
    }
    let center = x.iter().sum::<u64>() as f64 / n.iter().sum::<u64>() as f64;
    let values: Vec<f64> = x.iter().zip(n).map(|(x, n)| *x as f64 / *n as f64).collect();
    Some(limited(center, &values, |at| 3.0 * (center * (1.0 - center) / n[at] as f64).sqrt(), 1.0))
}

/// Counts per exposure with the limits of chance (u chart); a c chart where every exposure is 1. None of none.
pub fn u(x: &[u64], exposure: &[f64]) -> Option<Limited> {
    if x.is_empty() || x.len() != exposure.len() || exposure.iter().any(|of| *of <= 0.0 || !of.is_finite()) {
        return None;
    }
    let center = x.iter().sum::<u64>() as f64 / exposure.iter().sum::<f64>();
    let values: Vec<f64> = x.iter().zip(exposure).map(|(x, of)| *x as f64 / of).collect();
    Some(limited(center, &values, |at| 3.0 * (center / exposure[at]).sqrt(), f64::MAX))
}

/// A moving average in which each point weighs `weight` and what was before the rest, from a target on.
pub fn moving_average(x: &[f64], weight: f64, target: f64) -> Vec<f64> {
    x.iter()
        .scan(target, |before, x| {
            *before = weight * x + (1.0 - weight) * *before;
            Some(*before)
        })
        .collect()
}

/// The standard deviations of a moving average whose points have these variances.
pub fn moving_spread(variances: &[f64], weight: f64) -> Vec<f64> {
    variances
        .iter()
        .scan(0.0, |before, variance| {
            *before = weight * weight * variance + (1.0 - weight) * (1.0 - weight) * *before;
            Some(f64::sqrt(*before))
        })
        .collect()
}

/// The binomial CUSUM that looks for a rise from p0 to p1: k per animal, and the sum after each point. None unless
/// 0 < p0 < p1 < 1.
pub fn cusum(x: &[u64], n: &[u64], p0: f64, p1: f64) -> Option<(f64, Vec<f64>)> {
    if !(p0 > 0.0 && p0 < p1 && p1 < 1.0) || x.len() != n.len() {
        return None;
    }
    let k = ((1.0 - p0) / (1.0 - p1)).ln() / (p1 * (1.0 - p0) / (p0 * (1.0 - p1))).ln();
    let sums = x.iter().zip(n).scan(0.0, |sum, (x, n)| {
        *sum = f64::max(0.0, *sum + *x as f64 - k * *n as f64);
        Some(*sum)
    });
    Some((k, sums.collect()))
}

/// Points that end a run of `of` points with at least `least` beyond `zone` on one side, themselves among them, by
/// place from 0.
pub fn zone_rule(z: &[f64], least: usize, of: usize, zone: f64) -> Vec<usize> {
    let signals = |at: &usize, side: f64| {
        let from = (at + 1).saturating_sub(of);
        z[*at] * side > zone && z[from..=*at].iter().filter(|z| **z * side > zone).count() >= least
    };
    (0..z.len()).filter(|at| signals(at, 1.0) || signals(at, -1.0)).collect()
}

/// Points that end six in a row, each above, or each below, the one before; told once a run, by place from 0.
pub fn six_in_a_row(z: &[f64]) -> Vec<usize> {
    let (mut ends, mut run, mut way) = (Vec::new(), 1, None);
    for at in 1..z.len() {
        let now = z[at].partial_cmp(&z[at - 1]).filter(|way| way.is_ne());
        run = if now.is_some() && now == way { run + 1 } else { 1 + u32::from(now.is_some()) };
        way = now;
        if run == 6 {
            ends.push(at);
        }
    }
    ends
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widened_rates_move_with_the_unit_and_stand_with_shares_of_the_rare() {
        // Counts of one exposure: the mean step by hand. 4, 16, 4, 16 of 1: centre 10, steps 12/√10, spread 3.3643.
        let chart = laney_u(&[4, 16, 4, 16], &[1.0; 4]).unwrap();
        assert!((chart.sigma_z - 12.0 / 10.0_f64.sqrt() / 1.128).abs() < 1e-12);
        assert!((chart.upper[0] - (10.0 + 3.0 * 12.0 / 1.128)).abs() < 1e-12);
        assert!((chart.lower[0]).abs() < 1e-12);
        let other_unit = laney_u(&[4, 16, 4, 16], &[0.5; 4]).unwrap();
        assert!((other_unit.sigma_z - chart.sigma_z).abs() < 1e-12 && (other_unit.center - 20.0).abs() < 1e-12);
        // Where events are rare among many, a share varies as a rate does.
        let (x, n) = ([4, 16, 4, 16], [1_000_000; 4]);
        let share = laney_p(&x, &n).unwrap();
        assert!((share.sigma_z / chart.sigma_z - 1.0).abs() < 1e-5);
        assert!(laney_u(&[3], &[1.0]).is_none() && laney_u(&[0, 0], &[1.0; 2]).is_none());
        assert!(laney_u(&[1, 2], &[1.0, 0.0]).is_none());
    }
}
