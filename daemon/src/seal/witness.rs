//! Witness lines: what this device holds of the others' files (`sync.md` §10).

use std::collections::HashMap;

use chrono::NaiveDate;
use ledger_format::line::{self, Act, date_text, read_sealed};
use ledger_format::mark;

use super::Desk;
use super::stand::Stand;
use crate::Trouble;
use crate::disk::{LedgerName, accepted};

const WITNESS: &[u8] = b" herd witness ";

/// What one's own ledger last said of a file: its length, and on which day.
type Last = HashMap<LedgerName, (u64, NaiveDate)>;

/// The witness lines that are due: for each file of another device that grew since this one last spoke of it, once a
/// day. Growth by witness lines alone does not count, or two machines would answer each other for ever.
pub(super) fn due(desk: &Desk, stand: &Stand) -> Result<Vec<String>, Trouble> {
    let last = last_said(stand);
    let mut bodies = Vec::new();
    for name in accepted::names(desk.herd)?.into_iter().filter(|name| name.device != desk.device) {
        let (length, day) = last.get(&name).copied().unzip();
        if day == Some(desk.today) {
            continue;
        }
        let bytes = accepted::look(desk.herd, &name)?.unwrap_or_default();
        let new = usize::try_from(length.unwrap_or(0)).ok().and_then(|length| bytes.get(length..));
        if new.is_none_or(|new| !says_more(new)) {
            continue;
        }
        let check = mark::check(&bytes);
        let Some(full) = check.full.filter(|_| check.vouched_bytes == bytes.len()) else { continue };
        let LedgerName { device, year } = &name;
        let (day, length) = (date_text(desk.today), bytes.len());
        let body = format!("{day} herd witness {device} {year:04} length {length} mark {full} by {}", desk.by);
        bodies.extend(line::read(&body).is_ok().then_some(body));
    }
    Ok(bodies)
}

/// Whether any of these lines is more than a witness line.
fn says_more(new: &[u8]) -> bool {
    let lines = new.split(|b| *b == b'\n').filter(|line| !line.is_empty());
    lines.into_iter().any(|line| memchr::memmem::find(line, WITNESS).is_none())
}

fn last_said(stand: &Stand) -> Last {
    let mut last = Last::new();
    for bytes in stand.files.iter().map(|file| file.accepted.bytes()) {
        for at in memchr::memmem::find_iter(bytes, WITNESS) {
            let begin = memchr::memrchr(b'\n', &bytes[..at]).map_or(0, |lf| lf + 1);
            let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |lf| at + lf);
            note(&mut last, &bytes[begin..end]);
        }
    }
    last
}

fn note(last: &mut Last, line: &[u8]) {
    let Some(sealed) = std::str::from_utf8(line).ok().and_then(|line| read_sealed(line).ok()) else { return };
    let Act::Witness { device, year, length, .. } = sealed.line.act else { return };
    let Some(name) = LedgerName::new(device, year) else { return };
    let known = last.entry(name).or_insert((0, sealed.line.observed.date));
    if known.0 <= u64::from(length) {
        *known = (length.into(), sealed.line.observed.date);
    }
}
