//! Due: which cows to lift, in what order, and why (`spec/work.md` §2).

mod fits;
mod lame;
mod row;
#[cfg(test)]
mod tests;
mod trims;
mod waits;
mod worn;

use serde::Serialize;

use super::caution;
use super::words::{Clock, Seen};
use crate::fold::{Animal, Herd};
use crate::line::Minute;

pub use fits::{Fits, fits};
pub use row::{Bring, Class, DueRow, For, Reason};

/// What is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// The time of day that lateness is counted to; the start of the day, if none.
    pub at: Option<Minute>,
    /// List what falls due this many days ahead, too.
    pub ahead_days: u16,
    /// How long things take.
    pub minutes: Minutes,
}

/// Minutes in the crush. A hydraulic crush takes some 8 to 15 cows an hour (common practice): everyone sets their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Minutes {
    /// A lame cow, without what is put on.
    pub lame: u16,
    /// A routine trim.
    pub trim: u16,
    /// A look at a block, a dressing or a recheck.
    pub check: u16,
    /// Each block on top.
    pub block: u16,
    /// Each dressing on top.
    pub dressing: u16,
}

impl Default for Minutes {
    fn default() -> Self {
        Self { lame: 10, trim: 6, check: 4, block: 4, dressing: 2 }
    }
}

/// The due list of a herd.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Due {
    /// From where it was looked at.
    pub seen: Seen,
    /// The time of day that lateness is counted to.
    pub at: Option<String>,
    /// Days looked ahead.
    pub ahead_days: u16,
    /// Cows with a reason, the most pressing first.
    pub rows: Vec<DueRow>,
    /// No cow is dropped without being counted.
    pub counts: Counts,
    /// What to bring for all of them.
    pub bring: Bring,
    /// Minutes for all of them.
    pub minutes: u32,
    /// What fits into the time there is, if that was asked.
    pub fits: Option<Fits>,
    /// What this list cannot decide.
    pub cautions: Vec<&'static str>,
}

/// How the cows of the herd fall.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// In the herd.
    pub present: usize,
    /// With any reason: the rows.
    pub with_reasons: usize,
    /// Of them, to be lifted.
    pub to_lift: usize,
    /// Of them, for the vet and not for the trimmer.
    pub for_the_vet: usize,
    /// Of them, to be left alone for now.
    pub to_leave: usize,
    /// Without a reason.
    pub without: usize,
    /// Present and never scored: not seen is not sound.
    pub never_scored: usize,
    /// Open questions in the whole herd.
    pub open_questions: usize,
}

/// The due list of a herd, from its view.
pub fn due(herd: &Herd, asked: &Asked) -> Due {
    let clock = Clock { on: herd.view().on, at: asked.at };
    let present = herd.present();
    let mut found: Vec<row::Found> =
        present.iter().filter_map(|animal| row::find(herd, animal, clock, asked)).collect();
    found.sort_by(row::Found::by_urgency);
    let rows: Vec<DueRow> = found.into_iter().map(|found| found.row).collect();
    let mut bring = Bring::default();
    for row in rows.iter().filter(|row| row.for_whom == For::Lifting) {
        bring.blocks += row.bring.blocks;
        bring.dressings += row.bring.dressings;
    }
    let counted = |whom| rows.iter().filter(|row| row.for_whom == whom).count();
    Due {
        seen: Seen::of(herd),
        at: asked.at.map(super::words::minute_text),
        ahead_days: asked.ahead_days,
        counts: Counts {
            present: present.len(),
            with_reasons: rows.len(),
            to_lift: counted(For::Lifting),
            for_the_vet: counted(For::Vet),
            to_leave: counted(For::Leaving),
            without: present.len() - rows.len(),
            never_scored: present.iter().filter(|animal| animal.scores.is_empty()).count(),
            open_questions: herd.questions().len(),
        },
        bring,
        minutes: rows.iter().map(|row| u32::from(row.minutes)).sum(),
        fits: None,
        rows,
        cautions: caution::general(),
    }
}

/// One cow's row, if she has any reason.
pub(crate) fn row_of(herd: &Herd, animal: &Animal, asked: &Asked) -> Option<DueRow> {
    let clock = Clock { on: herd.view().on, at: asked.at };
    row::find(herd, animal, clock, asked).map(|found| found.row)
}
