//! Published tables, typed as lines and read off the printed figures. The limits of each are checked beside its measure.

use crate::scene::Scene;

/// Trials, surveys and tables as ledgers of the office.
fn scene(lines: &[String]) -> Scene {
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    Scene::of(&[("office", &lines)])
}

/// Asserts that the text has each of these, whatever the room between the words.
fn assert_prints(text: &str, expected: &[&str]) {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for expected in expected {
        assert!(text.contains(expected), "{expected:?} is not in {text}");
    }
}

/// Cows of one arm of a trial: lame and treated on one day, scored on day 35, so many of them sound.
fn arm(first: u32, sound: u32, of: u32, acts: &[&str]) -> Vec<String> {
    let of_cow = |cow: u32| {
        let acts = acts.iter().map(move |act| format!("2026-01-05 {cow} {act} by kj"));
        let score = u8::from(cow >= first + sound);
        std::iter::once(format!("2026-01-05 {cow} score 2 RH by kj"))
            .chain(acts)
            .chain([format!("2026-02-09 {cow} score {score} by kj")])
    };
    (first..first + of).flat_map(of_cow).collect()
}

#[test]
fn a_trial_of_treatments_is_printed_as_published() {
    // Thomas et al. 2015, J Dairy Sci 98:4477, table of outcomes: score 0 on day 35.
    let (trim, block) = ("trim lame RH", "block on RH inner");
    let medicine = "medicine \"Pedirel\" dose 15 ml milk 0d meat 4d";
    let mut lines = arm(1000, 11, 45, &[trim]);
    lines.extend(arm(2000, 14, 39, &[trim, block]));
    lines.extend(arm(3000, 12, 42, &[trim, medicine]));
    lines.extend(arm(4000, 23, 41, &[trim, block, medicine]));
    let ask = ["--recovered", "zero", "--day", "35", "--to", "2026-03-31"];
    let text = scene(&lines).read(&[&["figures", "outcome"], &ask[..]].concat());
    let shares = ["11 of 45, 24.4 %", "14 of 39, 35.9 %", "12 of 42, 28.6 %", "23 of 41, 56.1 %"];
    assert_prints(&text, &shares);
    assert_prints(&text, &["odds ratio 3.95", "it is not a trial"]);
}

#[test]
fn a_survey_of_herds_is_printed_as_published() {
    // Griffiths et al. 2018, Front Vet Sci 5:65: 4,145 of 14,700 cows lame, 28.2 %.
    let mut lines = vec!["2026-03-01 herd tally walked 14700 by kj".to_owned()];
    lines.extend((1..=4_145).map(|cow| format!("2026-03-01 {cow} score 2 by kj")));
    let text = scene(&lines).read(&["figures", "round", "--to", "2026-03-31"]);
    assert_prints(&text, &["4,145 of 14,700, 28.2 %"]);
}

#[test]
fn the_samples_of_two_schemes_are_printed_as_in_their_tables() {
    // Welfare Quality 2009, dairy cows (from memory), both columns; Canadian dairy cattle assessment.
    for (herd, welfare, least, canadian) in [(150, 59, 47, 33), (250, 70, 53, 37)] {
        let mut lines: Vec<String> = (1..=herd).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
        lines.push(format!("2026-03-01 herd tally walked {herd} by kj"));
        let text = scene(&lines).read(&["figures", "round", "--to", "2026-03-31"]);
        let welfare = format!("2009: {welfare} of {herd}, or {least} where so many cannot be");
        assert_prints(&text, &[&welfare, &format!("Canadian dairy cattle assessment, minimum: {canadian} of {herd}")]);
    }
}

#[test]
fn times_to_an_event_are_printed_as_published() {
    // Freireich et al. 1963, Blood 21:699, the 6-MP arm, with weeks as days and remission's end as walking sound: of 21
    // half by 23, from 13 to no upper limit.
    let sound = [6, 6, 6, 7, 10, 13, 16, 22, 23];
    let lame = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35];
    let ends = sound.iter().map(|days| (*days, 0)).chain(lame.iter().map(|days| (*days, 2)));
    let start = chrono::NaiveDate::from_ymd_opt(2026, 1, 5).unwrap();
    let of_cow = |(cow, (days, score)): (u32, (i64, u8))| {
        let seen = start + chrono::TimeDelta::days(days);
        [
            format!("{start} {cow} score 2 by kj"),
            format!("{start} {cow} trim lame RH by kj"),
            format!("{seen} {cow} score {score} by kj"),
        ]
    };
    let lines: Vec<String> = (1..).zip(ends).flat_map(of_cow).collect();
    let text = scene(&lines).read(&["figures", "outcome", "--to", "2026-03-31"]);
    assert_prints(&text, &["half seen not lame by day 23 (13 to not reached)", "of 21"]);
}
