//! Finding ledgers and protocols in what a person named: a herd's folder, a folder of such, or single files.

use std::path::{Path, PathBuf};

use chrono::Datelike;
use ledger_format::line::{read_utc, split_seal};
use ledger_format::mark::Head;

use super::Source;
use crate::disk::paths::year_of;
use crate::disk::{Folder, HerdFolder};
use crate::{Trouble, states};

/// What was found.
#[derive(Default)]
pub(super) struct Found {
    pub(super) ledgers: Vec<Source>,
    pub(super) protocols: Vec<(PathBuf, String, Vec<u8>)>,
}

/// Looks through the sources; links and the like are refused.
pub(super) fn sources(paths: &[PathBuf], refused: &mut Vec<Trouble>) -> Result<Found, Trouble> {
    let mut found = Found::default();
    for path in paths {
        let before = found.ledgers.len() + found.protocols.len() + refused.len();
        if path.is_dir() {
            in_folder(path, &mut found, refused)?;
        } else {
            single(path, &mut found)?;
        }
        if found.ledgers.len() + found.protocols.len() + refused.len() == before {
            let remedy = "name a herd's folder, a folder that holds such, or a ledger file";
            return Err(Trouble::new("no ledger found in it", remedy).at(path));
        }
    }
    Ok(found)
}

fn in_folder(path: &Path, found: &mut Found, refused: &mut Vec<Trouble>) -> Result<(), Trouble> {
    let folder = Folder::open(path)?;
    if folder.kind("ledgers")?.is_some() {
        return herd_folder(&HerdFolder::open(path)?, found, refused);
    }
    for name in folder.names()? {
        match folder.sub(&name) {
            Ok(Some(inner)) if inner.kind("ledgers")?.is_some() => {
                herd_folder(&HerdFolder::open(inner.path())?, found, refused)?;
            }
            // A single ledger file lying in the folder; anything else is none of ours.
            Err(_) if year_of(&name).is_some() => single(&folder.join(&name), found)?,
            Ok(_) | Err(_) => {}
        }
    }
    Ok(())
}

fn herd_folder(herd: &HerdFolder, found: &mut Found, refused: &mut Vec<Trouble>) -> Result<(), Trouble> {
    let listing = herd.ledgers()?;
    refused.extend(listing.findings);
    for name in listing.files {
        if let Some(bytes) = herd.read(&name)? {
            let statements = states::lines(herd, &name).unwrap_or_default();
            found.ledgers.push(Source { path: herd.path_of(&name), name: Some(name), bytes, statements });
        }
    }
    let Some(protocols) = herd.protocols()? else { return Ok(()) };
    for name in protocols.names()?.into_iter().filter(|name| is_protocol(name)) {
        if let Some(bytes) = protocols.read(&name)? {
            found.protocols.push((protocols.join(&name), name, bytes));
        }
    }
    Ok(())
}

fn single(path: &Path, found: &mut Found) -> Result<(), Trouble> {
    let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
    let missing = || Trouble::new("it is not there", "look at the path").at(path);
    let folder = Folder::open(parent)?;
    let bytes = folder.read(name)?.ok_or_else(missing)?;
    let statements = year_of(name).and_then(|_| states::lines_in(&folder, &name.replace(".txt", ".sig")).ok());
    let statements = statements.unwrap_or_default();
    found.ledgers.push(Source { path: path.to_owned(), name: None, bytes, statements });
    Ok(())
}

fn is_protocol(name: &str) -> bool {
    name.strip_suffix(".ron").is_some_and(|hash| ledger_format::mark::FullMark::read(hash).is_some())
}

/// A protocol whose name is not its content's hash.
pub(crate) fn not_its_name(path: &Path) -> Trouble {
    Trouble::new("the content of this protocol is not what its name says", "ask for a fresh copy").at(path)
}

/// The head of a source, and the year it was sealed in: a first file is named for that year.
pub(super) fn head(source: &Source) -> Result<(Head<'_>, u16), Trouble> {
    let refuse = |what: String, remedy: &str| Err(Trouble::new(what, remedy).at(&source.path).line(1));
    let bytes = source.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&source.bytes);
    let first = bytes.split(|b| *b == b'\n' || *b == b'\r').next().unwrap_or_default();
    let parts = split_seal(first).and_then(|(body, seal)| Some((std::str::from_utf8(body).ok()?, seal.get(3..23)?)));
    let Some((body, sealed)) = parts else {
        return refuse("expected a ledger: its first line is a sealed head".to_owned(), "name a ledger file");
    };
    match (Head::read(body), read_utc(sealed).and_then(|time| u16::try_from(time.year()).ok())) {
        (Ok(head), Some(year)) => Ok((head, year)),
        (Ok(_), None) => refuse("the head was sealed at no real time".to_owned(), "ask for a fresh copy"),
        (Err(problem), _) => refuse(
            problem.to_string(),
            problem.help.as_deref().unwrap_or("name a ledger file, or ask for a fresh copy"),
        ),
    }
}
