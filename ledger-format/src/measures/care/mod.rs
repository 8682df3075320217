//! Speed of care: from the first lame score to the first lifting (`measures.md` §34 to §37).

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;

use super::figure::{Figure, Share, percent};
use super::history::{About, History};
use super::method::survival::{Curve, Interval, Step, kaplan_meier};
use super::method::{LEVEL, Limits};
use super::spells::{self, Spell, hours};
use crate::line::{Observed, date_text};

/// How soon lame cows were lifted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CareFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// All spells that began in the period, then those severe before a lifting, counted from the first severe score.
    pub rows: Vec<CareRow>,
    /// Who still waits at the end of the period, the longest first.
    pub waiting: Vec<Waiting>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// One kind of spell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CareRow {
    /// "lame" or "severely lame".
    pub of: &'static str,
    /// Spells that began.
    pub spells: u64,
    /// Ended in a lifting.
    pub lifted: u64,
    /// Seen not lame before anybody lifted her.
    pub sound_unlifted: u64,
    /// Left before anybody lifted her.
    pub left_unlifted: u64,
    /// Still waiting at the end of the period.
    pub waiting: u64,
    /// Days from score to lifting, for all of them.
    pub days: Figure<Days>,
    /// Who still waits, day by day: the curve behind `days`.
    pub curve: Vec<CurvePoint>,
    /// Lifted within the agreed hours, of those whose hours had passed.
    pub in_time: Figure<Share>,
    /// The agreed hours of the newest day; each spell goes by those of its own day.
    pub hours: u16,
    /// Not counted in `in_time`: sound, gone, or still within the hours.
    pub not_yet_due: u64,
}

/// Days until something, where some were not followed to it (Kaplan and Meier, log-log limits).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Days {
    /// How many were followed.
    pub of: u64,
    /// Half had it by so many days; null if half never had.
    pub median: Option<f64>,
    /// Lower 95 % limit of the median; null if not reached.
    pub lower: Option<f64>,
    /// Upper 95 % limit of the median; null if not reached.
    pub upper: Option<f64>,
    /// Percent that had it within a week.
    pub week_percent: f64,
    /// 95 % limits of that; null if all or none had.
    pub week_limits: Option<Limits>,
}

/// A day of a curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurvePoint {
    /// The day, from 0.
    pub day: f64,
    /// Percent that had it not yet after that day.
    pub percent: f64,
    /// 95 % limits of that; null where all or none had it.
    pub limits: Option<Limits>,
    /// How many were followed to that day.
    pub followed: u64,
}

/// A cow that still waits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Waiting {
    /// Her number.
    pub cow: String,
    /// Lame since.
    pub since: String,
    /// Days since.
    pub days: i64,
    /// Severely lame in this spell.
    pub severe: bool,
}

/// How the wait for a lifting ended.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ended {
    Lifted,
    Sound,
    Left,
    Waits,
}

/// One wait: from when, how it ended, after how many hours.
struct Wait {
    from: Observed,
    ended: Ended,
    hours: i64,
    life: usize,
}

/// Spells that began in the period.
pub fn care(history: &History<'_>) -> CareFigures {
    let (spells, _) = spells::of(history);
    let began = |from: Observed| history.period().has(from.date);
    let lame: Vec<Wait> =
        spells.iter().filter(|spell| began(spell.lame)).map(|spell| wait(history, spell, spell.lame)).collect();
    let severe: Vec<Wait> = spells
        .iter()
        .filter_map(|spell| spell.severe.filter(|from| began(*from)).map(|from| wait(history, spell, from)))
        .collect();
    let mut waiting: Vec<Waiting> = lame
        .iter()
        .filter(|wait| wait.ended == Ended::Waits)
        .map(|wait| Waiting {
            cow: history.lives()[wait.life].name(),
            since: date_text(wait.from.date),
            days: (history.period().to() - wait.from.date).num_days(),
            severe: spells
                .iter()
                .any(|spell| spell.life == wait.life && spell.lame == wait.from && spell.severe.is_some()),
        })
        .collect();
    waiting.sort_by_key(|waiting| (!waiting.severe, -waiting.days));
    CareFigures {
        about: history.about(),
        rows: vec![row(history, "lame", &lame, false), row(history, "severely lame", &severe, true)],
        waiting,
        definitions: definitions(),
        warnings: warnings(&lame),
    }
}

fn definitions() -> Vec<String> {
    [
        "a spell begins with the first lame score and ends when she is seen not lame: scored so, or walked past in a round of the whole herd",
        "lifted: any foot trimmed, looked at, blocked, dressed, rechecked, or seen by the vet, on the day of the score or later",
        "days: Kaplan-Meier with log-log limits; a cow seen not lame or gone before a lifting, or still waiting, is followed to that day",
        "in time: within the hours agreed for her score (protocol); by whole days where no time of day is written",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn warnings(lame: &[Wait]) -> Vec<String> {
    let same_day = lame.iter().filter(|wait| wait.ended == Ended::Lifted && wait.hours == 0).count();
    let often = !lame.is_empty() && same_day * 2 > lame.len();
    let warning = format!(
        "{same_day} of {} spells were lifted on the day of the score: if cows are scored at the crush, this is not the farm's speed",
        lame.len()
    );
    if often { vec![warning] } else { Vec::new() }
}

fn wait(history: &History<'_>, spell: &Spell, from: Observed) -> Wait {
    let left = history.lives()[spell.life].animal.left.map(|left| left.day);
    let after = |day: NaiveDate| ((day - from.date).num_days() * 24).max(0);
    let lifted = spell.lifted.filter(|lift| spells::is_since(*lift, from));
    let (ended, hours) = match (lifted, spell.sound, left) {
        (Some(lift), ..) => (Ended::Lifted, hours(from, lift).max(0)),
        (None, Some(sound), _) => (Ended::Sound, after(sound)),
        (None, None, Some(left)) => (Ended::Left, after(left)),
        (None, None, None) => (Ended::Waits, after(history.period().to())),
    };
    Wait { from, ended, hours, life: spell.life }
}

fn row(history: &History<'_>, of: &'static str, waits: &[Wait], severe: bool) -> CareRow {
    let count = |ended: Ended| waits.iter().filter(|wait| wait.ended == ended).count() as u64;
    let agreed = |day: NaiveDate| i64::from(history.herd().protocol_on(day).lifting_hours(severe));
    let due: Vec<&Wait> =
        waits.iter().filter(|wait| wait.ended == Ended::Lifted || wait.hours > agreed(wait.from.date)).collect();
    let in_time = due.iter().filter(|wait| wait.ended == Ended::Lifted && wait.hours <= agreed(wait.from.date)).count();
    let times: Vec<(f64, bool)> =
        waits.iter().map(|wait| ((wait.hours as f64 / 24.0), wait.ended == Ended::Lifted)).collect();
    let curve = kaplan_meier(&times, Interval::LogLog, LEVEL);
    let none = || format!("no spell of a {of} cow began in these days");
    CareRow {
        of,
        spells: waits.len() as u64,
        lifted: count(Ended::Lifted),
        sound_unlifted: count(Ended::Sound),
        left_unlifted: count(Ended::Left),
        waiting: count(Ended::Waits),
        curve: curve.as_ref().map_or(Vec::new(), points),
        days: Figure::of(curve.as_ref().map(days), none()),
        in_time: Figure::of(Share::of(in_time as u64, due.len() as u64), none()),
        hours: history.herd().protocol().lifting_hours(severe),
        not_yet_due: (waits.len() - due.len()) as u64,
    }
}

fn points(curve: &Curve) -> Vec<CurvePoint> {
    let point = |step: &Step| CurvePoint {
        day: step.time,
        percent: 100.0 * step.survival,
        limits: step.limits.map(percent),
        followed: step.at_risk,
    };
    curve.steps.iter().map(point).collect()
}

/// The median and the first week of a curve.
pub(super) fn days(curve: &Curve) -> Days {
    let week = curve.at(7.0);
    let had = |survival: f64| 100.0 * (1.0 - survival);
    let week_limits = week.and_then(|step| step.limits);
    Days {
        of: curve.followed,
        median: curve.median,
        lower: curve.median_limits.0,
        upper: curve.median_limits.1,
        week_percent: week.map_or(0.0, |step| had(step.survival)),
        week_limits: week_limits.map(|limits| Limits { lower: had(limits.upper), upper: had(limits.lower) }),
    }
}
