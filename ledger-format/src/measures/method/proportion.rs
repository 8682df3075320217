//! One proportion: `x` of `n`.

use statrs::distribution::{ContinuousCDF, Normal};

use super::Limits;

/// Wilson's score interval (Wilson 1927; Newcombe 1998, method 3). None of none seen.
pub fn wilson(x: u64, n: u64, level: f64) -> Option<Limits> {
    if n == 0 || x > n {
        return None;
    }
    let z = Normal::standard().inverse_cdf(f64::midpoint(1.0, level));
    let (p, n) = (x as f64 / n as f64, n as f64);
    let wide = 1.0 + z * z / n;
    let centre = (p + z * z / (2.0 * n)) / wide;
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt() / wide;
    let lower = if p == 0.0 { 0.0 } else { centre - half };
    let upper = if (p - 1.0).abs() < f64::EPSILON { 1.0 } else { centre + half };
    Some(Limits { lower, upper })
}
