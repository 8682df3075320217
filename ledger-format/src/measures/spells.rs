//! Lame spells: from the first lame score to the first time she is seen not lame (`measures.md` §33).

use chrono::{NaiveDate, TimeDelta};

use super::history::{History, lifts};
use super::rounds::Saw;
use super::sightings::{self, Sighting};
use crate::fold::Life;
use crate::line::{Minute, Observed};

/// A lame spell of one animal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Spell {
    /// Whose, by place in the history's lives.
    pub(super) life: usize,
    /// The first lame score.
    pub(super) lame: Observed,
    /// The first severely lame score of the spell before she was lifted.
    pub(super) severe: Option<Observed>,
    /// The first lifting since the spell began.
    pub(super) lifted: Option<Observed>,
    /// The first day she was seen not lame.
    pub(super) sound: Option<NaiveDate>,
}

/// All spells, by life, then day; and everybody's sightings.
pub(super) fn of(history: &History<'_>) -> (Vec<Spell>, Vec<Vec<Sighting>>) {
    let sightings = sightings::of(history);
    let spells = history.lives().iter().zip(&sightings).enumerate();
    (spells.flat_map(|(at, (life, seen))| of_life(at, life, seen)).collect(), sightings)
}

fn of_life(at: usize, life: &Life<'_>, seen: &[Sighting]) -> Vec<Spell> {
    let mut spells: Vec<Spell> = Vec::new();
    if !seen.iter().any(|sighting| sighting.saw.is_lame()) {
        return spells;
    }
    let lifted: Vec<Observed> =
        life.told.iter().filter(|told| lifts(told.entry.event)).map(|told| told.entry.observed).collect();
    for sighting in seen {
        let now = Observed { date: sighting.day, minute: sighting.minute };
        let open = spells.last_mut().filter(|spell| spell.sound.is_none());
        match (open, sighting.saw) {
            (Some(spell), Saw::NotLame) => spell.sound = Some(sighting.day),
            (Some(spell), Saw::Severe) => spell.severe = spell.severe.or(Some(now)),
            (None, Saw::NotLame) | (Some(_), Saw::Lame) => {}
            (None, saw) => {
                let severe = (saw == Saw::Severe).then_some(now);
                let lifted = lifted.iter().find(|lift| is_since(**lift, now)).copied();
                spells.push(Spell { life: at, lame: now, severe, lifted, sound: None });
            }
        }
    }
    for spell in &mut spells {
        spell.close();
    }
    spells
}

impl Spell {
    /// What came after she was seen not lame is not of this spell; nor is a severe score after the lifting.
    fn close(&mut self) {
        let (sound, lifted) = (self.sound, self.lifted);
        self.lifted = lifted.filter(|lift| sound.is_none_or(|sound| lift.date <= sound));
        self.severe = self.severe.filter(|severe| self.lifted.is_none_or(|lift| is_since(lift, *severe)));
    }
}

/// Whether a lifting came after a score: on one day it did unless both times are written and say otherwise
/// (`fold.md` §6).
pub(super) fn is_since(lift: Observed, score: Observed) -> bool {
    match (lift.date.cmp(&score.date), lift.minute, score.minute) {
        (std::cmp::Ordering::Equal, Some(lift), Some(score)) => lift >= score,
        (order, ..) => order.is_ge(),
    }
}

/// Hours from a score to a lifting: by the clock where both times are written, else whole days.
pub(super) fn hours(score: Observed, lift: Observed) -> i64 {
    let minutes = |minute: Minute| TimeDelta::minutes(minute.into()).num_minutes();
    let days = (lift.date - score.date).num_days();
    match (score.minute, lift.minute) {
        (Some(score), Some(lift)) => (days * 1440 + minutes(lift) - minutes(score) + 59).div_euclid(60),
        _ => days * 24,
    }
}
