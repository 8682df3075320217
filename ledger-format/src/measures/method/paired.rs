//! Two proportions of the same animals, seen twice.

use statrs::distribution::{Binomial, Discrete, DiscreteCDF};

use super::{Limits, proportion};

/// Limits of (both + first only)/n − (both + second only)/n (Newcombe 1998, Stat Med 17:2635, method 10). None of none.
pub fn newcombe_paired(both: u64, first_only: u64, second_only: u64, neither: u64, level: f64) -> Option<Limits> {
    let n = both + first_only + second_only + neither;
    let (x1, x2) = (both + first_only, both + second_only);
    let (a, b) = (proportion::wilson(x1, n, level)?, proportion::wilson(x2, n, level)?);
    let (p1, p2) = (x1 as f64 / n as f64, x2 as f64 / n as f64);
    let phi = correlation(both as f64, first_only as f64, second_only as f64, neither as f64);
    let spread = |u: f64, v: f64| (u * u - 2.0 * phi * u * v + v * v).max(0.0).sqrt();
    let d = p1 - p2;
    Some(Limits { lower: d - spread(p1 - a.lower, b.upper - p2), upper: d + spread(a.upper - p1, p2 - b.lower) })
}

/// The corrected phi of the method: 0 where a margin is empty.
fn correlation(e: f64, f: f64, g: f64, h: f64) -> f64 {
    let margins = (e + f) * (g + h) * (e + g) * (f + h);
    if margins <= 0.0 {
        return 0.0;
    }
    let cross = e * h - f * g;
    let corrected = if cross > 0.0 { (cross - (e + f + g + h) / 2.0).max(0.0) } else { cross };
    corrected / margins.sqrt()
}

/// The mid-p of `McNemar`'s test of two counts of change (Fagerland et al. 2013): 1 where nothing changed.
pub fn mcnemar_mid_p(first_only: u64, second_only: u64) -> f64 {
    let (n, least) = (first_only + second_only, first_only.min(second_only));
    let Some(even) = Binomial::new(0.5, n).ok().filter(|_| n > 0) else { return 1.0 };
    if first_only == second_only {
        return 1.0 - even.pmf(least) / 2.0;
    }
    (2.0 * even.cdf(least) - even.pmf(least)).min(1.0)
}
