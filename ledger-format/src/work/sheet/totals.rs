//! Sums of a visit.

use std::collections::BTreeMap;

use serde::Serialize;

use super::gather::{OneCow, is_lifting};
use crate::line::Act;
use crate::vocabulary::{BlockKind, TrimKind};

/// Sums of a visit. A cow counts once for each, however many lines say so; blocks and dressings count each.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Totals {
    /// Cows lifted.
    pub lifted: usize,
    /// Of them, trimmed for lameness. A cow trimmed for several reasons counts once, in this order.
    pub trimmed_lame: usize,
    /// Of them, trimmed as planned.
    pub trimmed_routine: usize,
    /// Of them, trimmed to check.
    pub trimmed_check: usize,
    /// Of them, not trimmed.
    pub lifted_only: usize,
    /// Of them, with a lesion.
    pub with_lesion: usize,
    /// Of them, lifted and written as without lesion.
    pub no_lesion: usize,
    /// Of them, neither a lesion nor "none" was written: not counted as sound.
    pub not_said: usize,
    /// Lesions by code.
    pub lesions: Vec<Count>,
    /// Blocks put on, by kind; `not said` where none was given.
    pub blocks: Vec<Count>,
    /// Blocks taken off or lost.
    pub blocks_off: usize,
    /// Dressings put on.
    pub dressings: usize,
    /// Rechecks set.
    pub rechecks_set: usize,
    /// Cows handed to the vet.
    pub referred: usize,
    /// Medicines given.
    pub medicines: usize,
    /// Cows scored.
    pub scored: usize,
    /// Of them, lame.
    pub scored_lame: usize,
}

/// How many of what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Count {
    /// What.
    pub what: &'static str,
    /// How many.
    pub count: usize,
}

impl Totals {
    pub(super) fn of(cows: &[OneCow<'_>]) -> Self {
        let with = |is: &dyn Fn(&Act<'_>) -> bool| -> usize {
            cows.iter().filter(|cow| cow.lines.iter().any(|line| is(&line.act))).count()
        };
        let each = |is: fn(&Act<'_>) -> bool| cows.iter().flat_map(|cow| &cow.lines).filter(|l| is(&l.act)).count();
        let trimmed = |kind: TrimKind| cows.iter().filter(|cow| trim_of(cow) == Some(kind)).count();
        let (lame, routine, check) = (trimmed(TrimKind::Lame), trimmed(TrimKind::Routine), trimmed(TrimKind::Check));
        let (with_lesion, no_lesion) = found(cows);
        let lifted = with(&is_lifting);
        Self {
            lifted,
            trimmed_lame: lame,
            trimmed_routine: routine,
            trimmed_check: check,
            lifted_only: lifted - lame - routine - check,
            with_lesion,
            no_lesion,
            not_said: lifted - with_lesion - no_lesion,
            lesions: counts(cows, |act| match act {
                Act::Lesion(finding) => Some(finding.lesion.word()),
                _ => None,
            }),
            blocks: counts(cows, |act| match act {
                Act::BlockOn { kind, .. } => Some(kind.map_or("not said", BlockKind::word)),
                _ => None,
            }),
            blocks_off: each(|act| matches!(act, Act::BlockGone { .. })),
            dressings: each(|act| matches!(act, Act::DressingOn(_))),
            rechecks_set: each(|act| matches!(act, Act::RecheckDue { .. })),
            referred: with(&|act| matches!(act, Act::Refer { .. })),
            medicines: each(|act| matches!(act, Act::Medicine(_))),
            scored: with(&|act| matches!(act, Act::Score(_))),
            scored_lame: with(&|act| matches!(act, Act::Score(score) if score.is_lame())),
        }
    }
}

/// For what a cow was trimmed: lame before routine before check.
fn trim_of(cow: &OneCow<'_>) -> Option<TrimKind> {
    let is_of = |kind: TrimKind| cow.lines.iter().any(|line| matches!(line.act, Act::Trim(trim) if trim.kind == kind));
    [TrimKind::Lame, TrimKind::Routine, TrimKind::Check].into_iter().find(|kind| is_of(*kind))
}

/// Cows with a lesion; cows without one of which that was written.
fn found(cows: &[OneCow<'_>]) -> (usize, usize) {
    let has = |cow: &OneCow<'_>, is: fn(&Act<'_>) -> bool| cow.lines.iter().any(|line| is(&line.act));
    let (mut lesion, mut none) = (0, 0);
    for cow in cows {
        if has(cow, |act| matches!(act, Act::Lesion(_))) {
            lesion += 1;
        } else if has(cow, |act| matches!(act, Act::NoLesion(_))) {
            none += 1;
        }
    }
    (lesion, none)
}

/// The most first, then by name.
fn counts(cows: &[OneCow<'_>], what: fn(&Act<'_>) -> Option<&'static str>) -> Vec<Count> {
    let mut counts: BTreeMap<&'static str, usize> = BTreeMap::new();
    for what in cows.iter().flat_map(|cow| &cow.lines).filter_map(|line| what(&line.act)) {
        *counts.entry(what).or_default() += 1;
    }
    let mut counts: Vec<Count> = counts.into_iter().map(|(what, count)| Count { what, count }).collect();
    counts.sort_by_key(|count| std::cmp::Reverse(count.count));
    counts
}
