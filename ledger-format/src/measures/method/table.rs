//! Tables of two by two, and of more rows.

use statrs::distribution::{ChiSquared, ContinuousCDF, Discrete, Hypergeometric};

use super::{Limits, proportion};

/// An odds ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddsRatio {
    /// a·d / (b·c).
    pub estimate: f64,
    /// Woolf's limits, on the log.
    pub limits: Limits,
}

/// The odds ratio of `a` with and `b` without, against `c` with and `d` without (Woolf 1955). None where a count is 0.
pub fn odds_ratio(a: u64, b: u64, c: u64, d: u64, level: f64) -> Option<OddsRatio> {
    if [a, b, c, d].contains(&0) {
        return None;
    }
    let [a, b, c, d] = [a, b, c, d].map(|count| count as f64);
    let (log, se) = ((a * d / (b * c)).ln(), (1.0 / a + 1.0 / b + 1.0 / c + 1.0 / d).sqrt());
    let z = proportion::z_of(level);
    Some(OddsRatio { estimate: log.exp(), limits: Limits { lower: (log - z * se).exp(), upper: (log + z * se).exp() } })
}

/// Fisher's exact two-sided p of the same table: all tables of its margins that are no more likely. None of none.
pub fn fisher_p(a: u64, b: u64, c: u64, d: u64) -> Option<f64> {
    let (first, with, all) = (a + b, a + c, a + b + c + d);
    if all == 0 {
        return None;
    }
    let tables = Hypergeometric::new(all, with, first).ok()?;
    let observed = tables.pmf(a);
    let range = first.saturating_sub(all - with)..=first.min(with);
    // Tables as likely as the observed one come out apart by rounding only.
    let p: f64 = range.map(|x| tables.pmf(x)).filter(|p| *p <= observed * (1.0 + 1e-7)).sum();
    Some(p.min(1.0))
}

/// A chi-square of rows with and without, and its p.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChiSquare {
    /// Pearson's statistic, without correction.
    pub statistic: f64,
    /// Degrees of freedom.
    pub degrees: u64,
    /// Chance of so much or more.
    pub p: f64,
}

/// Whether groups differ: each with and without. None for fewer than two groups, or where one column or row is empty.
pub fn homogeneity(groups: &[(u64, u64)]) -> Option<ChiSquare> {
    let with: u64 = groups.iter().map(|(with, _)| with).sum();
    let all: u64 = groups.iter().map(|(with, without)| with + without).sum();
    if groups.len() < 2 || with == 0 || with == all || groups.iter().any(|(with, without)| with + without == 0) {
        return None;
    }
    let p = with as f64 / all as f64;
    let cell = |count: u64, expected: f64| (count as f64 - expected).powi(2) / expected;
    let row = |(with, without): &(u64, u64)| {
        let n = (with + without) as f64;
        cell(*with, n * p) + cell(*without, n * (1.0 - p))
    };
    let statistic: f64 = groups.iter().map(row).sum();
    let degrees = groups.len() as u64 - 1;
    Some(ChiSquare { statistic, degrees, p: ChiSquared::new(degrees as f64).ok()?.sf(statistic) })
}
