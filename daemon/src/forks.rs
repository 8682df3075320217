//! Two histories of one ledger: each is kept, one goes on, and of one's own every line is entered once
//! (`forks.md` §5 to §8).

use ledger_format::keep;
use ledger_format::line::{Act, read_sealed};
use ledger_format::mark::{self, Claim, FullMark, complete_up_to};
use serde::{Deserialize, Serialize};

use crate::Trouble;
use crate::disk::accepted::{self, Accepted};
use crate::disk::{Folder, HerdFolder, LedgerName, Lock, faults, replace};
use crate::doubt::{self, Standing};
use crate::gather;
use crate::seal::saves::Saves;
use crate::seal::{Desk, Sealed, seal_again};
use crate::states::{self, StatementLine};

/// What became of another copy of one's own ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Met {
    /// It holds nothing that is not here.
    Same,
    /// It goes on from what was here, and was taken.
    Longer,
    /// It is another history. It is kept apart, and the one here goes on.
    Apart,
    /// It is another history, and this machine goes on in it. So many lines were entered anew.
    Switched(usize),
    /// It is a second fork under one key: nothing more is sealed under this name.
    Stopped,
}

/// A change of history that was begun and is to be finished.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Switch {
    year: u16,
    /// The history to go on in, by its file here.
    theirs: String,
    /// The lines to enter anew, by their file here.
    again: String,
}

const SWITCH: &str = "switch.ron";

/// Meets another copy of one's own ledger: its sealed part, whose marks hold and whose head has this device's key.
pub fn meet(desk: &Desk, name: &LedgerName, theirs: &[u8]) -> Result<(Met, Sealed), Trouble> {
    let _lock = Lock::take(desk.herd, desk.now)?;
    finish(desk.herd, desk.device)?;
    let mut done = Sealed::default();
    let (shadow, _) = Accepted::open(desk.herd, name, None)?;
    let ours = shadow.bytes().to_vec();
    drop(shadow);
    if ours.starts_with(theirs) {
        if ours.len() == theirs.len() {
            doubt::confirm(desk)?;
        }
        return Ok((Met::Same, done));
    }
    if theirs.starts_with(&ours) {
        gather::take_over(desk.herd, name, theirs, &mut done.notices)?;
        doubt::confirm(desk)?;
        return Ok((Met::Longer, done));
    }
    let (file, is_new) = put(desk.herd, name, "other", theirs)?;
    let parting = parting(&ours, theirs);
    if !is_new || others_hold(desk.herd, name, &ours, parting)? || !is_newest(desk, name)? {
        return Ok((Met::Apart, done));
    }
    let again = keep::entered_again(&ours[parting..], &theirs[parting..]);
    let text: String = again.iter().map(|line| format!("{line}\n")).collect();
    let (again_file, _) = put(desk.herd, name, "again", text.as_bytes())?;
    let mut standing = Standing::read(desk.herd, desk.device)?;
    if standing.has_switched {
        let lines = desk.herd.own(&["forks", desk.device])?.join(&again_file);
        standing.stopped = Some(format!(
            "{name} parted a second time. What only this machine had is to be typed under the new name: `footfold \
             write --file {} --device {}`",
            lines.display(),
            doubt::next_name(desk.herd, desk.device)
        ));
        standing.write(desk.herd, desk.device)?;
        return Ok((Met::Stopped, done));
    }
    put(desk.herd, name, "given-up", &ours)?;
    standing.has_switched = true;
    standing.write(desk.herd, desk.device)?;
    begin(desk.herd, desk.device, &Switch { year: name.year, theirs: file, again: again_file })?;
    faults::point("switch-planned");
    finish(desk.herd, desk.device)?;
    done = seal_again(desk)?;
    Ok((Met::Switched(again.len()), done))
}

/// Keeps a history of a ledger apart, whole. Says under which name, and whether it was not there before.
pub fn keep_other(herd: &HerdFolder, name: &LedgerName, bytes: &[u8]) -> Result<(String, bool), Trouble> {
    put(herd, name, "other", bytes)
}

fn put(herd: &HerdFolder, name: &LedgerName, why: &str, bytes: &[u8]) -> Result<(String, bool), Trouble> {
    let folder = herd.own(&["forks", &name.device])?;
    let file = accepted::aside_name(name, why, bytes);
    let is_new = folder.read(&file)?.as_deref() != Some(bytes);
    if is_new {
        replace::overwrite(&folder, &file, bytes)?;
    }
    Ok((file, is_new))
}

/// Whether a history that is kept apart agrees with a statement.
pub(crate) fn holds(herd: &HerdFolder, name: &LedgerName, said: &StatementLine) -> Result<bool, Trouble> {
    let mut all = texts(herd, name, "other")?;
    all.extend(texts(herd, name, "given-up")?);
    Ok(all.iter().any(|bytes| states::agrees(said, bytes)))
}

/// What a device gave up of its own file: sealed lines that an old editor may still show.
pub(crate) fn given_up(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<Vec<u8>>, Trouble> {
    texts(herd, name, "given-up")
}

fn texts(herd: &HerdFolder, name: &LedgerName, why: &str) -> Result<Vec<Vec<u8>>, Trouble> {
    let Some(folder) = herd.own_if_there(&["forks", &name.device])? else { return Ok(Vec::new()) };
    let lead = format!("{:04}-{why}-", name.year);
    let names = folder.names()?.into_iter().filter(|file| file.starts_with(&lead));
    names.map(|file| Ok(folder.read(&file)?.unwrap_or_default())).collect()
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
    let folder = herd.device_or_make(&name.device)?;
    replace::overwrite(&folder, &format!(".{}.displaced-again", name.file()), &again)
}
