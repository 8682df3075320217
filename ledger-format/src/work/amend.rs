//! Many lines at once, redated or struck: each by an ordinary line of its own (`work.md`, *Lines of a group*).

use chrono::NaiveDate;

use crate::fold::Herd;
use crate::line::{Act, CowNumber, Line, Mark, Observed, Reference, Subject, utc_text};
use crate::merge::{EntryId, Standing};

/// Which of a device's lines. What is not named leaves out nothing.
#[derive(Clone, Debug, Default)]
pub struct Which<'a> {
    /// Whose.
    pub device: &'a str,
    /// Observed on this day.
    pub observed: Option<NaiveDate>,
    /// Sealed at this time: its text begins so.
    pub sealed: Option<&'a str>,
    /// From the line of this mark on.
    pub from: Option<Mark>,
    /// Up to the line of this mark.
    pub to: Option<Mark>,
    /// About one of these cows.
    pub cows: &'a [CowNumber],
    /// Only lines that replace another.
    pub corrections: bool,
}

/// The lines that stand and fit, in the order of the file. A mark that the device's ledger does not hold is an error.
pub fn chosen(herd: &Herd, which: &Which) -> Result<Vec<EntryId>, Mark> {
    let log = herd.log();
    let mut own: Vec<EntryId> = log.in_order().filter(|id| log.ledger(*id).device == which.device).collect();
    own.sort_unstable();
    let place = |mark: Mark| own.iter().position(|id| log.entry(*id).mark == mark).ok_or(mark);
    let from = which.from.map_or(Ok(0), place)?;
    let to = which.to.map_or(Ok(own.len()), |mark| place(mark).map(|at| at + 1))?;
    let range = own.get(from..to).unwrap_or_default();
    Ok(range
        .iter()
        .copied()
        .filter(|id| herd.standings().get(*id) == Standing::Standing && fits(herd, *id, which))
        .collect())
}

fn fits(herd: &Herd, id: EntryId, which: &Which) -> bool {
    let (entry, line) = (herd.log().entry(id), herd.log().body(id));
    let sealed = || chrono::DateTime::from_timestamp(entry.sealed, 0).map(|time| utc_text(time.naive_utc()));
    which.observed.is_none_or(|day| entry.observed.date == day)
        && which.sealed.is_none_or(|begin| sealed().is_some_and(|text| text.starts_with(begin)))
        && (which.cows.is_empty() || matches!(line.subject, Subject::Cow(cow) if which.cows.contains(&cow)))
        && (!which.corrections || line.replaces.is_some())
        && is_observation(&line.act)
}

/// Who may write, what is agreed and what was witnessed is taken back one by one, if at all.
fn is_observation(act: &Act) -> bool {
    !matches!(act, Act::Strike(_) | Act::Admit { .. } | Act::Revoke { .. } | Act::Adopt(_) | Act::Witness { .. })
}

/// The line that says the same of another day, in place of this one. Days that it names stay as they are.
pub fn redated(herd: &Herd, id: EntryId, day: NaiveDate) -> String {
    let line = herd.log().body(id);
    let observed = Observed { date: day, ..line.observed };
    Line { observed, replaces: Some(reference(herd, id)), ..line }.to_string()
}

/// The day that a line names, which a new date leaves as it is.
pub fn names_a_day(herd: &Herd, id: EntryId) -> Option<NaiveDate> {
    match herd.log().body(id).act {
        Act::RecheckDue { due, .. } | Act::CalvingDue(due) | Act::DryingDue(due) => Some(due),
        Act::Seen { due, .. } => due,
        _ => None,
    }
}

/// The line that strikes this one.
pub fn struck(herd: &Herd, id: EntryId, today: NaiveDate, by: &str, why: &str) -> String {
    let (observed, act) = (Observed::day(today), Act::Strike(reference(herd, id)));
    Line { observed, act, replaces: None, by, words: Some(why), ..herd.log().body(id) }.to_string()
}

fn reference(herd: &Herd, id: EntryId) -> Reference<'static> {
    Reference { mark: herd.log().entry(id).mark, device: None }
}
