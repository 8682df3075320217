//! Dates, times and lengths as people type them (`typing.md` §6, §12).

use chrono::{Datelike, NaiveDate, TimeDelta, Weekday};

use super::remark::Wrong;
use crate::limits::YEARS;
use crate::line::{Minute, date_text, read_number};

/// Which year a date without one is in.
#[derive(Clone, Copy, Debug)]
pub(super) enum Year {
    /// The first from this day on.
    From(NaiveDate),
    /// The last up to this day.
    UpTo(NaiveDate),
}

/// What was read, and of how many words it is.
pub(super) type Found<T> = (Result<T, Wrong>, usize);

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// Reads a date at the start of these words, in small letters; `None` where there is none.
pub(super) fn read(words: &[&str], today: NaiveDate, year: Year) -> Option<Found<NaiveDate>> {
    let first = *words.first()?;
    match first {
        "today" => return Some((Ok(today), 1)),
        "yesterday" => return Some((today.pred_opt().ok_or_else(no_date), 1)),
        _ => {}
    }
    if let Some(weekday) = weekday_of(first) {
        return Some(on_weekday(weekday, words, today, year));
    }
    if let Some(found) = named_month(words, year) {
        return Some(found);
    }
    let parts: Vec<&str> = first.split('-').collect();
    if let [y, m, d] = parts[..]
        && y.len() == 4
        && [y, m, d].iter().all(|part| is_digits(part, 4))
    {
        return Some((on(number(y), number(m), number(d)).ok_or_else(no_date), 1));
    }
    slashed(first, year).map(|wrong| (Err(wrong), 1))
}

/// `Tues 24 Nov`: the weekday must be that of the date. Alone it may be the last or the next.
fn on_weekday(weekday: Weekday, words: &[&str], today: NaiveDate, year: Year) -> Found<NaiveDate> {
    let rest = &words[1..];
    let date = rest.first().filter(|next| weekday_of(next).is_none()).and_then(|_| read(rest, today, year));
    let Some((date, count)) = date else {
        let (Year::From(near) | Year::UpTo(near)) = year;
        let days = near.iter_days().take(7).map(|day| match year {
            Year::From(_) => day,
            Year::UpTo(near) => near - (day - near),
        });
        let wrong = Wrong::new("a weekday without its date", "the date, as 2026-03-14");
        let offered = days.into_iter().find(|day| day.weekday() == weekday).map(date_text);
        return (Err(offered.into_iter().fold(wrong, Wrong::suggest)), 1);
    };
    let date = date.and_then(|date| {
        let found = || format!("{}, which is a {}", date_text(date), date.format("%A"));
        let wrong = || Wrong::new(found(), "a weekday and a date that agree, or the date alone");
        if date.weekday() == weekday { Ok(date) } else { Err(wrong()) }
    });
    (date, count + 1)
}

fn weekday_of(word: &str) -> Option<Weekday> {
    let word = word.trim_end_matches('.');
    match word {
        "tues" => Some(Weekday::Tue),
        "weds" => Some(Weekday::Wed),
        "thur" | "thurs" => Some(Weekday::Thu),
        // Also the names in full and of three letters.
        _ => word.parse().ok(),
    }
}

/// `14 March 2026`, `14 Mar`, `March 14`, `14-Mar-2026`.
fn named_month(words: &[&str], year: Year) -> Option<Found<NaiveDate>> {
    let hyphened: Vec<&str> = words[0].split('-').collect();
    let joined = hyphened.len() > 1;
    let parts = if joined { &hyphened[..] } else { &words[..words.len().min(3)] };
    let (day, month) = match (day_of(parts[0]), month_of(parts.get(1)?)) {
        (Some(day), Some(month)) => (day, month),
        _ => (day_of(parts[1])?, month_of(parts[0])?),
    };
    let typed_year = parts.get(2).filter(|word| word.len() == 4 && is_digits(word, 4)).map(|word| number(word));
    if joined && typed_year.is_none() && parts.len() > 2 {
        return None;
    }
    let count = if joined { 1 } else { 2 + usize::from(typed_year.is_some()) };
    let date = match typed_year {
        Some(year) => on(year, month, day).ok_or_else(no_date),
        None => near_enough(month, day, year),
    };
    Some((date, count))
}

/// Who says `recheck 24 Nov` on 25 November may mean yesterday's day or the next year's; who writes `26 Nov` down on that
/// day may mean tomorrow or last year.
const MOST_DAYS_WITHOUT_YEAR: i64 = 300;

fn near_enough(month: u32, day: u32, year: Year) -> Result<NaiveDate, Wrong> {
    let date = without_year(month, day, year).ok_or_else(no_date)?;
    let (Year::From(near) | Year::UpTo(near)) = year;
    if (date - near).num_days().abs() <= MOST_DAYS_WITHOUT_YEAR {
        return Ok(date);
    }
    let both = [without_year(month, day, Year::UpTo(near)), without_year(month, day, Year::From(near))];
    let offered: Vec<String> = both.into_iter().flatten().map(date_text).collect();
    let way = if date > near { "ahead" } else { "ago" };
    let found = format!("a day without a year, more than {MOST_DAYS_WITHOUT_YEAR} days {way}");
    Err(Wrong::new(found, "the day with its year").suggest(offered.join(" or ")))
}

fn without_year(month: u32, day: u32, year: Year) -> Option<NaiveDate> {
    let (Year::From(near) | Year::UpTo(near)) = year;
    let dates = (near.year() - 1..=near.year() + 1).filter_map(|year| on(u32::try_from(year).ok()?, month, day));
    match year {
        Year::From(_) => dates.filter(|date| *date >= near).min(),
        Year::UpTo(_) => dates.filter(|date| *date <= near).max(),
    }
}

/// `14/3/2026`, `3/14`, `14.3.2026`, `14-3-2026`: day and month cannot be told apart.
fn slashed(word: &str, year: Year) -> Option<Wrong> {
    let mark = ['/', '.', '-'].into_iter().find(|mark| word.contains(*mark))?;
    let parts: Vec<&str> = word.split(mark).collect();
    if !parts.iter().all(|part| is_digits(part, 4)) {
        return None;
    }
    let parts: Vec<u32> = parts.into_iter().map(number).collect();
    let readings = match parts[..] {
        [a, b] if mark == '/' => [without_year(b, a, year), without_year(a, b, year)],
        [y, m, d] if y > 99 => [on(y, m, d), None],
        [a, b, y] => {
            let y = if y < 100 { y + 2000 } else { y };
            [on(y, b, a), on(y, a, b)]
        }
        _ => return None,
    };
    let wrong = Wrong::new("a date whose day and month cannot be told apart", "a date as 2026-03-14 or 14 March");
    let mut offered: Vec<String> = readings.into_iter().flatten().map(date_text).collect();
    offered.dedup();
    Some(if offered.is_empty() { wrong } else { wrong.suggest(offered.join(" or ")) })
}

fn no_date() -> Wrong {
    Wrong::new("no such date", "a real date, as 2026-03-14")
}

fn on(year: u32, month: u32, day: u32) -> Option<NaiveDate> {
    let year = i32::try_from(year).ok().filter(|year| YEARS.contains(year))?;
    NaiveDate::from_ymd_opt(year, month, day)
}

fn day_of(word: &str) -> Option<u32> {
    let digits = ["st", "nd", "rd", "th"].iter().find_map(|end| word.strip_suffix(end)).unwrap_or(word);
    is_digits(digits, 2).then(|| number(digits))
}

fn month_of(word: &str) -> Option<u32> {
    let fits = |month: &str| word == month || word == &month[..3] || (word == "sept" && month.starts_with("sept"));
    MONTHS.iter().position(|month| fits(month)).map(|at| at as u32 + 1)
}

pub(super) fn is_month(word: &str) -> bool {
    month_of(word).is_some()
}

pub(super) fn is_weekday(word: &str) -> bool {
    weekday_of(word).is_some()
}

/// 1 to `most` digits.
pub(super) fn is_digits(word: &str, most: usize) -> bool {
    (1..=most).contains(&word.len()) && word.bytes().all(|b| b.is_ascii_digit())
}

/// The number of a few digits; leading zeros are nothing.
fn number(digits: &str) -> u32 {
    digits.parse().unwrap_or(u32::MAX)
}

/// Reads a time of day: `9:12`, `09:12`. `9.12` is refused: it may be a measure.
pub(super) fn time(word: &str) -> Option<Result<Minute, Wrong>> {
    let (hour, minute, colon) = match (word.split_once(':'), word.split_once('.')) {
        (Some((hour, minute)), _) => (hour, minute, true),
        (None, Some((hour, minute))) => (hour, minute, false),
        (None, None) => return None,
    };
    if !is_digits(hour, 2) || !is_digits(minute, 2) || minute.len() != 2 {
        return None;
    }
    let (h, m) = (number(hour) as Minute, number(minute) as Minute);
    let real = h < 24 && m < 60;
    Some(match (colon, real) {
        (true, true) => Ok(h * 60 + m),
        (false, true) => Err(Wrong::new("not a time", "HH:MM").suggest(format!("{h:02}:{m:02}"))),
        _ => Err(Wrong::new("no such time", "00:00 to 23:59")),
    })
}

/// Reads a length in days at the start of these words: `28d`, `28 days`, `4w`, `4 weeks`.
pub(super) fn length(words: &[&str]) -> Option<Found<u32>> {
    let first = *words.first()?;
    let digits = first.bytes().take_while(u8::is_ascii_digit).count();
    if digits == 0 {
        return None;
    }
    let (unit, count) = if digits == first.len() { (*words.get(1)?, 2) } else { (&first[digits..], 1) };
    let days = match unit.trim_start_matches('-') {
        "d" | "day" | "days" => 1,
        "w" | "wk" | "wks" | "week" | "weeks" => 7,
        "m" | "month" | "months" => {
            let weeks = read_number(&first[..digits], 20).map(|months| format!("{}w", months * 4));
            let wrong = Wrong::new("a month has no fixed length", "days or weeks, as 28d or 4w");
            return Some((Err(weeks.into_iter().fold(wrong, Wrong::suggest)), count));
        }
        _ => return None,
    };
    let number = first[..digits].parse::<u32>().ok().filter(|n| *n > 0 && *n <= MOST_DAYS / days);
    Some((number.map(|n| n * days).ok_or_else(|| Wrong::new("not a length", "1 to 999 days")), count))
}

/// Nobody plans further ahead.
const MOST_DAYS: u32 = 999;

pub(super) fn after(day: NaiveDate, days: u32) -> Option<NaiveDate> {
    day.checked_add_signed(TimeDelta::days(days.into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        crate::line::read_date(text.as_bytes()).unwrap()
    }

    fn typed(text: &str) -> Option<Result<String, Option<String>>> {
        let words: Vec<&str> = text.split(' ').collect();
        let today = day("2026-03-14");
        Some(read(&words, today, Year::UpTo(today))?.0.map(date_text).map_err(|wrong| wrong.suggestion))
    }

    #[test]
    fn dates_with_a_month_by_name() {
        for text in ["14 March 2026", "14 mar", "march 14", "14th mar", "14-mar-2026", "2026-3-14", "today"] {
            assert_eq!(typed(&text.to_lowercase()), Some(Ok("2026-03-14".into())), "{text}");
        }
        assert_eq!(typed("30 dec"), Some(Ok("2025-12-30".into())));
        assert_eq!(typed("sept 1"), Some(Ok("2025-09-01".into())));
    }

    #[test]
    fn a_weekday_must_agree_with_its_date() {
        for text in ["sat 14 mar", "saturday 14 march 2026", "sat. 2026-3-14", "Sat 14th March"] {
            assert_eq!(typed(&text.to_lowercase()), Some(Ok("2026-03-14".into())), "{text}");
        }
        assert_eq!(typed("tues 14 mar"), Some(Err(None)));
        assert_eq!(typed("tues"), Some(Err(Some("2026-03-10".into()))));
        assert_eq!(typed("sat"), Some(Err(Some("2026-03-14".into()))));
        let today = day("2026-03-14");
        let next = read(&["fri"], today, Year::From(today)).unwrap().0.unwrap_err();
        assert_eq!(next.suggestion.as_deref(), Some("2026-03-20"));
    }

    #[test]
    fn f47_a_leap_day_needs_a_leap_year() {
        assert_eq!(typed("29 feb 2024"), Some(Ok("2024-02-29".into())));
        assert_eq!(typed("29 feb"), Some(Err(None)));
        let today = day("2027-10-01");
        let near = |year| read(&["29", "feb"], today, year).unwrap().0.map(date_text);
        assert_eq!(near(Year::From(today)), Ok("2028-02-29".into()));
        assert!(near(Year::UpTo(today)).is_err());
    }

    #[test]
    fn a_due_day_without_a_year_is_not_far_ahead() {
        let today = day("2026-11-25");
        let due = |words: &[&str]| read(words, today, Year::From(today)).unwrap().0.map(date_text);
        assert_eq!(due(&["25", "nov"]), Ok("2026-11-25".into()));
        assert_eq!(due(&["21", "sep"]), Ok("2027-09-21".into()));
        assert!(due(&["22", "sep"]).is_err());
        let wrong = due(&["24", "nov"]).unwrap_err();
        assert_eq!(wrong.suggestion.as_deref(), Some("2026-11-24 or 2027-11-24"));
    }

    #[test]
    fn digits_alone_are_refused_with_what_they_may_mean() {
        assert_eq!(typed("14/3/2026"), Some(Err(Some("2026-03-14".into()))));
        assert_eq!(typed("3/4"), Some(Err(Some("2025-04-03 or 2026-03-04".into()))));
        assert_eq!(typed("14.3.26"), Some(Err(Some("2026-03-14".into()))));
        assert_eq!(typed("417"), None);
        assert_eq!(typed("9.12"), None);
    }

    #[test]
    fn times_have_a_colon() {
        assert_eq!(time("9:12"), Some(Ok(552)));
        assert_eq!(time("9.12").unwrap().unwrap_err().suggestion.as_deref(), Some("09:12"));
        assert!(time("24:00").unwrap().is_err());
        assert_eq!(time("9:1"), None);
    }

    #[test]
    fn lengths_are_days_or_weeks() {
        assert_eq!(length(&["28d"]), Some((Ok(28), 1)));
        assert_eq!(length(&["4", "weeks"]), Some((Ok(28), 2)));
        assert_eq!(length(&["1m"]).unwrap().0.unwrap_err().suggestion.as_deref(), Some("4w"));
        assert!(length(&["1000d"]).unwrap().0.is_err());
        assert_eq!(length(&["28"]), None);
        assert_eq!(length(&["99999999999999d"]).map(|found| found.0.is_err()), Some(true));
    }
}
