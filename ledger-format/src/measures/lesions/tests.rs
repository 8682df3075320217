use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

fn figures(lines: &[impl AsRef<str>]) -> LesionFigures {
    let herd = herd("2026-12-31", lines);
    lesions(&History::of(&herd, Period::new(day("2026-01-01"), day("2026-12-31")).unwrap()), None)
}

fn count(figures: &LesionFigures, code: &str) -> (u64, u64) {
    let row = figures.rows.iter().find(|row| row.code == code);
    row.map_or((0, 0), |row| (row.cases.value().unwrap().cases, row.animals.value().unwrap().part))
}

#[test]
fn the_same_lesion_within_the_window_is_one_case() {
    // 27 and 28 days later the same case, 29 days a new one; the other claw is another case (convention).
    let seen = |second: &str| {
        let figures = figures(&[
            "2026-01-01 1 joined by kj",
            "2026-02-01 1 lesion SU RH outer by kj",
            &format!("{second} by kj"),
        ]);
        count(&figures, "SU")
    };
    assert_eq!(seen("2026-02-28 1 lesion SU RH outer"), (1, 1));
    assert_eq!(seen("2026-03-01 1 lesion SU RH outer"), (1, 1));
    assert_eq!(seen("2026-03-02 1 lesion SU RH outer"), (2, 1));
    assert_eq!(seen("2026-02-06 1 lesion SU RH inner"), (2, 1));
}

#[test]
fn rates_are_over_all_animal_days() {
    let figures = figures(&[
        "2026-01-01 1 joined by kj",
        "2026-01-01 2 joined by kj",
        "2026-07-02 2 left sold by kj",
        "2026-02-01 1 lesion SU RH outer by kj",
    ]);
    let rate = figures.rows[0].cases.value().unwrap();
    assert_eq!((rate.cases, rate.cow_days), (1, 365 + 182));
    assert!((rate.rate - 36_525.0 / 547.0).abs() < 1e-9);
}

#[test]
fn codes_are_counted_under_their_own() {
    let figures = figures(&[
        "2026-01-01 1 joined by kj",
        "2026-02-01 1 lesion WLA RH outer by kj",
        "2026-02-01 1 lesion WLF LH outer by kj",
        "2026-02-01 1 lesion DD M2 LH by kj",
    ]);
    assert_eq!((count(&figures, "WL"), count(&figures, "WLA"), count(&figures, "WLF")), ((2, 1), (1, 1), (1, 1)));
    assert_eq!(
        (count(&figures, "horn"), count(&figures, "infectious"), count(&figures, "all")),
        ((2, 1), (1, 1), (3, 1))
    );
}

#[test]
fn time_at_risk_follows_the_lactation() {
    let figures = figures(&[
        "2026-01-01 1 joined lactation 2 calved 2026-01-01 by kj",
        "2026-11-02 1 dried by kj",
        "2026-02-01 1 lesion SU RH outer by kj",
        "2026-05-01 1 lesion WLA LH outer by kj",
    ]);
    let stages: Vec<(&str, u64, u64)> = figures
        .stages
        .iter()
        .map(|slice| (slice.of.as_str(), slice.horn.value().unwrap().cases, slice.horn.value().unwrap().cow_days))
        .collect();
    assert_eq!(
        stages,
        [("days 0 to 100", 1, 101), ("days 101 to 200", 1, 100), ("days 201 to 305", 0, 104), ("dry", 0, 60)]
    );
    let lactations: Vec<(&str, u64)> =
        figures.lactations.iter().map(|slice| (slice.of.as_str(), slice.horn.value().unwrap().cow_days)).collect();
    assert_eq!(lactations, [("lactation 2", 365)]);
    let february = figures.months[1].horn.value().unwrap();
    assert_eq!((figures.months[1].of.as_str(), february.cases, february.cow_days), ("February", 1, 28));
}

#[test]
fn places_are_shares_of_what_is_written() {
    let figures = figures(&[
        "2026-01-01 1 joined by kj",
        "2026-02-01 1 lesion WLA RH outer zone 3 by kj",
        "2026-02-01 1 lesion SU LH outer by kj",
        "2026-02-01 1 lesion DD RH by kj",
    ]);
    let shares = |places: &[Place]| -> Vec<(String, u64, u64)> {
        places
            .iter()
            .map(|place| (place.at.clone(), place.cases.value().unwrap().part, place.cases.value().unwrap().of))
            .collect()
    };
    assert_eq!(shares(&figures.legs), [("RH".to_owned(), 2, 3), ("LH".to_owned(), 1, 3)]);
    assert_eq!(shares(&figures.claws), [("outer".to_owned(), 2, 2)]);
    assert_eq!(shares(&figures.zones), [("zone 3".to_owned(), 1, 1)]);
}

#[test]
fn liftings_say_sound_or_nothing() {
    let figures = figures(&[
        "2026-01-01 1 joined by kj",
        "2026-02-01 1 trim routine LH RH by kj",
        "2026-03-01 1 trim routine LH RH by kj",
        "2026-03-01 1 lesion none LH RH by kj",
        "2026-03-20 1 lesion SU RH outer by kj",
    ]);
    let Lifted { animals, times, with_lesion, written_sound, nothing_written } = figures.lifted;
    assert_eq!((animals, times, with_lesion, written_sound, nothing_written), (1, 3, 1, 1, 1));
    let after = figures.after_trim.value().unwrap();
    assert_eq!((after.trims.part, after.trims.of), (1, 2));
}

#[test]
fn records_that_are_not_fit_are_said_to_be() {
    let lame_only = figures(&[
        "2026-01-01 1 joined by kj",
        "2026-01-01 2 joined by kj",
        "2026-01-01 3 joined by kj",
        "2026-02-01 1 trim lame RH by kj",
        "2026-02-01 1 lesion SU RH outer by kj",
    ]);
    assert!(!lame_only.fit.fit_for_comparing);
    for expected in ["under half", "lesion none", "only lame cows", "different codes"] {
        assert!(
            lame_only.warnings.iter().any(|warning| warning.contains(expected)),
            "{expected}: {:?}",
            lame_only.warnings
        );
    }
}

#[test]
fn four_of_five_trimmed_is_a_whole_herd() {
    // Solano 2016: 80 of 100 is whole, 79 is part.
    let warns = |trimmed: u32| {
        let mut lines: Vec<String> = (1..=100).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
        lines.extend((1..=trimmed).map(|cow| format!("2026-02-01 {cow} trim routine RH by kj")));
        figures(&lines).warnings.iter().any(|warning| warning.contains("Solano"))
    };
    assert_eq!((warns(80), warns(79)), (false, true));
}

#[test]
fn an_empty_herd_has_no_rates() {
    let figures = figures(&[""; 0]);
    assert!(figures.rows[0].cases.value().is_none() && figures.stages.is_empty() && figures.zones.is_empty());
    assert!(figures.after_trim.value().is_none() && figures.fit.trimmed_percent.value().is_none());
}
