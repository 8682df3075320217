//! How a cow stands now, in words.

use std::fmt::Write;

use serde::Serialize;

use super::super::words::{case_words, day_words, days};
use crate::fold::{Animal, Closed, Herd, LactationState, Recheck};
use crate::line::date_text;
use crate::vocabulary::Foot;

/// In milk or dry, and what is planned.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Breeding {
    /// `in milk`, `dry`, `unknown`.
    pub state: &'static str,
    /// Days in milk, or days dry.
    pub days: Option<i64>,
    /// Lactation number.
    pub lactation: Option<u8>,
    /// Last calving.
    pub calved: Option<String>,
    /// Expected calving.
    pub calving_due: Option<String>,
    /// Planned drying off.
    pub drying_due: Option<String>,
}

impl Breeding {
    pub(super) fn of(herd: &Herd, animal: &Animal) -> Self {
        let (state, days) = match animal.lactation_state(herd.view().on) {
            LactationState::InMilk(days) => ("in milk", Some(days)),
            LactationState::Dry(days) => ("dry", Some(days)),
            LactationState::Unknown => ("unknown", None),
        };
        Self {
            state,
            days,
            lactation: animal.lactation,
            calved: animal.calved.map(date_text),
            calving_due: animal.calving_due.map(date_text),
            drying_due: animal.drying_due.map(date_text),
        }
    }
}

/// Another animal that had the same number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EarlierUse {
    /// Which use of the number.
    pub use_of_number: u32,
    /// First day anything was written of her.
    pub first_seen: String,
    /// When and why she left, in words.
    pub left: Option<String>,
}

pub(super) fn left(herd: &Herd, animal: &Animal) -> Option<String> {
    let left = animal.left?;
    let feet = if left.feet { ", for her feet" } else { "" };
    Some(format!("{} {}{feet}", left.reason, day_words(left.day, herd.view().on)))
}

pub(super) fn trimmed(herd: &Herd, animal: &Animal) -> Option<String> {
    let (kind, day) = animal.trimmed?;
    let ago = days((herd.view().on - day).num_days());
    Some(format!("{kind} {}, {ago} ago", day_words(day, herd.view().on)))
}

pub(super) fn healed(herd: &Herd, animal: &Animal) -> Vec<String> {
    let on = herd.view().on;
    let mut closed: Vec<_> = animal.cases().filter_map(|case| Some((case.closed?, case))).collect();
    closed.sort_by_key(|(closed, _)| std::cmp::Reverse(closed.day()));
    let words = |(closed, case): (Closed, &crate::fold::Case)| {
        let how = match closed {
            Closed::Sound(_) => "found sound",
            Closed::NotSeenAgain(_) => "trimmed and not seen again",
        };
        let (first, end) = (day_words(case.first, on), day_words(closed.day(), on));
        format!("{}, first seen {first}, {how} {end}", case_words(case))
    };
    closed.into_iter().map(words).collect()
}

pub(crate) fn waiting(herd: &Herd, animal: &Animal) -> Vec<String> {
    let on = herd.view().on;
    let of = |foot: Option<Foot>| foot.map_or(String::new(), |foot| format!("{foot} "));
    let due = |what: &'static str| {
        move |waits: &Recheck| {
            let (due, set) = (day_words(waits.due, on), day_words(waits.set, on));
            format!("{}{what} due {due}, set {set}", of(waits.foot))
        }
    };
    let mut waiting: Vec<String> = animal.rechecks.iter().map(due("recheck")).collect();
    waiting.extend(animal.orders.iter().map(due("vet to look again")));
    waiting.extend(animal.referrals.iter().map(|referral| {
        let mut words =
            format!("{}referred {}, not yet seen by the vet", of(referral.foot), day_words(referral.day, on));
        let _ = herd.log().body(referral.line).words.map(|why| write!(words, ": {why}"));
        words
    }));
    waiting
}

pub(super) fn other_uses(herd: &Herd, animal: &Animal) -> Vec<EarlierUse> {
    let same_number = |other: &&Animal| other.number == animal.number && other.use_of_number != animal.use_of_number;
    let row = |other: &Animal| EarlierUse {
        use_of_number: other.use_of_number,
        first_seen: date_text(other.first_seen),
        left: left(herd, other),
    };
    herd.animals().into_iter().filter(same_number).map(row).collect()
}
