use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

fn figures(on: &str, lines: &[impl AsRef<str>]) -> BlockFigures {
    let herd = herd(on, lines);
    blocks(&History::of(&herd, Period::year_to(day(on))), EARLY_DAYS)
}

#[test]
fn what_became_of_each_block_is_counted() {
    let lines = [
        "2026-01-01 1 block on RH inner wood by kj",
        "2026-01-08 1 block lost RH by kj",
        "2026-01-01 2 block on RH inner wood by kj",
        "2026-01-29 2 block off RH by kj",
        "2026-01-01 3 block on LH outer shoe by kj",
        "2026-01-20 3 block on LH outer shoe by kj",
        "2026-01-01 4 block on LH outer by kj",
        "2026-01-11 4 left sold by kj",
    ];
    let figures = figures("2026-02-20", &lines);
    let all = &figures.rows[0];
    assert_eq!((all.put_on, all.lost, all.taken_off, all.replaced, all.still_on, all.left), (5, 1, 1, 1, 1, 1));
    // Early: cow 1 at 7 days; 28, 19 and 31 days are not; cow 4 left at 10 days, nobody knows.
    let early = all.early.value().unwrap();
    assert_eq!((early.part, early.of), (1, 4));
    let kinds: Vec<&str> = figures.rows.iter().map(|row| row.kind.as_str()).collect();
    assert_eq!(kinds, ["all", "not written", "wood", "shoe"]);
}

#[test]
fn overdue_is_past_the_day_of_its_kind() {
    // Wood 28 days (Cramer 2015): one off on its day, one a day late, one still on at 50 days; one lost before it.
    let lines = [
        "2026-01-01 1 block on RH inner wood by kj",
        "2026-01-29 1 block off RH by kj",
        "2026-01-01 2 block on RH inner wood by kj",
        "2026-01-30 2 block off RH by kj",
        "2026-01-01 3 block on RH inner wood by kj",
        "2026-01-01 4 block on RH inner wood by kj",
        "2026-01-10 4 block lost RH by kj",
    ];
    let overdue = *figures("2026-02-20", &lines).rows[0].overdue.value().unwrap();
    assert_eq!((overdue.part, overdue.of), (2, 3));
}

#[test]
fn a_published_curve_comes_out_of_days_on() {
    // Freireich et al. 1963, the 6-MP arm, weeks as days: S(6) = 0.8571, S(7) = 0.8067, S(23) = 0.4482, median 23, its
    // upper limit not reached (Klein & Moeschberger, table 4.1). Those not followed to the end are cows that left.
    let gone = [6, 6, 6, 7, 10, 13, 16, 22, 23];
    let followed = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35];
    let mut lines = Vec::new();
    let ends = gone.iter().map(|days| (days, "block off RH")).chain(followed.iter().map(|days| (days, "left sold")));
    for (cow, (days, end)) in (1..).zip(ends) {
        lines.push(format!("2026-01-01 {cow} block on RH inner wood by kj"));
        lines.push(format!("{} {cow} {end} by kj", day("2026-01-01") + TimeDelta::days(*days)));
    }
    let figures = figures("2026-03-20", &lines);
    let days = figures.rows[0].days_on.value().unwrap();
    assert_eq!((days.of, days.median, days.lower, days.upper), (21, Some(23.0), Some(13.0), None));
    assert!((days.week_percent - 100.0 * (1.0 - 0.806_722_7)).abs() < 1e-4);
}

#[test]
fn without_blocks_nothing_is_computed() {
    let figures = figures("2026-02-20", &[""; 0]);
    assert_eq!(figures.rows.len(), 1);
    assert!(figures.rows[0].days_on.value().is_none() && figures.rows[0].early.value().is_none());
}

#[test]
fn a_block_that_nobody_wrote_off_is_doubted() {
    let lines = ["2026-01-01 1 block on RH inner wood by kj"];
    assert_eq!(figures("2026-06-20", &lines).warnings.len(), 1);
}
