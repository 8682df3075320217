//! Watch over time: share lame round by round, with limits that chance alone keeps to (`measures.md` §58 to §61).

mod signals;
#[cfg(test)]
mod tests;

use serde::Serialize;

use super::figure::{Figure, Rate};
use super::flow::{Step, steps};
use super::history::{About, History};
use super::method::chart::{self, Chart};
use super::round::{basis_word, names};
use super::rounds::{Basis, Round, tallied_by};
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
    /// How much the rounds vary from one to the next beside what counting alone gives: 1 is as much, under 1 less, as
    /// where the same cows are seen each time; then the limits are those of counting alone. Null without limits.
    pub spread: Option<f64>,
    /// Whether there are fewer rounds than limits should rest on.
    pub provisional: bool,
    /// What stands out, in sentences, the newest first.
    pub signals: Vec<String>,
    /// New cases between rounds, for acting on.
    pub new_cases: Vec<NewCases>,
    /// Their level, per 100 cow-months of cows that were not lame; or why they have no limits.
    pub new_cases_level: Figure<f64>,
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
    /// Of whom: "whole", "part", or "unknown" where nobody wrote how many could be seen.
    pub basis: &'static str,
    /// Who tallied, by initials; empty where no tally is written.
    pub by: Vec<String>,
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
    /// Lower limit that chance alone keeps to, per 100 cow-months; null without limits.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// Fewer rounds than this, or steps between them, have no limits. Common practice.
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
    let chart = chart_of(&rounds);
    let points = points(history, &rounds, chart.value());
    let (_, steps, of_steps) = steps(history);
    let mut new_cases = new_cases(&steps);
    let (signals, new_cases_level) = {
        let at_risk: Vec<(&NewCases, &Rate)> =
            new_cases.iter().filter_map(|step| Some((step, step.rate.value()?))).collect();
        let of_cases = chart_of_new_cases(&at_risk);
        let signals = signals::sentences(
            chart.value().map(|chart| (&points[..], chart)),
            of_cases.value().map(|chart| (&at_risk[..], chart)),
        );
        (signals, of_cases)
    };
    give_limits(&mut new_cases, new_cases_level.value());
    let mut warnings = warnings(in_period, &rounds, chart.value());
    warnings.extend(of_steps.iter().map(|warning| format!("new cases: {warning}")));
    TrendFigures {
        about: history.about(),
        of: model.map_or("the herd".to_owned(), Round::of_whom),
        points,
        spread: chart.value().map(|chart| chart.sigma_z),
        provisional: chart.value().is_some() && rounds.len() < ENOUGH_ROUNDS,
        signals,
        new_cases,
        new_cases_level: level(new_cases_level, 1.0),
        definitions: definitions(),
        warnings,
        level_percent: level(chart, 100.0),
    }
}

fn level(chart: Figure<Chart>, unit: f64) -> Figure<f64> {
    match chart {
        Figure::Is(chart) => Figure::Is(unit * chart.center),
        Figure::Cannot { cannot_be_computed_because: because } => Figure::cannot(because),
    }
}

fn definitions() -> Vec<String> {
    [
        "limits: three standard deviations either side of the level, by how many cows were seen; wider where rounds vary more from one to the next than counting alone has them (Laney 2002), never narrower than counting alone",
        "a signal: a round beyond its limits, or eight rounds in a row on one side of the level",
        "new cases: cows not lame in one round and lame in the next, over the days of cows that were not lame; limits in the same way",
        "the same cows are seen again and again, so rounds are more alike than chance alone would have them: act on new cases",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn chart_of(rounds: &[&Round]) -> Figure<Chart> {
    if rounds.len() < LEAST_ROUNDS {
        return Figure::cannot(format!("{} rounds are too few for limits: it takes {LEAST_ROUNDS}", rounds.len()));
    }
    let (lame, seen): (Vec<u64>, Vec<u64>) = rounds.iter().map(|round| (round.lame, round.seen)).unzip();
    let counted = chart::p(&lame, &seen).filter(|counted| counted.center > 0.0 && counted.center < 1.0);
    let chart = counted.map(|counted| Chart::not_under(chart::laney_p(&lame, &seen), counted));
    Figure::of(chart, "no cow, or every cow, was lame in all rounds")
}

/// Of steps with cows at risk; in 100 cow-months.
fn chart_of_new_cases(steps: &[(&NewCases, &Rate)]) -> Figure<Chart> {
    if steps.len() < LEAST_ROUNDS {
        let because = format!("{} steps between rounds are too few for limits: it takes {LEAST_ROUNDS}", steps.len());
        return Figure::cannot(because);
    }
    let (cases, units): (Vec<u64>, Vec<f64>) =
        steps.iter().map(|(_, rate)| (rate.cases, Rate::in_100_cow_months(rate.cow_days))).unzip();
    let counted = chart::u(&cases, &units).filter(|counted| counted.center > 0.0);
    let chart = counted.map(|counted| Chart::not_under(chart::laney_u(&cases, &units), counted));
    Figure::of(chart, "no cow became lame")
}

/// The limits of the steps that had cows at risk, which are in the order of the chart.
fn give_limits(steps: &mut [NewCases], chart: Option<&Chart>) {
    let Some(chart) = chart else { return };
    let at_risk = steps.iter_mut().filter(|step| step.rate.value().is_some());
    for (step, (lower, upper)) in at_risk.zip(chart.lower.iter().zip(&chart.upper)) {
        (step.lower, step.upper) = (Some(*lower), Some(*upper));
    }
}

fn points(history: &History<'_>, rounds: &[&Round], chart: Option<&Chart>) -> Vec<TrendPoint> {
    let tallied = tallied_by(history.herd());
    let point = |(nth, round): (usize, &&Round)| TrendPoint {
        on: date_text(round.last),
        seen: round.seen,
        lame: round.lame,
        percent: 100.0 * round.lame as f64 / round.seen as f64,
        lower: chart.map(|chart| 100.0 * chart.lower[nth]),
        upper: chart.map(|chart| 100.0 * chart.upper[nth]),
        basis: basis_word(round.basis),
        by: names(round.tallied_by(&tallied)),
    };
    rounds.iter().enumerate().map(point).collect()
}

fn new_cases(steps: &[Step]) -> Vec<NewCases> {
    let rate = |cases: u64, days: u64| Figure::of(Rate::per_100_cow_months(cases, days), "no sound cow was at risk");
    let case = |step: &Step| NewCases {
        rate: rate(step.became_lame, step.sound_days()),
        from: step.from.clone(),
        to: step.to.clone(),
        lower: None,
        upper: None,
    };
    steps.iter().map(case).collect()
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
    let parts = rounds.iter().filter(|round| round.basis == Basis::Part).count();
    if parts > 0 {
        warnings.push(format!(
            "{parts} of {} rounds saw only a part of the cows: their shares are the herd's only if these were taken at random",
            rounds.len()
        ));
    }
    if rounds.windows(2).any(|pair| pair[0].scale != pair[1].scale) {
        warnings.push("the rounds are on different scales: compared only at lame or not lame".to_owned());
    }
    warnings
}
