//! Feet: lesion cases, blocks, dressings (`fold.md` §7 to §9).

use chrono::NaiveDate;

use crate::line::Finding;
use crate::vocabulary::{BlockKind, Claw, Feet, Foot, Lesion, Stage};

/// A lesion from first to last seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Case {
    /// Its code.
    pub lesion: Lesion,
    /// The foot.
    pub foot: Foot,
    /// The claw.
    pub claw: Option<Claw>,
    /// Newest stage given.
    pub stage: Option<Stage>,
    /// Newest zone given.
    pub zone: Option<u8>,
    /// Newest grade given.
    pub grade: Option<u8>,
    /// First seen.
    pub first: NaiveDate,
    /// Last seen.
    pub last: NaiveDate,
    /// When and why it closed.
    pub closed: Option<Closed>,
}

/// Why a case closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Closed {
    /// The foot was lifted, and nothing was found or it was called sound.
    Sound(NaiveDate),
    /// The foot was trimmed, and it was not recorded again.
    NotSeenAgain(NaiveDate),
}

impl Closed {
    /// The day.
    pub const fn day(self) -> NaiveDate {
        match self {
            Self::Sound(day) | Self::NotSeenAgain(day) => day,
        }
    }
}

impl Case {
    fn begin(finding: Finding, day: NaiveDate) -> Self {
        let Finding { lesion, stage, foot, claw, zone, grade } = finding;
        Self { lesion, foot, claw, stage, zone, grade, first: day, last: day, closed: None }
    }

    /// Whether it is open.
    pub const fn is_open(&self) -> bool {
        self.closed.is_none()
    }

    /// Painful and in need of follow-up.
    pub const fn is_alarm(&self) -> bool {
        self.lesion.is_alarm(self.stage, self.grade)
    }

    fn is_of(&self, finding: Finding) -> bool {
        self.lesion == finding.lesion && self.foot == finding.foot && self.claw == finding.claw
    }

    fn see(&mut self, finding: Finding, day: NaiveDate) {
        self.closed = None;
        self.last = day;
        self.stage = finding.stage.or(self.stage);
        self.zone = finding.zone.or(self.zone);
        self.grade = finding.grade.or(self.grade);
    }

    /// Takes from a second account of the same thing what the first left out, and the worse grade and stage.
    pub(super) fn fill(&mut self, finding: Finding) {
        self.stage = self.stage.max(finding.stage);
        self.zone = self.zone.or(finding.zone);
        self.grade = self.grade.max(finding.grade);
    }
}

/// Records a finding: goes on with an open case, reopens one closed within the repeat window, or begins one.
pub(super) fn see(cases: &mut Vec<Case>, finding: Finding, day: NaiveDate, repeat_days: u16) {
    let within = |case: &Case| {
        case.is_open()
            || case.closed == Some(Closed::NotSeenAgain(day))
            || (day - case.last).num_days() <= i64::from(repeat_days)
    };
    match cases.iter_mut().rev().find(|case| case.is_of(finding)).filter(|case| within(case)) {
        Some(case) => case.see(finding, day),
        None => cases.push(Case::begin(finding, day)),
    }
}

/// The newest case of a finding, to add a second account to.
pub(super) fn case_of(cases: &mut [Case], finding: Finding) -> Option<&mut Case> {
    cases.iter_mut().rev().find(|case| case.is_of(finding))
}

/// Closes the open cases of these feet that were last seen before this day.
pub(super) fn close(cases: &mut [Case], feet: Feet, closed: Closed) {
    for case in cases.iter_mut().filter(|case| case.is_open() && feet.has(case.foot) && case.last < closed.day()) {
        case.closed = Some(closed);
    }
}

/// A block on a claw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Block {
    /// The foot.
    pub foot: Foot,
    /// The claw it is on.
    pub claw: Claw,
    /// What it is made of.
    pub kind: Option<BlockKind>,
    /// Since when.
    pub since: NaiveDate,
}
