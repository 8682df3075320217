//! How many animals to look at.

/// Animals to score so that a share is known to `half_width` either side (`z` of the level), of a herd or of endlessly
/// many: z²pq/d², with the factor for a finite herd; not rounded. None for an empty herd or no width.
pub fn for_prevalence(herd: Option<u64>, expected: f64, half_width: f64, z: f64) -> Option<f64> {
    if herd == Some(0) || !(0.0..=1.0).contains(&expected) || !(half_width > 0.0 && z > 0.0) {
        return None;
    }
    let (k, d2) = (z * z * expected * (1.0 - expected), half_width * half_width);
    Some(match herd {
        None => k / d2,
        Some(herd) => (herd as f64 * k / (d2 * (herd as f64 - 1.0) + k)).min(herd as f64),
    })
}
