//! How many animals to look at so that at least one affected is found.

use statrs::distribution::{Discrete, Hypergeometric};

/// The least sample that finds none with a chance of at most 1 − `confidence`, of a herd with so many affected, each
/// found with chance `se`; exact. None if even all animals would not do.
pub fn exact(herd: u64, affected: u64, confidence: f64, se: f64) -> Option<u64> {
    if affected == 0 || affected > herd || !(0.0..1.0).contains(&confidence) || !(se > 0.0 && se <= 1.0) {
        return None;
    }
    let is_enough = |n: u64| missed(herd, affected, n, se).is_some_and(|missed| missed <= 1.0 - confidence + 1e-12);
    let (mut low, mut high) = (1, herd + 1);
    while low < high {
        let middle = u64::midpoint(low, high);
        if is_enough(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    (low <= herd).then_some(low)
}

/// The chance that a sample of `n` finds none.
fn missed(herd: u64, affected: u64, n: u64, se: f64) -> Option<f64> {
    let drawn = Hypergeometric::new(herd, affected, n).ok()?;
    let most = i32::try_from(affected.min(n)).ok()?;
    Some((0..=most).map(|k| drawn.pmf(k as u64) * (1.0 - se).powi(k)).sum())
}

/// Cannon and Roe's formula, (1 − (1 − c)^(1/D)) (N − (D − 1)/2); not rounded.
pub fn cannon_roe(herd: u64, affected: u64, confidence: f64) -> Option<f64> {
    let d = affected as f64;
    (affected > 0 && affected <= herd)
        .then(|| (1.0 - (1.0 - confidence).powf(1.0 / d)) * (herd as f64 - (d - 1.0) / 2.0))
}

/// The formula of `MacDiarmid`, N/Se (1 − (1 − c)^(1/D)); not rounded.
pub fn macdiarmid(herd: u64, affected: u64, confidence: f64, se: f64) -> Option<f64> {
    let d = affected as f64;
    (affected > 0 && affected <= herd && se > 0.0).then(|| herd as f64 / se * (1.0 - (1.0 - confidence).powf(1.0 / d)))
}

/// The least sample of endlessly many of which a share `p` is affected.
pub fn of_endlessly_many(p: f64, confidence: f64, se: f64) -> Option<u64> {
    let found = p * se;
    (found > 0.0 && found < 1.0).then(|| ((1.0 - confidence).ln() / (1.0 - found).ln()).ceil() as u64)
}
