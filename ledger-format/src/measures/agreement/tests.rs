use super::*;
use crate::fold::sample::{day, herd, herd_of, ledger, near};
use crate::measures::Period;

/// Scores of two people by a table: rows the first's.
fn of_table(table: &[&[u32]], scale: &str, lowest: usize) -> AgreementFigures {
    let mut lines = Vec::new();
    let mut cow = 0;
    for (i, row) in table.iter().enumerate() {
        for (j, n) in row.iter().enumerate() {
            for _ in 0..*n {
                cow += 1;
                lines.push(format!("2026-03-01 {cow} score {}{scale} by ao", i + lowest));
                lines.push(format!("2026-03-01 {cow} score {}{scale} by tb", j + lowest));
            }
        }
    }
    figures(&lines)
}

fn figures(lines: &[String]) -> AgreementFigures {
    let herd = herd("2026-12-31", lines);
    agreement(&History::of(&herd, Period::year_to(day("2026-12-31"))))
}

#[test]
fn a_published_table_comes_out_of_its_scores() {
    // Kundel and Polansky 2003: linear-weighted kappa 0.5964, standard error 0.04923, 110 cases; and agreement on each
    // level, recomputed.
    let figures = of_table(&[&[34, 10, 2, 0], &[6, 8, 8, 2], &[2, 5, 4, 12], &[0, 1, 2, 14]], "", 0);
    let [row] = figures.pairs.value().unwrap().as_slice() else { panic!("one pair") };
    let kappa = row.kappa.value().unwrap();
    near(kappa.value, 0.5964, 5e-5);
    near(kappa.se, 0.04923, 5e-6);
    let limits = kappa.limits.unwrap();
    near(limits.lower, 0.5964 - 1.959_963_98 * 0.04923, 1e-4);
    near(limits.upper, 0.5964 + 1.959_963_98 * 0.04923, 1e-4);
    assert_eq!(
        (row.cows, row.days, row.first.as_str(), row.second.as_str(), kappa.word),
        (110, 1, "ao", "tb", "moderate")
    );
    near(row.exact.value().unwrap().percent, 54.545_454, 1e-5);
    near(row.within_one.value().unwrap().percent, 93.636_363, 1e-5);
    let levels: Vec<f64> = row.by_score.iter().map(|level| level.unwrap()).collect();
    for (level, expected) in levels.iter().zip([77.272_727, 33.333_333, 20.512_820, 62.222_222]) {
        near(*level, expected, 1e-5);
    }
}

#[test]
fn rare_lameness_lowers_kappa_and_not_the_adjusted_one() {
    // 80 not lame by both, 5 lame by both, 10 and 5 apart: 85 % agreement, kappa 0.3182, adjusted 0.70.
    let figures = of_table(&[&[80, 0, 10, 0], &[0; 4], &[5, 0, 5, 0], &[0; 4]], "", 0);
    let lame = figures.pairs.value().unwrap()[0].lame;
    near(lame.agree_percent, 85.0, 1e-9);
    near(lame.kappa.unwrap().value, 0.3182, 5e-5);
    near(lame.adjusted, 0.70, 1e-9);
    near(lame.prevalence_index, 0.75, 1e-9);
    near(lame.bias_index, 0.05, 1e-9);
    near(lame.difference.points, 5.0, 1e-9);
}

#[test]
fn all_cows_alike_have_a_share_and_no_kappa() {
    let figures = of_table(&[&[12, 0, 0, 0], &[0; 4], &[0; 4], &[0; 4]], "", 0);
    let row = &figures.pairs.value().unwrap()[0];
    near(row.exact.value().unwrap().percent, 100.0, 0.0);
    assert!(row.kappa.because().is_some() && row.lame.kappa.is_none());
    assert_eq!(figures.warnings.len(), 1, "few cows are said to be few");
}

#[test]
fn an_error_of_nothing_gives_no_limits() {
    // Full agreement on five cows; and one who gives every cow the same score, for whom kappa is 0 whatever the other does.
    for (table, value) in [
        ([&[3, 0, 0, 0][..], &[0; 4], &[0, 0, 2, 0], &[0; 4]], 1.0),
        ([&[3, 0, 2, 0][..], &[0; 4], &[0; 4], &[0; 4]], 0.0),
    ] {
        let row = &of_table(&table, "", 0).pairs.value().unwrap()[0].clone();
        let (kappa, at_lame) = (*row.kappa.value().unwrap(), row.lame.kappa.unwrap());
        near(kappa.value, value, 1e-9);
        assert_eq!((kappa.limits, at_lame.limits), (None, None));
    }
}

#[test]
fn limits_of_kappa_end_at_one() {
    let figures = of_table(&[&[40, 0, 0, 0], &[0; 4], &[1, 0, 9, 0], &[0; 4]], "", 0);
    let limits = figures.pairs.value().unwrap()[0].kappa.value().unwrap().limits.unwrap();
    near(limits.upper, 1.0, 0.0);
    assert!(limits.lower < 0.9, "{limits:?}");
}

#[test]
fn two_devices_that_say_the_same_are_two_people_who_agree() {
    let by = |who: &str| [1, 2].map(|cow| format!("2026-03-01 {cow} score {} by {who}", cow % 2 * 2));
    let (ao, tb) = (by("ao"), by("tb"));
    let file = |device: &str, lines: &[String; 2]| ledger(device, &[&lines[0], &lines[1]]);
    let herd = herd_of("2026-12-31", vec![file("crush-laptop", &ao), file("office", &tb)]);
    let figures = agreement(&History::of(&herd, Period::year_to(day("2026-12-31"))));
    let row = &figures.pairs.value().unwrap()[0];
    assert_eq!((row.cows, row.table[0][0], row.table[2][2]), (2, 1, 1));
}

#[test]
fn other_scales_stand_apart() {
    let figures = of_table(&[&[0; 5], &[0, 3, 0, 0, 0], &[0, 0, 2, 0, 0], &[0; 5], &[0; 5]], " scale five", 1);
    let row = &figures.pairs.value().unwrap()[0];
    assert_eq!((row.scale.as_str(), row.lowest, row.table.len(), row.table[1][1]), ("five", 1, 5, 3));
    assert_eq!((row.lame.both, row.lame.neither), (2, 3));
}

#[test]
fn a_person_twice_is_no_pair_and_the_last_score_counts() {
    let once = ["2026-03-01 1 score 2 by ao", "2026-03-01 09:00 1 score 3 by ao"].map(str::to_owned);
    assert!(figures(&once).pairs.value().is_none());
    let both =
        ["2026-03-01 08:00 1 score 2 by ao", "2026-03-01 08:30 1 score 3 by tb", "2026-03-01 09:00 1 score 3 by ao"];
    let found = figures(&both.map(str::to_owned));
    near(found.pairs.value().unwrap()[0].exact.value().unwrap().percent, 100.0, 0.0);
}
