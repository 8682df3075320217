//! Many comparisons at once.

/// Holm's adjusted p values, in the order given (Holm 1979): few planned comparisons.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let n = p.len();
    let mut largest: f64 = 0.0;
    adjusted(p, |rank, value| {
        largest = largest.max(((n - rank) as f64 * value).min(1.0));
        largest
    })
}

/// Adjusted p values of Benjamini and Hochberg (1995), in the order given: many at once, false alarms a share of all
/// alarms.
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let n = p.len() as f64;
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*b].total_cmp(&p[*a]));
    let (mut out, mut least) = (vec![1.0; p.len()], f64::INFINITY);
    for (from_top, at) in order.into_iter().enumerate() {
        let rank = n - from_top as f64;
        least = least.min((p[at] * n / rank).clamp(p[at], 1.0));
        out[at] = least;
    }
    out
}

/// Bonferroni's adjusted p values, in the order given.
pub fn bonferroni(p: &[f64]) -> Vec<f64> {
    p.iter().map(|value| (value * p.len() as f64).min(1.0)).collect()
}

/// Each value of `p`, from the least on, with its rank from 0.
fn adjusted(p: &[f64], mut of: impl FnMut(usize, f64) -> f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*a].total_cmp(&p[*b]));
    let mut out = vec![1.0; p.len()];
    for (rank, at) in order.into_iter().enumerate() {
        out[at] = of(rank, p[at]);
    }
    out
}
