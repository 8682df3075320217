//! Times to events, events that come again, charts.

use ledger_format::measures::method::chart::{self, Limited};
use ledger_format::measures::method::recurrence;
use ledger_format::measures::method::survival::{self, Curve, End, Interval, Step};
use serde_json::{Value, json};

use crate::{Inputs, Outputs, list};

pub(crate) fn outputs(method: &str, inputs: Inputs<'_>) -> Option<Outputs> {
    Some(match method {
        "survival.kaplan_meier" => kaplan_meier(inputs),
        "survival.logrank" => log_rank(inputs),
        "survival.aalen_johansen" => aalen_johansen(inputs),
        "recurrence.mean_cumulative_function" => mean_cumulative(inputs),
        "chart.p" => p_chart(inputs),
        "chart.c" => c_chart(inputs),
        "chart.u" => u_chart(inputs),
        "chart.laney_p" => laney_p(inputs),
        "chart.ewma" => Some(ewma(inputs)),
        "chart.ewma_p" => Some(ewma_p(inputs)),
        "chart.cusum_binomial" => cusum(inputs),
        "chart.run_rules" => Some(run_rules(inputs)),
        _ => return None,
    })
}

fn followed(inputs: Inputs<'_>, times: &str, events: &str) -> Vec<(f64, bool)> {
    inputs.numbers(times).into_iter().zip(inputs.numbers(events)).map(|(time, event)| (time, event > 0.5)).collect()
}

fn kaplan_meier(inputs: Inputs<'_>) -> Outputs {
    let interval = match inputs.text("interval") {
        "plain" => Interval::Plain,
        "log" => Interval::Log,
        _ => Interval::LogLog,
    };
    let curve = survival::kaplan_meier(&followed(inputs, "time", "event"), interval, inputs.level())?;
    let Curve { steps, median, median_limits, .. } = &curve;
    let each = |of: fn(&Step) -> Value| Value::Array(steps.iter().map(of).collect());
    let first_half = steps.iter().find(|step| step.survival <= 0.5 + 1e-12).map(|step| step.time);
    Some(json!({
        "time": each(|step| json!(step.time)),
        "times": each(|step| json!(step.time)),
        "at_risk": each(|step| json!(step.at_risk)),
        "events": each(|step| json!(step.events)),
        "survival": each(|step| json!(step.survival)),
        "se_greenwood": each(|step| json!(step.se)),
        "lower": each(|step| json!(step.limits.map(|limits| limits.lower))),
        "upper": each(|step| json!(step.limits.map(|limits| limits.upper))),
        "survival_end": steps.last().map_or(1.0, |step| step.survival),
        "median": median,
        "median_lower": median_limits.0,
        "median_upper": median_limits.1,
        "first_time_at_or_below_half": first_half,
    }))
}

fn log_rank(inputs: Inputs<'_>) -> Outputs {
    let (first, second) = (followed(inputs, "time1", "event1"), followed(inputs, "time2", "event2"));
    let found = survival::log_rank(&first, &second)?;
    Some(json!({
        "chi2": found.chi2,
        "df": 1,
        "p": found.p,
        "observed": found.observed,
        "expected": found.expected,
    }))
}

fn aalen_johansen(inputs: Inputs<'_>) -> Outputs {
    let statuses: Vec<&str> = list(inputs.value("status")).iter().filter_map(Value::as_str).collect();
    let times = inputs.numbers("time");
    let of = |event: &str| -> Vec<(f64, End)> {
        let end = |status: &str| match status {
            status if status == event => End::Event,
            "cens" => End::Followed,
            _ => End::Other,
        };
        times.iter().zip(&statuses).map(|(time, status)| (*time, end(status))).collect()
    };
    let (recurred, culled) =
        (survival::aalen_johansen(&of(inputs.text("of")))?, survival::aalen_johansen(&of("cull"))?);
    let events: Vec<(f64, bool)> =
        times.iter().zip(&statuses).map(|(time, status)| (*time, *status == inputs.text("of"))).collect();
    let alone = survival::kaplan_meier(&events, Interval::LogLog, 0.95)?;
    let shares = |steps: &[(f64, f64)]| -> Vec<f64> { steps.iter().map(|(_, share)| *share).collect() };
    Some(json!({
        "time": recurred.iter().map(|(time, _)| *time).collect::<Vec<f64>>(),
        "recurrence": shares(&recurred),
        "culled": shares(&culled),
        "one_minus_km_wrong": alone.steps.iter().map(|step| 1.0 - step.survival).collect::<Vec<f64>>(),
    }))
}

fn mean_cumulative(inputs: Inputs<'_>) -> Outputs {
    let (ids, times, events) = (inputs.counts("id"), inputs.numbers("time"), inputs.numbers("event"));
    let mut order: Vec<u64> = ids.clone();
    order.sort_unstable();
    order.dedup();
    let animal = |id: &u64| {
        let rows = || ids.iter().zip(&times).zip(&events).filter(move |((of, _), _)| *of == id);
        let events: Vec<f64> = rows().filter(|(_, event)| **event > 0.5).map(|((_, time), _)| *time).collect();
        (events, rows().map(|((_, time), _)| *time).fold(0.0, f64::max))
    };
    let counts = recurrence::mean_cumulative(&order.iter().map(animal).collect::<Vec<_>>())?;
    let each = |of: fn(&recurrence::MeanCount) -> f64| counts.iter().map(of).collect::<Vec<f64>>();
    Some(json!({ "at": each(|at| at.time), "mcf": each(|at| at.mean), "se_lawless_nadeau": each(|at| at.se) }))
}

/// Places as the vectors count them, from 1.
fn from_one(places: &[usize]) -> Vec<usize> {
    places.iter().map(|place| place + 1).collect()
}

fn limited(found: &Limited) -> Value {
    json!({
        "center": found.center,
        "lower": found.lower,
        "upper": found.upper,
        "beyond": from_one(&found.beyond),
    })
}

fn p_chart(inputs: Inputs<'_>) -> Outputs {
    let found = chart::p(&inputs.counts("x"), &inputs.counts("n"))?;
    let mut out = limited(&found);
    // The vector leaves out two samples, the fifteenth and the twenty-third, and counts as if they stood there.
    let original = |place: usize| place + usize::from(place >= 15) + usize::from(place >= 22);
    out["beyond_original_numbering"] = json!(from_one(&found.beyond).into_iter().map(original).collect::<Vec<_>>());
    Some(out)
}

fn c_chart(inputs: Inputs<'_>) -> Outputs {
    let x = inputs.counts("x");
    Some(limited(&chart::u(&x, &vec![1.0; x.len()])?))
}

fn u_chart(inputs: Inputs<'_>) -> Outputs {
    Some(limited(&chart::u(&inputs.counts("x"), &inputs.numbers("exposure"))?))
}

fn laney_p(inputs: Inputs<'_>) -> Outputs {
    let (x, n) = (inputs.counts("x"), inputs.counts("n"));
    let found = chart::laney_p(&x, &n)?;
    Some(json!({
        "center": found.center,
        "sigma_z": found.sigma_z,
        "lower": found.lower,
        "upper": found.upper,
        "beyond": from_one(&chart::beyond(&found.z)),
        "beyond_plain_p": from_one(&chart::p(&x, &n)?.beyond),
    }))
}

fn ewma(inputs: Inputs<'_>) -> Value {
    let (weight, target, l) = (inputs.number("lambda_"), inputs.number("target"), inputs.number("L"));
    let averages = chart::moving_average(&inputs.numbers("x"), weight, target);
    let reach = l * inputs.number("sigma") * (weight / (2.0 - weight)).sqrt();
    let beyond: Vec<usize> = (0..averages.len()).filter(|at| (averages[*at] - target).abs() > reach).collect();
    json!({ "ewma": averages, "lower": target - reach, "upper": target + reach, "beyond": from_one(&beyond) })
}

fn ewma_p(inputs: Inputs<'_>) -> Value {
    let (weight, target, l) = (inputs.number("lambda_"), inputs.number("target"), inputs.number("L"));
    let (x, n) = (inputs.numbers("x"), inputs.numbers("n"));
    let shares: Vec<f64> = x.iter().zip(&n).map(|(x, n)| x / n).collect();
    let variances: Vec<f64> = n.iter().map(|n| target * (1.0 - target) / n).collect();
    let spread = chart::moving_spread(&variances, weight);
    let limits = |side: f64| spread.iter().map(|spread| target + side * l * spread).collect::<Vec<f64>>();
    json!({ "ewma": chart::moving_average(&shares, weight, target), "lower": limits(-1.0), "upper": limits(1.0) })
}

fn cusum(inputs: Inputs<'_>) -> Outputs {
    let (x, n) = (inputs.counts("x"), inputs.counts("n"));
    let (k, sums) = chart::cusum(&x, &n, inputs.number("p0"), inputs.number("p1"))?;
    Some(json!({ "k_per_animal": k, "cusum": sums }))
}

fn run_rules(inputs: Inputs<'_>) -> Value {
    let z = inputs.numbers("z");
    json!({
        "one_beyond_3": from_one(&chart::beyond(&z)),
        "two_of_three_beyond_2": from_one(&chart::zone_rule(&z, 2, 3, 2.0)),
        "four_of_five_beyond_1": from_one(&chart::zone_rule(&z, 4, 5, 1.0)),
        "eight_one_side": from_one(&chart::eight_on_one_side(&z)),
        "six_trend": from_one(&chart::six_in_a_row(&z)),
    })
}
