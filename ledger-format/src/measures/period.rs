//! A period: from one day to another, both counted.

use chrono::{Months, NaiveDate, TimeDelta};

/// From the first day to the last, both counted; never negative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Period {
    from: NaiveDate,
    to: NaiveDate,
}

impl Period {
    /// From one day to another; none if the second is before the first.
    pub fn new(from: NaiveDate, to: NaiveDate) -> Option<Self> {
        (from <= to).then_some(Self { from, to })
    }

    /// The twelve months that end with a day.
    pub fn year_to(to: NaiveDate) -> Self {
        let from = to.checked_sub_months(Months::new(12)).map_or(to, |before| before + TimeDelta::days(1));
        Self { from: from.min(to), to }
    }

    /// The first day.
    pub const fn from(self) -> NaiveDate {
        self.from
    }

    /// The last day.
    pub const fn to(self) -> NaiveDate {
        self.to
    }

    /// Whether a day is in it.
    pub fn has(self, day: NaiveDate) -> bool {
        (self.from..=self.to).contains(&day)
    }

    /// How many days it has.
    pub fn days(self) -> u64 {
        (self.to - self.from).num_days() as u64 + 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::sample::day;

    #[test]
    fn a_year_counts_both_ends() {
        let year = Period::year_to(day("2026-03-31"));
        assert_eq!((year.from(), year.days()), (day("2025-04-01"), 365));
        assert!(year.has(day("2025-04-01")) && !year.has(day("2025-03-31")));
    }

    #[test]
    fn a_negative_period_is_none() {
        assert_eq!(Period::new(day("2026-03-02"), day("2026-03-01")), None);
        assert_eq!(Period::new(day("2026-03-01"), day("2026-03-01")).map(Period::days), Some(1));
    }
}
