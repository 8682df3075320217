//! One scoring round: how many are lame, of how many, how sure that is, and what changed (`measures.md` §18 to §24).

mod change;
mod sample;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;

pub(in crate::measures) use change::names_the_sound;
pub use change::{Change, OtherCows, SameCows};
pub use sample::{SampleSize, SchemeSize};

use super::figure::percent;
use super::history::{About, History};
use super::method::{LEVEL, Limits, proportion};
use super::rounds::{Basis, Round, tallied_by};
use super::{Figure, Share};
use crate::line::date_text;

/// A scoring round, and what changed since the one before.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoundFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// The round, or why there is none.
    pub round: Figure<RoundRow>,
    /// What changed since the round before it, or why that cannot be said.
    pub change: Figure<Change>,
    /// How many cows a sample of this herd needs.
    pub sample: Vec<SampleSize>,
    /// How many assurance schemes have their assessors score.
    pub schemes: Vec<SchemeSize>,
    /// The definitions used.
    pub definitions: Vec<&'static str>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// The figures of one round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoundRow {
    /// Its first day.
    pub from: String,
    /// Its last day; the same for most.
    pub on: String,
    /// Who was walked past: "the herd", "group high".
    pub of: String,
    /// The scale.
    pub scale: String,
    /// Who scored, as written on its lines.
    pub by: Vec<String>,
    /// How many were seen.
    pub seen: u64,
    /// How many could be seen: in the herd and not dry, or in the groups.
    pub could: u64,
    /// Whom the round stands for: "whole", "part", "unknown".
    pub basis: &'static str,
    /// Lame, severely lame ones with them, of those seen. Limits where only a part of the herd was seen.
    pub lame: Figure<Share>,
    /// Severely lame, of those seen.
    pub severe: Figure<Share>,
    /// Scored 0; null if nobody counted.
    pub zeros: Option<u64>,
    /// Scored 1; null if nobody counted.
    pub ones: Option<u64>,
    /// Where the whole herd was seen: 95 % limits of the level behind this day's count, percent, for comparing it with
    /// other days, herds or an aim. Null for a part.
    pub level: Option<Limits>,
    /// Where a part of a known herd was seen at random: how many lame cows the herd may have. Null for the whole.
    pub lame_in_herd: Option<CowRange>,
    /// The aim, and how the round stands to it.
    pub aim: Figure<Aim>,
}

/// A range in whole cows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct CowRange {
    /// At least.
    pub lower: u64,
    /// At most.
    pub upper: u64,
    /// Of how many.
    pub of: u64,
}

/// How a round stands to what was agreed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Aim {
    /// The aim: fewer lame than this, percent.
    pub percent: u8,
    /// "under", "over", or "cannot tell" where the limits of a sample hold the aim.
    pub stands: &'static str,
    /// How many fewer lame cows of those seen would have met it; 0 if it is met.
    pub fewer_cows: u64,
}

/// What the words of the figures mean, each with its source.
const DEFINITIONS: [&str; 4] = [
    "lame: mobility score 2 or 3; severely lame: 3 (UK dairy industry score sheet; other scales at their own cut)",
    "the share is of the cows seen; a cow that was not seen is not counted as sound",
    "of a part of the herd: Wilson's 95 % limits with the finite-herd factor, and an exact range in cows; they hold if the cows seen were a random part",
    "of the whole herd: no sampling error; the limits of the level say how far chance alone moves a herd like this",
];

/// The newest round up to a day, or up to the end of the period.
pub fn round(history: &History<'_>, on: Option<NaiveDate>) -> RoundFigures {
    let up_to = on.map_or(history.period().to(), |day| day.min(history.period().to()));
    let rounds = &history.rounds()[..history.rounds().partition_point(|round| round.last <= up_to)];
    let mut warnings = Vec::new();
    let newest = rounds.last();
    let row = newest.map(|round| row(history, round));
    if let Some(round) = newest {
        warnings.extend(round.doubts.iter().cloned());
        warnings.extend(
            on.filter(|day| round.last != *day)
                .map(|day| format!("no round ended on {}; this is the newest before it", date_text(day))),
        );
        warnings.extend(not_in_register(history, round));
    }
    let none = || format!("no scoring round is written up to {}: write `herd tally walked N`", date_text(up_to));
    RoundFigures {
        about: history.about(),
        change: change::since_last(history, rounds, &mut warnings),
        round: Figure::of(row, none()),
        sample: newest.map_or(Vec::new(), |round| sample::sizes(round.could)),
        schemes: newest.map_or(Vec::new(), |round| sample::schemes(round.could)),
        definitions: DEFINITIONS.to_vec(),
        warnings,
    }
}

fn row(history: &History<'_>, round: &Round) -> RoundRow {
    let lame = share(round, round.lame);
    RoundRow {
        from: date_text(round.first),
        on: date_text(round.last),
        of: round.of_whom(),
        scale: round.scale.to_string(),
        by: scorers(history, round),
        seen: round.seen,
        could: round.could,
        basis: basis_word(round.basis),
        severe: share(round, round.severe),
        zeros: round.zeros,
        ones: round.ones,
        level: (round.basis == Basis::Whole && round.adds_up()).then(|| level(round)).flatten(),
        lame_in_herd: lame_in_herd(round),
        aim: aim(history.herd().protocol_on(round.last).target_lame_percent, &lame),
        lame,
    }
}

/// A share of those seen, with the limits that fit whom they stand for.
fn share(round: &Round, part: u64) -> Figure<Share> {
    if !round.adds_up() {
        return Figure::cannot(format!(
            "{} lame cows are named, but only {} walked past: look at the tally",
            round.lame, round.seen
        ));
    }
    let share = match round.basis {
        Basis::Whole => Share::counted(part, round.seen),
        Basis::Unknown => Share::of(part, round.seen),
        Basis::Part => Share::counted(part, round.seen).map(|share| Share {
            limits: proportion::wilson_of_part(part, round.seen, round.could, LEVEL).map(percent),
            ..share
        }),
    };
    Figure::of(share, "no cow was seen")
}

fn level(round: &Round) -> Option<Limits> {
    proportion::wilson(round.lame, round.seen, LEVEL).map(percent)
}

fn lame_in_herd(round: &Round) -> Option<CowRange> {
    if round.basis != Basis::Part || !round.adds_up() {
        return None;
    }
    let (lower, upper) = proportion::cows_of_part(round.lame, round.seen, round.could, LEVEL)?;
    Some(CowRange { lower, upper, of: round.could })
}

/// Under the aim, over it, or not to be told from a sample.
fn aim(percent: u8, lame: &Figure<Share>) -> Figure<Aim> {
    let Some(share) = lame.value() else { return Figure::cannot("the share of lame cows is not known") };
    let aim = f64::from(percent);
    let limits = share.limits.unwrap_or(Limits { lower: share.percent, upper: share.percent });
    let stands = match (limits.upper < aim, limits.lower >= aim) {
        (true, _) => "under",
        (_, true) => "over",
        _ => "cannot tell",
    };
    // The most lame cows that are still fewer than the aim.
    let most = (share.of * u64::from(percent)).div_ceil(100).saturating_sub(1);
    Figure::Is(Aim { percent, stands, fewer_cows: share.part.saturating_sub(most) })
}

/// Whom a round stands for, in the word of the rows.
pub(super) const fn basis_word(basis: Basis) -> &'static str {
    match basis {
        Basis::Whole => "whole",
        Basis::Part => "part",
        Basis::Unknown => "unknown",
    }
}

/// Who scored, in order of name.
fn scorers(history: &History<'_>, round: &Round) -> Vec<String> {
    let log = history.herd().log();
    let mut by = round.tallied_by(&tallied_by(history.herd()));
    for life in round.cows.keys().map(|at| &history.lives()[*at]) {
        let scores =
            life.animal.scores.iter().filter(|score| (round.first..=round.last).contains(&score.observed.date));
        by.extend(scores.map(|score| log.body(score.line).by));
    }
    names(by)
}

/// Each name once, in order.
pub(super) fn names(mut by: Vec<&str>) -> Vec<String> {
    by.sort_unstable();
    by.dedup();
    by.into_iter().map(str::to_owned).collect()
}

/// Cows of a round of whom no joining is written, where others have one.
fn not_in_register(history: &History<'_>, round: &Round) -> Option<String> {
    if history.lives().iter().all(|life| life.animal.joined.is_none()) {
        return None;
    }
    let unknown = round.cows.keys().map(|at| &history.lives()[*at]).filter(|life| life.animal.joined.is_none());
    let names: Vec<String> = unknown.map(crate::fold::Life::name).collect();
    (!names.is_empty()).then(|| format!("not in the register, but scored: {}", names.join(", ")))
}
