//! Two proportions of the same animals, seen twice.

use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, Discrete, DiscreteCDF};

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

/// `McNemar`'s chi-square without correction, and its p. None where nothing changed.
pub fn mcnemar_asymptotic(first_only: u64, second_only: u64) -> Option<(f64, f64)> {
    let n = (first_only + second_only) as f64;
    let chi2 = (first_only as f64 - second_only as f64).powi(2) / n;
    Some((chi2, ChiSquared::new(1.0).ok().filter(|_| n > 0.0)?.sf(chi2)))
}

/// `McNemar`'s exact p: 1 where nothing changed.
pub fn mcnemar_exact_p(first_only: u64, second_only: u64) -> f64 {
    let n = first_only + second_only;
    let Some(even) = Binomial::new(0.5, n).ok().filter(|_| n > 0) else { return 1.0 };
    (2.0 * even.cdf(first_only.min(second_only))).min(1.0)
}

/// Two shares of herds that are partly the same animals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlap {
    /// The first share.
    pub first: f64,
    /// The second share.
    pub second: f64,
    /// Standard error of their difference: p1q1/n1 + p2q2/n2 − 2·n12·(p11 − p1·p2)/(n1·n2), under the root, with the
    /// shares in the middle term those of the animals seen twice.
    pub se: f64,
}

/// Animals seen twice by four counts, and those seen once only at the first or the second time: `x` of `n`. None of
/// none.
pub fn overlapping(twice: [u64; 4], first: (u64, u64), second: (u64, u64)) -> Option<Overlap> {
    let [both, first_only, second_only, neither] = twice.map(|count| count as f64);
    let shared = both + first_only + second_only + neither;
    let (n1, n2) = (shared + first.1 as f64, shared + second.1 as f64);
    if n1 <= 0.0 || n2 <= 0.0 {
        return None;
    }
    let p1 = (both + first_only + first.0 as f64) / n1;
    let p2 = (both + second_only + second.0 as f64) / n2;
    let together = if shared > 0.0 { shared * (both / shared - p1 * p2) } else { 0.0 };
    let variance = p1 * (1.0 - p1) / n1 + p2 * (1.0 - p2) / n2 - 2.0 * together / (n1 * n2);
    Some(Overlap { first: p1, second: p2, se: variance.max(0.0).sqrt() })
}
