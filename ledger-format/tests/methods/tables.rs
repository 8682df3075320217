//! Agreement, tables of two by two, strata, standards.

use ledger_format::measures::method::agreement::{self, Weights};
use ledger_format::measures::method::alpha::{self, Metric};
use ledger_format::measures::method::{conditional, standardise, stratified, table};
use serde_json::{Value, json};

use crate::{Inputs, Outputs, list, rows};

pub(crate) fn outputs(method: &str, inputs: Inputs<'_>) -> Option<Outputs> {
    Some(match method {
        "agreement.weighted_kappa" => weighted_kappa(inputs),
        "agreement.gwet_ac1" => gwet_ac1(inputs),
        "agreement.gwet_ac2" => gwet_ac2(inputs),
        "agreement.krippendorff_alpha" => Some(json!({ "alpha": krippendorff(inputs) })),
        "agreement.kappa_2x2" => kappa_2x2(inputs),
        "agreement.specific" => specific(inputs),
        "agreement.landis_koch_label" => Some(landis_koch(inputs)),
        "table2x2.fisher" => fisher(inputs),
        "table2x2.association" => association(inputs),
        "table.chi2_homogeneity" => homogeneity(inputs),
        "table.cochran_armitage" => trend(inputs),
        "stratified.mantel_haenszel" => mantel_haenszel(inputs),
        "standardise.direct" => direct(inputs),
        "standardise.month_index" => months(inputs),
        _ => return None,
    })
}

fn weights(inputs: Inputs<'_>) -> Weights {
    match inputs.text("weights") {
        "linear" => Weights::Linear,
        "quadratic" => Weights::Quadratic,
        _ => Weights::None,
    }
}

fn weighted_kappa(inputs: Inputs<'_>) -> Outputs {
    let (table, weights) = (inputs.table(), weights(inputs));
    let found = agreement::weighted_kappa(&table, weights, inputs.level())?;
    Some(json!({
        "kappa": found.kappa,
        "se": found.se,
        "se0": agreement::kappa_null_se(&table, weights),
        "observed": found.observed,
        "expected": found.expected,
        "lower": found.limits.lower,
        "upper": found.limits.upper,
    }))
}

fn two_by_two(table: &[Vec<u64>]) -> Option<[u64; 4]> {
    match table {
        [first, second] if first.len() == 2 && second.len() == 2 => Some([first[0], first[1], second[0], second[1]]),
        _ => None,
    }
}

fn gwet_ac1(inputs: Inputs<'_>) -> Outputs {
    let table = inputs.table();
    let (ac1, se) = agreement::gwet(&table, Weights::None)?;
    let kappa = agreement::weighted_kappa(&table, Weights::None, inputs.level())?;
    Some(json!({
        "ac1": ac1,
        "se": se,
        "kappa": kappa.kappa,
        "kappa_se": kappa.se,
        "observed": kappa.observed,
        "pabak_2x2": two_by_two(&table).and_then(|[a, b, c, d]| agreement::pabak(a, b, c, d)),
        "brennan_prediger": agreement::brennan_prediger(&table),
    }))
}

fn gwet_ac2(inputs: Inputs<'_>) -> Outputs {
    let (ac2, se) = agreement::gwet(&inputs.table(), weights(inputs))?;
    Some(json!({ "ac2": ac2, "se": se }))
}

fn krippendorff(inputs: Inputs<'_>) -> Option<f64> {
    let metric = match inputs.text("metric") {
        "nominal" => Metric::Nominal,
        "ordinal" => Metric::Ordinal,
        "interval" => Metric::Interval,
        _ => Metric::Ratio,
    };
    alpha::krippendorff(&things(inputs), metric)
}

/// The values that people gave each thing: of a table, or of rows of people with gaps.
fn things(inputs: Inputs<'_>) -> Vec<Vec<f64>> {
    let people = list(inputs.value("raters_by_units"));
    if people.is_empty() {
        let table = inputs.table();
        let cells = table.iter().enumerate().flat_map(|(i, row)| row.iter().enumerate().map(move |(j, n)| (i, j, *n)));
        return cells.flat_map(|(i, j, n)| (0..n).map(move |_| vec![i as f64, j as f64])).collect();
    }
    let units = list(&people[0]).len();
    (0..units).map(|unit| people.iter().filter_map(|person| person[unit].as_f64()).collect()).collect()
}

fn kappa_2x2(inputs: Inputs<'_>) -> Outputs {
    let table = inputs.table();
    let kappa = agreement::weighted_kappa(&table, Weights::None, inputs.level());
    let (observed, _) = agreement::exact_and_within_one(&table)?;
    Some(json!({
        "kappa": kappa.map(|kappa| kappa.kappa),
        "se": kappa.map(|kappa| kappa.se),
        "observed": observed,
        "ac1": agreement::gwet(&table, Weights::None).map(|(ac1, _)| ac1),
    }))
}

fn specific(inputs: Inputs<'_>) -> Outputs {
    let table = inputs.table();
    let (exact, within_one) = agreement::exact_and_within_one(&table)?;
    let specific = agreement::specific(&table)?;
    Some(json!({ "percent_agreement": exact, "within_one": within_one, "specific": specific }))
}

fn landis_koch(inputs: Inputs<'_>) -> Value {
    let words: Vec<&str> = inputs.numbers("kappa").into_iter().map(agreement::landis_koch).collect();
    json!({ "label": words })
}

fn fisher(inputs: Inputs<'_>) -> Outputs {
    let [a, b, c, d] = two_by_two(&inputs.table())?;
    let exact = conditional::odds_ratio(a, b, c, d, inputs.level())?;
    let sample = (b > 0 && c > 0).then(|| (a * d) as f64 / (b * c) as f64);
    Some(json!({
        "p_two_sided": table::fisher_p(a, b, c, d)?,
        "p_greater": table::fisher_greater_p(a, b, c, d)?,
        "odds_ratio_sample": sample,
        "odds_ratio_conditional": exact.estimate,
        "lower": exact.lower,
        "upper": exact.upper,
    }))
}

fn association(inputs: Inputs<'_>) -> Outputs {
    let [a, b, c, d] = two_by_two(&inputs.table())?;
    let risk = table::risk_ratio(a, a + b, c, c + d, inputs.level())?;
    let odds = table::odds_ratio(a, b, c, d, inputs.level())?;
    let chi2 = table::homogeneity(&[(a, b), (c, d)])?;
    Some(json!({
        "risk_ratio": risk.estimate,
        "rr_katz_lower": risk.katz.lower,
        "rr_katz_upper": risk.katz.upper,
        "rr_koopman_lower": risk.koopman.lower,
        "rr_koopman_upper": risk.koopman.upper,
        "odds_ratio": odds.estimate,
        "or_woolf_lower": odds.limits.lower,
        "or_woolf_upper": odds.limits.upper,
        "chi2": chi2.statistic,
        "chi2_p": chi2.p,
        "fisher_p": table::fisher_p(a, b, c, d)?,
    }))
}

fn homogeneity(inputs: Inputs<'_>) -> Outputs {
    let groups: Vec<(u64, u64)> = inputs.table().iter().map(|row| (row[0], row[1])).collect();
    let found = table::homogeneity(&groups)?;
    let mut out = json!({ "chi2": found.statistic, "df": found.degrees, "p": found.p });
    // Asked of small tables only: its work grows with the product of the groups' sizes.
    if groups.iter().map(|(with, without)| with + without + 1).product::<u64>() <= 10_000_000 {
        out["fisher_freeman_halton_p"] = json!(table::freeman_halton_p(&groups)?);
    }
    Some(out)
}

fn trend(inputs: Inputs<'_>) -> Outputs {
    let (chi2, p) = table::trend(&inputs.counts("x"), &inputs.counts("n"), &inputs.numbers("score"))?;
    Some(json!({ "chi2": chi2, "p": p }))
}

fn mantel_haenszel(inputs: Inputs<'_>) -> Outputs {
    let strata: Option<Vec<stratified::Table>> =
        list(inputs.value("strata")).iter().map(|table| two_by_two(&rows(table))).collect();
    let found = stratified::mantel_haenszel(&strata?, inputs.level())?;
    Some(json!({
        "or_mh": found.odds_ratio,
        "or_lower": found.odds_limits.lower,
        "or_upper": found.odds_limits.upper,
        "rr_mh": found.risk_ratio,
        "rr_lower": found.risk_limits.lower,
        "rr_upper": found.risk_limits.upper,
        "cmh_chi2": found.chi2,
        "cmh_p": found.p,
        "or_crude": found.crude_odds_ratio,
    }))
}

/// One place, or several against one standard: then every figure is a list.
fn direct(inputs: Inputs<'_>) -> Outputs {
    let standard = inputs.numbers("standard");
    let of = |events: &[u64], time: &[f64]| standardise::direct(events, time, &standard, inputs.level());
    if !inputs.value("events")[0].is_array() {
        let found = of(&inputs.counts("events"), &inputs.numbers("time"))?;
        let standardise::Standardised { rate, limits, crude } = found;
        return Some(json!({ "rate": rate, "lower": limits.lower, "upper": limits.upper, "crude": crude }));
    }
    let (events, time) = (rows(inputs.value("events")), rows(inputs.value("time")));
    let place =
        |(events, time): (&Vec<u64>, &Vec<u64>)| of(events, &time.iter().map(|time| *time as f64).collect::<Vec<_>>());
    let places: Vec<standardise::Standardised> = events.iter().zip(&time).map(place).collect::<Option<_>>()?;
    let each = |of: fn(&standardise::Standardised) -> f64| places.iter().map(of).collect::<Vec<f64>>();
    Some(json!({
        "rate": each(|place| place.rate),
        "lower": each(|place| place.limits.lower),
        "upper": each(|place| place.limits.upper),
        "crude": each(|place| place.crude),
    }))
}

fn months(inputs: Inputs<'_>) -> Outputs {
    let found = standardise::months(&inputs.counts("new_cases"), &inputs.numbers("animal_days"), 36_525.0)?;
    let ratios: Vec<Option<f64>> = found.rates.iter().map(|rate| rate.map(|rate| rate / found.overall)).collect();
    Some(json!({
        "rate_per_100_animal_years": found.rates,
        "overall": found.overall,
        "ratio_to_overall": ratios,
        "chi2": found.chi2,
        "df": found.degrees,
    }))
}
