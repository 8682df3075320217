//! Judging a tail (`sync.md` §5) and telling another history from damage (§7).

use ledger_format::line::split_seal;
use ledger_format::mark::{self, FullMark, Head};
use memchr::{memchr, memchr_iter};
use thiserror::Error;

use super::Said;
use crate::disk::LedgerName;

/// A mark and the line feed behind it.
const MARK_AND_END: usize = 17;

/// The file that was asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The herd's name.
    pub herd: &'a str,
    /// Its founder's key; none in an open herd.
    pub founder: Option<FullMark>,
    /// The file.
    pub name: &'a LedgerName,
}

/// What is to be done with a tail that is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged<'t> {
    /// These bytes are put behind what is held.
    Take(&'t [u8]),
    /// It says nothing new.
    Nothing,
}

/// Why nothing is taken.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Refusal {
    /// The statement is of another file.
    #[error("the statement is of {0}, which was not asked for")]
    OtherFile(LedgerName),
    /// The statement is of another herd.
    #[error("the statement is of another herd, {0}")]
    OtherHerd(String),
    /// No head, or one of another format.
    #[error("the file has no head that can be read")]
    NoHead,
    /// The head names another herd, founder or device.
    #[error("the head is of another herd or device")]
    OtherHead,
    /// Nobody who holds the key in the head signed the statement.
    #[error("the statement is not signed by the key in the file's head")]
    Signature,
    /// Too few or too many bytes.
    #[error("{found} bytes came; expected {expected}")]
    Length {
        /// Bytes that would lead to the statement's length.
        expected: u64,
        /// Bytes that came.
        found: u64,
    },
    /// The statement's length is not the end of a sealed line.
    #[error("it does not end with a sealed line")]
    NoLine,
    /// The marks hold up to a line of the tail, and not from there on.
    #[error("the marks do not hold from line {0} on")]
    Marks(usize),
    /// The first mark does not go on from what is held: damage, or another history.
    #[error("its first line does not go on from what is held here")]
    DoesNotGoOn,
    /// The statement and what is held exclude each other.
    #[error("another history: the statement disagrees with what is held here")]
    AnotherHistory,
}

/// Judges the bytes that came behind those that are held. They are taken whole or not at all.
pub fn judge<'t>(asked: &Asked, held: &[u8], tail: &'t [u8], said: &Said) -> Result<Judged<'t>, Refusal> {
    is_stated(asked, held, tail, said)?;
    let have = held.len() as u64;
    if said.length <= have {
        let up_to = usize::try_from(said.length).unwrap_or(held.len());
        let agrees = ends_with(&held[..up_to], &[], &said.mark);
        return if agrees { Ok(Judged::Nothing) } else { Err(Refusal::AnotherHistory) };
    }
    let (expected, found) = (said.length - have, tail.len() as u64);
    if expected != found {
        return Err(Refusal::Length { expected, found });
    }
    if last_line(tail).and_then(split_seal).is_none() {
        return Err(Refusal::NoLine);
    }
    if ends_with(held, tail, &said.mark) { Ok(Judged::Take(tail)) } else { Err(why(held, tail)) }
}

/// Whether the statement is of this file and signed by the key in its head, which stands in the tail if nothing is
/// held.
pub fn is_stated(asked: &Asked, held: &[u8], tail: &[u8], said: &Said) -> Result<(), Refusal> {
    of_this_file(asked, said)?;
    let key = key_in(asked, if held.is_empty() { tail } else { held })?;
    if said.is_signed_by(&key) { Ok(()) } else { Err(Refusal::Signature) }
}

/// Judges a whole file that came because its tail did not go on from what is held: another history, if it is right
/// by itself.
pub fn judge_whole<'t>(asked: &Asked, held: &[u8], whole: &'t [u8], said: &Said) -> Result<Judged<'t>, Refusal> {
    match judge(asked, &[], whole, said)? {
        Judged::Nothing => Ok(Judged::Nothing),
        Judged::Take(_) => match relation(held, whole) {
            Relation::GoesOn => Ok(Judged::Take(&whole[held.len()..])),
            Relation::Older => Ok(Judged::Nothing),
            Relation::Another => Err(Refusal::AnotherHistory),
        },
    }
}

/// How another copy of a file stands to what is held; the marks of both hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// It goes on from what is held.
    GoesOn,
    /// It is a beginning of it, or the same.
    Older,
    /// It differs in a line that both have.
    Another,
}

/// Compares two copies of a file.
pub fn relation(held: &[u8], other: &[u8]) -> Relation {
    if held.starts_with(other) {
        Relation::Older
    } else if other.starts_with(held) {
        Relation::GoesOn
    } else {
        Relation::Another
    }
}

fn of_this_file(asked: &Asked, said: &Said) -> Result<(), Refusal> {
    if said.herd != asked.herd {
        return Err(Refusal::OtherHerd(said.herd.clone()));
    }
    if said.name != *asked.name {
        return Err(Refusal::OtherFile(said.name.clone()));
    }
    Ok(())
}

/// The key in the head of a file, if the head is of the herd, founder and device asked for.
fn key_in(asked: &Asked, file: &[u8]) -> Result<FullMark, Refusal> {
    let first = memchr(b'\n', file).map(|end| &file[..end]).and_then(split_seal);
    let body = first.and_then(|(body, _)| std::str::from_utf8(body).ok()).ok_or(Refusal::NoHead)?;
    let head = Head::read(body).map_err(|_| Refusal::NoHead)?;
    let founder = FullMark::read(head.founder.unwrap_or(head.key));
    let is_founded = asked.founder.is_none() || founder == asked.founder;
    if head.herd != asked.herd || head.device != asked.name.device || !is_founded {
        return Err(Refusal::OtherHead);
    }
    FullMark::read(head.key).ok_or(Refusal::NoHead)
}

/// Whether these bytes end with a sealed line that has this full mark.
pub fn is_end(bytes: &[u8], mark: &FullMark) -> bool {
    ends_with(bytes, &[], mark)
}

/// The last line without its line feed, if the bytes end with one.
fn last_line(bytes: &[u8]) -> Option<&[u8]> {
    let line = bytes.strip_suffix(b"\n")?;
    Some(&line[memchr::memrchr(b'\n', line).map_or(0, |lf| lf + 1)..])
}

/// Whether the line that ends these bytes is sealed and has this full mark.
fn ends_with(held: &[u8], tail: &[u8], mark: &FullMark) -> bool {
    let last = if tail.is_empty() { held } else { tail };
    let Some((_, seal)) = last_line(last).and_then(split_seal) else { return false };
    let mut hasher = blake3::Hasher::new();
    if tail.is_empty() {
        hasher.update(&held[..held.len() - MARK_AND_END]);
    } else {
        hasher.update(held).update(&tail[..tail.len() - MARK_AND_END]);
    }
    let full = FullMark(*hasher.finalize().as_bytes());
    full == *mark && seal.ends_with(full.mark().to_string().as_bytes())
}

/// Where the marks stop to hold. The first line of the tail may be damaged, or go on from something else.
fn why(held: &[u8], tail: &[u8]) -> Refusal {
    let whole = [held, tail].concat();
    let check = mark::check(&whole);
    match check.first_broken {
        Some(_) if check.vouched_bytes <= held.len() => Refusal::DoesNotGoOn,
        Some(line) => Refusal::Marks(line),
        // All marks hold, and the statement says another: 64 digits tell what 16 do not.
        None => Refusal::Marks(memchr_iter(b'\n', &whole).count()),
    }
}
