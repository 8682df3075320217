//! How herds stand: what is watched, what is unsealed and why, what is wrong.

use chrono::{NaiveDate, NaiveDateTime};
use ledger_format::keep::{self, What};
use ledger_format::line::utc_text;
use ledger_format::mark;
use ledger_format::typing::{self, Context, Outcome};
use serde::{Deserialize, Serialize};

use super::day_in;
use super::keeper::last_seal;
use crate::Trouble;
use crate::audit::{self, Report, State};
use crate::disk::{HerdFolder, LedgerName, Lock, accepted, far};
use crate::seal::saves::Saves;

/// Refused lines shown of one file; more are counted.
const SHOWN: usize = 20;

/// How everything stands.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Status {
    /// The daemon that runs, if one does.
    pub daemon: Option<DaemonRow>,
    /// The herds, worst first.
    pub herds: Vec<HerdRow>,
}

/// The daemon.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DaemonRow {
    /// Its process.
    pub process: u32,
    /// Since when it runs, UTC.
    pub since: String,
    /// How long a file must be still, in milliseconds.
    pub settle_ms: u64,
    /// Who seals.
    pub writes_as: Option<String>,
    /// Commands that it answered.
    pub answered: u64,
    /// Herds that it holds in memory.
    pub in_memory: usize,
    /// Why nothing is sealed at all, if so.
    pub trouble: Option<TroubleRow>,
}

/// One herd.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct HerdRow {
    /// Its folder.
    pub folder: String,
    /// Its name, if that can be read.
    pub herd: Option<String>,
    /// Since when it is watched, UTC.
    pub watched_since: Option<String>,
    /// How changes are found: events, or polling.
    pub found_by: Option<String>,
    /// Who watches it, if it is another daemon.
    pub watched_by_another: Option<String>,
    /// What is typed and not sealed.
    pub unsealed: Vec<UnsealedRow>,
    /// What is wrong.
    pub troubles: Vec<TroubleRow>,
    /// What was put right and what was odd lately, each with its time.
    pub notes: Vec<String>,
    /// When this machine last sealed here, UTC.
    pub last_sealed: Option<String>,
}

impl HerdRow {
    /// How much it needs a person: troubles, then refused lines, then lines that wait.
    fn weight(&self) -> (usize, usize, usize) {
        let refused = self.unsealed.iter().filter(|row| row.remark.is_some()).count();
        (self.troubles.len(), refused, self.unsealed.len())
    }
}

/// Typed lines that are not sealed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnsealedRow {
    /// The file.
    pub file: String,
    /// The first of the lines, counted from 1.
    pub line: usize,
    /// How many.
    pub lines: usize,
    /// Why: `not settled`, `not sealed yet`, `remark`, `in another's ledger`.
    pub why: String,
    /// What was expected, where a line is not understood.
    pub remark: Option<String>,
}

/// Something wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TroubleRow {
    /// What was found, and where.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl From<&Trouble> for TroubleRow {
    fn from(trouble: &Trouble) -> Self {
        Self { what: trouble.to_string(), remedy: trouble.remedy.clone() }
    }
}

/// Sorts herds so that what needs a person comes first.
pub fn worst_first(herds: &mut [HerdRow]) {
    herds.sort_by(|a, b| b.weight().cmp(&a.weight()).then_with(|| a.folder.cmp(&b.folder)));
}

/// A herd's folder, looked at by itself. Nothing is written.
pub fn of_folder(herd: &HerdFolder, device: Option<&str>, now: NaiveDateTime) -> HerdRow {
    let mut row = HerdRow { folder: herd.path().display().to_string(), ..HerdRow::default() };
    if let Err(trouble) = fill(&mut row, herd, device, now) {
        row.troubles.push(TroubleRow::from(&trouble));
    }
    row
}

fn fill(row: &mut HerdRow, herd: &HerdFolder, device: Option<&str>, now: NaiveDateTime) -> Result<(), Trouble> {
    let about = herd.about()?;
    row.herd = Some(about.herd);
    row.watched_by_another = Lock::watcher(herd)?;
    row.last_sealed = device.and_then(|device| last_seal(herd, device)).map(utc_text);
    if herd.own_if_there(&[])?.is_some_and(|folder| far::is_far(&folder)) {
        row.notes.push(far::ADVICE.to_owned());
    }
    let found = audit::herd(herd, false)?;
    row.troubles.extend(found.findings.iter().map(TroubleRow::from));
    for report in &found.reports {
        row.troubles.extend(report.findings.iter().map(TroubleRow::from));
        row.troubles.extend(trouble_of(report));
    }
    let today = day_in(&about.zone, now)?;
    for name in herd.ledgers()?.files {
        let is_own = device.is_none_or(|device| device == name.device);
        match unsealed(herd, &name, today, is_own) {
            Ok(rows) => row.unsealed.extend(rows),
            // The check says the same, with what to do.
            Err(_) if row.troubles.iter().any(|trouble| trouble.what.contains(&name.to_string())) => {}
            Err(trouble) => row.troubles.push(TroubleRow::from(&trouble)),
        }
    }
    Ok(())
}

fn trouble_of(report: &Report) -> Option<TroubleRow> {
    const CHECK: &str = "`footfold check` shows it, `footfold check --mend` puts it right";
    const SEAL: &str = "`footfold seal` puts the line back and makes the change a correction";
    let remedy = if matches!(report.state, State::Broken { stood: Some(_), .. }) { SEAL } else { CHECK };
    let what = match &report.state {
        State::Unbroken | State::Resaved => return None,
        State::Short { missing } => format!("{missing} sealed lines are missing"),
        State::ForeignMark { line, .. } => format!("line {line} bears a mark from elsewhere"),
        State::Different { line, .. } => format!("another history from line {line} on"),
        State::Broken { line, .. } => format!("a sealed line was changed: broken at line {line}"),
        State::Unread(trouble) => return Some(TroubleRow::from(trouble)),
    };
    Some(TroubleRow { what: format!("{}: {what}", report.name), remedy: remedy.to_owned() })
}

/// The accepted bytes of the device's other files.
fn others_of(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<Vec<u8>>, Trouble> {
    let names = accepted::names(herd)?.into_iter().filter(|other| other.device == name.device && other != name);
    let held: Result<Vec<Option<Vec<u8>>>, Trouble> = names.map(|other| accepted::look(herd, &other)).collect();
    Ok(held?.into_iter().flatten().collect())
}

/// The typed lines of one file.
fn unsealed(herd: &HerdFolder, name: &LedgerName, today: NaiveDate, is_own: bool) -> Result<Vec<UnsealedRow>, Trouble> {
    let Some(visible) = herd.read(name)? else { return Ok(Vec::new()) };
    let held = accepted::look(herd, name)?;
    let sealed = held.unwrap_or_else(|| visible[..mark::check(&visible).sealed_bytes].to_vec());
    let others = others_of(herd, name)?;
    let others: Vec<&[u8]> = others.iter().map(Vec::as_slice).collect();
    let found = keep::compare(&visible, &sealed, &others, Saves::read(herd, name)?.known());
    // A sealed line that was changed is the check's to tell.
    let new = |typed: &&keep::Typed| matches!(typed.what, What::New | What::Left);
    let typed: Vec<&keep::Typed> = found.typed.iter().filter(new).collect();
    let text: String = typed.iter().flat_map(|typed| [typed.text.as_str(), "\n"]).collect();
    let number = |at: usize| typed.get(at.saturating_sub(1)).map_or(0, |typed| typed.number);
    let (mut ready, mut refused) = (Vec::new(), Vec::new());
    for typed in typing::read(&text, &Context { today, by: "xx", device: &name.device }) {
        match typed.outcome {
            Outcome::Kept(_) => ready.push(number(typed.number)),
            Outcome::Refused(remarks) => {
                refused.push((number(typed.number), remarks.first().map_or(String::new(), ToString::to_string)));
            }
            Outcome::Blank | Outcome::Comment | Outcome::Heading | Outcome::OldRemark => {}
        }
    }
    let row = |line, lines, why: &str, remark| UnsealedRow {
        file: name.to_string(),
        line,
        lines,
        why: why.to_owned(),
        remark,
    };
    let mut rows = Vec::new();
    if !is_own {
        let lines = ready.len() + refused.len();
        let first = ready.iter().chain(refused.iter().map(|(line, _)| line)).min().copied();
        rows.extend(first.map(|first| row(first, lines, "in another's ledger", None)));
        return Ok(rows);
    }
    rows.extend(refused.iter().take(SHOWN).map(|(line, remark)| row(*line, 1, "remark", Some(remark.clone()))));
    if let Some((line, _)) = refused.get(SHOWN) {
        rows.push(row(*line, refused.len() - SHOWN, "remark", Some("more lines with remarks".to_owned())));
    }
    rows.extend(ready.first().map(|first| row(*first, ready.len(), "not sealed yet", None)));
    Ok(rows)
}
