//! Counts and rates per animal-time.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{Limits, proportion, quantile};

/// Exact limits of a Poisson mean from a count (Garwood 1936, in the chi-square form of Ulm 1990).
pub fn poisson_count(count: u64, level: f64) -> Option<Limits> {
    let tail = (1.0 - level) / 2.0;
    let point = |p: f64, degrees: f64| Some(ChiSquared::new(degrees).ok()?.inverse_cdf(p) / 2.0);
    let x = count as f64;
    let lower = if count == 0 { 0.0 } else { point(tail, 2.0 * x)? };
    Some(Limits { lower, upper: point(1.0 - tail, 2.0 * x + 2.0)? })
}

/// A ratio of two rates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratio {
    /// (a / time1) / (b / time0); none if b is 0.
    pub estimate: Option<f64>,
    /// Exact conditional limits; the upper end is infinite, and so none, if b is 0.
    pub lower: f64,
    /// See `lower`.
    pub upper: Option<f64>,
    /// The chance of so uneven a split of the cases or a less likely one if both rates were the same (exact).
    pub p: f64,
}

/// Ratio of a cases in time1 to b cases in time0: Clopper-Pearson limits of a/(a + b), carried over. None without
/// cases or time.
pub fn ratio(a: u64, time1: f64, b: u64, time0: f64, level: f64) -> Option<Ratio> {
    if a + b == 0 || !(time1 > 0.0 && time0 > 0.0) {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    let point = |p: f64, x: u64, y: u64| quantile::beta(p, x as f64, y as f64);
    let odds = |p: f64| p / (1.0 - p) * time0 / time1;
    let lower = if a == 0 { 0.0 } else { odds(point(tail, a, b + 1)?) };
    let upper = if b == 0 { None } else { Some(odds(point(1.0 - tail, a + 1, b)?)) };
    let estimate = (b > 0).then(|| (a as f64 / time1) / (b as f64 / time0));
    let p = proportion::binomial_p(a, a + b, time1 / (time1 + time0))?;
    Some(Ratio { estimate, lower, upper, p })
}

/// A rate per `unit` of time with the exact limits of its count. None without time.
pub fn per(count: u64, time: f64, unit: f64, level: f64) -> Option<(f64, Limits)> {
    let limits = poisson_count(count, level).filter(|_| time > 0.0 && time.is_finite())?;
    let of = |count: f64| count / time * unit;
    Some((of(count as f64), Limits { lower: of(limits.lower), upper: of(limits.upper) }))
}
