//! What stands out over time, in sentences.

use std::cmp::Reverse;

use super::{NewCases, TrendPoint};
use crate::measures::figure::Rate;
use crate::measures::method::chart::{Chart, beyond, eight_on_one_side};

/// A sentence, and the day it is about.
type Signal = (String, String);

/// What stands out, the newest first; of one day the rounds before the new cases.
pub(super) fn sentences(
    rounds: Option<(&[TrendPoint], &Chart)>,
    new_cases: Option<(&[(&NewCases, &Rate)], &Chart)>,
) -> Vec<String> {
    let mut signals: Vec<Signal> = rounds.map_or(Vec::new(), |(points, chart)| of_rounds(points, chart));
    signals.extend(new_cases.map_or(Vec::new(), |(steps, chart)| of_new_cases(steps, chart)));
    signals.sort_by(|(a, _), (b, _)| Reverse(a).cmp(&Reverse(b)));
    signals.into_iter().map(|(_, sentence)| sentence).collect()
}

const fn side(z: f64) -> &'static str {
    if z > 0.0 { "above" } else { "below" }
}

fn of_rounds(points: &[TrendPoint], chart: &Chart) -> Vec<Signal> {
    let mut signals = Vec::new();
    for nth in beyond(&chart.z) {
        let TrendPoint { on, lame, seen, .. } = &points[nth];
        let (lower, upper) = (100.0 * chart.lower[nth], 100.0 * chart.upper[nth]);
        let scorers = scorer_changed(points, nth)
            .map_or(String::new(), |(now, then)| format!("; {now} scored, and {then} the round before"));
        signals.push((
            on.clone(),
            format!(
                "the round of {on}, {lame} of {seen} lame, is {} what chance alone would give ({lower:.1} to {upper:.1} %){scorers}",
                side(chart.z[nth])
            ),
        ));
    }
    for nth in eight_on_one_side(&chart.z) {
        let (first, last) = (&points[nth - 7].on, &points[nth].on);
        let scorers = scorer_changed(points, nth - 7)
            .map_or(String::new(), |(now, then)| format!("; {now} scored at the first of them, and {then} before"));
        signals.push((
            last.clone(),
            format!(
                "eight rounds in a row, {first} to {last}, are {} the level of {:.1} %{scorers}",
                side(chart.z[nth]),
                100.0 * chart.center
            ),
        ));
    }
    signals
}

/// Whether somebody else tallied than the round before, and who: then part of a change is theirs.
fn scorer_changed(points: &[TrendPoint], nth: usize) -> Option<(String, String)> {
    let (now, then) = (&points[nth].by, &points[nth.checked_sub(1)?].by);
    (!now.is_empty() && !then.is_empty() && now != then).then(|| (now.join(", "), then.join(", ")))
}

fn of_new_cases(steps: &[(&NewCases, &Rate)], chart: &Chart) -> Vec<Signal> {
    let mut signals = Vec::new();
    for nth in beyond(&chart.z) {
        let (NewCases { from, to, .. }, Rate { cases, cow_days, rate, .. }) = steps[nth];
        let (lower, upper) = (chart.lower[nth], chart.upper[nth]);
        signals.push((
            to.clone(),
            format!(
                "new cases from {from} to {to}, {cases} in {cow_days} cow-days, {rate:.1} per 100 cow-months, are {} what chance alone would give ({lower:.1} to {upper:.1})",
                side(chart.z[nth])
            ),
        ));
    }
    for nth in eight_on_one_side(&chart.z) {
        let (from, to) = (&steps[nth - 7].0.from, &steps[nth].0.to);
        signals.push((
            to.clone(),
            format!(
                "new cases were eight times in a row, {from} to {to}, {} their level of {:.1} per 100 cow-months",
                side(chart.z[nth]),
                chart.center
            ),
        ));
    }
    signals
}
