//! Two histories of one ledger: each is kept, one goes on, and of one's own every line is entered once
//! (`forks.md` §5 to §8).

use std::borrow::Cow;
use std::collections::HashSet;

use ledger_format::keep;
use ledger_format::line::{Act, date_text, read_sealed, utc_text};
use ledger_format::mark::{self, Claim, FullMark, complete_up_to};
use serde::{Deserialize, Serialize};

use crate::Trouble;
use crate::disk::accepted::{self, Accepted};
use crate::disk::{Folder, HerdFolder, LedgerName, Lock, faults, replace};
use crate::doubt::{self, Standing};
use crate::exchange::is_end;
use crate::gather;
use crate::keys::DeviceKey;
use crate::seal::saves::Saves;
use crate::seal::{Desk, KeptLine, Sealed, finish_begun, seal_again, seal_given};
use crate::states::{self, Of, StatementLine};

/// What became of another copy of one's own ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Met {
    /// It holds nothing that is not here.
    Same,
    /// It goes on from what was here, and was taken: so many lines.
    Longer(usize),
    /// It is another history. It is kept apart, and the one here goes on.
    Apart,
    /// It is another history, and this machine goes on in it. So many lines were entered anew.
    Switched(usize),
    /// It is a second fork under one key: it goes on elsewhere, and nothing more is sealed under this name here.
    Stopped(Trouble),
}

impl Met {
    /// What a person is told of it, if anything.
    pub fn told(&self, name: &LedgerName) -> Option<String> {
        let kept = format!("kept in .footfold/forks/{}", name.device);
        Some(match self {
            Self::Same => return None,
            Self::Longer(lines) => format!("{name}: this machine's own ledger was longer there; lines taken: {lines}"),
            Self::Apart => {
                format!("{name}: another history of this machine's own ledger is {kept}; it goes on as it stands here")
            }
            Self::Switched(lines) => format!(
                "{name}: there were two histories of this machine's own ledger. It goes on in the one that others \
                 hold; lines that only this machine had, entered anew: {lines}. The other is {kept}"
            ),
            Self::Stopped(trouble) => trouble.to_string(),
        })
    }
}

/// A change of history that was begun and is to be finished.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Switch {
    year: u16,
    /// When, UTC.
    at: String,
    /// The history to go on in, by its file here.
    theirs: String,
    /// The lines to enter anew, by their file here.
    again: String,
    /// Whether they are entered under this name; if not, they wait for another.
    enters: bool,
}

const SWITCH: &str = "switch.ron";

/// Whether a ledger was begun with this machine's key.
pub(crate) fn is_by(key: &DeviceKey, name: &LedgerName, ledger: &[u8]) -> bool {
    Of::file(name, ledger).is_some_and(|of| of.is_by(key))
}

/// Meets another copy of one's own ledger: its sealed part, whose marks hold and whose head has this device's key.
pub fn meet(desk: &Desk, name: &LedgerName, theirs: &[u8]) -> Result<(Met, Sealed), Trouble> {
    let _lock = Lock::take(desk.herd, desk.now)?;
    finish(desk.herd, desk.device)?;
    finish_begun(desk)?;
    let mut done = Sealed::default();
    let ours = Accepted::open(desk.herd, name, None)?.0.bytes().to_vec();
    if ours.starts_with(theirs) {
        if ours.len() == theirs.len() {
            doubt::confirm(desk)?;
        }
        return Ok((Met::Same, done));
    }
    if let Some(more) = theirs.strip_prefix(ours.as_slice()) {
        gather::take_over(desk.herd, name, theirs, &mut done.notices)?;
        doubt::confirm(desk)?;
        return Ok((Met::Longer(memchr::memchr_iter(b'\n', more).count()), done));
    }
    if given_up(desk.herd, name)?.iter().any(|known| known.starts_with(theirs)) {
        return Ok((Met::Apart, done));
    }
    part(desk, name, &ours, theirs)
}

/// Two histories, neither of which goes on from the other.
fn part(desk: &Desk, name: &LedgerName, ours: &[u8], theirs: &[u8]) -> Result<(Met, Sealed), Trouble> {
    let (herd, device) = (desk.herd, desk.device);
    let theirs_file = keep_other(herd, name, theirs)?;
    let parting = parting(ours, theirs);
    if !is_newest(desk, name)? {
        return Ok((Met::Apart, Sealed::default()));
    }
    if others_hold(herd, name, ours, parting)? {
        let mut named = named(desk, name, theirs, parting)?;
        named.retain(|line| memchr::memmem::find(ours, &line.as_bytes()["2026-03-14".len()..]).is_none());
        return Ok((Met::Apart, apart_from_named(seal_given(desk, &named.join("\n"))?)));
    }
    let standing = Standing::read(herd, device)?;
    let enters =
        standing.stopped.is_none() && standing.switched.is_none() && !is_second(desk, name, ours, theirs, &standing)?;
    let again = keep::entered_again(&ours[parting..], &theirs[parting..]);
    let named = if enters { named(desk, name, ours, parting)? } else { Vec::new() };
    let lines = again.iter().chain(&named).map(String::as_str);
    let text = lines.chain([""]).collect::<Vec<_>>().join("\n");
    let again_file = put(herd, name, "again", text.as_bytes())?;
    put(herd, name, "given-up", ours)?;
    let at = utc_text(desk.now);
    begin(herd, device, &Switch { year: name.year, at, theirs: theirs_file, again: again_file, enters })?;
    faults::point("switch-planned");
    finish(herd, device)?;
    doubt::confirm(desk)?;
    if enters {
        return Ok((Met::Switched(again.len()), apart_from_named(seal_again(desk)?)));
    }
    let mut done = Sealed::default();
    gather::take_over(herd, name, theirs, &mut done.notices)?;
    Ok((Met::Stopped(Standing::read(herd, device)?.why_stopped(herd, device)), done))
}

/// What is given up is named in what goes on, at each length that others may hold: so they can follow.
fn named(desk: &Desk, name: &LedgerName, given_up: &[u8], parting: usize) -> Result<Vec<String>, Trouble> {
    let (LedgerName { device, year }, of) = (name, Of::file(name, given_up));
    let line = |said: &String| {
        let StatementLine { length, mark, .. } = of.as_ref()?.verified(said)?;
        let upto = usize::try_from(length).ok().filter(|length| *length > parting)?;
        let line = || format!("{} herd witness {device} {year:04} length {length} mark {mark}", date_text(desk.today));
        is_end(given_up.get(..upto)?, &mark).then(line)
    };
    Ok(states::lines(desk.herd, name)?.iter().filter_map(line).collect())
}

/// Nobody typed the lines that name a history: they are told as witness lines are.
fn apart_from_named(mut sealed: Sealed) -> Sealed {
    let (named, kept) = sealed.kept.into_iter().partition(|line| line.body.contains(" herd witness "));
    sealed.kept = kept;
    let named: Vec<KeptLine> = named;
    sealed.witnessed.extend(named.into_iter().map(|line| line.body));
    sealed
}

/// Goes on in another device's history, where that gives up the one accepted here: it names it. What was accepted is
/// kept. For who holds the lock; says whether it did.
pub(crate) fn follow(herd: &HerdFolder, name: &LedgerName, held: &[u8], other: &[u8]) -> Result<bool, Trouble> {
    if !is_given_up_in(other, name, held) {
        return Ok(false);
    }
    put(herd, name, "given-up", held)?;
    Accepted::as_is(herd, name)?.replace(herd, other)?;
    Saves::forget(herd, name)?;
    gather::take_over(herd, name, other, &mut Vec::new())?;
    Ok(true)
}

/// Whether another history names the one held, behind the line where they part.
pub(crate) fn is_given_up_in(other: &[u8], name: &LedgerName, held: &[u8]) -> bool {
    let parting = parting(held, other);
    let wanted = format!(" herd witness {} {:04} ", name.device, name.year);
    let lines = other[parting..].split(|b| *b == b'\n');
    let mut claims = lines.filter(|line| memchr::memmem::find(line, wanted.as_bytes()).is_some()).filter_map(claim);
    claims.any(|claim| {
        let length = claim.length.and_then(|length| usize::try_from(length).ok()).filter(|length| *length > parting);
        length.and_then(|length| held.get(..length)).is_some_and(|held| is_end(held, &claim.mark))
    })
}

/// Whether this key has forked before: it signed a third history.
fn is_second(desk: &Desk, name: &LedgerName, ours: &[u8], theirs: &[u8], standing: &Standing) -> Result<bool, Trouble> {
    let of_theirs = states::against(desk.herd, name, theirs)?;
    let third = states::against(desk.herd, name, ours)?.into_iter().filter(|said| of_theirs.contains(said));
    Ok(third.into_iter().any(|said| !standing.is_settled(&said)))
}

/// Meets what others hold of one's own files and was kept apart for that; what was met before is `seen`.
pub(crate) fn meet_kept(desk: &Desk, seen: &mut HashSet<String>) -> Result<Vec<(LedgerName, Met, Sealed)>, Trouble> {
    let mut all = Vec::new();
    let Some(folder) = desk.herd.own_if_there(&["forks", desk.device])? else { return Ok(all) };
    for file in folder.names()?.into_iter().filter(|file| year_of_other(file).is_some()) {
        if seen.contains(&file) {
            continue;
        }
        let name = year_of_other(&file).and_then(|year| LedgerName::new(desk.device, year));
        let bytes = folder.read(&file)?.unwrap_or_default();
        if let Some(name) = name.filter(|name| mark::check(&bytes).is_unbroken() && is_by(desk.key, name, &bytes)) {
            let (met, sealed) = meet(desk, &name, &bytes)?;
            all.push((name, met, sealed));
        }
        seen.insert(file);
    }
    Ok(all)
}

/// Keeps a history of a ledger apart, whole, under a name of its last line. Says under which.
pub fn keep_other(herd: &HerdFolder, name: &LedgerName, bytes: &[u8]) -> Result<String, Trouble> {
    let last = mark::check(bytes).full.unwrap_or_else(|| FullMark::over(bytes));
    put_as(herd, name, &format!("{:04}-{}.txt", name.year, last.mark()), bytes)
}

/// The year of a history that is kept apart, by its file.
fn year_of_other(file: &str) -> Option<u16> {
    let (year, mark) = file.strip_suffix(".txt")?.split_once('-')?;
    let is_mark = mark.len() == 16 && mark.bytes().all(|b| b.is_ascii_hexdigit());
    if is_mark { crate::disk::paths::year_of(&format!("{year}.txt")) } else { None }
}

fn put(herd: &HerdFolder, name: &LedgerName, why: &str, bytes: &[u8]) -> Result<String, Trouble> {
    put_as(herd, name, &accepted::aside_name(name, why, bytes), bytes)
}

fn put_as(herd: &HerdFolder, name: &LedgerName, file: &str, bytes: &[u8]) -> Result<String, Trouble> {
    let folder = herd.own(&["forks", &name.device])?;
    if folder.read(file)?.as_deref() != Some(bytes) {
        replace::overwrite(&folder, file, bytes)?;
    }
    Ok(file.to_owned())
}

/// Whether a history that is kept apart agrees with a statement.
pub(crate) fn holds(herd: &HerdFolder, name: &LedgerName, said: &StatementLine) -> Result<bool, Trouble> {
    let is_other = |file: &str| year_of_other(file) == Some(name.year) || is_given_up(file, name);
    Ok(texts(herd, name, is_other)?.iter().any(|bytes| states::agrees(said, bytes)))
}

/// What a device gave up of its own file: sealed lines that an old editor may still show.
pub(crate) fn given_up(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<Vec<u8>>, Trouble> {
    texts(herd, name, |file| is_given_up(file, name))
}

fn is_given_up(file: &str, name: &LedgerName) -> bool {
    file.starts_with(&format!("{:04}-given-up-", name.year))
}

fn texts(herd: &HerdFolder, name: &LedgerName, is_it: impl Fn(&str) -> bool) -> Result<Vec<Vec<u8>>, Trouble> {
    let Some(folder) = herd.own_if_there(&["forks", &name.device])? else { return Ok(Vec::new()) };
    let names = folder.names()?.into_iter().filter(|file| is_it(file));
    names.map(|file| Ok(folder.read(&file)?.unwrap_or_default())).collect()
}

/// A text without the sealed lines of histories that were given up: they are neither typed nor changed ones.
pub(crate) fn without<'a>(given_up: &[Vec<u8>], text: &'a [u8], accepted: &[u8]) -> Cow<'a, [u8]> {
    if given_up.is_empty() {
        return Cow::Borrowed(text);
    }
    let lines = |bytes: &'a [u8]| bytes.split_inclusive(|b| *b == b'\n');
    let stays: HashSet<&[u8]> = accepted.split(|b| *b == b'\n').collect();
    let gone: HashSet<&[u8]> = given_up.iter().flat_map(|old| old.split(|b| *b == b'\n')).collect();
    let is_gone = |line: &&[u8]| {
        let line = line.trim_ascii_end();
        !line.is_empty() && gone.contains(line) && !stays.contains(line)
    };
    Cow::Owned(lines(text).filter(|line| !is_gone(line)).flatten().copied().collect())
}

/// Where two histories part: the end of the last line that both have.
fn parting(ours: &[u8], theirs: &[u8]) -> usize {
    let same = ours.iter().zip(theirs).take_while(|(a, b)| a == b).count();
    memchr::memrchr(b'\n', &ours[..same]).map_or(0, |lf| lf + 1)
}

/// Whether a witness line of another device agrees with a history beyond a place.
fn others_hold(herd: &HerdFolder, name: &LedgerName, ours: &[u8], parting: usize) -> Result<bool, Trouble> {
    let wanted = format!(" herd witness {} {:04} ", name.device, name.year);
    let mut claims = Vec::new();
    for other in accepted::names(herd)?.into_iter().filter(|other| other.device != name.device) {
        let bytes = accepted::look(herd, &other)?.unwrap_or_default();
        let lines = bytes.split(|b| *b == b'\n').filter(|line| memchr::memmem::find(line, wanted.as_bytes()).is_some());
        claims.extend(lines.filter_map(claim));
    }
    let (furthest, _) = complete_up_to(ours, &claims);
    Ok(furthest.is_some_and(|(length, _)| length > parting as u64))
}

fn claim(line: &[u8]) -> Option<Claim> {
    let sealed = read_sealed(std::str::from_utf8(line).ok()?).ok()?;
    let Act::Witness { length, mark, .. } = sealed.line.act else { return None };
    Some(Claim { by: String::new(), length: Some(length.into()), mark: FullMark::read(mark)? })
}

/// Only in the newest file can a history be changed: the next year's head names its last line.
fn is_newest(desk: &Desk, name: &LedgerName) -> Result<bool, Trouble> {
    let mut years = accepted::names(desk.herd)?.into_iter().filter(|other| other.device == name.device);
    Ok(years.all(|other| other.year <= name.year))
}

fn begin(herd: &HerdFolder, device: &str, switch: &Switch) -> Result<(), Trouble> {
    let text = ron::to_string(switch).map_err(|e| Trouble::new(e.to_string(), "tell the makers of footfold"))?;
    replace::overwrite(&herd.own(&["forks", device])?, SWITCH, text.as_bytes())
}

/// Finishes a change of history: the accepted copy first, then the lines to enter, as a save that came out of the
/// file's place. Killed at any step, it is done again from its beginning.
pub(crate) fn finish(herd: &HerdFolder, device: &str) -> Result<(), Trouble> {
    let Some(forks) = herd.own_if_there(&["forks", device])? else { return Ok(()) };
    let Some(bytes) = forks.read(SWITCH)? else { return Ok(()) };
    let switch: Option<Switch> = std::str::from_utf8(&bytes).ok().and_then(|text| ron::from_str(text).ok());
    if let Some(switch) = switch
        && let Some(name) = LedgerName::new(device, switch.year)
    {
        carry_out(herd, &forks, &name, &switch)?;
        let mut standing = Standing::read(herd, device)?;
        standing.switched = Some(format!("{}: {name}", switch.at));
        if !switch.enters {
            let again = || forks.join(&switch.again).display().to_string();
            standing.stopped.get_or_insert_with(again);
        }
        standing.write(herd, device)?;
    }
    forks.remove(SWITCH)?;
    forks.sync()
}

fn carry_out(herd: &HerdFolder, forks: &Folder, name: &LedgerName, switch: &Switch) -> Result<(), Trouble> {
    let theirs = forks.read(&switch.theirs)?.unwrap_or_default();
    let again = forks.read(&switch.again)?.unwrap_or_default();
    if !mark::check(&theirs).is_unbroken() {
        return Ok(());
    }
    let mut shadow = Accepted::as_is(herd, name)?;
    if !shadow.bytes().starts_with(&theirs) {
        shadow.replace(herd, &theirs)?;
    }
    faults::point("switched");
    // Saves that were taken in belong to the other history.
    Saves::forget(herd, name)?;
    if !switch.enters {
        return Ok(());
    }
    let folder = herd.device_or_make(&name.device)?;
    replace::overwrite(&folder, &format!(".{}.displaced-again", name.file()), &again)
}
