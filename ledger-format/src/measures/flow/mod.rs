//! Flow between rounds: who became lame, who recovered, who left, how fast, and where that leads (`measures.md` §25 to §31).

mod heading;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;

pub use heading::{Heading, Need};

use super::figure::{Figure, Rate, Share};
use super::history::{About, History};
use super::round::names_the_sound;
use super::rounds::{Round, Saw};
use crate::line::date_text;

/// What moved from round to round over a period.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// Each step from one round to the next, oldest first.
    pub steps: Vec<Step>,
    /// New cases: cows that became lame, per 100 cow-months of cows that were not.
    pub new_cases: Figure<Rate>,
    /// Recoveries, per 100 cow-months of lame cows.
    pub recoveries: Figure<Rate>,
    /// Lame cows that left the herd, per 100 cow-months of lame cows.
    pub left_lame: Figure<Rate>,
    /// Of the cows lame in the newest round, those lame in every round since longer ago than the agreed days.
    pub chronic: Figure<Share>,
    /// Where the present rates lead, and what the aim would take.
    pub heading: Figure<Heading>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// From one round to the next, on cows of whom both say how they walked.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Step {
    /// Last day of the earlier round.
    pub from: String,
    /// Last day of the later round.
    pub to: String,
    /// Days between.
    pub days: u64,
    /// Not lame, then lame.
    pub became_lame: u64,
    /// Lame, then not lame.
    pub recovered: u64,
    /// Lame both times.
    pub stayed_lame: u64,
    /// Lame neither time.
    pub stayed_sound: u64,
    /// Lame, then gone from the herd.
    pub left_lame: u64,
    /// Not lame, then gone from the herd.
    pub left_sound: u64,
    /// In the earlier round, still in the herd, and not seen in the later: dry, or missed.
    pub not_seen_again: u64,
    /// Only in the later round: joined, calved, or missed before.
    pub newly_seen: u64,
}

impl Step {
    /// Twice the cow-days of cows that were not lame: a cow that changed did so halfway, as far as rounds can tell.
    fn sound_half_days(&self) -> u64 {
        self.days * (2 * self.stayed_sound + self.became_lame + self.recovered + self.left_sound)
    }

    /// Cow-days of cows that were not lame.
    pub(super) fn sound_days(&self) -> u64 {
        self.sound_half_days() / 2
    }
}

/// Cow-days of cows that were not lame, and of lame ones; and what ended them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Moves {
    pub(super) new_cases: u64,
    pub(super) recovered: u64,
    pub(super) left_lame: u64,
    /// Twice the days, so that half a step stays whole.
    sound_half_days: u64,
    lame_half_days: u64,
}

impl Moves {
    pub(super) const fn sound_days(self) -> u64 {
        self.sound_half_days / 2
    }

    pub(super) const fn lame_days(self) -> u64 {
        self.lame_half_days / 2
    }

    fn add(&mut self, step: &Step) {
        let changed = step.became_lame + step.recovered;
        self.new_cases += step.became_lame;
        self.recovered += step.recovered;
        self.left_lame += step.left_lame;
        self.sound_half_days += step.sound_half_days();
        self.lame_half_days += step.days * (2 * step.stayed_lame + changed + step.left_lame);
    }
}

/// The flow over the period, from the newest round before it on; and what reaching the aim by a day would take.
pub fn flow(history: &History<'_>, by: NaiveDate) -> FlowFigures {
    let (rounds, steps, warnings) = steps(history);
    let mut moves = Moves::default();
    for step in &steps {
        moves.add(step);
    }
    let few = || "it takes two rounds of the whole herd, or two lists of the same cows".to_owned();
    let rate = |cases, days| Figure::of(Rate::per_100_cow_months(cases, days), few());
    let chronic_days = history.herd().protocol().chronic_days;
    FlowFigures {
        about: history.about(),
        new_cases: rate(moves.new_cases, moves.sound_days()),
        recoveries: Figure::of(Rate::per_100_cow_months(moves.recovered, moves.lame_days()), no_lame(&steps)),
        left_lame: Figure::of(Rate::per_100_cow_months(moves.left_lame, moves.lame_days()), no_lame(&steps)),
        chronic: chronic(&rounds, chronic_days),
        heading: heading::heading(history, rounds.last().copied(), moves, by),
        steps,
        definitions: definitions(chronic_days),
        warnings,
    }
}

/// The steps of the period, the rounds that they lead over, and what is to be kept in mind of them.
pub(super) fn steps<'h>(history: &'h History<'_>) -> (Vec<&'h Round>, Vec<Step>, Vec<String>) {
    let (rounds, mut warnings) = usable(history);
    let steps: Vec<Step> = rounds.windows(2).map(|pair| step(history, pair[0], pair[1])).collect();
    let long = steps.iter().filter(|step| step.days > LONG_STEP_DAYS).count();
    if long > 0 {
        warnings.push(format!(
            "{long} of {} steps are longer than {LONG_STEP_DAYS} days: cases that came and went between are not seen",
            steps.len()
        ));
    }
    (rounds, steps, warnings)
}

/// Between rounds further apart than this, cases come and go unseen; scoring is monthly. Common practice.
const LONG_STEP_DAYS: u64 = 62;

fn no_lame(steps: &[Step]) -> &'static str {
    if steps.is_empty() {
        "it takes two rounds of the whole herd, or two lists of the same cows"
    } else {
        "no cow was lame at the start or end of a step"
    }
}

fn definitions(chronic_days: u16) -> Vec<String> {
    vec![
        "new case: not lame in one round, lame in the next; recovery: lame, then not lame".to_owned(),
        "a cow that changed is taken to have changed halfway between the two rounds".to_owned(),
        "a cow-month is a twelfth of 365.25 days; limits are exact Poisson, 95 %".to_owned(),
        format!("chronic: lame in every round since more than {chronic_days} days before the newest (Thomas 2016)"),
    ]
}

/// The rounds that say of single cows that they were sound: from the newest before the period to its end.
fn usable<'h>(history: &'h History<'_>) -> (Vec<&'h Round>, Vec<String>) {
    let rounds = history.rounds();
    let inside = rounds.len() - history.rounds_in_period().len();
    let of_herd = rounds.iter().rev().find(|round| round.groups.is_empty() && names_the_sound(round));
    let model = of_herd.or(rounds.last());
    let is_usable = |round: &&Round| names_the_sound(round) && model.is_some_and(|model| model.is_of_same(round));
    let before = rounds[..inside].iter().rev().find(is_usable);
    let within: Vec<&Round> = rounds[inside..].iter().filter(is_usable).collect();
    let left_out = rounds[inside..].iter().filter(|round| !is_usable(round));
    let days: Vec<String> = left_out.map(|round| date_text(round.last)).collect();
    let why = "of a part of the herd, of other groups, or not adding up";
    let warnings = if days.is_empty() { Vec::new() } else { vec![format!("left out, {why}: {}", days.join(", "))] };
    (before.into_iter().chain(within).collect(), warnings)
}

fn step(history: &History<'_>, then: &Round, now: &Round) -> Step {
    let days = (now.last - then.last).num_days().max(0) as u64;
    let mut step = Step { from: date_text(then.last), to: date_text(now.last), days, ..Step::default() };
    for (at, before) in &then.cows {
        let is_gone = !history.lives()[*at].is_present_on(now.first);
        let count = match (before.is_lame(), now.saw(*at).map(Saw::is_lame)) {
            (false, Some(true)) => &mut step.became_lame,
            (true, Some(false)) => &mut step.recovered,
            (true, Some(true)) => &mut step.stayed_lame,
            (false, Some(false)) => &mut step.stayed_sound,
            (true, None) if is_gone => &mut step.left_lame,
            (false, None) if is_gone => &mut step.left_sound,
            (_, None) => &mut step.not_seen_again,
        };
        *count += 1;
    }
    step.newly_seen = now.cows.keys().filter(|at| then.saw(**at).is_none()).count() as u64;
    step
}

/// Lame in the newest round, and in every round back to one that is longer ago than the agreed days.
fn chronic(rounds: &[&Round], days: u16) -> Figure<Share> {
    let Some((newest, earlier)) = rounds.split_last() else { return Figure::cannot("there is no round") };
    let is_long = |round: &&&Round| (newest.last - round.last).num_days() > i64::from(days);
    let Some(reach) = earlier.iter().rposition(|round| is_long(&round)) else {
        return Figure::cannot(format!("no earlier round is more than {days} days before the newest"));
    };
    let lame: Vec<usize> = newest.cows.iter().filter(|(_, saw)| saw.is_lame()).map(|(at, _)| *at).collect();
    let always = |at: &&usize| earlier[reach..].iter().all(|round| round.saw(**at).is_some_and(Saw::is_lame));
    let chronic = lame.iter().filter(always).count() as u64;
    Figure::of(Share::counted(chronic, lame.len() as u64), "no cow was lame in the newest round")
}
