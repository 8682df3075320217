//! Groups beside those only trimmed. It is not a trial.

use serde::Serialize;

use super::done::Done;
use super::{Group, share};
use crate::measures::method::table::{fisher_p, odds_ratio};
use crate::measures::method::{LEVEL, Limits, multiple};
use crate::measures::{Difference, Figure};

/// Said wherever groups are compared.
pub const NOT_A_TRIAL: &str = "this is not a trial: who does what to which cow is chosen, and the worse cows get the block; a difference here says nothing of what causes it";

/// A group beside the cows that were only trimmed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// What was done.
    pub done: String,
    /// Share recovered, less that of cows only trimmed.
    pub difference: Difference,
    /// Odds of recovery against those only trimmed, with Woolf's limits; none where a count is 0.
    pub odds_ratio: Figure<Odds>,
    /// Fisher's exact p, adjusted for all groups compared (Holm).
    pub p: f64,
}

/// An odds ratio.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Odds {
    /// The ratio.
    pub ratio: f64,
    /// Its 95 % limits.
    pub limits: Limits,
}

/// Every other group with a known outcome beside the trimmed ones; none if none was only trimmed.
pub(super) fn with_trim(groups: &[Group<'_>]) -> Vec<Comparison> {
    let known = |(_, treated): &Group<'_>| share(treated);
    let trimmed = groups.iter().find(|(done, _)| *done == Done::TRIM).map(known);
    let Some((x, n)) = trimmed.filter(|(_, n)| *n > 0) else { return Vec::new() };
    let others = groups.iter().filter(|(done, _)| *done != Done::TRIM);
    let others: Vec<(Done, u64, u64)> =
        others.map(|group| (group.0, known(group).0, known(group).1)).filter(|(.., n)| *n > 0).collect();
    let p: Vec<f64> = others.iter().map(|(_, y, m)| fisher_p(*y, m - y, x, n - x).unwrap_or(1.0)).collect();
    let p = multiple::holm(&p);
    let comparison = |((done, y, m), p): (&(Done, u64, u64), f64)| {
        let odds =
            odds_ratio(*y, m - y, x, n - x, LEVEL).map(|odds| Odds { ratio: odds.estimate, limits: odds.limits });
        Some(Comparison {
            done: done.words(),
            difference: Difference::of_others((x, n), (*y, *m))?,
            odds_ratio: Figure::of(odds, "all or none of a group recovered"),
            p,
        })
    };
    others.iter().zip(p).filter_map(comparison).collect()
}
