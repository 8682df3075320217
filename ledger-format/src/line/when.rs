//! Observed and sealed times (`line.md` §3, §18).

use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, Timelike};

use crate::limits::YEARS;
use crate::swar::digit_pairs;

/// Minutes since midnight, 0 to 1,439.
pub type Minute = u16;

/// When something was seen, in the herd's civil time.
///
/// The order is that of the canonical text: a date alone comes before the same date with a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Observed {
    /// The day.
    pub date: NaiveDate,
    /// The time of day, if it was noted.
    pub minute: Option<Minute>,
}

impl Observed {
    /// A day without a time.
    pub const fn day(date: NaiveDate) -> Self {
        Self { date, minute: None }
    }
}

impl std::fmt::Display for Observed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let date = self.date;
        write!(f, "{:04}-{:02}-{:02}", date.year(), date.month(), date.day())?;
        match self.minute {
            Some(minute) => write!(f, " {:02}:{:02}", minute / 60, minute % 60),
            None => Ok(()),
        }
    }
}

/// A date as it is written: `2026-03-14`.
pub fn date_text(date: NaiveDate) -> String {
    Observed::day(date).to_string()
}

/// Reads `YYYY-MM-DD`, exactly so, within the years of the format.
#[inline]
pub fn read_date(text: &[u8]) -> Option<NaiveDate> {
    read_any_date(text.try_into().ok()?).filter(|date| YEARS.contains(&date.year()))
}

#[inline]
fn read_any_date(text: &[u8; 10]) -> Option<NaiveDate> {
    let [century, _, year, _, _, month, ..] = digit_pairs(*text.first_chunk()?, *b"0000-00-")?;
    let [.., day, _] = digit_pairs(*text.last_chunk()?, *b"00-00-00")?;
    NaiveDate::from_ymd_opt(i32::from(century) * 100 + i32::from(year), month.into(), day.into())
}

/// Reads `HH:MM`.
#[inline]
pub(crate) fn read_minute(text: &[u8]) -> Option<Minute> {
    let [h1, h2, colon, m1, m2] = *text else { return None };
    let [hour, _, _, minute, ..] = digit_pairs([h1, h2, colon, m1, m2, b':', b'0', b'0'], *b"00:00:00")?;
    (hour < 24 && minute < 60).then_some(Minute::from(hour) * 60 + Minute::from(minute))
}

/// Reads a sealed time, `2026-03-14T09:20:11Z`. Second 60 is no time here.
#[inline]
pub fn read_utc(text: &[u8]) -> Option<NaiveDateTime> {
    let (date, time) = text.split_first_chunk::<10>()?;
    let time = NaiveTime::from_num_seconds_from_midnight_opt(read_time(time.try_into().ok()?)?, 0)?;
    Some(read_any_date(date)?.and_time(time))
}

/// Reads the end of a sealed time, `T09:20:11Z`, as seconds since midnight.
#[inline]
pub(crate) fn read_time(text: &[u8; 10]) -> Option<u32> {
    let [_, hour, _, _, minute, ..] = digit_pairs(*text.first_chunk()?, *b"T00:00:0")?;
    let [.., second, _, _] = digit_pairs(*text.last_chunk()?, *b"0:00:00Z")?;
    let [hour, minute, second] = [hour, minute, second].map(u32::from);
    (hour < 24 && minute < 60 && second < 60).then_some((hour * 60 + minute) * 60 + second)
}

/// A sealed time as it is written.
pub fn utc_text(time: NaiveDateTime) -> String {
    let date = time.date();
    format!(
        "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z",
        date.year(),
        date.month(),
        date.day(),
        time.hour(),
        time.minute(),
        time.second()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_have_one_spelling() {
        assert!(read_date(b"2026-02-28").is_some());
        assert!(read_date(b"2024-02-29").is_some());
        for wrong in ["2026-02-29", "2026-02-30", "2026-3-04", "+026-03-04", "1899-12-31", "2200-01-01", "2026-00-10"] {
            assert!(read_date(wrong.as_bytes()).is_none(), "{wrong}");
        }
    }

    #[test]
    fn f47_a_leap_second_is_not_a_sealed_time() {
        assert!(read_utc(b"2016-12-31T23:59:59Z").is_some());
        assert!(read_utc(b"2016-12-31T23:59:60Z").is_none());
    }

    #[test]
    fn a_day_without_time_comes_first() {
        let day = read_date(b"2026-03-14").unwrap();
        assert!(Observed::day(day) < Observed { date: day, minute: Some(0) });
    }
}
