//! The odds ratio of a table of two by two given its margins: exact.

use statrs::function::factorial::ln_binomial;

/// An odds ratio given the margins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditional {
    /// The most likely one; none where it is infinite.
    pub estimate: Option<f64>,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit; none where it is infinite.
    pub upper: Option<f64>,
}

/// The tables of the same margins: which counts the first cell may have, and their log weights at equal odds.
struct Tables {
    least: u64,
    most: u64,
    weights: Vec<f64>,
}

impl Tables {
    fn of(a: u64, b: u64, c: u64, d: u64) -> Self {
        let (first, second, with) = (a + b, c + d, a + c);
        let (least, most) = (with.saturating_sub(second), with.min(first));
        let weights = (least..=most).map(|x| ln_binomial(first, x) + ln_binomial(second, with - x)).collect();
        Self { least, most, weights }
    }

    /// Chances of each count at a log odds ratio.
    fn chances(&self, log_odds: f64) -> Vec<f64> {
        let logs: Vec<f64> =
            self.weights.iter().enumerate().map(|(at, weight)| weight + at as f64 * log_odds).collect();
        let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let chances: Vec<f64> = logs.iter().map(|log| (log - largest).exp()).collect();
        let sum: f64 = chances.iter().sum();
        chances.iter().map(|chance| chance / sum).collect()
    }

    fn mean(&self, log_odds: f64) -> f64 {
        let chances = self.chances(log_odds);
        self.least as f64 + chances.iter().enumerate().map(|(at, chance)| at as f64 * chance).sum::<f64>()
    }
}

/// The odds ratio most likely given the margins, and exact limits of equal tails (Fisher 1935; Cornfield 1956). None of
/// none.
pub fn odds_ratio(a: u64, b: u64, c: u64, d: u64, level: f64) -> Option<Conditional> {
    if a + b + c + d == 0 {
        return None;
    }
    let (tables, tail) = (Tables::of(a, b, c, d), (1.0 - level) / 2.0);
    let at = (a - tables.least) as usize;
    let at_least = |log: f64| tables.chances(log)[at..].iter().sum::<f64>();
    let at_most = |log: f64| tables.chances(log)[..=at].iter().sum::<f64>();
    let (is_least, is_most) = (a == tables.least, a == tables.most);
    let estimate = match (is_least, is_most) {
        (_, true) => None,
        (true, _) => Some(0.0),
        _ => Some(rising(|log| tables.mean(log) - a as f64).exp()),
    };
    let lower = if is_least { 0.0 } else { rising(|log| at_least(log) - tail).exp() };
    let upper = (!is_most).then(|| rising(|log| tail - at_most(log)).exp());
    Some(Conditional { estimate, lower, upper })
}

/// Where something that rises is 0.
fn rising(of: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (-60.0, 60.0);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if of(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
