//! Figures in words: denominators, limits, and why there is none.

use ledger_format::measures::care::Days;
use ledger_format::measures::{Difference, Figure, Limits, Rate, Share};

use crate::show::picture::Row;
use crate::show::{count, number};

/// "31 of 193, 16.1 %" and its limits, where it has any.
pub(super) fn share(share: &Share) -> String {
    let limits = share.limits.map_or(String::new(), |limits| format!(" ({})", percents(limits)));
    format!("{} of {}, {:.1} %{limits}", number(share.part), number(share.of), share.percent)
}

/// A share as a row of a picture.
pub(super) fn share_row(label: impl Into<String>, share: &Share) -> Row {
    let numbers = format!("{} of {}, {:.0} %", number(share.part), number(share.of), share.percent);
    Row { label: label.into(), value: share.percent, limits: share.limits, numbers }
}

/// A rate as a row of a picture.
pub(super) fn rate_row(label: impl Into<String>, rate: &Rate) -> Row {
    let numbers = format!("{:.1}, {}", rate.rate, count(rate.cases, "case"));
    Row { label: label.into(), value: rate.rate, limits: Some(rate.limits), numbers }
}

/// "11.6 to 21.9 %".
pub(super) fn percents(limits: Limits) -> String {
    format!("{:.1} to {:.1} %", limits.lower, limits.upper)
}

/// "4.1 per 100 cow-months (2.0 to 7.3), 11 in 8,123 cow-days".
pub(super) fn rate(rate: &Rate) -> String {
    let Rate { cases, cow_days, rate, limits, per } = *rate;
    let days = number(cow_days);
    format!("{rate:.1} per {per} ({:.1} to {:.1}), {cases} in {days} cow-days", limits.lower, limits.upper)
}

/// "3.1 points more (0.4 fewer to 6.6 more)", from the first to the second.
pub(super) fn difference(difference: &Difference) -> String {
    let Difference { points: by, limits, .. } = *difference;
    format!("{} points ({} to {})", signed(by), signed(limits.lower), signed(limits.upper))
}

/// "+3.1", "-0.4", "0.0".
fn signed(points: f64) -> String {
    let text = format!("{points:+.1}");
    if text == "+0.0" || text == "-0.0" { "0.0".to_owned() } else { text }
}

/// A figure in words, or why there is none.
pub(super) fn figure<T>(figure: &Figure<T>, words: impl FnOnce(&T) -> String) -> String {
    match figure {
        Figure::Is(value) => words(value),
        Figure::Cannot { cannot_be_computed_because: why } => format!("cannot be computed because {why}"),
    }
}

/// "half lifted by day 3 (2 to 5), 71 % within a week", of how many.
pub(super) fn days(days: &Days, what: &str) -> String {
    let by = |day: Option<f64>| day.map_or("not reached".to_owned(), |day| format!("{day:.0}"));
    let half = match days.median {
        Some(median) => format!("half {what} by day {median:.0} ({} to {})", by(days.lower), by(days.upper)),
        None => format!("not half {what} so far"),
    };
    let week =
        days.week_limits.map_or(String::new(), |limits| format!(" ({:.0} to {:.0})", limits.lower, limits.upper));
    format!("{half}; {:.0} %{week} within a week, of {}", days.week_percent, number(days.of))
}

/// "0.034", "under 0.001".
pub(super) fn p(p: f64) -> String {
    if p < 0.001 { "under 0.001".to_owned() } else { format!("{p:.3}") }
}
