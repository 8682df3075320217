//! Sheet: what a visit found and did, what was set, what to watch (`spec/work.md` §5). It stays on the farm.

mod gather;
mod says;
#[cfg(test)]
mod tests;
mod totals;

use chrono::NaiveDate;
use serde::Serialize;

use super::caution;
use super::words::Seen;
use crate::fold::{Animal, Herd};
use crate::line::date_text;

pub use totals::{Count, Totals};

/// Which lines make a visit: those of a day, perhaps of one person or one device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Visit<'a> {
    /// The day.
    pub day: NaiveDate,
    /// Only what this person saw.
    pub by: Option<&'a str>,
    /// Only what this device wrote.
    pub device: Option<&'a str>,
}

/// A visit's sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Sheet {
    /// From where it was looked at.
    pub seen: Seen,
    /// The day of the visit.
    pub day: String,
    /// Only what this person saw.
    pub by: Option<String>,
    /// Only what this device wrote.
    pub device: Option<String>,
    /// Everyone whose lines are in it.
    pub people: Vec<String>,
    /// Cows lifted, the worst first.
    pub cows: Vec<SheetRow>,
    /// Cows scored or written about and not lifted.
    pub not_lifted: Vec<SheetRow>,
    /// Lines of that day about groups and the herd.
    pub herd_lines: Vec<String>,
    /// Sums.
    pub totals: Totals,
    /// What this sheet cannot decide.
    pub cautions: Vec<&'static str>,
}

/// One cow of a visit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SheetRow {
    /// Her number.
    pub cow: String,
    /// Her group.
    pub group: Option<String>,
    /// What was found and done, foot by foot.
    pub feet: Vec<FootRow>,
    /// What is about the whole cow: scores, medicines, notes.
    pub cow_words: Vec<String>,
    /// Rechecks set that day.
    pub rechecks: Vec<String>,
    /// What to watch from here on.
    pub watch: Vec<String>,
    /// What to be careful about.
    pub careful: Vec<String>,
}

/// One foot.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FootRow {
    /// `LF`, `RF`, `LH`, `RH`.
    pub foot: &'static str,
    /// What was found.
    pub found: Vec<String>,
    /// What was done, put on or taken off.
    pub done: Vec<String>,
}

/// The sheet of a visit.
pub fn sheet(herd: &Herd, visit: &Visit<'_>) -> Sheet {
    let lines = gather::lines(herd, visit);
    let gathered = gather::by_cow(herd, &lines);
    let mut people: Vec<String> = lines.iter().map(|id| herd.log().body(*id).by.to_owned()).collect();
    people.sort();
    people.dedup();
    let mut rows: Vec<(gather::Rank, SheetRow)> =
        gathered.iter().map(|cow| (cow.rank, row(herd, visit.day, cow))).collect();
    rows.sort_by_key(|(rank, _)| *rank);
    let (lifted, not_lifted): (Vec<_>, Vec<_>) = rows.into_iter().partition(|(rank, _)| rank.is_lifted());
    Sheet {
        seen: Seen::of(herd),
        day: date_text(visit.day),
        by: visit.by.map(str::to_owned),
        device: visit.device.map(str::to_owned),
        people,
        cows: lifted.into_iter().map(|(_, row)| row).collect(),
        not_lifted: not_lifted.into_iter().map(|(_, row)| row).collect(),
        herd_lines: gather::herd_lines(herd, &lines),
        totals: Totals::of(&gathered),
        cautions: caution::general(),
    }
}

fn row(herd: &Herd, day: NaiveDate, cow: &gather::OneCow<'_>) -> SheetRow {
    let animal = herd.find(cow.number);
    let says = says::Says::of(&cow.lines, day);
    SheetRow {
        cow: cow.number.to_string(),
        group: animal.and_then(|animal| herd.group(animal)).map(str::to_owned),
        feet: says.feet,
        cow_words: says.cow_words,
        rechecks: says.rechecks,
        watch: animal.map_or_else(Vec::new, |animal| says::watch(herd, animal)),
        careful: animal.filter(|animal| Animal::is_present(animal)).map_or_else(Vec::new, |a| caution::about(herd, a)),
    }
}

/// Feet in their order: front before hind, left before right.
pub(crate) fn foot_order(foot: &str) -> usize {
    ["LF", "RF", "LH", "RH"].iter().position(|known| *known == foot).unwrap_or(4)
}
