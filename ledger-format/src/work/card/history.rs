//! A cow's history: every line about her, with what became of it. Nothing is left out and nothing is hidden.

use std::collections::HashMap;

use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::Serialize;

use super::super::words::{days, minute_text};
use super::line_name;
use crate::fold::{Animal, Herd, Why};
use crate::line::{CowNumber, date_text, utc_text};
use crate::merge::{EntryId, Event, Standing, Whose};

/// One line about her.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HistoryRow {
    /// The day it was seen.
    pub day: String,
    /// The time of day, if it was noted.
    pub time: Option<String>,
    /// The number it was written under, where she had another one then.
    pub number: Option<String>,
    /// What it says, in the ledger's words.
    pub says: String,
    /// Its free words, as they were written.
    pub words: Option<String>,
    /// Who saw it.
    pub by: String,
    /// The device whose ledger holds it.
    pub device: String,
    /// When it was kept, UTC.
    pub sealed: String,
    /// Its mark.
    pub mark: String,
    /// `standing`, `struck`, `replaced`, `set aside`, `counted once` (another device said it before).
    pub standing: &'static str,
    /// What is to be said about it: what corrects it, what it corrects, who else says so, what does not fit.
    pub remarks: Vec<String>,
    /// Days from seeing to keeping, if more than none.
    pub kept_later_days: i64,
}

/// Her lines up to the day of the view, newest first, and how many are dated after it.
pub(super) fn history(herd: &Herd, animal: &Animal) -> (Vec<HistoryRow>, usize) {
    let around = Around::of(herd, animal.number);
    let lines = lines_about(herd, animal);
    let is_later = |id: &EntryId| herd.log().entry(*id).observed.date > herd.view().on;
    let later = lines.iter().filter(|id| is_later(id)).count();
    let rows = lines.iter().rev().filter(|id| !is_later(id)).map(|id| around.row(herd, animal, *id)).collect();
    (rows, later)
}

/// The lines about this animal, in order: from her first day on, under the number she had at the time.
fn lines_about(herd: &Herd, animal: &Animal) -> Vec<EntryId> {
    let mut number = animal.number;
    let mut lines = Vec::new();
    for id in herd.lines_of(animal.number).iter().rev() {
        let entry = herd.log().entry(*id);
        if entry.observed.date < animal.first_seen {
            break;
        }
        if let (Whose::Cow(from), Event::Renumbered(to)) = (entry.whose, entry.event)
            && to == number
            && took_effect(herd, *id)
        {
            number = from;
            lines.push(*id);
        } else if entry.whose == Whose::Cow(number) && !is_of_next_animal(herd, animal, entry.observed.date) {
            lines.push(*id);
        }
    }
    lines.reverse();
    lines
}

fn took_effect(herd: &Herd, id: EntryId) -> bool {
    let refused = |why: &Why| matches!(why, Why::NumberInUse(_) | Why::HadLeft);
    herd.standings().get(id) == Standing::Standing
        && herd.log().entry(id).observed.date <= herd.view().on
        && !herd
            .questions_of(number_of(herd, id))
            .any(|question| refused(&question.why) && question.lines.contains(&id))
}

fn number_of(herd: &Herd, id: EntryId) -> CowNumber {
    match herd.log().entry(id).whose {
        Whose::Cow(number) => number,
        _ => unreachable!("only lines about cows are asked for"),
    }
}

/// A line after she left belongs to the next animal of that number, if there is one.
fn is_of_next_animal(herd: &Herd, animal: &Animal, day: NaiveDate) -> bool {
    animal.left.is_some_and(|left| left.day < day)
        && herd.animals().iter().any(|other| other.number == animal.number && other.first_seen > animal.first_seen)
}

/// What other lines say about a line.
struct Around {
    corrected_by: HashMap<EntryId, Vec<EntryId>>,
    also: HashMap<EntryId, Vec<EntryId>>,
    counted: HashMap<EntryId, EntryId>,
}

impl Around {
    fn of(herd: &Herd, number: CowNumber) -> Self {
        let mut corrected_by: HashMap<EntryId, Vec<EntryId>> = HashMap::new();
        for id in herd.lines_of(number).iter().copied().chain(herd.herd_lines()) {
            if let Some(target) = herd.standings().target(id) {
                corrected_by.entry(target).or_default().push(id);
            }
        }
        let mut also: HashMap<EntryId, Vec<EntryId>> = HashMap::new();
        let mut counted = HashMap::new();
        for (first, second) in herd.typed_twice() {
            also.entry(first).or_default().push(second);
            counted.insert(second, first);
        }
        Self { corrected_by, also, counted }
    }

    fn row(&self, herd: &Herd, animal: &Animal, id: EntryId) -> HistoryRow {
        let line = herd.log().line(id);
        let (body, sealed) = (line.line, line.seal.sealed);
        let number = number_of(herd, id);
        HistoryRow {
            day: date_text(body.observed.date),
            time: body.observed.minute.map(minute_text),
            number: (number != animal.number).then(|| number.to_string()),
            says: body.act.to_string(),
            words: body.words.map(str::to_owned),
            by: body.by.to_owned(),
            device: herd.log().ledger(id).device.clone(),
            sealed: utc_text(sealed),
            mark: line.seal.mark.to_string(),
            standing: self.standing(herd, id),
            remarks: self.remarks(herd, id),
            kept_later_days: kept_later_days(herd, id),
        }
    }

    fn standing(&self, herd: &Herd, id: EntryId) -> &'static str {
        match herd.standings().get(id) {
            Standing::Withdrawn => "struck",
            Standing::Superseded => "replaced",
            Standing::SetAside => "set aside",
            Standing::Apart => "kept apart",
            Standing::Standing if self.counted.contains_key(&id) => "counted once",
            Standing::Standing => "standing",
        }
    }

    fn remarks(&self, herd: &Herd, id: EntryId) -> Vec<String> {
        let mut remarks = Vec::new();
        for by in self.corrected_by.get(&id).into_iter().flatten() {
            let what = if is_strike(herd, *by) { "struck" } else { "replaced" };
            remarks.push(format!("{what} by {}, {}", line_name(herd, *by), who(herd, *by)));
        }
        if let Some(target) = herd.standings().target(id) {
            let what = if is_strike(herd, id) { "strikes" } else { "replaces" };
            remarks.push(format!("{what} {}: {}", line_name(herd, target), herd.log().body(target).act));
        }
        for second in self.also.get(&id).into_iter().flatten() {
            remarks.push(format!("{} on {} says the same; counted once", who(herd, *second), device(herd, *second)));
        }
        if let Some(first) = self.counted.get(&id) {
            remarks.push(format!("said by {} on {} too; counted there", who(herd, *first), device(herd, *first)));
        }
        let questions = herd.questions_of(number_of(herd, id)).filter(|question| question.lines.contains(&id));
        remarks.extend(questions.map(|question| format!("open question: {}", question.why)));
        match kept_later_days(herd, id) {
            0 => {}
            late => remarks.push(format!("kept {} later", days(late))),
        }
        remarks
    }
}

fn is_strike(herd: &Herd, id: EntryId) -> bool {
    matches!(herd.log().entry(id).event, Event::Other(crate::vocabulary::ActWord::Strike))
}

fn who(herd: &Herd, id: EntryId) -> &str {
    herd.log().body(id).by
}

fn device(herd: &Herd, id: EntryId) -> &str {
    &herd.log().ledger(id).device
}

/// Days from seeing to keeping, counted in the ledger's time zone.
fn kept_later_days(herd: &Herd, id: EntryId) -> i64 {
    let entry = herd.log().entry(id);
    let Some(sealed) = chrono::DateTime::from_timestamp(entry.sealed, 0) else { return 0 };
    let day = match herd.log().ledger(id).zone.parse::<Tz>() {
        Ok(zone) => sealed.with_timezone(&zone).date_naive(),
        Err(_) => sealed.date_naive(),
    };
    (day - entry.observed.date).num_days().max(0)
}
