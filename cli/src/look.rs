//! Looking at a herd: from which day, as known when, in which form; and reading its folder.

use std::cell::RefCell;
use std::io::Write;
use std::mem::ManuallyDrop;
use std::process::ExitCode;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, TimeDelta, TimeZone, Timelike, Utc, Weekday};
use chrono_tz::Tz;
use clap::{Args, ValueEnum};
use daemon::Trouble;
use daemon::disk::{HerdFolder, LedgerName};
use daemon::watch::Folded;
use ledger_format::fold::{Herd, View};
use ledger_format::keep;
use ledger_format::line::{Minute, read_date};
use ledger_format::merge::{Ledger, LedgerProblem, Log};

use crate::fail::{Fail, Outcome};
use crate::live;
use crate::place::{self, Common};
use crate::show;
use crate::show::paper::{self, Paper};

/// From where to look.
#[derive(Args, Debug, Clone)]
pub(crate) struct Look {
    /// The state at the end of this day; without it, today
    #[arg(long, visible_alias = "at", value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    on: Option<Day>,
    /// As it was known at the end of this day
    #[arg(long, value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    known: Option<Day>,
    /// Text to read, or the same rows for a program
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

impl Look {
    /// At the end of a day, all that is known, as text.
    pub(crate) fn on(day: NaiveDate) -> Self {
        Self { on: Some(Day::On(day)), known: None, format: Format::Text }
    }

    /// As it was known at the end of a day, as text.
    pub(crate) fn as_known(known: Option<Day>) -> Self {
        Self { on: None, known, format: Format::Text }
    }

    /// Whether nothing else than today, with all that is known, is asked for.
    fn is_of_today(&self) -> bool {
        self.on.is_none() && self.known.is_none()
    }
}

/// In which form rows are shown.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    Text,
    Json,
    Ron,
}

/// A ledger file that is there and could be opened, as far as it can be read.
type ReadLedger = Result<Option<Result<Ledger, LedgerProblem>>, Trouble>;

/// A day as it is asked for; which it is depends on today, which is told in the herd's zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Day {
    On(NaiveDate),
    /// So many days before today.
    Ago(u16),
    /// The last such day up to today.
    Last(Weekday),
}

impl Day {
    pub(crate) fn seen_from(self, today: NaiveDate) -> NaiveDate {
        match self {
            Self::On(day) => day,
            Self::Ago(days) => today - TimeDelta::days(days.into()),
            Self::Last(weekday) => today - TimeDelta::days(today.weekday().days_since(weekday).into()),
        }
    }
}

/// Reads a day: `2026-03-14`, `today`, `yesterday`, `-3d`, `monday`.
pub(crate) fn day(word: &str) -> Result<Day, String> {
    let small = word.to_lowercase();
    let ago = || small.strip_prefix('-')?.strip_suffix('d')?.parse().ok().filter(|days| *days <= 9_999).map(Day::Ago);
    match small.as_str() {
        "today" => Ok(Day::Ago(0)),
        "yesterday" => Ok(Day::Ago(1)),
        _ => None
            .or_else(|| read_date(small.as_bytes()).map(Day::On))
            .or_else(ago)
            .or_else(|| small.parse().ok().map(Day::Last))
            .ok_or_else(|| "expected a day, as 2026-03-14, yesterday, -3d or monday".to_owned()),
    }
}

/// Reads a day that may be one to come: `2026-09-30`.
pub(crate) fn read_ahead(word: &str) -> Result<NaiveDate, String> {
    read_date(word.as_bytes()).ok_or_else(|| "expected a day to come, as 2026-09-30".to_owned())
}

/// A herd's folder, and the time there.
pub(crate) struct Place {
    folder: HerdFolder,
    herd: String,
    zone: Tz,
    /// Today, there.
    pub(crate) today: NaiveDate,
    minute: Minute,
}

impl Place {
    /// The folder that the command works in.
    pub(crate) fn of(common: &Common) -> Result<Self, Fail> {
        Self::in_folder(common.folder()?)
    }

    /// A folder that is open.
    pub(crate) fn in_folder(folder: HerdFolder) -> Result<Self, Fail> {
        let about = folder.about()?;
        let zone: Tz = about.zone.parse().map_err(|_| {
            let remedy = "install a newer footfold, which knows more time zones";
            Trouble::new(format!("`{}` is no time zone that is known here", about.zone), remedy)
        })?;
        let there = DateTime::<Utc>::from_naive_utc_and_offset(place::now(), Utc).with_timezone(&zone);
        let minute = (there.hour() * 60 + there.minute()) as Minute;
        Ok(Self { folder, herd: about.herd, zone, today: there.date_naive(), minute })
    }

    /// The day asked for, or another.
    pub(crate) fn day_or(&self, look: &Look, other: NaiveDate) -> NaiveDate {
        look.on.map_or(other, |day| day.seen_from(self.today))
    }

    /// The day asked for, or today.
    pub(crate) fn day(&self, look: &Look) -> NaiveDate {
        self.day_or(look, self.today)
    }

    /// The time of day, if the day is today.
    pub(crate) fn time_on(&self, day: NaiveDate) -> Option<Minute> {
        (day == self.today).then_some(self.minute)
    }

    /// The herd's state at the end of a day, and what could not be read, as it is told on the error output.
    pub(crate) fn folded(&self, on: NaiveDate) -> Result<Folded, Fail> {
        let warnings = RefCell::new(Vec::new());
        let herd = self.fold(&Look::on(on), on, &|what| warnings.borrow_mut().push(warning(what)))?;
        Ok(Folded { herd, warnings: warnings.into_inner() })
    }

    /// The herd's state at the end of a day. What cannot be read is told on the error output.
    pub(crate) fn herd(&self, look: &Look, on: NaiveDate) -> Result<Herd, Fail> {
        self.fold(look, on, &warn)
    }

    /// The same for a second day; what cannot be read was told at the first.
    pub(crate) fn herd_again(&self, look: &Look, on: NaiveDate) -> Result<Herd, Fail> {
        self.fold(look, on, &|_| {})
    }

    fn fold(&self, look: &Look, on: NaiveDate, warn: &dyn Fn(&str)) -> Result<Herd, Fail> {
        let known = look.known.map(|day| end_of(day.seen_from(self.today), self.zone));
        let log = Log::union(self.ledgers(warn)?);
        Ok(Herd::fold(log, self.protocols()?, View { on, known }))
    }

    fn ledgers(&self, warn: &dyn Fn(&str)) -> Result<Vec<Ledger>, Fail> {
        let listing = self.folder.ledgers()?;
        listing.findings.iter().for_each(|finding| warn(&finding.to_string()));
        let mut ledgers = Vec::new();
        for (name, read) in self.read_all(&listing.files) {
            let short = format!("{}/{:04}", name.device, name.year);
            // One that will not open is absent; the others are read, or a cow would wait.
            let read = match read {
                Ok(Some(read)) => read,
                Ok(None) => continue,
                Err(trouble) => {
                    warn(&format!("{short} is left out: {trouble}; {}", trouble.remedy));
                    continue;
                }
            };
            match read {
                Err(problem) => warn(&format!("{short} is left out: {problem}; run `footfold check`")),
                Ok(ledger) if ledger.herd != self.herd => {
                    warn(&format!("{short} is left out: it belongs to herd {}, not {}", ledger.herd, self.herd));
                }
                Ok(ledger) => {
                    tell_faults(&short, &ledger, warn);
                    ledgers.push(ledger);
                }
            }
        }
        Ok(ledgers)
    }

    /// Reads and checks files side by side, as many at a time as there are cores.
    fn read_all<'a>(&self, names: &'a [LedgerName]) -> Vec<(&'a LedgerName, ReadLedger)> {
        let at_a_time = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let read = |name: &LedgerName| read_through(&self.folder, name);
        let mut all = Vec::new();
        for names in names.chunks(at_a_time) {
            std::thread::scope(|scope| {
                let threads: Vec<_> = names.iter().map(|name| (name, scope.spawn(move || read(name)))).collect();
                for (name, thread) in threads {
                    let lost =
                        || Err(Trouble::new("reading it broke off", "tell the authors").at(self.folder.path_of(name)));
                    all.push((name, thread.join().unwrap_or_else(|_| lost())));
                }
            });
        }
        all
    }

    fn protocols(&self) -> Result<Vec<(String, String)>, Fail> {
        let Some(folder) = self.folder.protocols()? else { return Ok(Vec::new()) };
        let mut protocols = Vec::new();
        for file in folder.names()? {
            let Some(name) = file.strip_suffix(".ron").filter(|name| name.len() == 64) else { continue };
            let text = folder.read(&file)?.and_then(|bytes| String::from_utf8(bytes).ok());
            protocols.extend(text.map(|text| (name.to_owned(), text)));
        }
        Ok(protocols)
    }
}

/// Reads a file; where an editor only changed blanks, line ends or encoding, as it was before.
fn read_through(folder: &HerdFolder, name: &LedgerName) -> ReadLedger {
    let Some(bytes) = folder.read_large(name)? else { return Ok(None) };
    let padded = keep::has_changed_blanks(bytes.as_ref());
    let read = Ledger::read(&name.device, name.year, bytes);
    if !padded && read.as_ref().is_ok_and(|ledger| ledger.check.is_unbroken()) {
        return Ok(Some(read));
    }
    let seen = folder.read(name)?.and_then(|bytes| keep::seen_through(&bytes));
    Ok(Some(seen.map_or(read, |bytes| Ledger::read(&name.device, name.year, bytes))))
}

fn tell_faults(short: &str, ledger: &Ledger, warn: &dyn Fn(&str)) {
    if !ledger.check.is_unbroken() {
        let line = show::number(ledger.check.lines as u64);
        warn(&format!("{short} holds only up to line {line}; run `footfold check`"));
    }
    if let Some(first) = ledger.unreadable.first() {
        let n = show::count(ledger.unreadable.len() as u64, "line");
        warn(&format!("{short}: {n} cannot be read and is left out, the first is line {}", first.line));
    }
}

/// On the error output, so that rows stay clean; with nobody listening there is nothing left to do.
fn warn(what: &str) {
    let _ = std::io::stderr().lock().write_all(warning(what).as_bytes());
}

fn warning(what: &str) -> String {
    show::wrapped("footfold: ", &show::text(what)) + "\n"
}

/// The last second of a civil day, as UTC. Where midnight does not exist, the day ends when the clock goes on.
fn end_of(day: NaiveDate, zone: Tz) -> NaiveDateTime {
    let midnight = (day + TimeDelta::days(1)).and_time(chrono::NaiveTime::MIN);
    let end = (0..=6).find_map(|half| zone.from_local_datetime(&(midnight + TimeDelta::minutes(30 * half))).earliest());
    end.map_or(midnight, |end| end.naive_utc()) - TimeDelta::seconds(1)
}

/// Prints rows in the form asked for.
pub(crate) fn print<T: serde::Serialize>(look: &Look, rows: &T, text: impl FnOnce(&mut Paper)) -> Outcome {
    write(&page(look, paper::bold_on_stdout(), rows, text)?)
}

/// Rows in the form asked for.
pub(crate) fn page<T: serde::Serialize>(
    look: &Look,
    is_bold: bool,
    rows: &T,
    text: impl FnOnce(&mut Paper),
) -> Result<String, Fail> {
    look.format.page(is_bold, rows, text)
}

impl Format {
    /// Rows in this form.
    pub(crate) fn page<T: serde::Serialize>(
        self,
        is_bold: bool,
        rows: &T,
        text: impl FnOnce(&mut Paper),
    ) -> Result<String, Fail> {
        Ok(for_program(self, rows)?.unwrap_or_else(|| {
            let mut paper = Paper::new(is_bold);
            text(&mut paper);
            paper.finish()
        }))
    }
}

/// A command that shows a herd's state on a day.
pub(crate) trait Page {
    /// From where it looks.
    fn look(&self) -> &Look;
    /// What it prints.
    fn page(&self, place: &Place, herd: &Herd, is_bold: bool) -> Result<String, Fail>;
}

/// Shows a page: today's from the daemon, if one watches the folder; else from the folder.
pub(crate) fn show_page(common: &Common, page: &dyn Page) -> Outcome {
    let is_bold = paper::bold_on_stdout();
    let look = page.look();
    if look.is_of_today()
        && let Some(answer) = live::ask(common, is_bold)
    {
        let _ = std::io::stderr().lock().write_all(answer.err.as_bytes());
        std::io::stdout().lock().write_all(answer.out.as_bytes())?;
        return Ok(ExitCode::from(answer.code));
    }
    let place = Place::of(common)?;
    // The program ends after this; taking a large herd apart first would only take time.
    let herd = ManuallyDrop::new(place.herd(look, place.day(look))?);
    write(&page.page(&place, &herd, is_bold)?)
}

/// Writes a page to the standard output.
pub(crate) fn write(text: &str) -> Outcome {
    std::io::stdout().lock().write_all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// Rows in the form asked for, unless that is text.
pub(crate) fn for_program<T: serde::Serialize>(format: Format, rows: &T) -> Result<Option<String>, Fail> {
    let text = match format {
        Format::Text => return Ok(None),
        Format::Json => serde_json::to_string_pretty(rows).map_err(|e| no_rows(&e))?,
        Format::Ron => ron::ser::to_string_pretty(rows, ron::ser::PrettyConfig::default()).map_err(|e| no_rows(&e))?,
    };
    Ok(Some(text + "\n"))
}

fn no_rows(error: &dyn std::fmt::Display) -> Fail {
    Trouble::new(format!("could not write the rows: {error}"), "use `--format text`").into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_said_as_people_say_them() {
        // A Saturday.
        let today = read_date(b"2026-03-14").unwrap();
        let seen = |word: &str| day(word).map(|day| day.seen_from(today).to_string());
        for (word, expected) in [
            ("today", "2026-03-14"),
            ("Yesterday", "2026-03-13"),
            ("-3d", "2026-03-11"),
            ("saturday", "2026-03-14"),
            ("mon", "2026-03-09"),
            ("2025-12-31", "2025-12-31"),
        ] {
            assert_eq!(seen(word).as_deref(), Ok(expected), "{word}");
        }
        for wrong in ["tomorrow", "14/3", "3d", "-d", "--3d", "2026-02-30", "-99999d"] {
            assert!(seen(wrong).unwrap_err().contains("yesterday, -3d or monday"), "{wrong}");
        }
    }

    #[test]
    fn a_known_day_ends_at_local_midnight() {
        let end = |day: &str, zone: Tz| end_of(read_date(day.as_bytes()).unwrap(), zone).to_string();
        assert_eq!(end("2026-01-14", chrono_tz::Europe::London), "2026-01-14 23:59:59");
        assert_eq!(end("2026-07-14", chrono_tz::Europe::London), "2026-07-14 22:59:59");
        assert_eq!(end("2026-03-28", chrono_tz::Africa::Cairo), "2026-03-28 21:59:59");
        // Midnight of 2024-04-26 did not exist in Cairo.
        assert_eq!(end("2024-04-25", chrono_tz::Africa::Cairo), "2024-04-25 21:59:59");
    }
}
