//! Watch over time: share lame round by round, with limits that chance alone keeps to (`measures.md` §58 to §61).

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;

use super::figure::{Figure, Rate};
use super::flow::flow;
use super::history::{About, History};
use super::method::chart::{Chart, beyond, eight_on_one_side, laney_p};
use super::rounds::Round;
use crate::line::date_text;

/// The share lame over time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrendFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// Whom the rounds are of: "the herd", "group high".
    pub of: String,
    /// Each round, oldest first.
    pub points: Vec<TrendPoint>,
    /// The level of all rounds together, percent of the cows seen; or why there are no limits.
    pub level_percent: Figure<f64>,
    /// How much the rounds vary beside what counting alone gives: 1 is as much, under 1 less, as where the same cows
    /// are seen each time. Null without limits.
    pub spread: Option<f64>,
    /// Whether there are fewer rounds than limits should rest on.
    pub provisional: bool,
    /// What stands out, in sentences, the newest first.
    pub signals: Vec<String>,
    /// New cases between rounds, for acting on.
    pub new_cases: Vec<NewCases>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// One round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrendPoint {
    /// Its last day.
    pub on: String,
    /// Cows seen.
    pub seen: u64,
    /// Lame.
    pub lame: u64,
    /// Share lame, percent.
    pub percent: f64,
    /// Lower limit that chance alone keeps to, percent; null without limits.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// New cases from one round to the next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NewCases {
    /// Last day of the earlier round.
    pub from: String,
    /// Last day of the later round.
    pub to: String,
    /// Cows that became lame, and their rate.
    pub rate: Figure<Rate>,
}

/// Fewer rounds than this have no limits. Common practice.
const LEAST_ROUNDS: usize = 8;

/// Limits should rest on so many rounds; on fewer they are provisional. Common practice of control charts.
const ENOUGH_ROUNDS: usize = 20;

/// The rounds of the period.
pub fn trend(history: &History<'_>) -> TrendFigures {
    let in_period = history.rounds_in_period();
    let model = in_period.iter().rev().find(|round| round.groups.is_empty()).or(in_period.last());
    let rounds: Vec<&Round> = in_period
        .iter()
        .filter(|round| round.adds_up() && round.seen > 0 && model.is_some_and(|model| model.is_of_same(round)))
        .collect();
    let chart = chart(&rounds);
    let signals = chart.value().map_or(Vec::new(), |chart| signals(history, &rounds, chart));
    TrendFigures {
        about: history.about(),
        of: model.map_or("the herd".to_owned(), Round::of_whom),
        points: points(&rounds, chart.value()),
        spread: chart.value().map(|chart| chart.sigma_z),
        provisional: chart.value().is_some() && rounds.len() < ENOUGH_ROUNDS,
        signals,
        new_cases: new_cases(history),
        definitions: definitions(),
        warnings: warnings(in_period, &rounds, chart.value()),
        level_percent: match chart {
            Figure::Is(chart) => Figure::Is(100.0 * chart.center),
            Figure::Cannot { cannot_be_computed_because: because } => Figure::cannot(because),
        },
    }
}

fn definitions() -> Vec<String> {
    vec![
        "limits: Laney's p' chart, three standard deviations that allow for how much rounds vary from one to the next, and for how many cows were seen".to_owned(),
        "a signal: a round beyond its limits, or eight rounds in a row on one side of the level".to_owned(),
        "the same cows are seen again and again, so rounds are more alike than chance alone would have them: act on new cases".to_owned(),
    ]
}

fn chart(rounds: &[&Round]) -> Figure<Chart> {
    if rounds.len() < LEAST_ROUNDS {
        return Figure::cannot(format!("{} rounds are too few for limits: it takes {LEAST_ROUNDS}", rounds.len()));
    }
    let (lame, seen): (Vec<u64>, Vec<u64>) = rounds.iter().map(|round| (round.lame, round.seen)).unzip();
    Figure::of(laney_p(&lame, &seen), "all rounds are alike, or no cow or every cow was lame in all of them")
}

fn points(rounds: &[&Round], chart: Option<&Chart>) -> Vec<TrendPoint> {
    let point = |(nth, round): (usize, &&Round)| TrendPoint {
        on: date_text(round.last),
        seen: round.seen,
        lame: round.lame,
        percent: 100.0 * round.lame as f64 / round.seen as f64,
        lower: chart.map(|chart| 100.0 * chart.lower[nth]),
        upper: chart.map(|chart| 100.0 * chart.upper[nth]),
    };
    rounds.iter().enumerate().map(point).collect()
}

fn signals(history: &History<'_>, rounds: &[&Round], chart: &Chart) -> Vec<String> {
    let mut signals: Vec<(usize, String)> = Vec::new();
    for nth in beyond(&chart.z) {
        let (round, side) = (rounds[nth], if chart.z[nth] > 0.0 { "above" } else { "below" });
        signals.push((
            nth,
            format!(
                "the round of {}, {} of {} lame, is {side} what chance alone would give ({:.1} to {:.1} %){}",
                date_text(round.last),
                round.lame,
                round.seen,
                100.0 * chart.lower[nth],
                100.0 * chart.upper[nth],
                scorer_changed(history, rounds, nth),
            ),
        ));
    }
    for nth in eight_on_one_side(&chart.z) {
        let side = if chart.z[nth] > 0.0 { "above" } else { "below" };
        let (first, last) = (date_text(rounds[nth - 7].last), date_text(rounds[nth].last));
        signals.push((
            nth,
            format!("eight rounds in a row, {first} to {last}, are {side} the level of {:.1} %", 100.0 * chart.center),
        ));
    }
    signals.sort_by_key(|(nth, _)| std::cmp::Reverse(*nth));
    signals.into_iter().map(|(_, signal)| signal).collect()
}

/// Whether somebody else scored than in the round before: then part of a change is theirs.
fn scorer_changed(history: &History<'_>, rounds: &[&Round], nth: usize) -> String {
    let Some(before) = nth.checked_sub(1).map(|before| rounds[before]) else { return String::new() };
    let (now, then) = (tallied_by(history, rounds[nth]), tallied_by(history, before));
    if now.is_empty() || then.is_empty() || now == then {
        return String::new();
    }
    format!("; {} scored, and {} the round before", now.join(", "), then.join(", "))
}

fn tallied_by(history: &History<'_>, round: &Round) -> Vec<String> {
    let log = history.herd().log();
    let of_round = |day: NaiveDate| (round.first..=round.last).contains(&day);
    let tallies = history.herd().rounds().into_iter().filter(|tally| of_round(tally.day));
    let mut by: Vec<String> = tallies.map(|tally| log.body(tally.line).by.to_owned()).collect();
    by.sort();
    by.dedup();
    by
}

fn new_cases(history: &History<'_>) -> Vec<NewCases> {
    let to = history.period().to();
    let steps = flow(history, to).steps;
    let rate = |cases: u64, days: u64| Figure::of(Rate::per_100_cow_months(cases, days), "no sound cow was at risk");
    steps
        .into_iter()
        .map(|step| NewCases { rate: rate(step.became_lame, step.sound_days()), from: step.from, to: step.to })
        .collect()
}

fn warnings(in_period: &[Round], rounds: &[&Round], chart: Option<&Chart>) -> Vec<String> {
    let mut warnings = Vec::new();
    let left_out = in_period.len() - rounds.len();
    if left_out > 0 {
        warnings.push(format!("{left_out} rounds of other groups, or that do not add up, are left out"));
    }
    if chart.is_some() && rounds.len() < ENOUGH_ROUNDS {
        warnings
            .push(format!("limits of {} rounds are provisional: they should rest on {ENOUGH_ROUNDS}", rounds.len()));
    }
    if rounds.windows(2).any(|pair| pair[0].scale != pair[1].scale) {
        warnings.push("the rounds are on different scales: compared only at lame or not lame".to_owned());
    }
    warnings
}
