//! Trims due before drying off, before calving, in early lactation; and the routine interval (classes 7 and 8).

use std::fmt::Write;

use chrono::{NaiveDate, TimeDelta};

use super::super::words::start;
use super::row::{At, Cause, Class, For};
use crate::fold::LactationState;

/// A cow trimmed this shortly before a window opens is not asked for again: over-trimming lames.
const TRIMMED_LATELY_DAYS: i64 = 28;

pub(super) fn causes(at: At<'_>) -> Vec<Cause> {
    let mut causes: Vec<Cause> = before_rest(at).into_iter().chain(early_lactation(at)).chain([routine(at)]).collect();
    if let Some(calving) = near_calving(at) {
        for cause in causes.iter_mut().filter(|cause| cause.for_whom == For::Lifting) {
            cause.for_whom = For::Leaving;
            let _ = write!(cause.words, "; too near calving ({}), leave", at.clock.day(calving));
        }
    }
    causes
}

/// The calving day, if it is too near for a trim. A day that passed weeks ago without a calving is no guide.
fn near_calving(at: At<'_>) -> Option<NaiveDate> {
    let spare = i64::from(at.protocol.trim.not_before_calving_days);
    at.animal.calving_due.filter(|due| (*due - at.clock.on).num_days().abs() < spare)
}

fn before_rest(at: At<'_>) -> Option<Cause> {
    let drying = at.animal.drying_due.filter(|due| *due >= at.clock.on);
    drying.map_or_else(|| before_calving(at), |due| before_drying(at, due))
}

fn before_drying(at: At<'_>, drying: NaiveDate) -> Option<Cause> {
    let trim = &at.protocol.trim;
    let from = back(drying, trim.before_drying_from_days);
    let to = back(drying, trim.before_drying_to_days);
    let mut words = format!("trim before drying off on {}, by {}", at.clock.day(drying), at.clock.day(to));
    let is_the_day = drying == at.clock.on;
    if is_the_day {
        words += "; not on the day itself, leave";
    }
    let for_whom = if is_the_day { For::Leaving } else { For::Lifting };
    (!was_trimmed_since(at, from)).then(|| window(from, to, for_whom, words))
}

fn before_calving(at: At<'_>) -> Option<Cause> {
    let calving = at.animal.calving_due.filter(|due| *due >= at.clock.on)?;
    let from = back(calving, at.protocol.trim.before_calving_days);
    let to = back(calving, at.protocol.trim.not_before_calving_days);
    let is_too_late = at.clock.on > to;
    let day = at.clock.day(calving);
    let words = if is_too_late {
        format!("no trim since {}, before calving", at.clock.day(from))
    } else {
        format!("trim before calving on {day}, not after {}", at.clock.day(to))
    };
    (!was_trimmed_since(at, from)).then(|| window(from, to, For::Lifting, words))
}

fn early_lactation(at: At<'_>) -> Option<Cause> {
    let calved = at.animal.calved.filter(|_| at.animal.dried.is_none())?;
    let trim = &at.protocol.trim;
    let (from, to) = (forth(calved, trim.early_lactation_from_days), forth(calved, trim.early_lactation_to_days));
    let is_done = at.animal.planned.is_some_and(|day| day >= calved);
    let LactationState::InMilk(milk) = at.animal.lactation_state(at.clock.on) else { return None };
    let words = format!("{milk} days in milk, no trim since calving; best by {}", at.clock.day(to));
    (!is_done && at.clock.on <= to).then(|| window(from, to, For::Lifting, words))
}

fn routine(at: At<'_>) -> Cause {
    let animal = at.animal;
    let (last, never) = match animal.routine {
        Some(day) => (day, false),
        None => (animal.joined.unwrap_or(animal.first_seen), true),
    };
    let interval = at.protocol.trim.interval_days;
    let words = if never {
        format!("no routine trim since she is known ({})", at.clock.day(last))
    } else {
        format!("last routine trim {}, interval {interval} days", at.clock.day(last))
    };
    Cause::on_day(Class::Routine, forth(last, interval), words)
}

fn window(from: NaiveDate, to: NaiveDate, for_whom: For, words: String) -> Cause {
    Cause { class: Class::TrimDue, for_whom, words, from, due: start(to), late: None }
}

fn was_trimmed_since(at: At<'_>, from: NaiveDate) -> bool {
    at.animal.planned.is_some_and(|day| day + TimeDelta::days(TRIMMED_LATELY_DAYS) >= from)
}

fn back(day: NaiveDate, days: u16) -> NaiveDate {
    day - TimeDelta::days(days.into())
}

fn forth(day: NaiveDate, days: u16) -> NaiveDate {
    day + TimeDelta::days(days.into())
}
