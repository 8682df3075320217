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
