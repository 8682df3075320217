//! Small wordings that all rows share: days, places, scores, and how late.

use std::borrow::Cow;
use std::fmt::Write;

use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};
use serde::Serialize;

use crate::fold::Scored;
pub use crate::fold::Seen;
pub(crate) use crate::fold::words::{case_words, place, score_words};
use crate::line::Minute;
use crate::vocabulary::Foot;

/// A text with control characters and such as turn the direction of writing spelt out as `\u{..}`, so that what is
/// shown cannot be moved about by what was typed.
pub fn shown(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_unseen) {
        return Cow::Borrowed(text);
    }
    let mut seen = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_unseen(c) {
            let _ = write!(seen, "{}", c.escape_unicode());
        } else {
            seen.push(c);
        }
    }
    Cow::Owned(seen)
}

/// Control characters, direction marks, and characters without width or that break lines.
fn is_unseen(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{AD}' | '\u{61C}' | '\u{180E}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}')
        || matches!(c, '\u{2060}'..='\u{206F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

/// From when lateness is counted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Clock {
    /// The day that is asked about.
    pub(crate) on: NaiveDate,
    /// The time of day, where it is known; else the start of the day.
    pub(crate) at: Option<Minute>,
}

impl Clock {
    pub(crate) fn moment(self) -> NaiveDateTime {
        start(self.on) + TimeDelta::minutes(self.at.unwrap_or(0).into())
    }

    /// A day in words, with its year only where it is another one.
    pub(crate) fn day(self, day: NaiveDate) -> String {
        day_words(day, self.on)
    }

    /// How a day stands to the day asked about.
    pub(crate) fn late_days(self, due: NaiveDate) -> String {
        match (self.on - due).num_days() {
            0 => "due today".to_owned(),
            -1 => "due tomorrow".to_owned(),
            late @ 1.. => format!("{} late", days(late)),
            ahead => format!("in {}", days(-ahead)),
        }
    }

    /// How a deadline in hours stands to the moment asked about. Midnight is the end of the day before it.
    pub(crate) fn late_hours(self, due: NaiveDateTime) -> String {
        let hours = (self.moment() - due).num_minutes().div_euclid(60);
        let is_midnight = due.time() == NaiveTime::MIN;
        let last_day = if is_midnight { due.date() - TimeDelta::days(1) } else { due.date() };
        let by = if is_midnight { String::new() } else { format!(" by {}", due.format("%H:%M")) };
        match (hours, (last_day - self.on).num_days()) {
            (0, _) => "due now".to_owned(),
            (1..48, _) => format!("{hours} h late"),
            (48.., _) => format!("{} late", days(hours / 24)),
            (_, ..=0) => format!("due today{by}"),
            (_, 1) => format!("due tomorrow{by}"),
            (_, ahead) => format!("in {}", days(ahead)),
        }
    }
}

/// The start of a day.
pub(crate) fn start(day: NaiveDate) -> NaiveDateTime {
    day.and_time(NaiveTime::MIN)
}

/// "2 Mar", or "2 Mar 2025" when the year is not that of `on`.
pub fn day_words(day: NaiveDate, on: NaiveDate) -> String {
    let same_year = day.year() == on.year();
    day.format(if same_year { "%-d %b" } else { "%-d %b %Y" }).to_string()
}

/// A moment: day and time of day.
pub(crate) fn moment_words(moment: NaiveDateTime, on: NaiveDate) -> String {
    format!("{} {}", day_words(moment.date(), on), moment.format("%H:%M"))
}

/// A moment as rows carry it: `2026-03-14 09:12`.
pub(crate) fn moment_text(moment: NaiveDateTime) -> String {
    moment.format("%Y-%m-%d %H:%M").to_string()
}

/// "1 day", "3 days".
pub(crate) fn days(n: i64) -> String {
    counted(n, "day")
}

/// "1 cow", "3 cows".
pub fn counted(n: i64, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// A time of day as it is written.
pub(crate) fn minute_text(minute: Minute) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

/// The newest score as a row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ScoreNow {
    /// The value as typed, with its half: `2`, `2b`.
    pub value: String,
    /// The scale; `mobility` is 0 to 3.
    pub scale: &'static str,
    /// The day.
    pub on: String,
    /// The leg suspected.
    pub foot: Option<&'static str>,
    /// Lame on its own scale.
    pub lame: bool,
    /// Severely lame on its own scale.
    pub severe: bool,
}

impl ScoreNow {
    pub(crate) fn of(scored: &Scored) -> Self {
        let score = scored.score;
        Self {
            value: format!("{}{}", score.value, score.half.map_or("", |half| half.word())),
            scale: score.scale.word(),
            on: crate::line::date_text(scored.observed.date),
            foot: score.foot.map(Foot::word),
            lame: score.is_lame(),
            severe: score.is_severe(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::read_date;

    fn day(text: &str) -> NaiveDate {
        read_date(text.as_bytes()).unwrap()
    }

    #[test]
    fn direction_and_control_characters_are_spelt_out() {
        assert_eq!(shown("plain é"), "plain é");
        assert_eq!(shown("a\u{202E}b\u{1b}[2J"), "a\\u{202e}b\\u{1b}[2J");
        assert_eq!(shown("\u{2028}\u{200f}\u{2066}"), "\\u{2028}\\u{200f}\\u{2066}");
    }

    #[test]
    fn lateness_reads_as_people_say_it() {
        let due = start(day("2026-03-03"));
        let clock = |on, at| Clock { on: day(on), at };
        assert_eq!(clock("2026-03-03", Some(22 * 60)).late_hours(due), "22 h late");
        assert_eq!(clock("2026-03-03", None).late_hours(due), "due now");
        assert_eq!(clock("2026-03-02", None).late_hours(due), "due today");
        assert_eq!(clock("2026-03-01", None).late_hours(due), "due tomorrow");
        assert_eq!(clock("2026-03-06", None).late_hours(due), "3 days late");
        let timed = due + TimeDelta::minutes(450);
        assert_eq!(clock("2026-03-03", Some(300)).late_hours(timed), "due today by 07:30");
        assert_eq!(clock("2026-03-02", Some(300)).late_hours(timed), "due tomorrow by 07:30");
        assert_eq!(clock("2026-03-01", None).late_hours(timed), "in 2 days");
        assert_eq!(clock("2026-03-03", None).late_days(day("2026-03-01")), "2 days late");
        assert_eq!(clock("2026-03-03", None).late_days(day("2026-03-05")), "in 2 days");
    }
}
