use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

fn figures(lines: &[impl AsRef<str>]) -> CareFigures {
    let herd = herd("2026-03-31", lines);
    care(&History::of(&herd, Period::year_to(day("2026-03-31"))))
}

fn ends(row: &CareRow) -> (u64, u64, u64, u64, u64) {
    (row.spells, row.lifted, row.sound_unlifted, row.left_unlifted, row.waiting)
}

#[test]
fn each_way_a_wait_ends_is_counted_apart() {
    let figures = figures(&[
        "2026-03-01 1 score 2 by kj",
        "2026-03-02 1 trim lame RH by kj",
        "2026-03-01 2 score 2 by kj",
        "2026-03-10 2 trim lame RH by kj",
        "2026-03-01 3 score 2 by kj",
        "2026-03-08 3 score 1 by kj",
        "2026-03-01 4 score 2 by kj",
        "2026-03-05 4 left sold by kj",
        "2026-03-01 5 score 2 by kj",
        "2026-03-30 6 score 2 by kj",
    ]);
    let row = &figures.rows[0];
    assert_eq!(ends(row), (6, 2, 1, 1, 2));
    // Cows 1 and 2 were lifted, 3 and 4 went over 48 h unlifted, 5 waits; 6 is within the hours.
    let in_time = row.in_time.value().unwrap();
    assert_eq!((in_time.part, in_time.of, row.not_yet_due, row.hours), (1, 5, 1, 48));
    let waiting: Vec<_> = figures.waiting.iter().map(|row| (row.cow.as_str(), row.days)).collect();
    assert_eq!(waiting, [("5", 30), ("6", 1)]);
}

#[test]
fn a_second_score_does_not_begin_the_wait_anew_but_a_severe_one_is_counted_by_itself() {
    let figures =
        figures(&["2026-03-01 1 score 2 by kj", "2026-03-05 1 score 3 by kj", "2026-03-06 1 trim lame RH by kj"]);
    let days = |row: &CareRow| row.days.value().unwrap().median;
    assert_eq!((days(&figures.rows[0]), days(&figures.rows[1])), (Some(5.0), Some(1.0)));
    let in_time = |row: &CareRow| row.in_time.value().unwrap().part;
    assert_eq!((in_time(&figures.rows[0]), in_time(&figures.rows[1])), (0, 1));
}

#[test]
fn hours_count_where_both_times_are_written() {
    // Score 2 at 07:30, 48 hours: in time at 07:30 two days later, late a minute after.
    let in_time = |lifted: &str| {
        let figures = figures(&["2026-03-01 07:30 1 score 2 by kj", &format!("{lifted} 1 trim lame RH by kj")]);
        figures.rows[0].in_time.value().unwrap().part
    };
    assert_eq!((in_time("2026-03-03 07:30"), in_time("2026-03-03 07:31")), (1, 0));
    assert_eq!((in_time("2026-03-03"), in_time("2026-03-04")), (1, 0));
}

#[test]
fn a_lifting_before_the_score_of_the_day_is_not_for_it() {
    let figures = figures(&["2026-03-01 07:30 1 trim routine RH by kj", "2026-03-01 15:30 1 score 2 by kj"]);
    assert_eq!(ends(&figures.rows[0]), (1, 0, 0, 0, 1));
}

#[test]
fn a_round_of_the_whole_herd_ends_a_spell() {
    let mut lines: Vec<String> = (1..=20).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    lines.extend(["2026-03-01 1 score 2 by kj".to_owned(), "2026-03-10 herd tally walked 20 by kj".to_owned()]);
    assert_eq!(ends(&figures(&lines).rows[0]), (1, 0, 1, 0, 0));
}

#[test]
fn without_lame_cows_nothing_is_computed() {
    let figures = figures(&["2026-03-01 1 score 1 by kj"]);
    assert!(figures.rows.iter().all(|row| row.days.value().is_none() && row.in_time.value().is_none()));
}
