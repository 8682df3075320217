use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

/// A herd of 100, scored whole every two weeks with so many lame, the first cows by number.
fn figures(lame: &[u32], by: &[&str]) -> TrendFigures {
    let cows: Vec<Vec<u32>> = lame.iter().map(|lame| (1..=*lame).collect()).collect();
    figures_of(&cows, by, 100)
}

/// A herd of 100, tallied every two weeks with so many walked past and these lame.
fn figures_of(lame: &[Vec<u32>], by: &[&str], walked: u32) -> TrendFigures {
    let mut lines: Vec<String> = (1..=100).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    for (nth, lame) in lame.iter().enumerate() {
        let date = day("2026-01-05") + chrono::TimeDelta::days(14 * nth as i64);
        let by = by.get(nth).unwrap_or(&"kj");
        lines.push(format!("{date} herd tally walked {walked} by {by}"));
        lines.extend(lame.iter().map(|cow| format!("{date} {cow} score 2 by {by}")));
    }
    let herd = herd("2026-12-31", &lines);
    trend(&History::of(&herd, Period::year_to(day("2026-12-31"))))
}

#[test]
fn a_jump_is_a_sentence_with_its_numbers() {
    let lame = [20, 22, 19, 21, 20, 23, 21, 19, 20, 45];
    let figures = figures(&lame, &["kj", "kj", "kj", "kj", "kj", "kj", "kj", "kj", "kj", "tb"]);
    let of_rounds: Vec<&String> = figures.signals.iter().filter(|signal| signal.starts_with("the round")).collect();
    let [signal] = of_rounds[..] else { panic!("{:?}", figures.signals) };
    assert!(figures.signals[1].starts_with("new cases from 2026-04-27 to 2026-05-11, 25 in 945 cow-days"));
    assert!(signal.starts_with("the round of 2026-05-11, 45 of 100 lame, is above what chance alone would give ("));
    assert!(signal.ends_with("; tb scored, and kj the round before"), "{signal}");
    assert!(figures.provisional);
}

#[test]
fn a_steady_herd_gives_no_signal() {
    assert!(figures(&[20, 22, 19, 21, 20, 23, 21, 19, 20, 22], &[]).signals.is_empty());
}

#[test]
fn cows_that_stay_lame_do_not_make_limits_narrow() {
    // One cow more after nine rounds of the same twenty: counting alone gives 8 to 32 % of 100.
    let one_more = figures(&[20, 20, 20, 20, 20, 20, 20, 20, 20, 21], &[]);
    assert!(!one_more.signals.iter().any(|signal| signal.starts_with("the round")), "{:?}", one_more.signals);
    let last = &one_more.points[9];
    // 20.1 % either side of 3 · √(0.201 · 0.799 / 100).
    assert!((last.lower.unwrap() - 8.077_6).abs() < 1e-3 && (last.upper.unwrap() - 32.122_4).abs() < 1e-3, "{last:?}");
    assert!(one_more.spread.unwrap() < 1.0);
    let alike = figures(&[20; 9], &[]);
    assert_eq!((alike.spread, alike.signals.len()), (Some(0.0), 0));
    assert_eq!(alike.points[0].lower.map(f64::round), Some(8.0));
}

#[test]
fn rounds_that_vary_much_have_the_wider_limits() {
    let figures = figures(&[10, 40, 12, 38, 9, 41, 11, 39], &[]);
    let counting = 300.0 * (0.25_f64 * 0.75 / 100.0).sqrt();
    assert!(figures.spread.unwrap() > 1.0);
    assert!(figures.points[0].upper.unwrap() - figures.level_percent.value().unwrap() > counting);
    assert!(figures.signals.is_empty(), "{:?}", figures.signals);
}

/// Two cows lame each round, never the same as the round before; in the last, so many more.
fn turning(last: u32) -> Vec<Vec<u32>> {
    let mut lame: Vec<Vec<u32>> = (0..10).map(|nth| vec![1 + nth % 2 * 2, 2 + nth % 2 * 2]).collect();
    lame.push((11..11 + last).collect());
    lame
}

#[test]
fn new_cases_have_limits_and_sentences_of_their_own() {
    let figures = figures_of(&turning(30), &[], 100);
    let last = figures.new_cases.last().unwrap();
    let rate = last.rate.value().unwrap();
    // 68 cows sound both times, 30 that became lame and 2 that recovered, over 14 days: (68 · 2 + 32) · 7.
    assert_eq!((rate.cases, rate.cow_days), (30, 1_176));
    assert!(rate.rate > last.upper.unwrap(), "{last:?}");
    // Each of nine steps: 96 sound both times and 4 that changed, 2 of them new, 1,372 cow-days; 48 cases in all.
    let level = 48.0 / (9.0 * 1_372.0 + 1_176.0) * 36_525.0 / 12.0;
    assert!((figures.new_cases_level.value().unwrap() - level).abs() < 1e-9);
    assert!(
        figures.signals.iter().any(|signal| signal.starts_with(
            "new cases from 2026-05-11 to 2026-05-25, 30 in 1176 cow-days, 77.6 per 100 cow-months, are above"
        )),
        "{:?}",
        figures.signals
    );
    assert!(!figures_of(&turning(2), &[], 100).signals.iter().any(|signal| signal.contains("are above")));
}

#[test]
fn a_round_says_of_whom_it_is_and_who_tallied() {
    let part = figures_of(&vec![vec![1, 2]; 3], &["kj", "tb", "tb"], 60);
    let said: Vec<_> = part.points.iter().map(|point| (point.basis, point.by.join(" "))).collect();
    assert_eq!(said, [("part", "kj".to_owned()), ("part", "tb".to_owned()), ("part", "tb".to_owned())]);
    assert!(part.warnings.iter().any(|warning| warning.starts_with("3 of 3 rounds saw only a part")));
    assert!(part.new_cases.is_empty() && part.new_cases_level.value().is_none());
    assert_eq!(figures(&[2], &[]).points[0].basis, "whole");
}

#[test]
fn eight_by_another_scorer_name_both() {
    let lame = [10, 11, 10, 12, 24, 25, 24, 26, 24, 25, 26, 24];
    let mut by = vec!["kj"; 4];
    by.extend(["tb"; 8]);
    let signals = figures(&lame, &by).signals;
    assert!(
        signals.iter().any(|signal| signal.ends_with("; tb scored at the first of them, and kj before")),
        "{signals:?}"
    );
}

#[test]
fn eight_on_one_side_are_one_signal() {
    let figures = figures(&[24, 25, 24, 26, 24, 25, 26, 24, 10, 11, 10, 12], &[]);
    assert!(
        figures.signals.iter().any(|signal| signal.starts_with("eight rounds in a row, 2026-01-05 to 2026-04-13")),
        "{:?}",
        figures.signals
    );
}

#[test]
fn few_rounds_are_a_list_without_limits() {
    let figures = figures(&[20, 22, 19], &[]);
    assert_eq!((figures.points.len(), figures.points[1].lower, figures.spread), (3, None, None));
    assert!(figures.level_percent.because().unwrap().contains("3 rounds are too few"));
    assert_eq!(figures.new_cases.len(), 2);
    assert_eq!(figures.new_cases[0].rate.value().unwrap().cases, 2);
}

#[test]
fn rounds_without_any_lame_cow_have_no_limits() {
    let figures = figures(&[0; 9], &[]);
    assert!(figures.level_percent.value().is_none() && figures.signals.is_empty());
}
