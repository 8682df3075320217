use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

fn of(name: &str, lame: u64, seen: u64) -> OfHerd {
    let newest = Newest { day: day("2026-03-01"), seen, lame, severe: 0, is_whole: true, is_old: false };
    OfHerd { name: name.to_owned(), round: Ok(newest), doubts: Vec::new() }
}

fn figures(counts: &[(u64, u64)]) -> HerdsFigures {
    let named: Vec<OfHerd> = (1..).zip(counts).map(|(nth, (x, n))| of(&format!("herd-{nth:02}"), *x, *n)).collect();
    herds(day("2026-03-31"), &named)
}

fn row<'f>(figures: &'f HerdsFigures, herd: &str) -> &'f HerdRow {
    figures.rows.iter().find(|row| row.herd == herd).unwrap()
}

#[test]
fn the_mean_of_herds_is_not_the_pooled_share() {
    let figures = figures(&[(10, 100), (150, 300)]);
    assert!((figures.mean_of_herds.value().unwrap() - 30.0).abs() < 1e-9);
    assert!((figures.pooled.value().unwrap().percent - 40.0).abs() < 1e-9);
}

/// A herd whose lines are these, on 2026-03-31.
fn of_lines(name: &str, lines: &[String]) -> OfHerd {
    let herd = herd("2026-03-31", lines);
    OfHerd { name: name.to_owned(), ..OfHerd::of(&History::of(&herd, Period::year_to(day("2026-03-31")))) }
}

/// A round of so many cows, so many of them lame, and the lame ones severely so up to a number.
fn round(date: &str, walked: u64, lame: u64, severe: u64) -> Vec<String> {
    let mut lines = vec![format!("{date} herd tally walked {walked} by kj")];
    lines.extend((1..=lame).map(|cow| format!("{date} {cow} score {} by kj", if cow <= severe { 3 } else { 2 })));
    lines
}

#[test]
fn a_published_survey_pools_to_its_share() {
    // Griffiths et al. 2018: 61 herds, 4,145 of 14,700 cows lame, 28.2 %. The herds here are made up so that they add
    // to it: 241 cows, or 240, with 26 to 110 lame.
    let counts: Vec<(u64, u64)> = (0..61)
        .map(|nth| match nth {
            60 => (68, 240),
            nth if nth % 2 == 0 => (68 - 3 * (nth / 4) - u64::from(nth < 6), 241),
            nth => (68 + 3 * (nth / 4), 241),
        })
        .collect();
    let of: Vec<OfHerd> = (1..)
        .zip(&counts)
        .map(|(nth, (lame, walked))| of_lines(&format!("herd-{nth:02}"), &round("2026-03-02", *walked, *lame, 2)))
        .collect();
    let figures = herds(day("2026-03-31"), &of);
    let pooled = figures.pooled.value().unwrap();
    assert_eq!((pooled.part, pooled.of, figures.rows.len()), (4_145, 14_700, 61));
    assert!((pooled.percent - 28.2).abs() < 0.05);
    assert!((figures.mean_of_herds.value().unwrap() - 28.2).abs() < 0.05);
    assert_eq!((figures.rows[0].severe.part, figures.rows[0].severe.of), (2, 241));
    // Cows of one herd are alike: the limits are wider than those of 14,700 cows by themselves.
    let (alone, limits) = (Share::of(4_145, 14_700).unwrap().limits.unwrap(), pooled.limits.unwrap());
    assert!(limits.upper - limits.lower > 2.0 * (alone.upper - alone.lower), "{limits:?}");
}

#[test]
fn herds_that_are_alike_pool_as_cows_that_are_not() {
    let pooled = *figures(&[(20, 100); 12]).pooled.value().unwrap();
    assert_eq!(pooled.limits, Share::of(240, 1_200).unwrap().limits);
    assert_eq!(figures(&[(0, 100), (0, 50)]).pooled.value().unwrap().limits, Share::of(0, 150).unwrap().limits);
}

#[test]
fn the_newest_round_that_adds_up_is_the_one() {
    let mut lines = round("2025-12-02", 20, 6, 1);
    lines.extend(round("2026-02-02", 20, 4, 2));
    lines.extend(round("2026-03-02", 2, 3, 0));
    let figures = herds(day("2026-03-31"), &[of_lines("quillmere", &lines)]);
    let [row] = figures.rows.as_slice() else { panic!("{figures:?}") };
    assert_eq!((row.on.as_str(), row.lame.part, row.lame.of, row.severe.part), ("2026-02-02", 4, 20, 2));
    assert!(row.old, "57 days are longer than rounds are agreed to be apart");
    let last = figures.warnings.last().unwrap();
    assert_eq!(last, "quillmere: the round of 2026-03-02 is left out: 3 lame of 2 seen do not add up");
    let none = herds(day("2026-03-31"), &[of_lines("quillmere", &round("2026-03-02", 2, 3, 0))]);
    assert!(none.rows.is_empty() && none.warnings.first() == Some(last), "{none:?}");
    assert_eq!(none.without[0].because, "no scoring round that adds up is written up to 2026-03-31");
}

#[test]
fn a_sample_is_a_part_and_a_round_of_all_is_not() {
    let mut lines: Vec<String> = (1..=20).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    lines.extend(round("2026-03-02", 12, 3, 0));
    let part = of_lines("quillmere", &lines);
    lines.extend(round("2026-03-30", 20, 3, 0));
    let whole = of_lines("ashby", &lines);
    let figures = herds(day("2026-03-31"), &[part, whole]);
    let flags = |name: &str| (row(&figures, name).part, row(&figures, name).old);
    assert_eq!((flags("quillmere"), flags("ashby")), ((true, false), (false, false)));
}

#[test]
fn one_herd_twice_is_told() {
    let figures = herds(day("2026-03-31"), &[of("quillmere", 12, 60), of("ashby", 9, 60), of("quillmere", 12, 60)]);
    assert!(figures.warnings.iter().any(|warning| warning.starts_with("2 folders are of a herd called quillmere")));
}

#[test]
fn a_small_herd_is_neither_hero_nor_villain() {
    let mut counts: Vec<(u64, u64)> = (0..12).map(|nth| (30 + 4 * nth, 200)).collect();
    counts.extend([(0, 6), (5, 8)]);
    let figures = figures(&counts);
    let (hero, villain) = (row(&figures, "herd-13"), row(&figures, "herd-14"));
    assert!(hero.drawn.value().unwrap().percent > 10.0, "{hero:?}");
    assert!(villain.drawn.value().unwrap().percent < 45.0, "{villain:?}");
    assert_eq!((hero.place, villain.place), (None, None));
    // The worst large herd stays where it is, or nearly.
    assert!((row(&figures, "herd-12").drawn.value().unwrap().percent - 37.0).abs() < 2.0);
}

#[test]
fn the_worst_comes_first_and_has_its_place_if_it_stands_apart() {
    let mut counts = vec![(20, 200); 10];
    counts.push((150, 200));
    counts[0].0 = 18;
    let figures = figures(&counts);
    assert_eq!((figures.rows[0].herd.as_str(), figures.rows[0].place), ("herd-11", Some(1)));
    assert!(figures.rows[1..].iter().all(|row| row.place.is_none()));
    let named: Vec<&str> = figures.rows[1..].iter().map(|row| row.herd.as_str()).collect();
    assert_eq!(figures.not_told_apart, named);
}

#[test]
fn herds_without_a_round_say_why_and_one_herd_is_drawn_nowhere() {
    let none = OfHerd::none("ashby", "no scoring round");
    let figures = herds(day("2026-03-31"), &[of("quillmere", 12, 60), none]);
    assert_eq!(figures.without.len(), 1);
    assert!(figures.rows[0].drawn.value().is_none() && figures.rows[0].place.is_none());
    let empty = herds(day("2026-03-31"), &[]);
    assert!(empty.pooled.value().is_none() && empty.mean_of_herds.value().is_none());
}

#[test]
fn herds_that_are_all_alike_are_not_drawn() {
    let figures = figures(&[(20, 100); 12]);
    assert!(figures.rows.iter().all(|row| row.drawn.value().is_none()));
    assert_eq!(figures.warnings.len(), 1);
}
