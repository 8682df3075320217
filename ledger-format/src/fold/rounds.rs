//! Scoring rounds: a tally with the scores of its day (`fold.md` §19).

use chrono::NaiveDate;

use super::animal::Animal;
use super::herd::Herd;
use crate::line::{Act, Subject, Tally};
use crate::merge::{EntryId, Log};

/// The days of all tallies, and the group of each, in order of day: what tells who was walked past.
#[derive(Clone, Debug, Default)]
pub(super) struct Tallies(Vec<(NaiveDate, Option<String>)>);

impl Tallies {
    pub(super) fn new(mut tallies: Vec<(NaiveDate, Option<String>)>) -> Self {
        tallies.sort();
        Self(tallies)
    }

    /// The first round up to a day in which a lame animal, lifted since her newest score, was walked past
    /// (`fold.md` §5a).
    pub(super) fn walked_past(&self, log: &Log, animal: &Animal, up_to: NaiveDate) -> Option<NaiveDate> {
        let scored = animal.score().filter(|scored| scored.score.is_lame())?.observed.date;
        let lifted = animal.lifted_since_score?;
        let from = self.0.partition_point(|(day, _)| *day <= scored || *day < lifted);
        let mut rounds = self.0[from..].iter().take_while(|(day, _)| *day <= up_to);
        rounds.find(|(day, group)| animal.is_in_round(log, *day, group.as_deref())).map(|(day, _)| *day)
    }
}

impl Animal {
    /// Whether a round of the herd, or of a group, on a day is one that she could be walked past in: she is in that
    /// group, or not dry.
    pub(crate) fn is_in_round(&self, log: &Log, day: NaiveDate, group: Option<&str>) -> bool {
        match group {
            Some(group) => self.group_line(day).is_some_and(|line| log.body(line).act == Act::Moved(group)),
            None => !self.turns.iter().rev().find(|(turn, _)| *turn <= day).is_some_and(|(_, dry)| *dry),
        }
    }
}

/// A scoring round of the herd or a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Round {
    /// The day.
    pub day: NaiveDate,
    /// The group, if not the whole herd.
    pub group: Option<String>,
    /// What was counted.
    pub tally: Tally,
    /// Cows with a lame score that day, severe ones among them.
    pub lame: u32,
    /// Cows with a severe score that day.
    pub severe: u32,
    /// Cows with a lame score that day whose group nobody wrote: they may have been in this round of a group.
    pub unplaced: u32,
    /// The line of the tally.
    pub line: EntryId,
}

impl Round {
    /// Share lame of those that walked past, in tenths of a percent, rounded.
    pub fn lame_permille(&self) -> u32 {
        let walked = u64::from(self.tally.walked.max(1));
        ((u64::from(self.lame) * 2_000 + walked) / (2 * walked)) as u32
    }
}

impl Herd {
    /// All scoring rounds up to the day of the view, oldest first.
    pub fn rounds(&self) -> Vec<Round> {
        self.herd_lines().into_iter().filter_map(|id| self.round(id)).collect()
    }

    fn round(&self, id: EntryId) -> Option<Round> {
        let line = self.log().body(id);
        let Act::Tally(tally) = line.act else { return None };
        let day = line.observed.date;
        let group = match line.subject {
            Subject::Group(name) => Some(name),
            _ => None,
        };
        let (mut lame, mut severe, mut unplaced) = (0, 0, 0);
        for animal in self.animals() {
            let on_day = |scored: &&super::Scored| scored.observed.date == day && scored.score.scale == tally.scale;
            let Some(scored) = animal.scores.iter().find(on_day).filter(|scored| scored.score.is_lame()) else {
                continue;
            };
            // Her group is read from the text, so only where it matters.
            let her_group = group.and_then(|_| self.group_on(animal, day));
            if her_group == group {
                lame += 1;
                severe += u32::from(scored.score.is_severe());
            } else if her_group.is_none() {
                unplaced += 1;
            }
        }
        Some(Round { day, group: group.map(str::to_owned), tally, lame, severe, unplaced, line: id })
    }
}
