//! Scoring rounds: a tally with the scores of its day (`fold.md` §19).

use chrono::NaiveDate;

use super::herd::Herd;
use crate::line::{Act, Subject, Tally};
use crate::merge::EntryId;

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
        let (mut lame, mut severe) = (0, 0);
        for animal in self.animals() {
            let in_round = group.is_none() || self.group_on(animal, day) == group;
            let on_day = |scored: &&super::Scored| scored.observed.date == day && scored.score.scale == tally.scale;
            if let Some(scored) = animal.scores.iter().find(on_day).filter(|_| in_round) {
                lame += u32::from(scored.score.is_lame());
                severe += u32::from(scored.score.is_severe());
            }
        }
        Some(Round { day, group: group.map(str::to_owned), tally, lame, severe, line: id })
    }
}
