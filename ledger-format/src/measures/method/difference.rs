//! The difference of two proportions of different animals.

use super::{Limits, proportion};

/// Limits of x1/n1 − x2/n2 by Newcombe's hybrid of two Wilson intervals (Newcombe 1998, Stat Med 17:873, method 10).
/// None of none.
pub fn newcombe(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Option<Limits> {
    let (a, b) = (proportion::wilson(x1, n1, level)?, proportion::wilson(x2, n2, level)?);
    let (p1, p2) = (x1 as f64 / n1 as f64, x2 as f64 / n2 as f64);
    let d = p1 - p2;
    Some(Limits { lower: d - (p1 - a.lower).hypot(b.upper - p2), upper: d + (a.upper - p1).hypot(p2 - b.lower) })
}

/// Limits of x1/n1 − x2/n2 by inverting the score test (Mee 1984; with the factor n/(n − 1) of the variance that of
/// Miettinen and Nurminen 1985). None of none.
pub fn by_score(x1: u64, n1: u64, x2: u64, n2: u64, is_corrected: bool, level: f64) -> Option<Limits> {
    if n1 == 0 || n2 == 0 || x1 > n1 || x2 > n2 {
        return None;
    }
    let counts = [x1, n1, x2, n2].map(|count| count as f64);
    let d = counts[0] / counts[1] - counts[2] / counts[3];
    let z = proportion::z_of(level);
    let is_possible = |delta: f64| score(counts, delta, is_corrected).abs() <= z;
    Some(Limits { lower: edge(d, -1.0, is_possible), upper: edge(d, 1.0, is_possible) })
}

/// Where something that holds at one end stops to hold towards the other.
fn edge(mut inside: f64, mut outside: f64, holds: impl Fn(f64) -> bool) -> f64 {
    if holds(outside) {
        return outside;
    }
    for _ in 0..100 {
        let middle = f64::midpoint(inside, outside);
        if holds(middle) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    f64::midpoint(inside, outside)
}

/// The score statistic of a difference `delta`, at the most likely shares that differ by it.
fn score([x1, n1, x2, n2]: [f64; 4], delta: f64, is_corrected: bool) -> f64 {
    let n = n1 + n2;
    // The most likely second share given the difference: the root of a cubic, by its trigonometric solution.
    let (l3, l2) = (n, (n1 + 2.0 * n2) * delta - n - x1 - x2);
    let l1 = (n2 * delta - n - 2.0 * x2) * delta + x1 + x2;
    let l0 = x2 * delta * (1.0 - delta);
    let q = l2.powi(3) / (27.0 * l3.powi(3)) - l1 * l2 / (6.0 * l3 * l3) + l0 / (2.0 * l3);
    let root = (l2 * l2 / (9.0 * l3 * l3) - l1 / (3.0 * l3)).max(0.0).sqrt();
    let p = if q < 0.0 { -root } else { root };
    let ratio = if p == 0.0 { 0.0 } else { (q / p.powi(3)).clamp(-1.0, 1.0) };
    let angle = (std::f64::consts::PI + ratio.acos()) / 3.0;
    let second = (2.0 * p * angle.cos() - l2 / (3.0 * l3)).clamp(0.0, 1.0);
    let first = (second + delta).clamp(0.0, 1.0);
    let factor = if is_corrected { n / (n - 1.0) } else { 1.0 };
    let variance = (first * (1.0 - first) / n1 + second * (1.0 - second) / n2) * factor;
    let gap = x1 / n1 - x2 / n2 - delta;
    if gap.abs() < 1e-15 { 0.0 } else { gap / variance.max(0.0).sqrt() }
}
