use super::*;
use crate::fold::sample::{day, herd, near};
use crate::measures::Period;

/// A herd of cows 1 to `n` in the register, or of none, with rounds: day, walked past, and the scores of cows from 1 on.
fn figures(n: u32, rounds: &[(&str, u32, &[u8])]) -> RoundFigures {
    let mut lines: Vec<String> = (1..=n).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    for (day, walked, scores) in rounds {
        lines.push(format!("{day} herd tally walked {walked} by kj"));
        lines.extend(
            (1..)
                .zip(*scores)
                .filter(|(_, score)| **score > 1)
                .map(|(cow, score)| format!("{day} {cow} score {score} by kj")),
        );
    }
    of_lines(&lines)
}

fn of_lines(lines: &[String]) -> RoundFigures {
    let herd = herd("2026-12-31", lines);
    round(&History::of(&herd, Period::year_to(day("2026-12-31"))), None)
}

fn scores(twos: usize, threes: usize) -> Vec<u8> {
    [vec![2; twos], vec![3; threes]].concat()
}

#[test]
fn a_whole_herd_scored_by_exception_has_no_sampling_error() {
    let figures = figures(193, &[("2026-03-01", 193, &scores(40, 10))]);
    let row = figures.round.value().unwrap();
    let (lame, severe) = (row.lame.value().unwrap(), row.severe.value().unwrap());
    assert_eq!((lame.part, lame.of, lame.limits, severe.part), (50, 193, None, 10));
    near(lame.percent, 25.9, 0.05);
    // The level behind it: Wilson, as `prop` vectors have it for 50 of 193.
    let level = row.level.unwrap();
    assert!(level.lower < lame.percent && lame.percent < level.upper);
    assert_eq!((row.basis, row.lame_in_herd), ("whole", None));
}

#[test]
fn a_part_of_the_herd_has_limits_of_the_finite_herd() {
    // 12 lame of 49 scored in a herd of 100: Wilson with the finite-population factor, and 17 to 35 cows by the exact
    // hypergeometric rule, recomputed in R 4.2.2.
    let figures = figures(100, &[("2026-03-01", 49, &scores(12, 0))]);
    let row = figures.round.value().unwrap();
    let limits = row.lame.value().unwrap().limits.unwrap();
    near(limits.lower, 16.949_81, 1e-4);
    near(limits.upper, 34.010_32, 1e-4);
    assert_eq!(row.lame_in_herd, Some(CowRange { lower: 17, upper: 35, of: 100 }));
    assert_eq!((row.basis, row.level), ("part", None));
}

#[test]
fn of_a_herd_without_a_register_the_limits_are_wilsons() {
    // 12 of 49: 14.60 to 38.09 %, Wilson's formula.
    let figures = figures(0, &[("2026-03-01", 49, &scores(12, 0))]);
    let limits = figures.round.value().unwrap().lame.value().unwrap().limits.unwrap();
    near(limits.lower, 14.60, 0.01);
    near(limits.upper, 38.09, 0.01);
}

#[test]
fn a_published_survey_is_reproduced_from_its_lines() {
    // Griffiths et al. 2018, England and Wales: 4,145 of 14,700 cows lame, 28.2 %.
    let figures = figures(0, &[("2026-03-01", 14_700, &scores(4_145, 0))]);
    near(figures.round.value().unwrap().lame.value().unwrap().percent, 28.2, 0.05);
}

#[test]
fn the_same_cows_are_compared_as_pairs() {
    // Newcombe 1998, Stat Med 17:2635, method 10: cells 20, 12, 2, 16 give 0.0562 to 0.3292 for first less second.
    let mut first = vec![2; 32];
    first.resize(50, 0);
    let mut second = vec![2; 20];
    second.resize(32, 0);
    second.extend([2, 2]);
    let figures = figures(50, &[("2026-03-01", 50, &first), ("2026-04-01", 50, &second)]);
    let change = figures.change.value().unwrap();
    let same = change.same_cows.value().unwrap();
    assert_eq!((same.stayed_lame, same.recovered, same.became_lame, same.stayed_sound), (20, 12, 2, 16));
    near(same.difference.limits.upper, -5.615_64, 1e-4);
    near(same.difference.limits.lower, -32.920_70, 1e-4);
    assert_eq!(same.newly_lame, ["33", "34"]);
    assert_eq!(change.since, "2026-03-01");
}

#[test]
fn of_parts_of_the_herd_only_the_shares_are_compared() {
    // Newcombe 1998, Stat Med 17:873, method 10: 48 of 80 then 56 of 70 gives 0.0524 to 0.3339.
    let rounds: [(&str, u32, &[u8]); 2] = [("2026-03-01", 80, &[2; 48]), ("2026-04-01", 70, &[2; 56])];
    let figures = figures(200, &rounds);
    let change = figures.change.value().unwrap();
    assert!(change.same_cows.because().unwrap().contains("only a part"));
    let limits = change.all_cows.value().unwrap().difference.limits;
    near(limits.lower, 5.243_15, 1e-4);
    near(limits.upper, 33.387_27, 1e-4);
}

#[test]
fn the_aim_is_met_missed_or_not_to_be_told() {
    let stands = |n, walked, lame| {
        let figures = figures(n, &[("2026-03-01", walked, &scores(lame, 0))]);
        let aim = *figures.round.value().unwrap().aim.value().unwrap();
        (aim.stands, aim.fewer_cows)
    };
    assert_eq!(stands(100, 100, 4), ("under", 0));
    assert_eq!(stands(100, 100, 5), ("over", 1));
    assert_eq!(stands(100, 40, 2), ("cannot tell", 1));
    assert_eq!(stands(100, 40, 12), ("over", 11));
}

#[test]
fn without_a_round_there_is_no_figure() {
    let figures = of_lines(&["2026-03-01 4 score 2 by kj".to_owned()]);
    assert!(figures.round.because().unwrap().contains("no scoring round"));
    assert!(figures.change.value().is_none());
    let empty = of_lines(&[]);
    assert!(empty.round.value().is_none() && empty.sample.is_empty());
}

#[test]
fn more_lame_than_walked_past_is_no_share() {
    let figures = figures(20, &[("2026-03-01", 3, &scores(5, 0))]);
    let row = figures.round.value().unwrap();
    assert_eq!(row.lame.because(), Some("5 lame cows are named, but only 3 walked past: look at the tally"));
    assert!(row.aim.value().is_none() && row.level.is_none() && row.lame_in_herd.is_none());
}

#[test]
fn rounds_on_two_scales_are_compared_at_lame_and_said_to_be() {
    let mut lines: Vec<String> = (1..=6).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    lines.extend((1..=6).map(|cow| format!("2026-03-01 {cow} score {} by kj", cow % 4)));
    lines.extend((1..=6).map(|cow| format!("2026-04-01 {cow} score {} scale five by kj", cow % 5 + 1)));
    let figures = of_lines(&lines);
    assert!(figures.warnings.iter().any(|warning| warning.contains("different scales")), "{:?}", figures.warnings);
    assert!(figures.change.value().unwrap().same_cows.value().is_some());
}

#[test]
fn a_cow_without_a_joining_is_named() {
    let mut lines: Vec<String> = (1..=4).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    lines.extend(["2026-03-01 herd tally walked 5 by kj".to_owned(), "2026-03-01 77 score 2 by kj".to_owned()]);
    let figures = of_lines(&lines);
    assert!(figures.warnings.contains(&"not in the register, but scored: 77".to_owned()), "{:?}", figures.warnings);
}

/// What schemes ask for, of a herd of so many in the register.
fn schemes(herd: u32) -> Vec<SchemeSize> {
    figures(herd, &[("2026-03-01", herd, &[])]).schemes
}

#[test]
fn a_welfare_protocols_table_comes_out_of_the_lines() {
    // Welfare Quality protocol for dairy cows, 2009: every column pair of its table, from memory.
    let table = [
        (30, 30, 30),
        (40, 30, 30),
        (50, 33, 30),
        (60, 37, 32),
        (70, 41, 35),
        (80, 44, 37),
        (90, 47, 39),
        (100, 49, 40),
        (110, 52, 42),
        (120, 54, 43),
        (130, 55, 45),
        (140, 57, 46),
        (150, 59, 47),
        (160, 60, 48),
        (170, 62, 48),
        (180, 63, 49),
        (190, 64, 50),
        (200, 65, 51),
        (210, 66, 51),
        (220, 67, 52),
        (230, 68, 52),
        (240, 69, 53),
        (250, 70, 53),
        (260, 70, 54),
        (270, 71, 54),
        (280, 72, 54),
        (290, 72, 55),
        (300, 73, 55),
    ];
    for (herd, cows, at_least) in table {
        let size = schemes(herd)[0];
        assert!(size.scheme.starts_with("Welfare Quality"));
        assert_eq!((size.cows, size.at_least, size.of), (cows, Some(at_least), u64::from(herd)));
    }
}

#[test]
fn a_national_assessments_table_comes_out_of_the_lines() {
    // Canadian dairy cattle assessment, minimum numbers of cows.
    let table = [
        (30, 18),
        (40, 21),
        (50, 23),
        (70, 27),
        (90, 29),
        (100, 30),
        (150, 33),
        (250, 37),
        (350, 38),
        (450, 39),
        (550, 40),
        (700, 40),
    ];
    for (herd, cows) in table {
        let sizes = schemes(herd);
        let size = sizes.last().unwrap();
        assert!(size.scheme.starts_with("Canadian"));
        assert_eq!((size.cows, size.of), (cows, u64::from(herd)), "herd of {herd}");
    }
}
