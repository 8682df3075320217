use super::*;
use crate::fold::sample::{day, herd, near};
use crate::measures::Period;

/// Cows 1 to `n`, rounds of the whole herd 30 days apart from 2026-01-31 on with the cows lame in each, and more lines.
fn figures(n: u32, rounds: &[&[u32]], more: &[&str]) -> FlowFigures {
    let mut lines: Vec<String> = (1..=n).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    let mut date = day("2026-01-31");
    for lame in rounds {
        let left = more.iter().filter(|line| line.contains("left") && line[..10] < *date.to_string()).count() as u32;
        lines.push(format!("{date} herd tally walked {} by kj", n - left));
        lines.extend(lame.iter().map(|cow| format!("{date} {cow} score 2 by kj")));
        date += chrono::TimeDelta::days(30);
    }
    lines.extend(more.iter().map(|line| (*line).to_owned()));
    let herd = herd("2026-12-31", &lines);
    flow(&History::of(&herd, Period::year_to(day("2026-12-31"))), day("2027-06-30"))
}

#[test]
fn what_moved_is_counted_cow_by_cow() {
    let figures = figures(10, &[&[1, 2, 3], &[2, 3, 4], &[3]], &["2026-02-10 1 left culled feet by kj"]);
    let [first, second] = figures.steps.as_slice() else { panic!("{:?}", figures.steps) };
    let moved = |step: &Step| (step.became_lame, step.recovered, step.stayed_lame, step.stayed_sound, step.left_lame);
    assert_eq!((moved(first), moved(second)), ((1, 0, 2, 6, 1), (0, 2, 1, 6, 0)));
    // Sound: 30 days for 6 and half of it for the one that became lame, then 30 for 6 and 15 for each of 2.
    let new_cases = figures.new_cases.value().unwrap();
    assert_eq!((new_cases.cases, new_cases.cow_days), (1, 180 + 15 + 180 + 30));
    near(new_cases.rate, 3_043.75 / 405.0, 1e-9);
    let recoveries = figures.recoveries.value().unwrap();
    assert_eq!((recoveries.cases, recoveries.cow_days), (2, 60 + 15 + 15 + 30 + 30));
}

#[test]
fn chronic_is_lame_in_every_round_since_long_enough() {
    let figures = figures(10, &[&[1, 2, 3], &[2, 3, 4]], &[]);
    let chronic = figures.chronic.value().unwrap();
    assert_eq!((chronic.part, chronic.of), (2, 3));
    let once = super::tests::figures(10, &[&[1, 2, 3]], &[]);
    assert!(once.chronic.because().unwrap().contains("more than 14 days"));
}

#[test]
fn too_few_moves_say_nothing_of_the_heading() {
    let figures = figures(10, &[&[1, 2, 3], &[2, 3, 4]], &[]);
    assert!(figures.heading.because().unwrap().starts_with("too few to say: 1 new cases"), "{:?}", figures.heading);
}

#[test]
fn constant_rates_lead_to_their_level_and_the_aim_takes_what_it_takes() {
    // Every step 12 of 60 sound cows become lame and all 12 lame ones recover.
    let even: Vec<u32> = (1..=12).collect();
    let odd: Vec<u32> = (13..=24).collect();
    let figures = figures(72, &[&even, &odd, &even, &odd], &[]);
    let heading = figures.heading.value().unwrap();
    // 36 cases in 36 half steps and 3 × 48 whole ones; 36 ends in 36 half steps of both kinds.
    let (sound, lame) = (3.0 * (48.0 * 30.0 + 24.0 * 15.0), 3.0 * 24.0 * 15.0);
    let (falling, ending) = (36.0 / sound, 36.0 / lame);
    near(heading.level_percent, 100.0 * falling / (falling + ending), 1e-9);
    assert!(heading.level_limits.lower < heading.level_percent && heading.level_percent < heading.level_limits.upper);
    // Long after, with the fall applied, the herd is at the aim: level = f(1 − fall) / (f(1 − fall) + r).
    let fall = heading.fall_in_new_cases.value().unwrap();
    let slower = falling * (1.0 - fall.percent / 100.0);
    assert!((100.0 * slower / (slower + ending) - 5.0).abs() < 1e-3);
    assert!(fall.lower < fall.percent && fall.percent < fall.upper.unwrap());
    let rise = heading.rise_in_recovery.value().unwrap();
    let faster = ending * (1.0 + rise.percent / 100.0);
    assert!((100.0 * falling / (falling + faster) - 5.0).abs() < 1e-3);
}

#[test]
fn a_herd_without_rounds_has_no_flow() {
    let figures = figures(3, &[], &[]);
    assert!(figures.steps.is_empty() && figures.new_cases.value().is_none() && figures.heading.value().is_none());
}

#[test]
fn rounds_of_a_part_are_left_out_and_said_to_be() {
    let figures = figures(10, &[&[1], &[1]], &["2026-03-10 herd tally walked 4 by kj"]);
    assert_eq!((figures.steps.len(), figures.warnings.len()), (1, 1), "{figures:?}");
}
