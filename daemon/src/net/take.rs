//! Taking what came: by the same door as gathering, under the herd's lock, with the statement kept beside.

use ledger_format::mark::FullMark;

use super::herds::{Herds, View, held, lock};
use crate::Trouble;
use crate::disk::{HerdFolder, LedgerName, Lock, read};
use crate::exchange::{Judged, Refusal, Said, is_end, is_stated, judge, judge_whole};
use crate::{forks, gather, states};

/// What became of a tail.
#[derive(Debug)]
pub(super) enum Taken {
    /// It is on the disk, or was already.
    Kept {
        /// New bytes.
        bytes: u64,
    },
    /// Another length is held than the one that it goes on from.
    OtherLength,
    /// It does not fit.
    Refused(Refusal),
    /// It is of this machine's own file.
    Own,
    /// No more of this device today.
    Enough,
}

/// What another machine offers: the bytes from there up to the statement's length, thought to go on from a line with
/// this full mark. For a thread that may wait.
pub(super) fn offered(
    herds: &Herds,
    view: &View,
    from: u64,
    thought: Option<FullMark>,
    more: &[u8],
    said: &Said,
) -> Result<Taken, Trouble> {
    let herd = HerdFolder::open(&view.folder)?;
    let held = held(&herd, &said.name)?;
    if held.is_empty() && thought.is_some() {
        // Nothing is here to go on from, nor a key to judge the statement by.
        return Ok(Taken::OtherLength);
    }
    if let Err(refusal) = is_stated(&view.asked(&said.name), &held, more, said) {
        return Ok(Taken::Refused(refusal));
    }
    let have = held.len() as u64;
    if said.length > have && from <= have {
        let (start, rest) = held.split_at(usize::try_from(from).unwrap_or(held.len()));
        let is_thought = match thought {
            Some(mark) => is_end(start, &mark),
            None => from == 0,
        };
        if !is_thought || !more.starts_with(rest) {
            return Ok(Taken::Refused(Refusal::DoesNotGoOn));
        }
    }
    tail(herds, view, from, more, said)
}

/// Takes the bytes that stand from there on up to the statement's length. For a thread that may wait.
pub(super) fn tail(herds: &Herds, view: &View, from: u64, tail: &[u8], said: &Said) -> Result<Taken, Trouble> {
    let (name, now) = (&said.name, (herds.clock)());
    let herd = HerdFolder::open(&view.folder)?;
    let _lock = Lock::take(&herd, now)?;
    let held = held(&herd, name)?;
    if from != held.len() as u64 && said.length > held.len() as u64 {
        return Ok(Taken::OtherLength);
    }
    let more = match judge(&view.asked(name), &held, tail, said) {
        Err(refusal) => {
            if refusal == Refusal::AnotherHistory {
                states::keep_one(&herd, name, said.line())?;
            }
            return Ok(Taken::Refused(refusal));
        }
        Ok(Judged::Nothing) => &[],
        Ok(Judged::Take(more)) if herds.own.as_ref() == Some(&name.device) => {
            // Set back to a backup, or written by two: who watches the herd meets it as another copy of its own.
            forks::keep_other(&herd, name, &[held.as_slice(), more].concat())?;
            states::keep_one(&herd, name, said.line())?;
            return Ok(Taken::Own);
        }
        Ok(Judged::Take(more)) => more,
    };
    let bytes = more.len() as u64;
    if !more.is_empty() {
        let mut quota = lock(&herds.quota);
        if !quota.allows(now.date(), &view.herd, &name.device, bytes) {
            return Ok(Taken::Enough);
        }
        gather::take_over(&herd, name, &[held.as_slice(), more].concat(), &mut Vec::new())?;
        quota.note(&view.herd, &name.device, bytes);
    }
    states::keep_one(&herd, name, said.line())?;
    Ok(Taken::Kept { bytes })
}

/// Judges a whole file whose tail did not go on from what is held. Another history is kept beside.
pub(super) fn whole(herds: &Herds, view: &View, whole: &[u8], said: &Said) -> Result<Taken, Trouble> {
    let herd = HerdFolder::open(&view.folder)?;
    let held = held(&herd, &said.name)?;
    match judge_whole(&view.asked(&said.name), &held, whole, said) {
        Ok(Judged::Take(more)) => tail(herds, view, held.len() as u64, more, said),
        Ok(Judged::Nothing) => Ok(Taken::Kept { bytes: 0 }),
        Err(Refusal::AnotherHistory) => {
            let _lock = Lock::take(&herd, (herds.clock)())?;
            let is_own = herds.own.as_ref() == Some(&said.name.device);
            if !is_own && forks::follow(&herd, &said.name, &held, whole)? {
                states::keep_one(&herd, &said.name, said.line())?;
                return Ok(Taken::Kept { bytes: whole.len() as u64 });
            }
            forks::keep_other(&herd, &said.name, whole)?;
            states::keep_one(&herd, &said.name, said.line())?;
            Ok(Taken::Refused(Refusal::AnotherHistory))
        }
        Err(refusal) => Ok(Taken::Refused(refusal)),
    }
}

/// Whether another history that ends so is kept already.
pub(super) fn has_fork(view: &View, said: &Said) -> Result<bool, Trouble> {
    let herd = HerdFolder::open(&view.folder)?;
    let Some(forks) = herd.own_if_there(&["forks", &said.name.device])? else { return Ok(false) };
    Ok(forks.kind(&fork_name(said))?.is_some())
}

fn fork_name(said: &Said) -> String {
    format!("{:04}-{}.txt", said.name.year, said.mark.mark())
}

/// A protocol, if its bytes are what its name says.
pub(super) fn protocol(herds: &Herds, view: &View, hash: FullMark, bytes: &[u8]) -> Result<bool, Trouble> {
    if FullMark::over(bytes) != hash {
        return Ok(false);
    }
    let herd = HerdFolder::open(&view.folder)?;
    let _lock = Lock::take(&herd, (herds.clock)())?;
    herd.keep_protocol(bytes)?;
    Ok(true)
}

/// Accepted bytes of a file, from one place to another.
pub(super) fn bytes(view: &View, name: &LedgerName, from: u64, to: u64) -> Result<Vec<u8>, Trouble> {
    let herd = HerdFolder::open(&view.folder)?;
    if let Some(folder) = herd.own_if_there(&["accepted", &name.device])?
        && let Some(file) = folder.file(&name.file())?
    {
        return read::range(&file, from, to, &folder.join(&name.file()));
    }
    let bytes = held(&herd, name)?;
    let place = |at: u64| usize::try_from(at).unwrap_or(usize::MAX).min(bytes.len());
    Ok(bytes[place(from)..place(to)].to_vec())
}

/// The text of a protocol.
pub(super) fn protocol_text(view: &View, hash: FullMark) -> Result<Option<Vec<u8>>, Trouble> {
    let protocols = HerdFolder::open(&view.folder)?.protocols()?;
    protocols.map_or(Ok(None), |folder| folder.read(&format!("{hash}.ron")))
}
