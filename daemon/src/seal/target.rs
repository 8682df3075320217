//! Which file new lines go to, and the head of one that begins (`mark.md` §9).

use chrono::{Datelike, NaiveDateTime};
use ledger_format::line::{read_utc, split_seal};
use ledger_format::mark::{self, Follows, Head, Newest, YearFile, year_file};

use super::Desk;
use super::stand::Stand;
use crate::Trouble;

/// Where lines go.
pub(super) struct Target {
    pub(super) year: u16,
    /// The head, if the file begins.
    pub(super) head: Option<String>,
}

pub(super) fn of(desk: &Desk, stand: &Stand) -> Result<Target, Trouble> {
    let begun = stand.files.iter().filter(|file| !file.accepted.bytes().is_empty());
    let newest = begun.max_by_key(|file| file.name.year);
    let facts = newest.map(|file| Newest {
        year: file.name.year,
        last_sealed_year: last_sealed(file.accepted.bytes()).map_or(file.name.year.into(), |at| at.year()),
    });
    match year_file(desk.now.year(), facts, furthest_of_others(desk)?) {
        YearFile::GoOn(year) => Ok(Target { year, head: None }),
        YearFile::Begin(year) => {
            // What is accepted says it, whatever an editor made of the visible head.
            let own = newest.and_then(|file| head_of(file.accepted.bytes()));
            let (herd, zone) = match own {
                Some(head) => (head.herd.to_owned(), head.zone.to_owned()),
                None => desk.herd.about().map(|about| (about.herd, about.zone))?,
            };
            let follows = newest.and_then(|file| {
                let full = mark::check(file.accepted.bytes()).full?;
                Some(Follows { year: file.name.year, mark: full })
            });
            let head = Head { herd: &herd, device: desk.device, key: desk.key, zone: &zone, founder: None, follows };
            Ok(Target { year, head: Some(head.to_string()) })
        }
    }
}

fn head_of(accepted: &[u8]) -> Option<Head<'_>> {
    let (body, _) = split_seal(accepted.split(|b| *b == b'\n').next()?)?;
    Head::read(std::str::from_utf8(body).ok()?).ok()
}

fn furthest_of_others(desk: &Desk) -> Result<Option<u16>, Trouble> {
    let files = desk.herd.ledgers()?.files;
    Ok(files.iter().filter(|name| name.device != desk.device).map(|name| name.year).max())
}

/// When the last of accepted lines was sealed.
pub(crate) fn last_sealed(accepted: &[u8]) -> Option<NaiveDateTime> {
    let last = accepted.strip_suffix(b"\n")?.rsplit(|b| *b == b'\n').next()?;
    let (_, seal) = split_seal(last)?;
    read_utc(seal.get(3..23)?)
}
