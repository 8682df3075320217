//! One cow: her number, where she is in her year, and her feet.

use chrono::{Days, NaiveDate};
use ledger_format::vocabulary::{BlockKind, Claw, Foot};

use super::case::Case;
use crate::calendar::days_between;
use crate::chance::Chance;

/// The groups of the farm.
pub(crate) const FRESH: &str = "fresh";
pub(crate) const HIGH: &str = "high";
pub(crate) const LOW: &str = "low";
/// Dry cows and heifers near calving.
pub(crate) const PADDOCK: &str = "paddock";
/// Deep straw for cows that need nursing.
pub(crate) const STRAW: &str = "straw";

/// Chance in a million and day that a foot of a middling cow goes wrong.
const RISK: u32 = 6_000;

/// Days dry before calving.
pub(crate) const DRY_DAYS: u64 = 56;

/// A block as it truly is, which may differ from what anybody wrote.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    pub(crate) foot: Foot,
    pub(crate) on: NaiveDate,
    /// The day it comes off by itself.
    pub(crate) falls: NaiveDate,
    /// When it should be looked at or taken off.
    pub(crate) until: NaiveDate,
    /// Nobody will think of it before her next routine trim.
    pub(crate) forgotten: bool,
}

/// A dressing that is on.
#[derive(Clone, Debug)]
pub(crate) struct Dressing {
    pub(crate) foot: Foot,
    /// When staff will cut it off; none if it slips their minds.
    pub(crate) off: Option<NaiveDate>,
}

/// A second look that is due.
#[derive(Clone, Debug)]
pub(crate) struct Due {
    pub(crate) day: NaiveDate,
    pub(crate) foot: Foot,
    /// Nobody will think of it in time.
    pub(crate) forgotten: bool,
}

/// One cow.
#[derive(Clone, Debug)]
pub(crate) struct Cow {
    pub(crate) number: String,
    pub(crate) group: &'static str,
    /// 0 before her first calving.
    pub(crate) lactation: u8,
    pub(crate) calved: Option<NaiveDate>,
    /// When she will calve; none if she is not in calf.
    pub(crate) due: Option<NaiveDate>,
    /// Staff have written down when she is due.
    pub(crate) due_known: bool,
    pub(crate) dry: bool,
    pub(crate) cases: Vec<Case>,
    pub(crate) blocks: Vec<Block>,
    pub(crate) dressings: Vec<Dressing>,
    pub(crate) rechecks: Vec<Due>,
    /// Feet that are only looked at again: that changes nothing about her life.
    pub(crate) looks: Vec<Due>,
    /// When she was in the crush last, for whatever reason.
    pub(crate) lifted: Option<NaiveDate>,
    /// Her last routine trim.
    pub(crate) routine: Option<NaiveDate>,
    /// Her last routine or check trim.
    pub(crate) planned: Option<NaiveDate>,
    pub(crate) past_cases: u32,
    /// Since when somebody has asked for her to be lifted, and how lame she seemed.
    pub(crate) listed: Option<(NaiveDate, u8)>,
    /// Until when nobody remembers that she is to be lifted.
    pub(crate) overlooked: Option<NaiveDate>,
    pub(crate) medicated: Option<NaiveDate>,
    pub(crate) gone: bool,
}

impl Cow {
    /// A cow somewhere in her year on that day.
    pub(crate) fn milking(number: String, day: NaiveDate, chance: &mut Chance) -> Self {
        let lactation = chance.weighted(&[(29, 1), (24, 2), (18, 3), (12, 4), (8, 5), (5, 6), (3, 7), (1, 9)]);
        let since = chance.between(2, 385);
        let interval = chance.between(365, 420).max(since + 4);
        let calved = day - Days::new(u64::from(since));
        let in_calf = since > 300 || chance.permille(860);
        let due = in_calf.then(|| calved + Days::new(u64::from(interval)));
        let dry = due.is_some_and(|due| days_between(day, due) <= DRY_DAYS as i64);
        let mut cow = Self::heifer(number, due);
        (cow.lactation, cow.calved, cow.dry) = (lactation, Some(calved), dry);
        cow.due_known = since > 150 && due.is_some();
        cow.past_cases = chance.weighted(&[(60, 0), (25, 1), (15, 2)]);
        cow.routine = cow.trim_before(day);
        cow.planned = cow.routine;
        cow.group = cow.place(day);
        cow
    }

    /// A heifer before her first calving.
    pub(crate) fn heifer(number: String, due: Option<NaiveDate>) -> Self {
        Self {
            number,
            group: PADDOCK,
            lactation: 0,
            calved: None,
            due,
            due_known: false,
            dry: false,
            cases: Vec::new(),
            blocks: Vec::new(),
            dressings: Vec::new(),
            rechecks: Vec::new(),
            looks: Vec::new(),
            lifted: None,
            routine: None,
            planned: None,
            past_cases: 0,
            listed: None,
            overlooked: None,
            medicated: None,
            gone: false,
        }
    }

    /// The day of the old trimming book on which she was trimmed last before the record begins: in early
    /// lactation or before she was dried off. Heifers were never trimmed.
    fn trim_before(&self, day: NaiveDate) -> Option<NaiveDate> {
        let milk = self.days_in_milk(day) as u64;
        if self.lactation <= 1 && milk < 80 {
            return None;
        }
        let ago = if self.dry {
            20
        } else if milk < 80 {
            milk + 70
        } else {
            (milk - 72) % 172
        };
        // The book has a visit every fourth Tuesday.
        let visits = ago.saturating_sub(25).div_ceil(28);
        Some(day - Days::new(25 + 28 * visits))
    }

    /// Days since she calved.
    pub(crate) fn days_in_milk(&self, day: NaiveDate) -> i64 {
        self.calved.map_or(0, |calved| days_between(calved, day))
    }

    /// Whether she is milked, and so walks past the scorer.
    pub(crate) fn in_milk(&self) -> bool {
        !self.gone && !self.dry && self.lactation > 0
    }

    /// The group for her stage, straw aside.
    pub(crate) fn place(&self, day: NaiveDate) -> &'static str {
        match self.days_in_milk(day) {
            _ if self.dry || self.lactation == 0 => PADDOCK,
            ..=30 => FRESH,
            31..=200 => HIGH,
            _ => LOW,
        }
    }

    /// How lame she truly is.
    pub(crate) fn pain(&self) -> u8 {
        self.cases.iter().map(|case| case.pain).max().unwrap_or(0)
    }

    /// The worst foot.
    pub(crate) fn worst(&self) -> Option<usize> {
        (0..self.cases.len()).max_by_key(|at| (self.cases[*at].pain, self.cases.len() - at))
    }

    /// The case on that foot.
    pub(crate) fn case_on(&self, foot: Foot) -> Option<usize> {
        self.cases.iter().position(|case| case.finding.foot == foot)
    }

    /// A block goes on.
    pub(crate) fn block(&mut self, foot: Foot, kind: Option<BlockKind>, day: NaiveDate, chance: &mut Chance) {
        let falls = match kind {
            Some(BlockKind::Shoe) => chance.days(60, 120),
            Some(BlockKind::Bio) => chance.days(25, 45),
            _ if chance.permille(110) => chance.days(4, 14),
            _ => chance.days(26, 75),
        };
        let until = day + Days::new(if matches!(kind, Some(BlockKind::Shoe | BlockKind::Bio)) { 42 } else { 28 });
        self.blocks.push(Block { foot, on: day, falls: day + falls, until, forgotten: false });
    }

    /// The claw to block on a foot with a bad one: always the other.
    pub(crate) fn sound_claw(bad: Claw) -> Claw {
        bad.other()
    }

    /// Chance in a million that a foot goes wrong today, before the farm's own progress.
    pub(crate) fn risk(&self, day: NaiveDate) -> u32 {
        let age = match self.lactation {
            0 | 1 => 55,
            2 => 85,
            3 => 115,
            _ => 140,
        };
        let stage = match self.days_in_milk(day) {
            _ if self.dry => 35,
            ..=20 => 70,
            21..=150 => 140,
            151..=220 => 105,
            _ => 80,
        };
        let history = 70 + 45 * self.past_cases.min(4);
        RISK * age / 100 * stage / 100 * history / 100
    }
}
