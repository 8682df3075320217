//! The state of one animal.

use chrono::{NaiveDate, NaiveDateTime};

use super::feet::{Block, Case, Cases};
use super::score::Scored;
use crate::line::{CowNumber, Observed};
use crate::merge::EntryId;
use crate::vocabulary::{Claw, Departure, Foot, TrimKind};

/// One animal: a number between joining and leaving.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Animal {
    /// Her number now.
    pub number: CowNumber,
    /// Which use of the number this is, from 1.
    pub use_of_number: u32,
    /// First day anything was observed of her.
    pub first_seen: NaiveDate,
    /// When she joined, if it was written.
    pub joined: Option<NaiveDate>,
    /// When and why she left.
    pub left: Option<Leaving>,
    /// The lines that moved her from group to group, with their days.
    pub(super) groups: Vec<(NaiveDate, EntryId)>,
    /// The line that gives her ear number.
    pub(super) ear: Option<EntryId>,
    /// The line that gives her electronic number.
    pub(super) electronic: Option<EntryId>,
    /// Lactation number.
    pub lactation: Option<u8>,
    /// Last calving.
    pub calved: Option<NaiveDate>,
    /// Dry since.
    pub dried: Option<NaiveDate>,
    /// From which days on she was dry, or in milk.
    pub(super) turns: Vec<(NaiveDate, bool)>,
    /// Expected calving.
    pub calving_due: Option<NaiveDate>,
    /// Planned drying off.
    pub drying_due: Option<NaiveDate>,
    /// The counted score of each day, oldest first.
    pub scores: Vec<Scored>,
    /// Everybody's scores of the newest day that has any.
    pub(super) accounts: Vec<Scored>,
    /// First day of the run of lame scores, not yet asking the rounds; see [`Herd::lame_since`](super::Herd::lame_since).
    pub(super) lame_run: Option<NaiveDate>,
    /// The run before the newest score's day.
    pub(super) run_before: Option<NaiveDate>,
    /// First lifted since the newest score.
    pub(super) lifted_since_score: Option<NaiveDate>,
    /// All lesion cases.
    pub(super) cases: Cases,
    /// Blocks on now.
    pub blocks: Vec<Block>,
    /// Dressings on now.
    pub dressings: Vec<(Foot, NaiveDate)>,
    /// Rechecks that wait.
    pub rechecks: Vec<Recheck>,
    /// The vet's orders that wait.
    pub orders: Vec<Order>,
    /// Handed to the vet and not yet seen, in order.
    pub referrals: Vec<Referral>,
    /// Last lifted, any foot.
    pub lifted: Option<Observed>,
    /// Last lifted for being lame: a trim that says so, or a lesion found.
    pub treated: Option<NaiveDate>,
    /// Last trim.
    pub trimmed: Option<(TrimKind, NaiveDate)>,
    /// Last trim of all four feet or called routine.
    pub routine: Option<NaiveDate>,
    /// Last trim of all four feet, or called routine or check: not one for lameness.
    pub planned: Option<NaiveDate>,
    /// A recheck said worse, and she was not lifted since.
    pub worse: Option<NaiveDate>,
    /// Milk held to.
    pub milk_held: Option<NaiveDateTime>,
    /// Meat held to.
    pub meat_held: Option<NaiveDateTime>,
}

/// When and why she left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leaving {
    /// The day.
    pub day: NaiveDate,
    /// Why.
    pub reason: Departure,
    /// Whether feet were the reason.
    pub feet: bool,
}

/// A second look that waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Recheck {
    /// The day it is due.
    pub due: NaiveDate,
    /// The foot, if it is about one.
    pub foot: Option<Foot>,
    /// The day it was set.
    pub set: NaiveDate,
}

/// The vet's order to look again: the same shape as a recheck, met in more ways.
pub type Order = Recheck;

/// Handed to the vet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Referral {
    /// The day.
    pub day: NaiveDate,
    /// The foot, if it is about one.
    pub foot: Option<Foot>,
    /// The line, with the reason in its words.
    pub line: EntryId,
}

/// In milk, dry, or not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LactationState {
    /// Days in milk; calving day is day 0.
    InMilk(i64),
    /// Days dry.
    Dry(i64),
    /// Neither calving nor drying off was written.
    Unknown,
}

/// What is held back on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// Milk, until.
    pub milk: Option<NaiveDateTime>,
    /// Meat, until.
    pub meat: Option<NaiveDateTime>,
}

impl Animal {
    pub(super) fn begin(number: CowNumber, use_of_number: u32, first_seen: NaiveDate) -> Self {
        Self {
            number,
            use_of_number,
            first_seen,
            joined: None,
            left: None,
            groups: Vec::new(),
            ear: None,
            electronic: None,
            lactation: None,
            calved: None,
            dried: None,
            turns: Vec::new(),
            calving_due: None,
            drying_due: None,
            scores: Vec::new(),
            lame_run: None,
            run_before: None,
            lifted_since_score: None,
            cases: Cases::default(),
            blocks: Vec::new(),
            dressings: Vec::new(),
            rechecks: Vec::new(),
            orders: Vec::new(),
            referrals: Vec::new(),
            accounts: Vec::new(),
            lifted: None,
            treated: None,
            trimmed: None,
            routine: None,
            planned: None,
            worse: None,
            milk_held: None,
            meat_held: None,
        }
    }

    /// Whether she is in the herd.
    pub const fn is_present(&self) -> bool {
        self.left.is_none()
    }

    /// The first hand-over to the vet that still waits.
    pub fn referral(&self) -> Option<Referral> {
        self.referrals.first().copied()
    }

    /// The line that put her into her group, as of a day.
    pub(super) fn group_line(&self, day: NaiveDate) -> Option<EntryId> {
        self.groups.iter().rev().find(|(moved, _)| *moved <= day).map(|(_, line)| *line)
    }

    /// The newest counted score.
    pub fn score(&self) -> Option<&Scored> {
        self.scores.last()
    }

    /// The counted score before the newest, on the same scale.
    pub fn score_before(&self) -> Option<&Scored> {
        let newest = self.scores.last()?;
        self.scores[..self.scores.len() - 1].iter().rev().find(|scored| scored.score.scale == newest.score.scale)
    }

    /// Whether the newest score is lame, whatever rounds came after; see [`Herd::is_lame`](super::Herd::is_lame).
    pub fn is_scored_lame(&self) -> bool {
        self.score().is_some_and(|scored| scored.score.is_lame())
    }

    /// Whether the newest score is severely lame.
    pub fn is_scored_severe(&self) -> bool {
        self.score().is_some_and(|scored| scored.score.is_severe())
    }

    /// Whether she was lifted since something was observed (`fold.md` §6).
    pub fn is_lifted_since(&self, observed: Observed) -> bool {
        self.lifted.is_some_and(|lifted| {
            lifted.date > observed.date
                || (lifted.date == observed.date
                    && match (lifted.minute, observed.minute) {
                        (Some(lifted), Some(seen)) => lifted >= seen,
                        _ => true,
                    })
        })
    }

    /// All lesion cases, the closed ones first, in the order in which they closed.
    pub fn cases(&self) -> impl DoubleEndedIterator<Item = &Case> {
        self.cases.iter()
    }

    /// Open lesion cases, by foot, claw, code.
    pub fn open_cases(&self) -> Vec<&Case> {
        let mut open: Vec<&Case> = self.cases.open().iter().collect();
        open.sort_by_key(|case| (case.foot, case.claw, case.lesion));
        open
    }

    /// Painful lesions that are open and that nothing set will look at: no recheck, no order of the vet, no referral.
    pub fn without_recheck(&self) -> Vec<&Case> {
        let waits = |foot: Foot| {
            let set = self.rechecks.iter().chain(&self.orders).map(|waiting| waiting.foot);
            let referred = self.referrals.iter().map(|referral| referral.foot);
            set.chain(referred).any(|of| of.is_none_or(|of| of == foot))
        };
        self.open_cases().into_iter().filter(|case| case.is_alarm() && !waits(case.foot)).collect()
    }

    /// The block on a claw.
    pub fn block_on(&self, foot: Foot, claw: Claw) -> Option<&Block> {
        self.blocks.iter().find(|block| block.foot == foot && block.claw == claw)
    }

    /// In milk, dry, or not known, on a day.
    pub fn lactation_state(&self, day: NaiveDate) -> LactationState {
        match (self.dried, self.calved) {
            (Some(dried), _) => LactationState::Dry((day - dried).num_days()),
            (None, Some(calved)) => LactationState::InMilk((day - calved).num_days()),
            (None, None) => LactationState::Unknown,
        }
    }

    /// What is still held back after the end of a day.
    pub fn held_after(&self, day: NaiveDate) -> Held {
        let end = day.and_time(chrono::NaiveTime::MIN) + chrono::TimeDelta::days(1);
        Held { milk: self.milk_held.filter(|to| *to > end), meat: self.meat_held.filter(|to| *to > end) }
    }
}
