//! Agreement of two people who put the same things into the same classes: a square table, rows the first person's.

use super::{Limits, proportion};

/// How near misses count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weights {
    /// A miss is a miss.
    None,
    /// By steps apart.
    Linear,
    /// By steps apart, squared.
    Quadratic,
}

impl Weights {
    fn of(self, i: usize, j: usize, classes: usize) -> f64 {
        let apart = i.abs_diff(j) as f64 / (classes - 1).max(1) as f64;
        match self {
            Self::None => f64::from(u8::from(i == j)),
            Self::Linear => 1.0 - apart,
            Self::Quadratic => 1.0 - apart * apart,
        }
    }
}

/// A kappa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kappa {
    /// (observed − expected) / (1 − expected).
    pub kappa: f64,
    /// Its standard error.
    pub se: f64,
    /// Its limits.
    pub limits: Limits,
    /// Weighted agreement seen.
    pub observed: f64,
    /// Weighted agreement of two people who class at random as often as these.
    pub expected: f64,
}

/// Shares of a square table, with its margins. None of none, or where it is not square.
struct Shares {
    n: f64,
    cells: Vec<Vec<f64>>,
    rows: Vec<f64>,
    columns: Vec<f64>,
}

impl Shares {
    fn of(table: &[Vec<u64>]) -> Option<Self> {
        let classes = table.len();
        let n: u64 = table.iter().flatten().sum();
        if n == 0 || table.iter().any(|row| row.len() != classes) {
            return None;
        }
        let n = n as f64;
        let cells: Vec<Vec<f64>> = table.iter().map(|row| row.iter().map(|cell| *cell as f64 / n).collect()).collect();
        let rows = cells.iter().map(|row| row.iter().sum()).collect();
        let columns = (0..classes).map(|j| cells.iter().map(|row| row[j]).sum()).collect();
        Some(Self { n, cells, rows, columns })
    }

    fn each(&self) -> impl Iterator<Item = (usize, usize, f64)> {
        self.cells.iter().enumerate().flat_map(|(i, row)| row.iter().enumerate().map(move |(j, cell)| (i, j, *cell)))
    }
}

/// Cohen's weighted kappa with the standard error of Fleiss, Cohen and Everitt (1969). None of none, or where both put
/// everything into one class.
pub fn weighted_kappa(table: &[Vec<u64>], weights: Weights, level: f64) -> Option<Kappa> {
    let shares = Shares::of(table)?;
    let classes = table.len();
    let weight = |i, j| weights.of(i, j, classes);
    let observed: f64 = shares.each().map(|(i, j, p)| weight(i, j) * p).sum();
    let expected: f64 = shares.each().map(|(i, j, _)| weight(i, j) * shares.rows[i] * shares.columns[j]).sum();
    let beyond = 1.0 - expected;
    if beyond <= 1e-12 {
        return None;
    }
    let kappa = (observed - expected) / beyond;
    let row_mean = |i: usize| (0..classes).map(|j| shares.columns[j] * weight(i, j)).sum::<f64>();
    let column_mean = |j: usize| (0..classes).map(|i| shares.rows[i] * weight(i, j)).sum::<f64>();
    let (row_means, column_means): (Vec<f64>, Vec<f64>) =
        (0..classes).map(|class| (row_mean(class), column_mean(class))).unzip();
    let off = |i: usize, j: usize| weight(i, j) - (row_means[i] + column_means[j]) * (1.0 - kappa);
    let spread: f64 = shares.each().map(|(i, j, p)| p * off(i, j).powi(2)).sum();
    let variance = (spread - (kappa - expected * (1.0 - kappa)).powi(2)) / (shares.n * beyond * beyond);
    let se = variance.max(0.0).sqrt();
    let z = proportion::z_of(level);
    Some(Kappa { kappa, se, limits: Limits { lower: kappa - z * se, upper: kappa + z * se }, observed, expected })
}

/// Share put into the same class, and into the same or the next. None of none.
pub fn exact_and_within_one(table: &[Vec<u64>]) -> Option<(f64, f64)> {
    let shares = Shares::of(table)?;
    let within = |steps: usize| shares.each().filter(|(i, j, _)| i.abs_diff(*j) <= steps).map(|(.., p)| p).sum();
    Some((within(0), within(1)))
}

/// Agreement on each class: twice those in it by both, over those in it by either, each counted; none where neither used it.
pub fn specific(table: &[Vec<u64>]) -> Option<Vec<Option<f64>>> {
    let shares = Shares::of(table)?;
    let of = |class: usize| {
        let used = shares.rows[class] + shares.columns[class];
        (used > 0.0).then(|| 2.0 * shares.cells[class][class] / used)
    };
    Some((0..table.len()).map(of).collect())
}

/// Kappa with prevalence and bias taken out, of two classes: 2 · observed − 1 (Byrt et al. 1993).
pub fn pabak(both: u64, first_only: u64, second_only: u64, neither: u64) -> Option<f64> {
    let n = both + first_only + second_only + neither;
    (n > 0).then(|| 2.0 * (both + neither) as f64 / n as f64 - 1.0)
}

/// The words of Landis and Koch (1977) for a kappa: never without the number.
pub fn landis_koch(kappa: f64) -> &'static str {
    match kappa {
        k if k < 0.0 => "poor",
        k if k <= 0.2 => "slight",
        k if k <= 0.4 => "fair",
        k if k <= 0.6 => "moderate",
        k if k <= 0.8 => "substantial",
        _ => "almost perfect",
    }
}

/// The standard error of weighted kappa if there were no agreement beyond chance: for a test, not for limits.
pub fn kappa_null_se(table: &[Vec<u64>], weights: Weights) -> Option<f64> {
    let shares = Shares::of(table)?;
    let classes = table.len();
    let weight = |i, j| weights.of(i, j, classes);
    let expected: f64 = shares.each().map(|(i, j, _)| weight(i, j) * shares.rows[i] * shares.columns[j]).sum();
    let row_mean = |i: usize| (0..classes).map(|j| shares.columns[j] * weight(i, j)).sum::<f64>();
    let column_mean = |j: usize| (0..classes).map(|i| shares.rows[i] * weight(i, j)).sum::<f64>();
    let off = |i: usize, j: usize| weight(i, j) - row_mean(i) - column_mean(j);
    let spread: f64 = shares.each().map(|(i, j, _)| shares.rows[i] * shares.columns[j] * off(i, j).powi(2)).sum();
    let beyond = 1.0 - expected;
    (beyond > 1e-12).then(|| ((spread - expected * expected).max(0.0) / shares.n).sqrt() / beyond)
}

/// Gwet's coefficient (2008): AC1 without weights, AC2 with; its standard error for animals drawn from endlessly many.
/// Stays high where one class is rare. None of none, or for one class.
pub fn gwet(table: &[Vec<u64>], weights: Weights) -> Option<(f64, f64)> {
    let shares = Shares::of(table)?;
    let classes = table.len();
    if classes < 2 {
        return None;
    }
    let weight = |i, j| weights.of(i, j, classes);
    let all_weights: f64 =
        (0..classes).flat_map(|i| (0..classes).map(move |j| (i, j))).map(|(i, j)| weight(i, j)).sum();
    let pi: Vec<f64> =
        shares.rows.iter().zip(&shares.columns).map(|(row, column)| f64::midpoint(*row, *column)).collect();
    let scale = all_weights / (classes * (classes - 1)) as f64;
    let observed: f64 = shares.each().map(|(i, j, p)| weight(i, j) * p).sum();
    let expected = scale * pi.iter().map(|pi| pi * (1.0 - pi)).sum::<f64>();
    let beyond = 1.0 - expected;
    let value = (observed - expected) / beyond;
    let off = |i: usize, j: usize| {
        let chance = scale * (1.0 - f64::midpoint(pi[i], pi[j]));
        weight(i, j) - 2.0 * (1.0 - value) * chance
    };
    let spread: f64 = shares.each().map(|(i, j, p)| p * off(i, j).powi(2)).sum();
    let variance = (spread - (observed - 2.0 * (1.0 - value) * expected).powi(2)) / (shares.n * beyond * beyond);
    Some((value, variance.max(0.0).sqrt()))
}

/// Brennan and Prediger's coefficient (1981): chance gives each class alike.
pub fn brennan_prediger(table: &[Vec<u64>]) -> Option<f64> {
    let (exact, _) = exact_and_within_one(table)?;
    let chance = 1.0 / table.len() as f64;
    (table.len() > 1).then(|| (exact - chance) / (1.0 - chance))
}
