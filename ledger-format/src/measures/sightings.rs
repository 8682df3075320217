//! How each cow was seen to walk, day by day: scores, and rounds in which she was walked past (`measures.md` §32).

use chrono::NaiveDate;

use super::history::History;
use super::rounds::Saw;
use crate::line::{Minute, Score};

/// How a cow was seen on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sighting {
    /// The day.
    pub(super) day: NaiveDate,
    /// The time, if it was written.
    pub(super) minute: Option<Minute>,
    /// How she walked.
    pub(super) saw: Saw,
    /// Her score; none where she was walked past in a round and not named.
    pub(super) score: Option<Score>,
}

/// Everybody's sightings, by life, each in order of day.
pub(super) fn of(history: &History<'_>) -> Vec<Vec<Sighting>> {
    let mut all: Vec<Vec<Sighting>> = history.lives().iter().map(scored).collect();
    for round in history.rounds() {
        for (at, saw) in &round.cows {
            let is_in = |sighting: &Sighting| (round.first..=round.last).contains(&sighting.day);
            if !all[*at].iter().any(is_in) {
                all[*at].push(Sighting { day: round.last, minute: None, saw: *saw, score: None });
            }
        }
    }
    for sightings in &mut all {
        sightings.sort_by_key(|sighting| sighting.day);
    }
    all
}

/// Her counted scores up to the period's end; of two scales on one day the worse.
fn scored(life: &crate::fold::Life<'_>) -> Vec<Sighting> {
    let mut sightings: Vec<Sighting> = Vec::new();
    for scored in &life.animal.scores {
        let (day, minute) = (scored.observed.date, scored.observed.minute);
        let now = Sighting { day, minute, saw: Saw::of(scored.score), score: Some(scored.score) };
        match sightings.last_mut().filter(|before| before.day == day) {
            Some(before) if before.saw < now.saw => *before = now,
            Some(_) => {}
            None => sightings.push(now),
        }
    }
    sightings
}
