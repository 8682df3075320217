use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::{Period, lesions};

/// Cows 1 to 200, and cases of these codes, one a cow, a week after another.
fn found(codes: &[(&str, usize)]) -> Pattern {
    let mut lines: Vec<String> =
        (1..=200).map(|cow| format!("2025-01-01 {cow} joined lactation 2 calved 2024-06-01 by kj")).collect();
    let all = codes.iter().flat_map(|(code, n)| std::iter::repeat_n(code, *n));
    for (cow, code) in (1..).zip(all) {
        let date = day("2025-01-05") + chrono::TimeDelta::days(cow * 3);
        lines.push(format!("{date} {cow} lesion {code} by kj"));
    }
    let herd = herd("2026-12-31", &lines);
    let history = History::of(&herd, Period::new(day("2025-01-01"), day("2026-12-31")).unwrap());
    pattern(&history, &lesions::lesions(&history, None))
}

fn points(pattern: &Pattern) -> Vec<&'static str> {
    pattern.points.value().unwrap().iter().map(|point| point.what).collect()
}

#[test]
fn a_large_part_beyond_chance_brings_its_questions() {
    let pattern = found(&[("WLA RH outer", 60), ("SU RH outer", 20)]);
    assert!(points(&pattern).contains(&"white line lesions are a large part of the horn lesions"), "{pattern:?}");
    let point = &pattern.points.value().unwrap()[0];
    assert!(point.questions.iter().all(|question| question.ends_with('?')), "{point:?}");
    assert!(point.p < 0.05 && !point.source.is_empty());
}

#[test]
fn what_chance_alone_would_give_points_to_nothing() {
    let pattern = found(&[("WLA RH outer", 8), ("SH RH outer", 8), ("DS RH outer", 8)]);
    assert!(
        !points(&pattern).iter().any(|what| what.contains("white line") || what.contains("sole ulcers")),
        "{pattern:?}"
    );
}

#[test]
fn a_small_part_does_not_point_however_sure_it_is() {
    // Four white line cases of 80 are surely fewer than a third: nothing to ask about.
    let pattern = found(&[("WLA RH outer", 4), ("SU RH outer", 76)]);
    assert!(!points(&pattern).iter().any(|what| what.contains("white line")));
}

#[test]
fn few_cases_point_to_nothing() {
    let pattern = found(&[("WLA RH outer", 19)]);
    assert!(pattern.points.because().unwrap().contains("too few"));
    assert_eq!(pattern.looked_for, 0);
}

#[test]
fn every_question_is_one_and_every_link_has_its_source() {
    for asked in &QUESTIONS {
        assert!(asked.questions.iter().all(|question| question.ends_with('?')), "{}", asked.what);
        assert!(!asked.source.is_empty(), "{}", asked.what);
    }
}
