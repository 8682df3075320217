//! Statements on disk: a device's signed word for how far each of its files goes, in `ledgers/DEVICE/YEAR.sig`
//! (`mark.md` §15 to §17).

use std::collections::HashSet;

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::line::split_seal;
use ledger_format::mark::{self, Claim, ClaimFinding, FullMark, Head, Statement, complete_up_to};
use rustix::fs::FileType;

use crate::Trouble;
use crate::disk::paths::year_of;
use crate::disk::{Folder, HerdFolder, LedgerName, accepted, append};
use crate::keys::DeviceKey;

/// How much of the end of a file of statements is looked at first: the newest stand there.
const LATELY: u64 = 1 << 14;

/// A statement whose signature is right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatementLine {
    /// The line, without its line feed.
    pub text: String,
    /// Bytes of the file that it speaks of.
    pub length: u64,
    /// The full mark of the line that ends there.
    pub mark: FullMark,
    /// When it was said.
    pub at: NaiveDateTime,
}

/// What became of a statement that came from elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It says nothing new.
    Known,
    /// It is kept.
    Taken,
    /// It is kept, and proves another history than the one accepted here.
    Another,
}

/// Whose statements are looked for: what the head of a file says.
#[derive(Clone, Copy)]
pub(crate) struct Of<'a> {
    herd: &'a str,
    name: &'a LedgerName,
    key: FullMark,
}

impl<'a> Of<'a> {
    /// By the first line of a ledger file.
    pub(crate) fn file(name: &'a LedgerName, ledger: &'a [u8]) -> Option<Self> {
        let first = ledger.split(|b| *b == b'\n').next()?;
        let (body, _) = split_seal(first)?;
        let head = Head::read(std::str::from_utf8(body).ok()?).ok()?;
        Some(Self { herd: head.herd, name, key: FullMark::read(head.key)? })
    }

    /// Whether the file was begun with this key.
    pub(crate) fn is_by(&self, key: &DeviceKey) -> bool {
        FullMark::read(key.public()) == Some(self.key)
    }

    /// What a line says, if it is a statement of this file; nobody has looked at its signature.
    pub(crate) fn read<'b>(&self, line: &'b str) -> Option<Statement<'b>> {
        let said = Statement::read(line)?.unverified();
        let fits = said.herd == self.herd && said.device == self.name.device && said.year == self.name.year;
        fits.then_some(said)
    }

    /// The same, if the signature is right.
    pub(crate) fn verified(&self, line: &str) -> Option<StatementLine> {
        self.read(line)?;
        let Statement { length, mark, at, .. } = Statement::read(line)?.verified(&self.key)?;
        Some(StatementLine { text: line.to_owned(), length, mark, at })
    }
}

/// The name of the file of statements beside a ledger file.
pub fn file_of(name: &LedgerName) -> String {
    format!("{:04}.sig", name.year)
}

/// All lines of a file's statements, in order; what a power cut left of the last is none.
pub fn lines(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<String>, Trouble> {
    Ok(end_of(herd, name, u64::MAX)?.0)
}

/// The same of a file of statements in any folder.
pub(crate) fn lines_in(folder: &Folder, file: &str) -> Result<Vec<String>, Trouble> {
    Ok(end_in(folder, file, u64::MAX)?.0)
}

/// The newest statement that is signed rightly and agrees with the accepted bytes.
pub fn newest(herd: &HerdFolder, name: &LedgerName) -> Result<Option<StatementLine>, Trouble> {
    let bytes = held(herd, name)?;
    let Some(of) = Of::file(name, &bytes) else { return Ok(None) };
    newest_over(herd, &of, &bytes)
}

fn newest_over(herd: &HerdFolder, of: &Of, accepted: &[u8]) -> Result<Option<StatementLine>, Trouble> {
    let agrees = |line: &String| of.verified(line).filter(|said| agrees(said, accepted));
    let (lately, is_all) = end_of(herd, of.name, LATELY)?;
    let found = lately.iter().rev().find_map(agrees);
    if found.is_some() || is_all {
        return Ok(found);
    }
    Ok(lines(herd, of.name)?.iter().rev().find_map(agrees))
}

/// Whether the bytes at a statement's length have its mark.
pub(crate) fn agrees(said: &StatementLine, bytes: &[u8]) -> bool {
    place(said, bytes) == Some(true)
}

/// None if the bytes do not go as far.
fn place(said: &StatementLine, bytes: &[u8]) -> Option<bool> {
    let claim = Claim { by: String::new(), length: Some(said.length), mark: said.mark };
    let (agreed, findings) = complete_up_to(bytes, &[claim]);
    match findings.first() {
        Some(ClaimFinding::Shorter(_)) => None,
        Some(ClaimFinding::Different(_)) => Some(false),
        None => Some(agreed.is_some()),
    }
}

/// States how far a file of this machine's own device goes, unless that is stated already.
pub fn state(
    herd: &HerdFolder,
    name: &LedgerName,
    key: &DeviceKey,
    now: NaiveDateTime,
) -> Result<StatementLine, Trouble> {
    let bytes = accepted::look(herd, name)?.unwrap_or_default();
    let end = mark::check(&bytes);
    match end.full {
        Some(full) if end.vouched_bytes == bytes.len() => state_end(herd, name, &bytes, full, key, now),
        _ => Err(accepted::broken(herd, name, end.first_broken.unwrap_or(end.lines + 1))),
    }
}

/// The same, where the full mark of the last accepted line is known.
pub(crate) fn state_end(
    herd: &HerdFolder,
    name: &LedgerName,
    accepted: &[u8],
    full: FullMark,
    key: &DeviceKey,
    now: NaiveDateTime,
) -> Result<StatementLine, Trouble> {
    let Some(of) = Of::file(name, accepted).filter(|of| of.is_by(key)) else {
        let what = format!("the ledger of {} was begun with another key than this machine's", name.device);
        return Err(
            Trouble::new(what, "only the machine that writes it can say how far it goes").at(herd.path_of(name))
        );
    };
    let length = accepted.len() as u64;
    let is_it = |line: &&String| of.read(line).is_some_and(|said| said.length == length && said.mark == full);
    let lately = end_of(herd, name, LATELY)?.0;
    if let Some(said) = lately.iter().rev().filter(is_it).find_map(|line| of.verified(line)) {
        return Ok(said);
    }
    let said = Statement { herd: of.herd, device: &name.device, year: name.year, length, mark: full, at: now };
    let text = said.signed(key.signing());
    add(herd, &of, &text)?;
    Ok(StatementLine { text, length, mark: full, at: now })
}

/// Of each of a device's own files, what this key signed that goes furthest beyond what is here, and how long the
/// file is here. What is longer came last, so that it stands at the end of the statements.
pub(crate) fn beyond(
    herd: &HerdFolder,
    device: &str,
    key: &DeviceKey,
) -> Result<Vec<(LedgerName, StatementLine, u64)>, Trouble> {
    let mut found = Vec::new();
    let Some(key) = FullMark::read(key.public()) else { return Ok(found) };
    for name in stated(herd, device)? {
        let accepted = accepted::length(herd, &name)?;
        let here = accepted.unwrap_or(0);
        let (lately, _) = end_of(herd, &name, LATELY)?;
        let longer = |line: &&String| Statement::read(line).is_some_and(|read| read.unverified().length > here);
        let longer: Vec<&String> = lately.iter().filter(longer).collect();
        if longer.is_empty() {
            continue;
        }
        let about = herd.about()?;
        let of = Of { herd: &about.herd, name: &name, key };
        let mut signed: Vec<StatementLine> = longer.into_iter().filter_map(|line| of.verified(line)).collect();
        signed.sort_by_key(|said| std::cmp::Reverse(said.length));
        // Where the accepted copy is gone or torn, the visible file makes it whole again; or nothing is sealed.
        let visible = herd.read(&name)?.unwrap_or_default();
        let visible = keep::seen_through(&visible).unwrap_or_else(|| keep::plain(&visible));
        if accepted.is_none() && mark::check(&visible).first_broken.is_some() {
            continue;
        }
        let furthest = signed.into_iter().find(|said| !agrees(said, &visible));
        found.extend(furthest.map(|said| (name, said, here)));
    }
    Ok(found)
}

/// The files of a device that have statements here, whether they are here themselves or not.
fn stated(herd: &HerdFolder, device: &str) -> Result<Vec<LedgerName>, Trouble> {
    let Some(folder) = herd.device(device)? else { return Ok(Vec::new()) };
    let year = |file: String| year_of(&format!("{}.txt", file.strip_suffix(".sig")?));
    let mut names = Vec::new();
    for name in folder.names()?.into_iter().filter_map(year).filter_map(|year| LedgerName::new(device, year)) {
        // What is no file is the check's to tell.
        if folder.kind(&file_of(&name))?.is_some_and(FileType::is_file) {
            names.push(name);
        }
    }
    Ok(names)
}

/// All that a device signed of a file of its own and that excludes these bytes.
pub(crate) fn against(herd: &HerdFolder, name: &LedgerName, bytes: &[u8]) -> Result<Vec<StatementLine>, Trouble> {
    let Some(of) = Of::file(name, bytes) else { return Ok(Vec::new()) };
    let all = lines(herd, name)?;
    let claims = all.iter().filter_map(|line| {
        let said = of.read(line)?;
        Some(Claim { by: line.clone(), length: Some(said.length), mark: said.mark })
    });
    let (_, findings) = complete_up_to(bytes, &claims.collect::<Vec<_>>());
    let against = findings.into_iter().filter_map(|finding| match finding {
        ClaimFinding::Different(claim) => of.verified(&claim.by),
        ClaimFinding::Shorter(_) => None,
    });
    Ok(against.collect())
}

/// Keeps a statement that came from elsewhere, if its signature is right and it says anything new.
pub fn keep_one(herd: &HerdFolder, name: &LedgerName, line: &str) -> Result<Kept, Trouble> {
    let bytes = held(herd, name)?;
    let of = Of::file(name, &bytes);
    let Some((of, said)) = of.and_then(|of| Some((of, of.verified(line)?))) else {
        let what = "this is no statement of this file, or its signature is wrong; it was not taken";
        return Err(Trouble::new(what, "ask for a fresh copy").at(herd.path_of(name).with_extension("sig")));
    };
    let place = place(&said, &bytes);
    if place == Some(true) {
        if newest_over(herd, &of, &bytes)?.is_some_and(|newest| newest.length >= said.length) {
            return Ok(Kept::Known);
        }
    } else if lines(herd, name)?.iter().any(|known| known == line) {
        return Ok(Kept::Known);
    }
    add(herd, &of, line)?;
    Ok(if place == Some(false) { Kept::Another } else { Kept::Taken })
}

/// Of the lines of another copy's statements, keeps those that say anything new: the longest that agrees, those that
/// go further than the file, and those that prove another history.
pub(crate) fn keep_new(herd: &HerdFolder, name: &LedgerName, all: &[String]) -> Result<Vec<Kept>, Trouble> {
    let bytes = held(herd, name)?;
    let Some(of) = Of::file(name, &bytes) else { return Ok(Vec::new()) };
    let known: HashSet<String> = lines(herd, name)?.into_iter().collect();
    let claim = |line: &String| {
        let StatementLine { text, length, mark, .. } = of.verified(line)?;
        Some(Claim { by: text, length: Some(length), mark })
    };
    let claims: Vec<Claim> = all.iter().filter(|line| !known.contains(*line)).filter_map(claim).collect();
    let (newest, findings) = complete_up_to(&bytes, &claims);
    let others = findings.into_iter().map(|finding| match finding {
        ClaimFinding::Shorter(claim) | ClaimFinding::Different(claim) => claim.by,
    });
    let new = newest.into_iter().map(|(_, line)| line).chain(others);
    new.map(|line| keep_one(herd, name, &line)).collect()
}

/// What is held of a file: its accepted bytes, or the sealed lines of the visible file where nothing was accepted yet.
fn held(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<u8>, Trouble> {
    if let Some(bytes) = accepted::look(herd, name)? {
        return Ok(bytes);
    }
    let mut bytes = herd.read(name)?.map(|bytes| keep::plain(&bytes)).unwrap_or_default();
    bytes.truncate(mark::check(&bytes).vouched_bytes);
    Ok(bytes)
}

fn add(herd: &HerdFolder, of: &Of, line: &str) -> Result<(), Trouble> {
    let folder = herd.device_or_make(&of.name.device)?;
    append::line(&folder, &file_of(of.name), line, |torn| of.verified(torn).is_some())
}

/// The last whole lines, and whether they are all.
fn end_of(herd: &HerdFolder, name: &LedgerName, most: u64) -> Result<(Vec<String>, bool), Trouble> {
    let Some(folder) = herd.device(&name.device)? else { return Ok((Vec::new(), true)) };
    end_in(&folder, &file_of(name), most)
}

fn end_in(folder: &Folder, file: &str, most: u64) -> Result<(Vec<String>, bool), Trouble> {
    let Some((bytes, is_all)) = append::end_of(folder, file, most)? else { return Ok((Vec::new(), true)) };
    let text = String::from_utf8_lossy(&bytes);
    let mut lines: Vec<String> = text.split('\n').map(str::to_owned).collect();
    // The last has no line feed, the first may be cut.
    lines.pop();
    if !is_all && !lines.is_empty() {
        lines.remove(0);
    }
    Ok((lines, is_all))
}
