//! Cow 417, the one that the documentation shows: her feet are settled beforehand.

use chrono::{Days, NaiveDate};
use ledger_format::vocabulary::{Claw, Foot, Lesion, Stage};

use super::case::Case;
use super::cow::Cow;
use super::herd::EXAMPLE;
use crate::calendar::{FIRST_DAY, days_between};
use crate::deed::Finding;

/// A lesion of hers: the days of the story on which it begins, and how many treatments it takes.
struct Plan {
    age: i64,
    finding: Finding,
    treatments: u8,
}

/// Skin in the first spring, a sole ulcer in autumn, a white line abscess four weeks before the end.
const PLANS: [Plan; 3] = [
    Plan { age: 6, finding: finding(Lesion::DD, Foot::RH, None, 10), treatments: 1 },
    Plan { age: 222, finding: finding(Lesion::SU, Foot::LH, Some(Claw::Outer), 4), treatments: 2 },
    Plan { age: 391, finding: finding(Lesion::WLA, Foot::RH, Some(Claw::Outer), 3), treatments: 1 },
];

const fn finding(lesion: Lesion, foot: Foot, claw: Option<Claw>, zone: u8) -> Finding {
    let stage = if matches!(lesion, Lesion::DD) { Some(Stage::M2) } else { None };
    Finding { lesion, stage, foot, claw, zone: Some(zone), grade: Some(2) }
}

/// Whether she is the one.
pub(crate) fn is(cow: &Cow) -> bool {
    cow.number.parse() == Ok(EXAMPLE)
}

/// What begins on her feet on that day.
pub(crate) fn case(cow: &Cow, day: NaiveDate) -> Option<Case> {
    let age = days_between(FIRST_DAY, day);
    let plan = PLANS.iter().find(|plan| is(cow) && plan.age == age)?;
    let mut case = Case::of(plan.finding, 2, day);
    case.settled = Some(plan.treatments);
    Some(case)
}

/// Staff see it on the next day.
pub(crate) fn is_seen(cow: &Cow, day: NaiveDate) -> bool {
    is(cow) && cow.cases.iter().any(|case| case.since + Days::new(1) == day)
}
