//! Which two people scored the same cows on the same day.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::line::Score;
use crate::measures::History;
use crate::merge::Event;
use crate::vocabulary::Scale;

/// A day, and what the first and the second gave a cow on it.
type Both = (NaiveDate, Score, Score);

/// Two people on one scale, and the scores that both gave.
pub(super) struct Pair<'a> {
    pub(super) first: &'a str,
    pub(super) second: &'a str,
    pub(super) scale: Scale,
    scores: Vec<Both>,
}

impl Pair<'_> {
    pub(super) fn cows(&self) -> u64 {
        self.scores.len() as u64
    }

    pub(super) fn days(&self) -> u64 {
        let mut days: Vec<NaiveDate> = self.scores.iter().map(|(day, ..)| *day).collect();
        days.sort_unstable();
        days.dedup();
        days.len() as u64
    }

    /// Cows by the score of the first and of the second.
    pub(super) fn table(&self) -> Vec<Vec<u64>> {
        let range = self.scale.range();
        let (lowest, classes) = (*range.start(), range.count());
        let mut table = vec![vec![0; classes]; classes];
        for (_, first, second) in &self.scores {
            table[usize::from(first.value - lowest)][usize::from(second.value - lowest)] += 1;
        }
        table
    }

    /// Lame by both, only the first, only the second, neither.
    pub(super) fn at_lame(&self) -> (u64, u64, u64, u64) {
        let count = |lame: (bool, bool)| {
            self.scores.iter().filter(|(_, first, second)| (first.is_lame(), second.is_lame()) == lame).count() as u64
        };
        (count((true, true)), count((true, false)), count((false, true)), count((false, false)))
    }
}

/// Every two people with a cow in common in the period, by initials.
pub(super) fn of<'a>(history: &History<'a>) -> Vec<Pair<'a>> {
    let log = history.herd().log();
    let mut pairs: BTreeMap<(&str, &str, Scale), Vec<Both>> = BTreeMap::new();
    for life in history.lives() {
        let scores: Vec<_> = life
            .told
            .iter()
            .filter(|told| history.period().has(told.entry.observed.date))
            .filter_map(|told| match told.entry.event {
                Event::Score(score) => Some((told.entry.observed.date, told.id, score)),
                _ => None,
            })
            .collect();
        for day in scores.chunk_by(|a, b| a.0 == b.0).filter(|day| day.len() > 1) {
            // The last score of each person stays.
            let by: BTreeMap<(Scale, &str), Score> =
                day.iter().map(|(_, id, score)| ((score.scale, log.body(*id).by), *score)).collect();
            let by: Vec<_> = by.into_iter().collect();
            for (nth, ((scale, first), score)) in by.iter().enumerate() {
                for ((_, second), other) in by[nth + 1..].iter().filter(|((of, _), _)| of == scale) {
                    pairs.entry((*first, *second, *scale)).or_default().push((day[0].0, *score, *other));
                }
            }
        }
    }
    pairs.into_iter().map(|((first, second, scale), scores)| Pair { first, second, scale, scores }).collect()
}
