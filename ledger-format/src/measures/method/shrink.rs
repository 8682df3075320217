//! Many groups seen together: each drawn towards what all have in common, the more so the less it shows by itself.

use super::{Limits, quantile};

/// How groups spread around their common mean, as a beta distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Common {
    /// Mean of the groups' shares.
    pub mean: f64,
    /// Their standard deviation.
    pub sd: f64,
    /// First parameter: mean · k.
    pub alpha: f64,
    /// Second parameter: (1 − mean) · k, with k = mean · (1 − mean) / sd² − 1.
    pub beta: f64,
}

/// The beta distribution with the mean and variance of the groups' shares (method of moments), each group `x` of `n`.
/// None for fewer than two groups, or where they do not spread, or spread more than any beta does.
pub fn common(groups: &[(u64, u64)]) -> Option<Common> {
    if groups.len() < 2 || groups.iter().any(|(x, n)| *n == 0 || x > n) {
        return None;
    }
    let shares: Vec<f64> = groups.iter().map(|(x, n)| *x as f64 / *n as f64).collect();
    let mean = shares.iter().sum::<f64>() / shares.len() as f64;
    let variance = shares.iter().map(|share| (share - mean).powi(2)).sum::<f64>() / (shares.len() - 1) as f64;
    let k = mean * (1.0 - mean) / variance - 1.0;
    // What is left of groups that are all alike is rounding.
    (variance > 1e-12 && k > 0.0).then(|| Common { mean, sd: variance.sqrt(), alpha: mean * k, beta: (1.0 - mean) * k })
}

/// One group's share, drawn towards the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shrunk {
    /// Mean of its posterior.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Limits: equal tails of the posterior.
    pub limits: Limits,
}

/// The posterior of a share, `x` of `n` seen, where groups spread as beta(`alpha`, `beta`).
pub fn posterior(x: u64, n: u64, alpha: f64, beta: f64, level: f64) -> Option<Shrunk> {
    let (a, b) = (x as f64 + alpha, n.checked_sub(x)? as f64 + beta);
    let tail = (1.0 - level) / 2.0;
    let sum = a + b;
    Some(Shrunk {
        mean: a / sum,
        sd: (a * b / (sum * sum * (sum + 1.0))).sqrt(),
        limits: Limits { lower: quantile::beta(tail, a, b)?, upper: quantile::beta(1.0 - tail, a, b)? },
    })
}
