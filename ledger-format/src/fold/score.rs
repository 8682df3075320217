//! Scores: which one counts, and since when she is lame (`fold.md` §5).

use crate::line::{Observed, Score};
use crate::merge::{EntryId, Log};

/// The counted score of a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scored {
    /// When.
    pub observed: Observed,
    /// The score that counts.
    pub score: Score,
    /// Its line.
    pub line: EntryId,
}

/// What a further score on one day does.
pub(super) enum SameDay {
    /// Another scale, or the first of the day.
    New,
    /// Somebody else saw the same.
    Agrees,
    /// A second look by the same person.
    Again,
    /// Somebody else saw it differently.
    Differs,
}

pub(super) fn compare(log: &Log, before: Option<&Scored>, now: &Scored) -> SameDay {
    let Some(before) = before else { return SameDay::New };
    if before.observed.date != now.observed.date || before.score.scale != now.score.scale {
        return SameDay::New;
    }
    let same_person = !log.devices_differ(before.line, now.line) && log.body(before.line).by == log.body(now.line).by;
    if same_person {
        SameDay::Again
    } else if before.score.value == now.score.value {
        SameDay::Agrees
    } else {
        SameDay::Differs
    }
}

/// The worse of two scores on one scale.
pub(super) fn worse(a: Scored, b: Scored) -> Scored {
    if (b.score.value, b.score.half) > (a.score.value, a.score.half) { b } else { a }
}
