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
    if x.len() != n.len() || x.len() < 2 || x.iter().zip(n).any(|(x, n)| *n == 0 || x > n) {
        return None;
    }
    let center = x.iter().sum::<u64>() as f64 / n.iter().sum::<u64>() as f64;
    let sigma = |n: u64| (center * (1.0 - center) / n as f64).sqrt();
    if !(center > 0.0 && center < 1.0) {
        return None;
    }
    let raw: Vec<f64> = x.iter().zip(n).map(|(x, n)| (*x as f64 / *n as f64 - center) / sigma(*n)).collect();
    let steps: f64 = raw.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum();
    let sigma_z = steps / (raw.len() - 1) as f64 / MEAN_STEP;
    if sigma_z <= 0.0 {
        return None;
    }
    let reach = |n: &u64| 3.0 * sigma(*n) * sigma_z;
    Some(Chart {
        center,
        sigma_z,
        z: raw.iter().map(|z| z / sigma_z).collect(),
        lower: n.iter().map(|n| (center - reach(n)).max(0.0)).collect(),
        upper: n.iter().map(|n| (center + reach(n)).min(1.0)).collect(),
    })
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
