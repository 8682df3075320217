//! One proportion: `x` of `n`.

use statrs::distribution::{Binomial, ContinuousCDF, Discrete, DiscreteCDF, Hypergeometric, Normal};

use super::{Limits, quantile};

/// The standard normal point that leaves half of what the level leaves out above it.
pub fn z_of(level: f64) -> f64 {
    Normal::standard().inverse_cdf(f64::midpoint(1.0, level))
}

/// Wilson's score interval (Wilson 1927; Newcombe 1998, method 3). None of none seen.
pub fn wilson(x: u64, n: u64, level: f64) -> Option<Limits> {
    (n > 0 && x <= n).then(|| around(x as f64 / n as f64, n as f64, z_of(level)))
}

/// Wilson's interval of `x` of `n` animals from a herd of so many, with the factor for a finite herd. None if fewer
/// are in the herd than were seen.
pub fn wilson_of_part(x: u64, n: u64, herd: u64, level: f64) -> Option<Limits> {
    if n == 0 || x > n || n > herd {
        return None;
    }
    let factor = ((herd - n) as f64 / (herd - 1).max(1) as f64).sqrt();
    Some(around(x as f64 / n as f64, n as f64, z_of(level) * factor))
}

/// How many of a herd are it, of whom `x` of `n` chosen at random were: every number that the sample leaves possible
/// (exact hypergeometric rule, equal tails).
pub fn cows_of_part(x: u64, n: u64, herd: u64, level: f64) -> Option<(u64, u64)> {
    if n == 0 || x > n || n > herd {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    // A tail of just so much is not more; what it comes out over by is rounding.
    let tail = tail + 1e-12;
    let drawn = |affected: u64| Hypergeometric::new(herd, affected, n).ok();
    let few_enough = |affected: u64| drawn(affected).is_some_and(|drawn| drawn.cdf(x) > tail);
    let many_enough = |affected: u64| x == 0 || drawn(affected).is_some_and(|drawn| drawn.sf(x - 1) > tail);
    // Both tails move one way with the number affected, so the possible numbers lie together.
    let (least, most) = (x, herd - (n - x));
    let lower = first(least, most, many_enough)?;
    let beyond = first(least, most, |affected| !few_enough(affected)).unwrap_or(most + 1);
    Some((lower, beyond.checked_sub(1).filter(|upper| *upper >= lower)?))
}

/// The first number of a range from which on something holds, where it holds for all after it; none if for none.
fn first(mut low: u64, high: u64, holds: impl Fn(u64) -> bool) -> Option<u64> {
    let mut end = high + 1;
    while low < end {
        let middle = u64::midpoint(low, end);
        if holds(middle) {
            end = middle;
        } else {
            low = middle + 1;
        }
    }
    (low <= high).then_some(low)
}

/// The chance of `x` of `n`, or of any count no more likely, where the share is `p` (exact, two-sided). None of none.
pub fn binomial_p(x: u64, n: u64, p: f64) -> Option<f64> {
    let counts = Binomial::new(p, n).ok().filter(|_| n > 0 && x <= n)?;
    let observed = counts.pmf(x);
    // Counts as likely as the observed one come out apart by rounding only.
    let chance: f64 = (0..=n).map(|count| counts.pmf(count)).filter(|of| *of <= observed * (1.0 + 1e-7)).sum();
    Some(chance.min(1.0))
}

fn around(p: f64, n: f64, z: f64) -> Limits {
    let wide = 1.0 + z * z / n;
    let centre = (p + z * z / (2.0 * n)) / wide;
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt() / wide;
    let lower = if p == 0.0 { 0.0 } else { centre - half };
    let upper = if (p - 1.0).abs() < f64::EPSILON { 1.0 } else { centre + half };
    Limits { lower, upper }
}

/// The exact interval: its level is kept or passed whatever the share (Clopper and Pearson 1934). None of none.
pub fn clopper_pearson(x: u64, n: u64, level: f64) -> Option<Limits> {
    if n == 0 || x > n {
        return None;
    }
    let (tail, x, n) = ((1.0 - level) / 2.0, x as f64, n as f64);
    let lower = if x > 0.0 { quantile::beta(tail, x, n - x + 1.0)? } else { 0.0 };
    let upper = if x < n { quantile::beta(1.0 - tail, x + 1.0, n - x)? } else { 1.0 };
    Some(Limits { lower, upper })
}

/// Jeffreys' interval, its ends set to 0 and 1 at none and all (Brown, Cai and `DasGupta` 2001). None of none.
pub fn jeffreys(x: u64, n: u64, level: f64) -> Option<Limits> {
    if n == 0 || x > n {
        return None;
    }
    let (tail, a, b) = ((1.0 - level) / 2.0, x as f64 + 0.5, (n - x) as f64 + 0.5);
    let lower = if x == 0 { 0.0 } else { quantile::beta(tail, a, b)? };
    let upper = if x == n { 1.0 } else { quantile::beta(1.0 - tail, a, b)? };
    Some(Limits { lower, upper })
}

/// Wilson's interval of a share seen in so many animals as it is worth, which need not be whole. None of none.
pub fn wilson_of_share(share: f64, effective_n: f64, level: f64) -> Option<Limits> {
    ((0.0..=1.0).contains(&share) && effective_n > 0.0).then(|| around(share, effective_n, z_of(level)))
}

/// The standard error of a share of a part of a herd, √(pq/(n − 1) · (N − n)/N), and p ± z of it: for comparing with
/// tables that use it; not cut at 0 and 1. None for fewer than two.
pub fn wald_of_part(x: u64, n: u64, herd: u64, level: f64) -> Option<(f64, Limits)> {
    if n < 2 || x > n || n > herd {
        return None;
    }
    let p = x as f64 / n as f64;
    let se = (p * (1.0 - p) / (n - 1) as f64 * (herd - n) as f64 / herd as f64).sqrt();
    let reach = z_of(level) * se;
    Some((se, Limits { lower: p - reach, upper: p + reach }))
}
