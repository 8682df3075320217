use super::*;
use crate::fold::sample::day;

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

#[test]
fn a_published_survey_pools_to_its_share() {
    // Griffiths et al. 2018: 61 herds, 4,145 of 14,700 cows, 28.2 %; 60 herds of 241 and one of 240, 67 or 68 lame.
    let mut counts: Vec<(u64, u64)> = (0..60).map(|nth| (68 - u64::from(nth < 3), 241)).collect();
    counts.push((68, 240));
    let figures = figures(&counts);
    let pooled = figures.pooled.value().unwrap();
    assert_eq!((pooled.part, pooled.of, figures.rows.len()), (4_145, 14_700, 61));
    assert!((pooled.percent - 28.2).abs() < 0.05);
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
