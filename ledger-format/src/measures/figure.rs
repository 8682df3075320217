//! Figures: none without its denominator, none that cannot be computed.

use serde::Serialize;

use super::method::{LEVEL, Limits, difference, paired, proportion, rate};

/// A figure, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Figure<T> {
    /// The figure.
    Is(T),
    /// There is none.
    Cannot {
        /// Why it cannot be computed: what would have to be written, in words that follow "because".
        cannot_be_computed_because: String,
    },
}

impl<T> Figure<T> {
    /// No figure, and why.
    pub fn cannot(because: impl Into<String>) -> Self {
        Self::Cannot { cannot_be_computed_because: because.into() }
    }

    /// The figure, or why it is none.
    pub fn of(value: Option<T>, because: impl Into<String>) -> Self {
        value.map_or_else(|| Self::cannot(because), Self::Is)
    }

    /// The figure, if there is one.
    pub const fn value(&self) -> Option<&T> {
        match self {
            Self::Is(value) => Some(value),
            Self::Cannot { .. } => None,
        }
    }

    /// Why there is none.
    pub fn because(&self) -> Option<&str> {
        match self {
            Self::Is(_) => None,
            Self::Cannot { cannot_be_computed_because } => Some(cannot_be_computed_because),
        }
    }
}

/// A part of a whole, in percent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    /// How many are meant.
    pub part: u64,
    /// Of how many.
    pub of: u64,
    /// The share, percent.
    pub percent: f64,
    /// 95 % limits, percent; none where all were counted and nothing is left to chance.
    pub limits: Option<Limits>,
}

impl Share {
    /// A share with Wilson's limits: those counted stand for more than themselves. None of none.
    pub fn of(part: u64, of: u64) -> Option<Self> {
        let limits = proportion::wilson(part, of, LEVEL)?;
        Some(Self { limits: Some(percent(limits)), ..Self::counted(part, of)? })
    }

    /// A share of all there are: no limits. None of none.
    pub fn counted(part: u64, of: u64) -> Option<Self> {
        (of > 0 && part <= of).then(|| Self { part, of, percent: 100.0 * part as f64 / of as f64, limits: None })
    }
}

/// Cases in animal-time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rate {
    /// How many cases.
    pub cases: u64,
    /// In how many cow-days at risk.
    pub cow_days: u64,
    /// Cases per `per`.
    pub rate: f64,
    /// Exact Poisson 95 % limits of the rate.
    pub limits: Limits,
    /// The unit of the rate.
    pub per: &'static str,
}

/// Days in a hundred cow-years of 365.25 days.
const HUNDRED_COW_YEARS: f64 = 36_525.0;

impl Rate {
    /// Per 100 cow-years of 365.25 days. None without time at risk.
    pub fn per_100_cow_years(cases: u64, cow_days: u64) -> Option<Self> {
        Self::per(cases, cow_days, HUNDRED_COW_YEARS, "100 cow-years")
    }

    /// Per 100 cow-months, each a twelfth of a year. None without time at risk.
    pub fn per_100_cow_months(cases: u64, cow_days: u64) -> Option<Self> {
        Self::per(cases, cow_days, HUNDRED_COW_YEARS / 12.0, "100 cow-months")
    }

    /// Cow-days in 100 cow-months.
    pub(super) fn in_100_cow_months(cow_days: u64) -> f64 {
        cow_days as f64 / (HUNDRED_COW_YEARS / 12.0)
    }

    fn per(cases: u64, cow_days: u64, unit_days: f64, per: &'static str) -> Option<Self> {
        let units = cow_days as f64 / unit_days;
        let count = rate::poisson_count(cases, LEVEL).filter(|_| cow_days > 0)?;
        let limits = Limits { lower: count.lower / units, upper: count.upper / units };
        Some(Self { cases, cow_days, rate: cases as f64 / units, limits, per })
    }
}

/// The second share less the first, in percentage points.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// The first share.
    pub first: Share,
    /// The second share.
    pub second: Share,
    /// Second less first, percentage points.
    pub points: f64,
    /// 95 % limits of it: Newcombe's, paired where the same cows are meant.
    pub limits: Limits,
}

impl Difference {
    /// Of different cows: `x` of `n` first, then.
    pub fn of_others(first: (u64, u64), second: (u64, u64)) -> Option<Self> {
        let limits = difference::newcombe(second.0, second.1, first.0, first.1, LEVEL)?;
        Self::between(first, second, limits)
    }

    /// Of the same cows: how many were it both times, only first, only second, never.
    pub fn of_same(both: u64, first_only: u64, second_only: u64, neither: u64) -> Option<Self> {
        let of = both + first_only + second_only + neither;
        let limits = paired::newcombe_paired(both, second_only, first_only, neither, LEVEL)?;
        Self::between((both + first_only, of), (both + second_only, of), limits)
    }

    fn between(first: (u64, u64), second: (u64, u64), limits: Limits) -> Option<Self> {
        let (first, second) = (Share::of(first.0, first.1)?, Share::of(second.0, second.1)?);
        Some(Self { first, second, points: second.percent - first.percent, limits: percent(limits) })
    }

    /// Whether the limits leave no change out.
    pub fn is_beyond_chance(&self) -> bool {
        self.limits.lower > 0.0 || self.limits.upper < 0.0
    }
}

/// Limits of a share of one as percent.
pub(super) fn percent(limits: Limits) -> Limits {
    Limits { lower: 100.0 * limits.lower, upper: 100.0 * limits.upper }
}
