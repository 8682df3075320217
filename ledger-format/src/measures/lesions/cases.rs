//! Cases that began in the period, and what liftings wrote down.

use chrono::{NaiveDate, TimeDelta};

use super::{AfterTrim, Lifted};
use crate::fold::Life;
use crate::line::Finding;
use crate::measures::history::lifts;
use crate::measures::lactation::{Lactation, lactation_on};
use crate::measures::{Figure, History, Share};
use crate::merge::Event;
use crate::vocabulary::{Claw, Foot, Lesion, Stage, TrimKind};

/// A case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::measures) struct CaseFound {
    /// Whose, by place in the history's lives.
    pub(in crate::measures) life: usize,
    pub(in crate::measures) lesion: Lesion,
    pub(in crate::measures) stage: Option<Stage>,
    pub(in crate::measures) foot: Foot,
    pub(in crate::measures) claw: Option<Claw>,
    pub(in crate::measures) zone: Option<u8>,
    /// The day it was first seen.
    pub(in crate::measures) first: NaiveDate,
    /// Where she was in her lactation that day.
    pub(in crate::measures) lactation: Lactation,
    last: NaiveDate,
}

/// All cases that began in the period.
pub(in crate::measures) fn of(history: &History<'_>, repeat_days: u16) -> Vec<CaseFound> {
    let lives = history.lives().iter().enumerate();
    let all = lives.flat_map(|(at, life)| of_life(at, life, repeat_days));
    all.filter(|case| history.period().has(case.first)).collect()
}

fn of_life(at: usize, life: &Life<'_>, repeat_days: u16) -> Vec<CaseFound> {
    let (mut cases, mut turns): (Vec<CaseFound>, Option<_>) = (Vec::new(), None);
    for told in &life.told {
        let Event::Lesion(finding) = told.entry.event else { continue };
        let day = told.entry.observed.date;
        let is_same = |case: &&mut CaseFound| {
            (case.lesion, case.foot, case.claw) == (finding.lesion, finding.foot, finding.claw)
                && (day - case.last).num_days() <= i64::from(repeat_days)
        };
        if let Some(case) = cases.iter_mut().rev().find(is_same) {
            case.last = day;
            case.zone = case.zone.or(finding.zone);
            case.stage = case.stage.or(finding.stage);
            continue;
        }
        let turns = turns.get_or_insert_with(|| life.turns());
        let Finding { lesion, stage, foot, claw, zone, .. } = finding;
        let lactation = lactation_on(turns, day);
        cases.push(CaseFound { life: at, lesion, stage, foot, claw, zone, first: day, lactation, last: day });
    }
    cases
}

/// What was written down of each day on which an animal was lifted.
pub(super) fn lifted(history: &History<'_>) -> Lifted {
    let mut sum = Lifted::default();
    for life in history.lives() {
        let mut any = false;
        let in_period = life.told.iter().filter(|told| history.period().has(told.entry.observed.date));
        let told: Vec<_> = in_period.filter(|told| lifts(told.entry.event)).collect();
        for day in told.chunk_by(|a, b| a.entry.observed.date == b.entry.observed.date) {
            let has = |is: fn(Event) -> bool| day.iter().any(|told| is(told.entry.event));
            any = true;
            sum.times += 1;
            match (has(|event| matches!(event, Event::Lesion(_))), has(|event| matches!(event, Event::NoLesion(_)))) {
                (true, _) => sum.with_lesion += 1,
                (false, true) => sum.written_sound += 1,
                (false, false) => sum.nothing_written += 1,
            }
        }
        sum.animals += u64::from(any);
    }
    sum
}

/// Routine trims of the period with a new case of that animal soon after.
pub(super) fn after_trim(history: &History<'_>, cases: &[CaseFound], days: u16) -> Figure<AfterTrim> {
    let (mut trims, mut followed_by) = (0, 0);
    for (at, life) in history.lives().iter().enumerate() {
        let from = cases.partition_point(|case| case.life < at);
        let hers = &cases[from..cases.partition_point(|case| case.life <= at)];
        for day in routine_trims(life).into_iter().filter(|day| history.period().has(*day)) {
            let last = day + TimeDelta::days(days.into());
            let has_case = hers.iter().any(|case| case.first > day && case.first <= last);
            if has_case || (last <= history.period().to() && life.animal.left.is_none_or(|left| left.day >= last)) {
                trims += 1;
                followed_by += u64::from(has_case);
            }
        }
    }
    let share = Share::of(followed_by, trims).map(|trims| AfterTrim { days, trims });
    Figure::of(share, format!("no routine trim was followed for {days} days"))
}

fn routine_trims(life: &Life<'_>) -> Vec<NaiveDate> {
    let is_routine = |event| matches!(event, Event::Trim { kind: TrimKind::Routine, .. });
    let trims = life.told.iter().filter(|told| is_routine(told.entry.event));
    let mut days: Vec<NaiveDate> = trims.map(|told| told.entry.observed.date).collect();
    days.dedup();
    days
}
