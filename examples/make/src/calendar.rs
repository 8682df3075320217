//! The story's days, and the civil time of its herd as UTC.

use chrono::{Datelike, Days, Months, NaiveDate, NaiveDateTime, TimeDelta};

/// The day the record begins.
pub const FIRST_DAY: NaiveDate = NaiveDate::from_ymd_opt(2025, 2, 1).unwrap();

/// The last day of the whole story, 14 months.
pub const LAST_DAY: NaiveDate = NaiveDate::from_ymd_opt(2026, 3, 31).unwrap();

/// The last day of a story of so many months.
pub(crate) fn last_day(months: u32) -> NaiveDate {
    FIRST_DAY + Months::new(months.max(1)) - Days::new(1)
}

/// Whole days from one to the other, negative if `to` is before `from`.
pub(crate) fn days_between(from: NaiveDate, to: NaiveDate) -> i64 {
    (to - from).num_days()
}

/// British civil time as UTC: one hour ahead from the last Sunday of March to the last of October.
/// By whole days: nobody in the story types between one and two in the night.
pub(crate) fn utc(civil: NaiveDateTime) -> NaiveDateTime {
    let day = civil.date();
    let summer = day >= last_sunday(day.year(), 3) && day < last_sunday(day.year(), 10);
    civil - TimeDelta::hours(i64::from(summer))
}

/// Both months have 31 days.
fn last_sunday(year: i32, month: u32) -> NaiveDate {
    let end = NaiveDate::from_ymd_opt(year, month, 31).unwrap_or(FIRST_DAY);
    end - Days::new(u64::from(end.weekday().num_days_from_sunday()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn summer_time_begins_and_ends_on_last_sundays() {
        let noon = |month, day| NaiveDate::from_ymd_opt(2025, month, day).unwrap().and_hms_opt(12, 0, 0).unwrap();
        assert_eq!(utc(noon(3, 29)), noon(3, 29));
        assert_eq!(utc(noon(3, 30)), noon(3, 30) - TimeDelta::hours(1));
        assert_eq!(utc(noon(10, 25)), noon(10, 25) - TimeDelta::hours(1));
        assert_eq!(utc(noon(10, 26)), noon(10, 26));
    }

    #[test]
    fn fourteen_months_end_on_the_last_day() {
        assert_eq!(last_day(14), LAST_DAY);
    }
}
