//! Many comparisons, many herds, many scores of one animal.

use ledger_format::measures::method::{cluster, multiple, shrink};
use serde_json::{Value, json};

use crate::{Inputs, Outputs};

pub(crate) fn outputs(method: &str, inputs: Inputs<'_>) -> Option<Outputs> {
    Some(match method {
        "multiple.holm" => Some(adjusted(inputs, multiple::holm)),
        "multiple.benjamini_hochberg" => Some(adjusted(inputs, multiple::benjamini_hochberg)),
        "multiple.bonferroni" => Some(adjusted(inputs, multiple::bonferroni)),
        "shrink.beta_binomial_moments" => moments(inputs),
        "shrink.posterior" => posterior(inputs),
        "shrink.beta_binomial_mle" => most_likely(inputs),
        "shrink.gamma_poisson_moments" => common_rate(inputs),
        "cluster.ratio_estimator" => ratio_estimator(inputs),
        "cluster.wilson_effective_n" => effective_wilson(inputs),
        "cluster.design_effect" => design_effect(inputs),
        _ => return None,
    })
}

fn adjusted(inputs: Inputs<'_>, of: fn(&[f64]) -> Vec<f64>) -> Value {
    let (adjusted, alpha) = (of(&inputs.numbers("p")), inputs.value("alpha").as_f64().unwrap_or(0.05));
    let rejected = adjusted.iter().filter(|p| **p <= alpha).count();
    json!({ "adjusted": adjusted, "rejected": rejected })
}

fn pairs(inputs: Inputs<'_>, first: &str, second: &str) -> Vec<(u64, u64)> {
    inputs.counts(first).into_iter().zip(inputs.counts(second)).collect()
}

fn moments(inputs: Inputs<'_>) -> Outputs {
    let shrink::Common { mean, sd, alpha, beta } = shrink::common(&pairs(inputs, "x", "n"))?;
    Some(json!({ "mean": mean, "sd": sd, "alpha": alpha, "beta": beta }))
}

fn posterior(inputs: Inputs<'_>) -> Outputs {
    let (x, n, level) = (inputs.count("x"), inputs.count("n"), inputs.level());
    let found = shrink::posterior(x, n, inputs.number("alpha"), inputs.number("beta"), level)?;
    Some(json!({ "mean": found.mean, "sd": found.sd, "lower": found.limits.lower, "upper": found.limits.upper }))
}

fn most_likely(inputs: Inputs<'_>) -> Outputs {
    let (alpha, beta) = shrink::most_likely(&pairs(inputs, "x", "n"))?;
    Some(json!({ "alpha": alpha, "beta": beta }))
}

fn common_rate(inputs: Inputs<'_>) -> Outputs {
    let groups: Vec<(u64, f64)> = inputs.counts("events").into_iter().zip(inputs.numbers("time")).collect();
    let found = shrink::common_rate(&groups)?;
    let drawn: Vec<f64> = groups.iter().map(|(events, time)| found.drawn(*events, *time)).collect();
    let (alpha, nu) = found.gamma.unzip();
    Some(json!({
        "overall": found.rate,
        "between_variance": found.between,
        "between_variance_clipped": found.between.max(0.0),
        "nu": nu,
        "alpha": alpha,
        "shrunk": drawn,
        "shrunk_first5": drawn[..drawn.len().min(5)],
    }))
}

fn ratio_estimator(inputs: Inputs<'_>) -> Outputs {
    let found = cluster::ratio_estimator(&pairs(inputs, "y", "m"))?;
    Some(json!({
        "p": found.share,
        "var_ratio": found.variance,
        "var_binomial": found.binomial,
        "deff": found.design_effect(),
    }))
}

fn effective_wilson(inputs: Inputs<'_>) -> Outputs {
    let found = cluster::ratio_estimator(&pairs(inputs, "y", "m"))?;
    let limits = found.wilson(inputs.level())?;
    Some(json!({ "n_effective": found.effective_n(), "lower": limits.lower, "upper": limits.upper }))
}

fn design_effect(inputs: Inputs<'_>) -> Outputs {
    let sizes = inputs.counts("m");
    let effect = cluster::design_effect(&sizes, inputs.number("rho"))?;
    Some(json!({ "deff": effect, "effective_n": sizes.iter().sum::<u64>() as f64 / effect }))
}
