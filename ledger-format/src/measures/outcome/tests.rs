use super::*;
use crate::fold::sample::{day, herd, near};
use crate::measures::Period;

fn figures(on: &str, lines: &[impl AsRef<str>], question: OutcomeQuestion) -> OutcomeFigures {
    let herd = herd(on, lines);
    outcome(&History::of(&herd, Period::year_to(day(on))), question)
}

const THOMAS_2015: OutcomeQuestion = OutcomeQuestion { day: 35, within: 3, recovered: Recovered::Soundest };

/// Cows scored 2, treated with these acts the same day, and scored on day 35: so many 0, the rest 1.
fn arm(first: u64, sound: u64, of: u64, acts: &[&str]) -> Vec<String> {
    let mut lines = Vec::new();
    for nth in 0..of {
        let cow = first + nth;
        lines.push(format!("2026-01-05 {cow} score 2 RH by kj"));
        lines.extend(acts.iter().map(|act| format!("2026-01-05 {cow} {act} by kj")));
        lines.push(format!("2026-02-09 {cow} score {} by kj", u8::from(nth >= sound)));
    }
    lines
}

#[test]
fn a_published_trial_is_reproduced_from_its_lines() {
    // Thomas et al. 2015, J Dairy Sci, counts from the abstract: sound at day 35 after trim 11 of 45, trim and block 14
    // of 39, trim and medicine 12 of 42, all three 23 of 41. Limits and p recomputed in R 4.2.2.
    let (trim, block) = ("trim lame RH", "block on RH inner");
    let medicine = "medicine \"Pedirel\" dose 15 ml milk 0d meat 4d";
    let mut lines = arm(1000, 11, 45, &[trim]);
    lines.extend(arm(2000, 14, 39, &[trim, block]));
    lines.extend(arm(3000, 12, 42, &[trim, medicine]));
    lines.extend(arm(4000, 23, 41, &[trim, block, medicine]));
    let figures = figures("2026-03-31", &lines, THOMAS_2015);
    let row = |done: &str| figures.rows.iter().find(|row| row.done == done).unwrap();
    let share = |done: &str| *row(done).recovered.value().unwrap();
    for (done, part, of, percent, lower, upper) in [
        ("trim", 11, 45, 24.4, 14.235_48, 38.673_38),
        ("trim and block", 14, 39, 35.9, 22.742_09, 51.581_85),
        ("trim and medicine", 12, 42, 28.6, 17.167_02, 43.567_21),
        ("trim, block and medicine", 23, 41, 56.1, 41.040_53, 70.109_86),
    ] {
        let share = share(done);
        assert_eq!((share.part, share.of), (part, of), "{done}");
        near(share.percent, percent, 0.05);
        near(share.limits.unwrap().lower, lower, 1e-4);
        near(share.limits.unwrap().upper, upper, 1e-4);
    }
    let all_three = figures.comparisons.iter().find(|row| row.done == "trim, block and medicine").unwrap();
    near(all_three.difference.points, 31.653_12, 1e-4);
    near(all_three.difference.limits.lower, 10.936_53, 1e-4);
    near(all_three.difference.limits.upper, 48.990_01, 1e-4);
    near(all_three.odds_ratio.value().unwrap().ratio, 3.949_494_9, 1e-6);
    near(all_three.p, 0.011_881_8, 1e-6);
    assert!(figures.warnings.iter().any(|warning| warning.contains("not a trial")));
}

#[test]
fn the_definition_decides_the_headline() {
    let lines = arm(1000, 11, 45, &["trim lame RH"]);
    let percent = |recovered| {
        let figures = figures("2026-03-31", &lines, OutcomeQuestion { recovered, ..THOMAS_2015 });
        assert!(figures.recovered_is.contains("35 days"));
        figures.rows[0].recovered.value().unwrap().percent
    };
    near(percent(Recovered::Soundest), 24.4, 0.05);
    near(percent(Recovered::NotLame), 100.0, 0.0);
}

#[test]
fn what_is_not_known_is_in_no_share() {
    let lines = [
        "2026-01-05 1 score 2 by kj",
        "2026-01-05 1 trim lame RH by kj",
        "2026-02-16 1 score 1 by kj",
        "2026-01-05 2 score 2 by kj",
        "2026-01-05 2 trim lame RH by kj",
        "2026-01-05 3 score 3 by kj",
        "2026-01-05 3 trim lame RH by kj",
        "2026-01-20 3 left culled feet by kj",
        "2026-01-05 4 score 2 by kj",
        "2026-01-05 4 trim lame RH by kj",
        "2026-01-20 4 left sold by kj",
        "2026-03-20 5 score 2 by kj",
        "2026-03-20 5 trim lame RH by kj",
    ];
    let figures = figures("2026-03-31", &lines, OutcomeQuestion::default());
    let all = &figures.rows[0];
    let share = all.recovered.value().unwrap();
    assert_eq!((share.part, share.of), (1, 2));
    assert_eq!((all.treated, all.gone_for_feet, all.not_known, all.not_yet), (5, 1, 2, 1));
    assert_eq!(figures.warnings.len(), 1);
}

#[test]
fn the_sighting_nearest_the_day_counts() {
    let lines = [
        "2026-01-05 1 score 2 by kj",
        "2026-01-05 1 trim lame RH by kj",
        "2026-02-10 1 score 0 by kj",
        "2026-02-17 1 score 2 by kj",
    ];
    let figures = figures("2026-03-31", &lines, OutcomeQuestion::default());
    let share = figures.rows[0].recovered.value().unwrap();
    assert_eq!((share.part, share.of), (0, 1));
    let again = figures.lame_again.value().unwrap();
    assert_eq!((again.of, again.lame_again), (1, 1));
    near(again.percent_90_days, 100.0, 0.0);
}

#[test]
fn a_second_treatment_does_not_begin_anew() {
    let lines = [
        "2026-01-05 1 score 2 by kj",
        "2026-01-06 1 trim lame RH by kj",
        "2026-01-26 1 trim lame RH by kj",
        "2026-01-26 1 block on RH inner by kj",
        "2026-02-17 1 score 0 by kj",
    ];
    let figures = figures("2026-03-31", &lines, OutcomeQuestion::default());
    let rows: Vec<(&str, u64)> = figures.rows.iter().map(|row| (row.done.as_str(), row.treated)).collect();
    assert_eq!(rows, [("all", 1), ("trim", 1)]);
    let days = figures.rows[0].days.value().unwrap();
    assert_eq!(days.median, Some(42.0));
}

#[test]
fn days_to_sound_are_followed_as_in_the_published_curve() {
    // Freireich et al. 1963, the 6-MP arm as days to sound; those not followed to it are lame when last seen.
    let sound = [6, 6, 6, 7, 10, 13, 16, 22, 23];
    let lame = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35];
    let mut lines = Vec::new();
    let ends = sound.iter().map(|days| (days, 0)).chain(lame.iter().map(|days| (days, 2)));
    for (cow, (days, score)) in (1..).zip(ends) {
        lines.push(format!("2026-01-05 {cow} score 2 by kj"));
        lines.push(format!("2026-01-05 {cow} trim lame RH by kj"));
        lines.push(format!("{} {cow} score {score} by kj", day("2026-01-05") + TimeDelta::days(days.to_owned())));
    }
    let figures = figures("2026-03-31", &lines, OutcomeQuestion::default());
    let days = figures.rows[0].days.value().unwrap();
    assert_eq!((days.of, days.median, days.lower, days.upper), (21, Some(23.0), Some(13.0), None));
}

#[test]
fn without_treated_cows_nothing_is_computed() {
    let figures = figures("2026-03-31", &["2026-01-05 1 score 2 by kj"], OutcomeQuestion::default());
    assert!(figures.rows[0].recovered.value().is_none() && figures.lame_again.value().is_none());
    assert!(figures.comparisons.is_empty());
}
