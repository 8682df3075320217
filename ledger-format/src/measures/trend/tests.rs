use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

/// A herd of 100, scored whole every two weeks with so many lame, the first cows by number.
fn figures(lame: &[u32], by: &[&str]) -> TrendFigures {
    let mut lines: Vec<String> = (1..=100).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    for (nth, lame) in lame.iter().enumerate() {
        let date = day("2026-01-05") + chrono::TimeDelta::days(14 * nth as i64);
        let by = by.get(nth).unwrap_or(&"kj");
        lines.push(format!("{date} herd tally walked 100 by {by}"));
        lines.extend((1..=*lame).map(|cow| format!("{date} {cow} score 2 by {by}")));
    }
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let herd = herd("2026-12-31", &lines);
    trend(&History::of(&herd, Period::year_to(day("2026-12-31"))))
}

#[test]
fn a_jump_is_a_sentence_with_its_numbers() {
    let lame = [20, 22, 19, 21, 20, 23, 21, 19, 20, 45];
    let figures = figures(&lame, &["kj", "kj", "kj", "kj", "kj", "kj", "kj", "kj", "kj", "tb"]);
    let [signal] = figures.signals.as_slice() else { panic!("{:?}", figures.signals) };
    assert!(signal.starts_with("the round of 2026-05-11, 45 of 100 lame, is above what chance alone would give ("));
    assert!(signal.ends_with("; tb scored, and kj the round before"), "{signal}");
    assert!(figures.provisional);
}

#[test]
fn a_steady_herd_gives_no_signal() {
    assert!(figures(&[20, 22, 19, 21, 20, 23, 21, 19, 20, 22], &[]).signals.is_empty());
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
