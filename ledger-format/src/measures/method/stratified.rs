//! Tables of two by two in strata: one comparison over all of them.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{Limits, proportion};

/// A table: first with, first without, second with, second without.
pub type Table = [u64; 4];

/// Mantel and Haenszel's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MantelHaenszel {
    /// Common odds ratio.
    pub odds_ratio: f64,
    /// Its limits (Robins, Breslow and Greenland 1986).
    pub odds_limits: Limits,
    /// Common risk ratio.
    pub risk_ratio: f64,
    /// Its limits (Greenland and Robins 1985).
    pub risk_limits: Limits,
    /// Chi-square of no association in any stratum, one degree of freedom, without correction.
    pub chi2: f64,
    /// Its p.
    pub p: f64,
    /// Odds ratio of all strata thrown together.
    pub crude_odds_ratio: f64,
}

/// Sums over strata.
#[derive(Default)]
struct Sums {
    r: f64,
    s: f64,
    pr: f64,
    crossed: f64,
    qs: f64,
    risk_r: f64,
    risk_s: f64,
    risk_spread: f64,
    seen: f64,
    expected: f64,
    variance: f64,
    all: [f64; 4],
}

impl Sums {
    fn add(&mut self, table: Table) {
        let cells = table.map(|cell| cell as f64);
        let [a, b, c, d] = cells;
        let n = a + b + c + d;
        if n < 2.0 {
            return;
        }
        let (p, q, r, s) = ((a + d) / n, (b + c) / n, a * d / n, b * c / n);
        let (with, first, second) = (a + c, a + b, c + d);
        self.r += r;
        self.s += s;
        self.pr += p * r;
        self.crossed += p * s + q * r;
        self.qs += q * s;
        self.risk_r += a * second / n;
        self.risk_s += c * first / n;
        self.risk_spread += with * first * second / (n * n) - a * c / n;
        self.seen += a;
        self.expected += with * first / n;
        self.variance += with * (n - with) * first * second / (n * n * (n - 1.0));
        self.all.iter_mut().zip(cells).for_each(|(sum, cell)| *sum += cell);
    }
}

/// Over all strata. None where a ratio would be 0 or infinite.
pub fn mantel_haenszel(strata: &[Table], level: f64) -> Option<MantelHaenszel> {
    let mut sums = Sums::default();
    for table in strata {
        sums.add(*table);
    }
    let Sums { r, s, risk_r, risk_s, variance, all: [a, b, c, d], .. } = sums;
    if !(r > 0.0 && s > 0.0 && risk_r > 0.0 && risk_s > 0.0 && variance > 0.0) {
        return None;
    }
    let z = proportion::z_of(level);
    let around = |estimate: f64, variance: f64| {
        let reach = z * variance.max(0.0).sqrt();
        Limits { lower: estimate * (-reach).exp(), upper: estimate * reach.exp() }
    };
    let log_odds_variance = sums.pr / (2.0 * r * r) + sums.crossed / (2.0 * r * s) + sums.qs / (2.0 * s * s);
    let (odds_ratio, risk_ratio) = (r / s, risk_r / risk_s);
    let chi2 = (sums.seen - sums.expected).powi(2) / variance;
    Some(MantelHaenszel {
        odds_ratio,
        odds_limits: around(odds_ratio, log_odds_variance),
        risk_ratio,
        risk_limits: around(risk_ratio, sums.risk_spread / (risk_r * risk_s)),
        chi2,
        p: ChiSquared::new(1.0).ok()?.sf(chi2),
        crude_odds_ratio: a * d / (b * c),
    })
}
