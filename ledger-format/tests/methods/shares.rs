//! Shares, their differences, sample sizes, rates.

use ledger_format::measures::method::{
    Limits, detection, difference, paired, proportion, rate, sample_size, true_prevalence,
};
use serde_json::{Value, json};

use crate::{Inputs, Outputs};

pub(crate) fn outputs(method: &str, inputs: Inputs<'_>) -> Option<Outputs> {
    Some(match method {
        "proportion.wilson" => share(inputs, proportion::wilson),
        "proportion.clopper_pearson" => share(inputs, proportion::clopper_pearson),
        "proportion.jeffreys" => share(inputs, proportion::jeffreys),
        "proportion.fpc_standard_error" => wald_of_part(inputs),
        "proportion.hypergeometric_exact" => cows_of_part(inputs),
        "proportion.wilson_fpc" => wilson_of_part(inputs),
        "difference.newcombe_hybrid" => newcombe(inputs),
        "difference.miettinen_nurminen" => by_score(inputs),
        "difference.newcombe_paired" => newcombe_paired(inputs),
        "difference.partly_overlapping" => overlapping(inputs),
        "paired.mcnemar" => Some(mcnemar(inputs)),
        "samplesize.prevalence" => for_prevalence(inputs),
        "samplesize.design_effect" => Some(design_effect(inputs)),
        "samplesize.welfare_quality_dairy" => Some(welfare_quality(inputs)),
        "samplesize.detection" => detect(inputs),
        "true_prevalence.rogan_gladen" => rogan_gladen(inputs),
        "rate.poisson_exact_count" => poisson(inputs),
        "rate.per_100_animal_years" => per_100_animal_years(inputs),
        "rate.smr_exact" => smr(inputs),
        "rate.ratio" => ratio(inputs),
        _ => return None,
    })
}

fn share(inputs: Inputs<'_>, of: fn(u64, u64, f64) -> Option<Limits>) -> Outputs {
    let (x, n) = (inputs.count("x"), inputs.count("n"));
    let Limits { lower, upper } = of(x, n, inputs.level())?;
    Some(json!({ "estimate": x as f64 / n as f64, "lower": lower, "upper": upper }))
}

fn part(inputs: Inputs<'_>) -> (u64, u64, u64, f64) {
    (inputs.count("x"), inputs.count("n"), inputs.count("N"), inputs.level())
}

fn wald_of_part(inputs: Inputs<'_>) -> Outputs {
    let (x, n, herd, level) = part(inputs);
    let (se, limits) = proportion::wald_of_part(x, n, herd, level)?;
    Some(json!({ "se": se, "lower": limits.lower, "upper": limits.upper }))
}

fn wilson_of_part(inputs: Inputs<'_>) -> Outputs {
    let (x, n, herd, level) = part(inputs);
    let Limits { lower, upper } = proportion::wilson_of_part(x, n, herd, level)?;
    Some(json!({ "lower": lower, "upper": upper }))
}

fn cows_of_part(inputs: Inputs<'_>) -> Outputs {
    let (x, n, herd, level) = part(inputs);
    let (lower, upper) = proportion::cows_of_part(x, n, herd, level)?;
    let of = |cows: u64| cows as f64 / herd as f64;
    Some(json!({ "lower_count": lower, "upper_count": upper, "lower": of(lower), "upper": of(upper) }))
}

fn two(inputs: Inputs<'_>) -> (u64, u64, u64, u64) {
    (inputs.count("x1"), inputs.count("n1"), inputs.count("x2"), inputs.count("n2"))
}

fn newcombe(inputs: Inputs<'_>) -> Outputs {
    let (x1, n1, x2, n2) = two(inputs);
    let Limits { lower, upper } = difference::newcombe(x1, n1, x2, n2, inputs.level())?;
    Some(json!({ "difference": x1 as f64 / n1 as f64 - x2 as f64 / n2 as f64, "lower": lower, "upper": upper }))
}

fn by_score(inputs: Inputs<'_>) -> Outputs {
    let (x1, n1, x2, n2) = two(inputs);
    let of = |is_corrected| difference::by_score(x1, n1, x2, n2, is_corrected, inputs.level());
    let (corrected, mee) = (of(true)?, of(false)?);
    Some(json!({ "lower": corrected.lower, "upper": corrected.upper, "mee_lower": mee.lower, "mee_upper": mee.upper }))
}

fn cells(inputs: Inputs<'_>) -> [u64; 4] {
    ["both", "first_only", "second_only", "neither"].map(|name| inputs.count(name))
}

fn newcombe_paired(inputs: Inputs<'_>) -> Outputs {
    let [both, first, second, neither] = cells(inputs);
    let Limits { lower, upper } = paired::newcombe_paired(both, first, second, neither, inputs.level())?;
    let n = (both + first + second + neither) as f64;
    Some(json!({ "difference": (first as f64 - second as f64) / n, "lower": lower, "upper": upper }))
}

fn overlapping(inputs: Inputs<'_>) -> Outputs {
    let once = |name: &str| {
        let counts = inputs.counts(name);
        (counts[0], counts[1])
    };
    let overlap = paired::overlapping(cells(inputs), once("only_date1"), once("only_date2"))?;
    let paired::Overlap { first, second, se } = overlap;
    Some(json!({ "p1": first, "p2": second, "difference": first - second, "se": se }))
}

fn mcnemar(inputs: Inputs<'_>) -> Value {
    let (first, second) = (inputs.count("first_only"), inputs.count("second_only"));
    let (chi2, p) = paired::mcnemar_asymptotic(first, second).unzip();
    json!({
        "chi2": chi2,
        "p_asymptotic": p,
        "p_exact": paired::mcnemar_exact_p(first, second),
        "p_mid": paired::mcnemar_mid_p(first, second),
    })
}

fn herd(inputs: Inputs<'_>) -> Option<u64> {
    (!inputs.is_null("N")).then(|| inputs.count("N"))
}

fn for_prevalence(inputs: Inputs<'_>) -> Outputs {
    let z = if inputs.is_null("z") { proportion::z_of(inputs.level()) } else { inputs.number("z") };
    let n = sample_size::for_prevalence(herd(inputs), inputs.number("p"), inputs.number("d"), z)?;
    Some(json!({ "n_exact": n, "n_rounded": n.round() as u64, "n_ceil": n.ceil() as u64 }))
}

fn design_effect(inputs: Inputs<'_>) -> Value {
    let deff = 1.0 + (inputs.number("cluster_size") - 1.0) * inputs.number("rho");
    json!({ "deff": deff, "n_adjusted": (inputs.number("n") * deff).ceil() as u64 })
}

/// At least 30, rounded to the nearest; 95 % and 90 % with the points that the protocol's table was made with.
fn welfare_quality(inputs: Inputs<'_>) -> Value {
    let column = |z: f64| -> Vec<u64> {
        let size = |herd: &u64| sample_size::for_prevalence(Some(*herd), 0.5, 0.1, z).map_or(0, |n| n.round() as u64);
        inputs.counts("herds").iter().map(|herd| size(herd).max(30)).collect()
    };
    json!({ "A": column(1.96), "B": column(1.64) })
}

fn detect(inputs: Inputs<'_>) -> Outputs {
    let (confidence, se) = (inputs.number("confidence"), inputs.value("se").as_f64().unwrap_or(1.0));
    let Some(herd) = herd(inputs) else {
        return Some(json!({ "n": detection::of_endlessly_many(inputs.number("p"), confidence, se)? }));
    };
    let affected = inputs.count("affected");
    let cannon_roe = detection::cannon_roe(herd, affected, confidence)?;
    Some(json!({
        "n_exact_hypergeometric": detection::exact(herd, affected, confidence, se)?,
        "n_cannon_roe": cannon_roe.ceil() as u64,
        "cannon_roe_unrounded": cannon_roe,
        "n_macdiarmid": detection::macdiarmid(herd, affected, confidence, se)?.ceil() as u64,
    }))
}

fn rogan_gladen(inputs: Inputs<'_>) -> Outputs {
    let (x, n, level) = (inputs.count("x"), inputs.count("n"), inputs.level());
    let limits = match inputs.text("interval") {
        "clopper_pearson" => proportion::clopper_pearson(x, n, level)?,
        _ => proportion::wilson(x, n, level)?,
    };
    let apparent = x as f64 / n as f64;
    let found = true_prevalence::rogan_gladen(apparent, limits, inputs.number("se"), inputs.number("sp"))?;
    let true_prevalence::TruePrevalence { raw, raw_limits, share, limits } = found;
    Some(json!({
        "apparent": apparent,
        "true": raw,
        "lower": raw_limits.lower,
        "upper": raw_limits.upper,
        "raw": raw,
        "raw_lower": raw_limits.lower,
        "raw_upper": raw_limits.upper,
        "reported": share,
        "reported_lower": limits.lower,
        "reported_upper": limits.upper,
    }))
}

fn poisson(inputs: Inputs<'_>) -> Outputs {
    let Limits { lower, upper } = rate::poisson_count(inputs.count("count"), inputs.level())?;
    Some(json!({ "lower": lower, "upper": upper }))
}

fn per_100_animal_years(inputs: Inputs<'_>) -> Outputs {
    let (rate, limits) = rate::per(inputs.count("events"), inputs.number("animal_days"), 36_525.0, inputs.level())?;
    Some(json!({ "rate": rate, "lower": limits.lower, "upper": limits.upper }))
}

fn smr(inputs: Inputs<'_>) -> Outputs {
    let (smr, limits) = rate::per(inputs.count("observed"), inputs.number("expected"), 1.0, inputs.level())?;
    Some(json!({ "smr": smr, "lower": limits.lower, "upper": limits.upper }))
}

fn ratio(inputs: Inputs<'_>) -> Outputs {
    let (time1, time0) = (inputs.number("time1"), inputs.number("time0"));
    let found = rate::ratio(inputs.count("a"), time1, inputs.count("b"), time0, inputs.level())?;
    Some(json!({
        "ratio": found.estimate,
        "exact_lower": found.lower,
        "exact_upper": found.upper,
        "p_exact": found.p,
    }))
}
