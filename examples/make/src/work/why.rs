//! Why a cow is to be lifted.

use chrono::NaiveDate;

use crate::calendar::days_between;
use crate::life::cow::{Cow, DRY_DAYS};

/// Why a cow is lifted, the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Why {
    SeverelyLame,
    Lame,
    OldBlock,
    Recheck,
    BeforeDrying,
    EarlyLactation,
    Routine,
}

/// Days before calving in which only lame cows are lifted.
const NEAR_CALVING: i64 = 30;

/// The most pressing reason, if there is one. A full visit looks weeks ahead; a short call for lame cows takes only
/// those whose trim would not wait for the next one.
pub(crate) fn why(cow: &Cow, day: NaiveDate, full: bool) -> Option<Why> {
    if cow.overlooked.is_some_and(|until| until > day) {
        return None;
    }
    match cow.listed {
        Some((_, 3)) => return Some(Why::SeverelyLame),
        Some(_) => return Some(Why::Lame),
        None => {}
    }
    if cow.lifted.is_some_and(|lifted| days_between(lifted, day) < 5) {
        return None;
    }
    if cow.blocks.iter().any(|block| !block.forgotten && days_between(day, block.until) <= 1) {
        return Some(Why::OldBlock);
    }
    if cow.rechecks.iter().any(|due| !due.forgotten && days_between(day, due.day) <= 2) {
        return Some(Why::Recheck);
    }
    trim(cow, day, full)
}

/// Trims that can be planned.
fn trim(cow: &Cow, day: NaiveDate, full: bool) -> Option<Why> {
    let to_calving = cow.due.filter(|_| cow.due_known).map(|due| days_between(day, due));
    if to_calving.is_some_and(|days| days < NEAR_CALVING) {
        return None;
    }
    let to_drying = to_calving.map(|days| days - DRY_DAYS as i64);
    let ahead = if full { 25 } else { 9 };
    if cow.in_milk() && to_drying.is_some_and(|days| (1..=ahead).contains(&days)) {
        let lately = cow.planned.is_some_and(|planned| days_between(planned, day) < 30);
        return (!lately).then_some(Why::BeforeDrying);
    }
    let milk = cow.days_in_milk(day);
    let early = if full { 41..=100 } else { 72..=100 };
    let trimmed = cow.planned.zip(cow.calved).is_some_and(|(planned, calved)| planned >= calved);
    if cow.in_milk() && !trimmed && early.contains(&milk) {
        return Some(Why::EarlyLactation);
    }
    (full && cow.in_milk() && is_long_ago(cow, day, 158)).then_some(Why::Routine)
}

/// Whether she had no routine trim for so many days; a heifer is given time after calving first.
pub(crate) fn is_long_ago(cow: &Cow, day: NaiveDate, days: i64) -> bool {
    let fresh = cow.days_in_milk(day) < 46;
    !fresh && cow.routine.is_none_or(|routine| days_between(routine, day) > days)
}

/// Whether a trim that can wait would come too near to calving.
pub(crate) fn is_near_calving(cow: &Cow, day: NaiveDate) -> bool {
    cow.lactation == 0 || cow.due.is_some_and(|due| days_between(day, due) < NEAR_CALVING)
}
