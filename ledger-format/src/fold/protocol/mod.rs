//! What a herd has agreed (`fold.md` §18): read from a file that is named by its content.

use chrono::{NaiveDate, TimeDelta};
use serde::{Deserialize, Serialize};

use super::feet::Case;
use crate::line::Observed;
use crate::mark::FullMark;
use crate::vocabulary::BlockKind;

/// The text of the default protocol, with the source of each figure.
pub const DEFAULT: &str = include_str!("default.ron");

/// Deadlines, intervals and targets. Days unless the name says hours.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "each field is explained, with its source, in default.ron")]
pub struct Protocol {
    pub name: String,
    pub score_2_hours: u16,
    pub score_3_hours: u16,
    pub still_lame_days: u16,
    pub chronic_days: u16,
    pub blocks: BlockDays,
    pub dressing_days: u16,
    pub recheck_early_days: u16,
    pub recheck_days: u16,
    pub trim: TrimWindows,
    pub repeat_case_days: u16,
    pub target_lame_percent: u8,
    pub round_days: u16,
}

/// Days until a block wants looking at, by kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "as above")]
pub struct BlockDays {
    pub wood: u16,
    pub rubber: u16,
    pub bio: u16,
    pub shoe: u16,
    pub unknown: u16,
}

/// When trims are due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "as above")]
pub struct TrimWindows {
    pub before_drying_from_days: u16,
    pub before_drying_to_days: u16,
    pub before_calving_days: u16,
    pub not_before_calving_days: u16,
    pub early_lactation_from_days: u16,
    pub early_lactation_to_days: u16,
    pub interval_days: u16,
}

impl Protocol {
    /// Reads a protocol file.
    ///
    /// # Errors
    /// Says line, column and what was expected.
    pub fn read(text: &str) -> Result<Self, String> {
        ron::from_str(text).map_err(|error: ron::error::SpannedError| {
            let place = error.span.start;
            format!("line {}, column {}: {}", place.line, place.col, error.code)
        })
    }

    /// The default, which every herd begins with.
    pub fn default_of_the_trade() -> Self {
        Self::read(DEFAULT).unwrap_or_else(|error| unreachable!("the default protocol is part of this crate: {error}"))
    }

    /// Days until a block of this kind wants looking at.
    pub fn block_days(&self, kind: Option<BlockKind>) -> u16 {
        match kind {
            Some(BlockKind::Wood) => self.blocks.wood,
            Some(BlockKind::Rubber) => self.blocks.rubber,
            Some(BlockKind::Bio) => self.blocks.bio,
            Some(BlockKind::Shoe) => self.blocks.shoe,
            None => self.blocks.unknown,
        }
    }

    /// The day on which a lesion wants looking at again where nobody set a recheck.
    pub fn look_again(&self, case: &Case) -> NaiveDate {
        case.looked + TimeDelta::days(self.recheck_days.into())
    }

    /// Hours from a lame score until she must be lifted.
    pub fn lifting_hours(&self, severe: bool) -> u16 {
        if severe { self.score_3_hours } else { self.score_2_hours }
    }
}

/// The name of a protocol file: the full mark of its bytes.
pub fn name_of(text: &str) -> FullMark {
    FullMark::over(text.as_bytes())
}

/// Which protocol applies when.
#[derive(Clone, Debug)]
pub(crate) struct Timeline {
    steps: Vec<(Observed, Protocol)>,
    default: Protocol,
}

impl Timeline {
    pub(crate) fn new(mut steps: Vec<(Observed, Protocol)>, default: Protocol) -> Self {
        steps.sort_by_key(|(from, _)| *from);
        Self { steps, default }
    }

    pub(crate) fn on(&self, date: NaiveDate) -> &Protocol {
        self.steps.iter().rev().find(|(from, _)| from.date <= date).map_or(&self.default, |(_, protocol)| protocol)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_reads_and_names_its_sources() {
        let protocol = Protocol::default_of_the_trade();
        assert_eq!((protocol.score_2_hours, protocol.score_3_hours), (48, 24));
        assert_eq!(protocol.block_days(Some(BlockKind::Shoe)), 42);
    }

    #[test]
    fn an_unknown_field_is_named() {
        let text = DEFAULT.replace("chronic_days", "chronical_days");
        assert!(Protocol::read(&text).unwrap_err().contains("chronical_days"));
    }
}
