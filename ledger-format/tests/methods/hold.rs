//! What holds for all inputs.

use ledger_format::measures::method::agreement::{Weights, pabak, weighted_kappa};
use ledger_format::measures::method::survival::{End, Interval, aalen_johansen, kaplan_meier, log_rank};
use ledger_format::measures::method::{
    LEVEL, Limits, chart, conditional, difference, multiple, paired, proportion, rate, shrink, table,
};
use proptest::prelude::*;

fn is_ordered(limits: Limits) -> bool {
    limits.lower.is_finite() && limits.upper.is_finite() && limits.lower <= limits.upper
}

fn is_share(limits: Limits, share: f64) -> bool {
    let off = 1e-12;
    is_ordered(limits)
        && limits.lower >= -off
        && limits.upper <= 1.0 + off
        && limits.lower <= share + off
        && share <= limits.upper + off
}

/// x of n, n at least 1.
fn part() -> impl Strategy<Value = (u64, u64)> {
    (1..400_u64).prop_flat_map(|n| (0..=n, Just(n)))
}

fn followed() -> impl Strategy<Value = Vec<(f64, bool)>> {
    prop::collection::vec(((0..40_u8).prop_map(f64::from), any::<bool>()), 1..30)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn limits_of_a_share_hold_it_and_mirror((x, n) in part()) {
        for of in [proportion::wilson, proportion::clopper_pearson, proportion::jeffreys] {
            let (limits, mirrored) = (of(x, n, LEVEL).unwrap(), of(n - x, n, LEVEL).unwrap());
            prop_assert!(is_share(limits, x as f64 / n as f64));
            prop_assert!((limits.lower - (1.0 - mirrored.upper)).abs() < 1e-9);
        }
    }

    #[test]
    fn a_herd_seen_whole_is_known((x, n) in part()) {
        let share = x as f64 / n as f64;
        let limits = proportion::wilson_of_part(x, n, n, LEVEL).unwrap();
        prop_assert!((limits.lower - share).abs() < 1e-12 && (limits.upper - share).abs() < 1e-12);
        prop_assert_eq!(proportion::cows_of_part(x, n, n, LEVEL), Some((x, x)));
    }

    #[test]
    fn cows_of_a_part_hold_what_was_seen((x, n) in part(), more in 0..300_u64) {
        let (lower, upper) = proportion::cows_of_part(x, n, n + more, LEVEL).unwrap();
        prop_assert!(x <= lower && lower <= upper && upper <= n + more - (n - x));
    }

    #[test]
    fn a_difference_is_held_and_turns_its_sign((x1, n1) in part(), (x2, n2) in part()) {
        let d = x1 as f64 / n1 as f64 - x2 as f64 / n2 as f64;
        let of = |x1, n1, x2, n2| difference::newcombe(x1, n1, x2, n2, LEVEL).unwrap();
        let (limits, turned) = (of(x1, n1, x2, n2), of(x2, n2, x1, n1));
        prop_assert!(is_ordered(limits) && limits.lower <= d + 1e-12 && d <= limits.upper + 1e-12);
        prop_assert!((limits.lower + turned.upper).abs() < 1e-9);
        let score = difference::by_score(x1, n1, x2, n2, true, LEVEL).unwrap();
        prop_assert!(is_ordered(score) && score.lower <= d + 1e-9 && d <= score.upper + 1e-9);
    }

    #[test]
    fn pairs_turn_their_sign_and_p_is_a_chance(cells in prop::array::uniform4(0..60_u64)) {
        let [e, f, g, h] = cells;
        prop_assume!(e + f + g + h > 0);
        let (limits, turned) =
            (paired::newcombe_paired(e, f, g, h, LEVEL).unwrap(), paired::newcombe_paired(e, g, f, h, LEVEL).unwrap());
        prop_assert!(is_ordered(limits) && (limits.lower + turned.upper).abs() < 1e-9);
        for p in [paired::mcnemar_mid_p(f, g), paired::mcnemar_exact_p(f, g)] {
            prop_assert!((0.0..=1.0).contains(&p));
        }
        prop_assert!(paired::mcnemar_mid_p(f, g) <= paired::mcnemar_exact_p(f, g) + 1e-12);
    }

    #[test]
    fn a_count_is_within_its_limits_and_a_rate_scales(count in 0..500_u64, time in 1.0..1e6_f64) {
        let limits = rate::poisson_count(count, LEVEL).unwrap();
        prop_assert!(is_ordered(limits) && limits.lower <= count as f64 && count as f64 <= limits.upper);
        let (of, doubled) = (rate::per(count, time, 100.0, LEVEL).unwrap(), rate::per(count, 2.0 * time, 100.0, LEVEL).unwrap());
        prop_assert!((of.0 - 2.0 * doubled.0).abs() <= 1e-9 * of.0.max(1.0));
    }

    #[test]
    fn a_ratio_of_rates_is_held_and_turns_over(a in 0..60_u64, b in 0..60_u64, t1 in 1.0..1e4_f64, t0 in 1.0..1e4_f64) {
        let Some(ratio) = rate::ratio(a, t1, b, t0, LEVEL) else {
            prop_assert_eq!(a + b, 0);
            return Ok(());
        };
        prop_assert!(ratio.lower >= 0.0 && (0.0..=1.0).contains(&ratio.p));
        prop_assert!(ratio.estimate.is_none_or(|estimate| ratio.lower <= estimate && ratio.upper.is_none_or(|upper| estimate <= upper)));
        let turned = rate::ratio(b, t0, a, t1, LEVEL).unwrap();
        if let Some(upper) = ratio.upper.filter(|_| turned.lower > 0.0) {
            prop_assert!((upper * turned.lower - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn a_curve_falls_and_its_limits_hold_it(times in followed()) {
        for interval in [Interval::Plain, Interval::Log, Interval::LogLog] {
            let curve = kaplan_meier(&times, interval, LEVEL).unwrap();
            let mut before = 1.0;
            for step in &curve.steps {
                prop_assert!(step.survival <= before && step.survival >= 0.0 && step.se.is_finite());
                prop_assert!(step.limits.is_none_or(|limits| is_share(limits, step.survival)));
                before = step.survival;
            }
        }
    }

    #[test]
    fn everyone_only_followed_has_a_flat_curve(times in followed()) {
        let times: Vec<(f64, bool)> = times.into_iter().map(|(time, _)| (time, false)).collect();
        let curve = kaplan_meier(&times, Interval::LogLog, LEVEL).unwrap();
        prop_assert!(curve.steps.is_empty() && curve.median.is_none());
        prop_assert!(log_rank(&times, &times).is_none());
    }

    #[test]
    fn without_other_ends_incidence_is_what_the_curve_lacks(times in followed()) {
        let ends: Vec<(f64, End)> =
            times.iter().map(|(time, event)| (*time, if *event { End::Event } else { End::Followed })).collect();
        let (curve, incidence) = (kaplan_meier(&times, Interval::LogLog, LEVEL).unwrap(), aalen_johansen(&ends).unwrap());
        prop_assert_eq!(curve.steps.len(), incidence.len());
        for (step, (time, share)) in curve.steps.iter().zip(incidence) {
            prop_assert!((step.time - time).abs() < 1e-12 && (1.0 - step.survival - share).abs() < 1e-9);
        }
    }

    #[test]
    fn groups_alike_do_not_differ(times in followed()) {
        if let Some(found) = log_rank(&times, &times) {
            prop_assert!(found.chi2.abs() < 1e-9 && found.p > 0.999);
        }
    }

    #[test]
    fn kappa_is_at_most_one_and_does_not_care_who_is_first(cells in prop::array::uniform16(0..9_u64)) {
        let table: Vec<Vec<u64>> = cells.chunks(4).map(<[u64]>::to_vec).collect();
        let turned: Vec<Vec<u64>> = (0..4).map(|j| (0..4).map(|i| table[i][j]).collect()).collect();
        for weights in [Weights::None, Weights::Linear, Weights::Quadratic] {
            let (of, other) = (weighted_kappa(&table, weights, LEVEL), weighted_kappa(&turned, weights, LEVEL));
            prop_assert_eq!(of.is_some(), other.is_some());
            if let (Some(of), Some(other)) = (of, other) {
                prop_assert!(of.kappa <= 1.0 + 1e-12 && of.se.is_finite() && (of.kappa - other.kappa).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn adjusted_agreement_is_between_minus_one_and_one(cells in prop::array::uniform4(0..50_u64)) {
        let [a, b, c, d] = cells;
        let found = pabak(a, b, c, d);
        prop_assert!(found.map_or(a + b + c + d == 0, |found| (-1.0..=1.0).contains(&found)));
    }

    #[test]
    fn exact_tables_have_chances_and_hold_their_ratio(cells in prop::array::uniform4(0..25_u64)) {
        let [a, b, c, d] = cells;
        prop_assume!(a + b + c + d > 0);
        let p = table::fisher_p(a, b, c, d).unwrap();
        prop_assert!((0.0..=1.0).contains(&p) && (p - table::fisher_p(c, d, a, b).unwrap()).abs() < 1e-9);
        let odds = conditional::odds_ratio(a, b, c, d, LEVEL).unwrap();
        prop_assert!(odds.estimate.is_none_or(|of| odds.lower <= of * (1.0 + 1e-9) && odds.upper.is_none_or(|upper| of <= upper * (1.0 + 1e-9))));
        let two = table::freeman_halton_p(&[(a, b), (c, d)]).unwrap();
        prop_assert!((two - p).abs() < 1e-6, "{two} {p}");
    }

    #[test]
    fn adjusting_never_makes_surer_and_keeps_the_order(p in prop::collection::vec(0.0..=1.0_f64, 0..20)) {
        for of in [multiple::holm, multiple::benjamini_hochberg, multiple::bonferroni] {
            let adjusted = of(&p);
            prop_assert_eq!(adjusted.len(), p.len());
            for (before, after) in p.iter().zip(&adjusted) {
                prop_assert!(after >= before && *after <= 1.0);
            }
        }
    }

    #[test]
    fn a_drawn_share_lies_between_the_groups_own_and_the_common(groups in prop::collection::vec(part(), 2..15)) {
        let Some(common) = shrink::common(&groups) else { return Ok(()) };
        for (x, n) in groups {
            let (own, drawn) = (x as f64 / n as f64, shrink::posterior(x, n, common.alpha, common.beta, LEVEL).unwrap());
            prop_assert!(drawn.mean >= own.min(common.mean) - 1e-9 && drawn.mean <= own.max(common.mean) + 1e-9);
            prop_assert!(is_ordered(drawn.limits));
        }
    }

    #[test]
    fn a_chart_has_a_limit_either_side_of_its_centre(rounds in prop::collection::vec(part(), 0..30)) {
        let (x, n): (Vec<u64>, Vec<u64>) = rounds.into_iter().unzip();
        let Some(chart) = chart::laney_p(&x, &n) else { return Ok(()) };
        prop_assert!(chart.z.iter().all(|z| z.is_finite()));
        for (lower, upper) in chart.lower.iter().zip(&chart.upper) {
            prop_assert!((0.0..=chart.center).contains(lower) && (chart.center..=1.0).contains(upper));
        }
    }
}

#[test]
fn none_of_none_is_none() {
    assert!(proportion::wilson(0, 0, LEVEL).is_none() && proportion::clopper_pearson(0, 0, LEVEL).is_none());
    assert!(proportion::wilson(3, 2, LEVEL).is_none() && proportion::cows_of_part(1, 5, 4, LEVEL).is_none());
    assert!(difference::newcombe(0, 0, 1, 2, LEVEL).is_none() && paired::newcombe_paired(0, 0, 0, 0, LEVEL).is_none());
    assert!(rate::per(3, 0.0, 1.0, LEVEL).is_none() && rate::ratio(0, 1.0, 0, 1.0, LEVEL).is_none());
    assert!(
        kaplan_meier(&[], Interval::LogLog, LEVEL).is_none()
            && kaplan_meier(&[(-1.0, true)], Interval::Log, LEVEL).is_none()
    );
    assert!(weighted_kappa(&[], Weights::Linear, LEVEL).is_none() && chart::laney_p(&[], &[]).is_none());
    assert!(shrink::common(&[(1, 2)]).is_none() && table::fisher_p(0, 0, 0, 0).is_none());
}
