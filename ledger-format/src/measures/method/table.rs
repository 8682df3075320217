//! Tables of two by two, and of more rows.

use statrs::distribution::{ChiSquared, ContinuousCDF, Discrete, DiscreteCDF, Hypergeometric};

use statrs::function::factorial::ln_binomial;

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

/// Fisher's one-sided p: as many with in the first row, or more.
pub fn fisher_greater_p(a: u64, b: u64, c: u64, d: u64) -> Option<f64> {
    let tables = Hypergeometric::new(a + b + c + d, a + c, a + b).ok().filter(|_| a + b + c + d > 0)?;
    Some(if a == 0 { 1.0 } else { tables.sf(a - 1) })
}

/// A ratio of two shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RiskRatio {
    /// x1/n1 over x2/n2.
    pub estimate: f64,
    /// Katz's limits, on the log.
    pub katz: Limits,
    /// Koopman's limits, by inverting the score test.
    pub koopman: Limits,
}

/// The ratio of two shares (Katz et al. 1978, Koopman 1984). None where none has it.
pub fn risk_ratio(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Option<RiskRatio> {
    if x1 == 0 || x2 == 0 || x1 > n1 || x2 > n2 {
        return None;
    }
    let counts = [x1, n1, x2, n2].map(|count| count as f64);
    let [x1, n1, x2, n2] = counts;
    let (log, z) = ((x1 / n1 / (x2 / n2)).ln(), proportion::z_of(level));
    let se = (1.0 / x1 - 1.0 / n1 + 1.0 / x2 - 1.0 / n2).max(0.0).sqrt();
    let katz = Limits { lower: (log - z * se).exp(), upper: (log + z * se).exp() };
    let edge = |side: f64| {
        let (mut inside, mut outside) = (log, log + side * 20.0);
        for _ in 0..200 {
            let middle = f64::midpoint(inside, outside);
            if koopman(counts, middle.exp()) <= z * z {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        f64::midpoint(inside, outside).exp()
    };
    Some(RiskRatio { estimate: log.exp(), katz, koopman: Limits { lower: edge(-1.0), upper: edge(1.0) } })
}

/// Koopman's statistic of a ratio.
fn koopman([x1, n1, x2, n2]: [f64; 4], ratio: f64) -> f64 {
    let (a, b) = ((n1 + n2) * ratio, n1 * ratio + x1 + n2 + x2 * ratio);
    let p2 = (b - (b * b - 4.0 * a * (x1 + x2)).max(0.0).sqrt()) / (2.0 * a);
    let p1 = p2 * ratio;
    let gap = (x1 - n1 * p1).powi(2);
    if gap < 1e-18 {
        return 0.0;
    }
    gap / (n1 * p1 * (1.0 - p1)) * (1.0 + n1 * (ratio - p1) / (n2 * (1.0 - p1)))
}

/// The exact p of a table of groups with and without, over all tables of its margins (Freeman and Halton 1951). None
/// of fewer than two groups, or of none. Its work grows with the product of the groups' sizes.
pub fn freeman_halton_p(groups: &[(u64, u64)]) -> Option<f64> {
    let sizes: Vec<u64> = groups.iter().map(|(with, without)| with + without).collect();
    let (with, all): (u64, u64) = (groups.iter().map(|(with, _)| with).sum(), sizes.iter().sum());
    if groups.len() < 2 || all == 0 {
        return None;
    }
    let base = ln_binomial(all, with);
    let observed: f64 = groups.iter().zip(&sizes).map(|((with, _), n)| ln_binomial(*n, *with)).sum::<f64>() - base;
    Some(tail(&sizes, with, -base, observed + 1e-7).min(1.0))
}

/// The chance of all tables of the groups left that are no more likely than the one seen.
fn tail(sizes: &[u64], left: u64, log: f64, most: f64) -> f64 {
    let Some((n, others)) = sizes.split_first() else {
        return if left == 0 && log <= most { log.exp() } else { 0.0 };
    };
    let room: u64 = others.iter().sum();
    (left.saturating_sub(room)..=left.min(*n)).map(|x| tail(others, left - x, log + ln_binomial(*n, x), most)).sum()
}

/// The trend of shares over ordered groups (Cochran 1954, Armitage 1955): chi-square on one degree of freedom, and its
/// p. None where nothing can trend.
pub fn trend(x: &[u64], n: &[u64], scores: &[f64]) -> Option<(f64, f64)> {
    let all = n.iter().sum::<u64>() as f64;
    if x.len() != n.len() || x.len() != scores.len() || all == 0.0 || x.iter().zip(n).any(|(x, n)| x > n) {
        return None;
    }
    let p = x.iter().sum::<u64>() as f64 / all;
    let rows = || x.iter().zip(n).zip(scores).map(|((x, n), score)| (*x as f64, *n as f64, *score));
    let lean: f64 = rows().map(|(x, n, score)| score * (x - n * p)).sum();
    let (once, twice) = rows().fold((0.0, 0.0), |sum, (_, n, score)| (sum.0 + n * score, sum.1 + n * score * score));
    let variance = p * (1.0 - p) * (twice - once * once / all);
    let chi2 = lean * lean / variance;
    Some((chi2, ChiSquared::new(1.0).ok().filter(|_| variance > 1e-12)?.sf(chi2)))
}
