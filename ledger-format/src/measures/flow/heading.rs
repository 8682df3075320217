//! Where the herd is heading: the level that the present rates lead to, and what reaching the aim would take.
//!
//! Two states, not lame and lame, and two constant rates: `f` per sound cow and day, `r` per lame cow and day
//! (recovering, or leaving while a sound one joins). The share lame p then goes to f / (f + r), and is after t days
//! level + (p − level) · e^−(f + r)t.

use chrono::NaiveDate;
use serde::Serialize;

use super::Moves;
use crate::line::date_text;
use crate::measures::figure::percent;
use crate::measures::method::{LEVEL, Limits, rate};
use crate::measures::rounds::Round;
use crate::measures::{Figure, History};

/// Fewer new cases, or fewer ends of lameness, than this say nothing of where a herd is heading. Common practice for
/// rates: about ten events.
const FEW: u64 = 10;

/// Where the present rates lead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Heading {
    /// Share lame in the newest round, percent.
    pub now_percent: f64,
    /// The day of that round.
    pub now: String,
    /// The level that the present rates lead to, percent.
    pub level_percent: f64,
    /// Its 95 % limits.
    pub level_limits: Limits,
    /// The share on the chosen day at the present rates, percent.
    pub then_percent: f64,
    /// The chosen day.
    pub by: String,
    /// The aim, percent.
    pub aim_percent: u8,
    /// By how much new cases would have to fall for the aim, everything else as it is.
    pub fall_in_new_cases: Figure<Need>,
    /// By how much recovery would have to rise for the aim, everything else as it is.
    pub rise_in_recovery: Figure<Need>,
}

/// A change that it would take.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Need {
    /// Percent of the present rate.
    pub percent: f64,
    /// From the best to the worst that the 95 % limits of both rates allow; the upper end is null if the aim cannot be
    /// reached this way at the worst.
    pub lower: f64,
    /// See `lower`.
    pub upper: Option<f64>,
}

/// Two rates per cow and day.
#[derive(Clone, Copy, Debug)]
struct Rates {
    falling_lame: f64,
    ending: f64,
}

impl Rates {
    fn level(self) -> f64 {
        self.falling_lame / (self.falling_lame + self.ending)
    }

    fn after(self, days: f64, now: f64) -> f64 {
        let level = self.level();
        level + (now - level) * (-(self.falling_lame + self.ending) * days).exp()
    }
}

/// From the newest round on, at the rates of the period.
pub(super) fn heading(history: &History<'_>, newest: Option<&Round>, moves: Moves, by: NaiveDate) -> Figure<Heading> {
    let Some(round) = newest else { return Figure::cannot("there is no round of the whole herd") };
    let ends = moves.recovered + moves.left_lame;
    if moves.new_cases < FEW || ends < FEW {
        return Figure::cannot(format!(
            "too few to say: {} new cases and {ends} ends of lameness, and it takes {FEW} of each",
            moves.new_cases
        ));
    }
    let days = (by - round.last).num_days();
    if days <= 0 {
        return Figure::cannot(format!("{} is not after the newest round", date_text(by)));
    }
    let parts = (round.lame as f64 / round.seen.max(1) as f64, days as f64);
    Figure::of(of_moves(history, round, moves, parts, by), "no cow was at risk")
}

fn of_moves(
    history: &History<'_>,
    round: &Round,
    moves: Moves,
    (now, days): (f64, f64),
    by: NaiveDate,
) -> Option<Heading> {
    let (sound, lame) = (moves.sound_days() as f64, moves.lame_days() as f64);
    let ends = moves.recovered + moves.left_lame;
    let rates = Rates { falling_lame: moves.new_cases as f64 / sound, ending: ends as f64 / lame };
    let (cases, ended) = (rate::poisson_count(moves.new_cases, LEVEL)?, rate::poisson_count(ends, LEVEL)?);
    let best = Rates { falling_lame: cases.lower / sound, ending: ended.upper / lame };
    let worst = Rates { falling_lame: cases.upper / sound, ending: ended.lower / lame };
    let aim_percent = history.herd().protocol_on(by).target_lame_percent;
    let aim = f64::from(aim_percent) / 100.0;
    let way = Way { now, days, aim };
    Some(Heading {
        now_percent: 100.0 * now,
        now: date_text(round.last),
        level_percent: 100.0 * rates.level(),
        level_limits: percent(level_limits(moves, ends, sound, lame)?),
        then_percent: 100.0 * rates.after(days, now),
        by: date_text(by),
        aim_percent,
        fall_in_new_cases: way.need([best, rates, worst], Way::fall),
        rise_in_recovery: way.need([best, rates, worst], Way::rise),
    })
}

/// The level is q / (1 + q) of the ratio q of the two rates, and so are its exact limits.
fn level_limits(moves: Moves, ends: u64, sound: f64, lame: f64) -> Option<Limits> {
    let ratio = rate::ratio(moves.new_cases, sound, ends, lame, LEVEL)?;
    let level = |q: f64| q / (1.0 + q);
    Some(Limits { lower: level(ratio.lower), upper: ratio.upper.map_or(1.0, level) })
}

/// From a share now to an aim some days on.
#[derive(Clone, Copy)]
struct Way {
    now: f64,
    days: f64,
    aim: f64,
}

/// Recovery is not asked to become more than so many times as fast.
const FASTEST: f64 = 20.0;

impl Way {
    fn need(self, [best, rates, worst]: [Rates; 3], how: fn(Self, Rates) -> Option<f64>) -> Figure<Need> {
        let need = how(self, rates).map(|needed| Need {
            percent: needed,
            lower: how(self, best).unwrap_or(needed),
            upper: how(self, worst),
        });
        Figure::of(need, "the aim cannot be reached by that day this way alone")
    }

    /// Percent by which new cases must fall; none if even none would not do.
    fn fall(self, rates: Rates) -> Option<f64> {
        let at = |part: f64| Rates { falling_lame: rates.falling_lame * part, ..rates }.after(self.days, self.now);
        if at(1.0) < self.aim {
            return Some(0.0);
        }
        // With no new case at all the level is 0, which the rates can take as it is.
        (at(0.0) < self.aim).then(|| 100.0 * (1.0 - crossing(0.0, 1.0, |part| at(part) < self.aim)))
    }

    /// Percent by which recovery must rise; none if even the fastest would not do.
    fn rise(self, rates: Rates) -> Option<f64> {
        let at = |times: f64| Rates { ending: rates.ending * times, ..rates }.after(self.days, self.now);
        if at(1.0) < self.aim {
            return Some(0.0);
        }
        (at(FASTEST) < self.aim).then(|| 100.0 * (crossing(1.0, FASTEST, |times| at(times) >= self.aim) - 1.0))
    }
}

/// Where a condition that holds at the low end and not at the high end stops to hold.
fn crossing(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
