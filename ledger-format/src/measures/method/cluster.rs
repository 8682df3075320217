//! Shares of scores where one animal has several.

use super::{Limits, proportion};

/// A share of scores, with what their likeness within animals does to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clustered {
    /// All y over all m.
    pub share: f64,
    /// Its variance between animals, k/(k − 1) · Σ(y − p·m)² / (Σm)².
    pub variance: f64,
    /// The variance if all scores were of different animals.
    pub binomial: f64,
    /// How many scores there are.
    pub scores: f64,
}

/// Of each animal, `y` of its `m` scores. None of fewer than two animals.
pub fn ratio_estimator(animals: &[(u64, u64)]) -> Option<Clustered> {
    let (y, m) = animals.iter().fold((0, 0), |sum, (y, m)| (sum.0 + y, sum.1 + m));
    if animals.len() < 2 || m == 0 || animals.iter().any(|(y, m)| y > m) {
        return None;
    }
    let (k, m) = (animals.len() as f64, m as f64);
    let share = y as f64 / m;
    let spread: f64 = animals.iter().map(|(y, m)| (*y as f64 - share * *m as f64).powi(2)).sum();
    Some(Clustered {
        share,
        variance: k / (k - 1.0) * spread / (m * m),
        binomial: share * (1.0 - share) / m,
        scores: m,
    })
}

impl Clustered {
    /// How much larger the variance is for the likeness within animals. None where the share is 0 or 1.
    pub fn design_effect(&self) -> Option<f64> {
        (self.binomial > 0.0).then(|| self.variance / self.binomial)
    }

    /// How many scores of different animals would say as much.
    pub fn effective_n(&self) -> Option<f64> {
        self.design_effect().filter(|effect| *effect > 0.0).map(|effect| self.scores / effect)
    }

    /// Wilson's limits on that many.
    pub fn wilson(&self, level: f64) -> Option<Limits> {
        proportion::wilson_of_share(self.share, self.effective_n()?, level)
    }
}

/// The design effect of clusters of these sizes whose members are alike to `rho`: 1 + (Σm²/Σm − 1)·rho (Kish 1965).
pub fn design_effect(sizes: &[u64], rho: f64) -> Option<f64> {
    let sum = sizes.iter().sum::<u64>() as f64;
    let squares: f64 = sizes.iter().map(|m| (*m as f64).powi(2)).sum();
    (sum > 0.0).then(|| 1.0 + (squares / sum - 1.0) * rho)
}
