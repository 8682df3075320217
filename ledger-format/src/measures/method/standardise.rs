//! Rates as they would be in a standard, and by month.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::Limits;

/// A rate in a standard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standardised {
    /// Σ w·x/t, with the standard's shares w.
    pub rate: f64,
    /// Its limits, by a gamma distribution (Fay and Feuer 1997).
    pub limits: Limits,
    /// Σ x / Σ t.
    pub crude: f64,
}

/// Events and time of each stratum, and what of it the standard has. None without time or standard.
pub fn direct(events: &[u64], time: &[f64], standard: &[f64], level: f64) -> Option<Standardised> {
    let sum: f64 = standard.iter().sum();
    let is_whole = events.len() == time.len() && time.len() == standard.len() && !events.is_empty();
    if !is_whole || sum <= 0.0 || time.iter().any(|time| *time <= 0.0) {
        return None;
    }
    let weights: Vec<f64> = standard.iter().zip(time).map(|(of, time)| of / sum / time).collect();
    let rate: f64 = weights.iter().zip(events).map(|(w, x)| w * *x as f64).sum();
    let variance: f64 = weights.iter().zip(events).map(|(w, x)| w * w * *x as f64).sum();
    let most = weights.iter().copied().fold(0.0, f64::max);
    let tail = (1.0 - level) / 2.0;
    let point = |p: f64, y: f64, v: f64| Some(v / (2.0 * y) * ChiSquared::new(2.0 * y * y / v).ok()?.inverse_cdf(p));
    let lower = if rate > 0.0 { point(tail, rate, variance)? } else { 0.0 };
    let upper = point(1.0 - tail, rate + most, variance + most * most)?;
    let crude = events.iter().sum::<u64>() as f64 / time.iter().sum::<f64>();
    Some(Standardised { rate, limits: Limits { lower, upper }, crude })
}

/// Rates by slice of the year beside the rate of all.
#[derive(Clone, Debug, PartialEq)]
pub struct Months {
    /// Cases per unit of time in each; none without time.
    pub rates: Vec<Option<f64>>,
    /// Cases per unit of time in all.
    pub overall: f64,
    /// Chi-square of equal rates, over the slices with time, and its degrees of freedom. A rough guide on small counts.
    pub chi2: f64,
    /// Slices with time, less one.
    pub degrees: u64,
}

/// Cases and animal-time of each month, per `unit` of time. None without cases or time.
pub fn months(cases: &[u64], time: &[f64], unit: f64) -> Option<Months> {
    let (all, sum) = (cases.iter().sum::<u64>() as f64, time.iter().sum::<f64>());
    if cases.len() != time.len() || all == 0.0 || sum <= 0.0 || time.iter().any(|time| *time < 0.0) {
        return None;
    }
    let rows = || cases.iter().zip(time).map(|(x, time)| (*x as f64, *time));
    let expected = |time: f64| all * time / sum;
    let with_time = rows().filter(|(_, time)| *time > 0.0);
    let chi2 = with_time.clone().map(|(x, time)| (x - expected(time)).powi(2) / expected(time)).sum();
    Some(Months {
        rates: rows().map(|(x, time)| (time > 0.0).then(|| x / time * unit)).collect(),
        overall: all / sum * unit,
        chi2,
        degrees: with_time.count().saturating_sub(1) as u64,
    })
}
