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
