//! Many groups seen together: each drawn towards what all have in common, the more so the less it shows by itself.

use statrs::function::gamma::digamma;

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

/// The beta distribution that makes the groups most likely, `x` of `n` each, by Minka's fixed point. None where the
/// groups spread no more than chance has them, and it does not settle.
pub fn most_likely(groups: &[(u64, u64)]) -> Option<(f64, f64)> {
    let start = common(groups)?;
    let (mut alpha, mut beta) = (start.alpha, start.beta);
    let sum = |of: &dyn Fn(f64, f64) -> f64| groups.iter().map(|(x, n)| of(*x as f64, *n as f64)).sum::<f64>();
    for _ in 0..STEPS {
        let all = sum(&|_, n| digamma(n + alpha + beta) - digamma(alpha + beta));
        let next_alpha = alpha * sum(&|x, _| digamma(x + alpha) - digamma(alpha)) / all;
        let next_beta = beta * sum(&|x, n| digamma(n - x + beta) - digamma(beta)) / all;
        let moved = (next_alpha / alpha - 1.0).abs().max((next_beta / beta - 1.0).abs());
        (alpha, beta) = (next_alpha, next_beta);
        if moved < 1e-13 {
            return Some((alpha, beta));
        }
    }
    None
}

/// The fixed point comes nearer by a constant factor each step; what has not settled by then does not.
const STEPS: u32 = 20_000;

/// How groups' rates spread around the common rate, as a gamma distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CommonRate {
    /// All events over all time.
    pub rate: f64,
    /// Variance between groups; not above 0 where chance alone spreads them as much.
    pub between: f64,
    /// Shape and rate of the gamma distribution; none where the groups do not spread.
    pub gamma: Option<(f64, f64)>,
}

/// Events and time of each group, by moments (Marshall 1991). None without time.
pub fn common_rate(groups: &[(u64, f64)]) -> Option<CommonRate> {
    let time: f64 = groups.iter().map(|(_, time)| time).sum();
    if groups.is_empty() || groups.iter().any(|(_, time)| *time <= 0.0 || !time.is_finite()) {
        return None;
    }
    let rate = groups.iter().map(|(x, _)| x).sum::<u64>() as f64 / time;
    let spread = groups.iter().map(|(x, of)| of * (*x as f64 / of - rate).powi(2)).sum::<f64>() / time;
    let between = spread - rate / (time / groups.len() as f64);
    let nu = rate / between;
    Some(CommonRate { rate, between, gamma: (between > 0.0).then_some((rate * nu, nu)) })
}

impl CommonRate {
    /// A group's rate drawn to the common one: (events + shape) / (time + rate); the common one where groups do not
    /// spread.
    pub fn drawn(&self, events: u64, time: f64) -> f64 {
        self.gamma.map_or(self.rate, |(alpha, nu)| (events as f64 + alpha) / (time + nu))
    }
}
