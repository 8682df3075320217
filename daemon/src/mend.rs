//! Mending: a damaged ledger put right from the shadow or from other copies, with what stood there kept aside.

use std::path::Path;

use chrono::NaiveDateTime;
use ledger_format::mark::{self, Check, Stretch};

use crate::Trouble;
use crate::disk::accepted::{self, Accepted, aside_name};
use crate::disk::replace::{self, Displaced};
use crate::disk::{HerdFolder, LedgerName, Lock};
use crate::saved;

/// A copy of a ledger, and where it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// What to call it.
    pub from: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What mending would do, or did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mending {
    /// The file.
    pub name: LedgerName,
    /// The mended file, typed tail included.
    pub bytes: Vec<u8>,
    /// The places put back.
    pub stretches: Vec<Stretch>,
    /// Sealed lines at the end that were missing and come back.
    pub put_back: usize,
    /// The check of the result.
    pub check: Check,
    /// Where what stood there is kept, once done.
    pub aside: Option<String>,
}

impl Mending {
    /// Whether it changes anything.
    pub fn helps(&self) -> bool {
        !self.stretches.is_empty() || self.put_back > 0
    }
}

/// Copies of a ledger: the shadow, and those in other herd folders.
pub fn copies(herd: &HerdFolder, name: &LedgerName, others: &[HerdFolder]) -> Result<Vec<Copy>, Trouble> {
    let mut copies = Vec::new();
    if let Some(bytes) = accepted::look(herd, name)? {
        copies.push(Copy { from: "the accepted copy".to_owned(), bytes });
    }
    for other in others {
        if let Some(bytes) = other.read(name)? {
            copies.push(Copy { from: other.path().display().to_string(), bytes: saved::plain(&bytes) });
        }
    }
    Ok(copies)
}

/// What the copies can mend of a file.
pub fn plan(name: &LedgerName, visible: &[u8], copies: &[Copy]) -> Mending {
    let plain = saved::plain(visible);
    let bytes: Vec<&[u8]> = copies.iter().map(|copy| copy.bytes.as_slice()).collect();
    let mended = mark::mend(&plain, &bytes);
    let mut mending = Mending {
        name: name.clone(),
        bytes: mended.bytes,
        stretches: mended.stretches,
        put_back: 0,
        check: mended.check,
        aside: None,
    };
    put_missing_back(&mut mending, &bytes);
    mending
}

/// A file cut at a line end has right marks: a longer copy that goes on from it brings the rest back.
fn put_missing_back(mending: &mut Mending, copies: &[&[u8]]) {
    let sealed = mending.check.sealed_bytes;
    if !mending.check.is_unbroken() {
        return;
    }
    let vouched = copies.iter().map(|copy| &copy[..mark::check(copy).vouched_bytes]);
    let longer = vouched.filter(|copy| copy.len() > sealed && copy.starts_with(&mending.bytes[..sealed]));
    let Some(copy) = longer.max_by_key(|copy| copy.len()) else { return };
    // The torn end of a line that comes back whole is no typed text.
    let tail = &mending.bytes[sealed..];
    let tail = if copy[sealed..].starts_with(tail) { &[] } else { tail };
    let bytes = [copy, tail].concat();
    let check = mark::check(&bytes);
    mending.put_back = check.lines - mending.check.lines;
    (mending.bytes, mending.check) = (bytes, check);
}

/// Mends a file of the herd. What stood there is kept aside before anything is changed.
pub fn carry_out(herd: &HerdFolder, mending: &mut Mending, now: NaiveDateTime) -> Result<(), Trouble> {
    let _lock = Lock::take(herd, now)?;
    let name = &mending.name;
    let folder = herd.device_or_make(&name.device)?;
    let aside = herd.own(&["aside", &name.device])?;
    let read = folder.read(&name.file())?;
    let kept_as = aside_name(name, "mended", read.as_deref().unwrap_or_default());
    mend_shadow(herd, mending)?;
    replace::prepare(&folder, &name.file(), &mending.bytes)?;
    let displaced = replace::put(&folder, &name.file(), read.as_deref(), &aside, &kept_as)?;
    mending.aside = Some(aside.join(&kept_as).display().to_string());
    if displaced == Displaced::Newer {
        return Err(Trouble::new(
            "the file was saved by somebody while it was mended",
            "run the command again; that save is kept beside the file",
        )
        .at(herd.path_of(name)));
    }
    Ok(())
}

/// The shadow takes over what is mended, if it was damaged or shorter.
fn mend_shadow(herd: &HerdFolder, mending: &Mending) -> Result<(), Trouble> {
    let mut shadow = Accepted::as_is(herd, &mending.name)?;
    let sealed = &mending.bytes[..mending.check.vouched_bytes];
    if shadow.bytes().is_empty() && mending.check.is_unbroken() {
        return shadow.append(sealed);
    }
    let sound = mark::check(shadow.bytes()).is_unbroken();
    if sealed.len() > shadow.bytes().len() && sealed.starts_with(shadow.bytes()) {
        let more = sealed[shadow.bytes().len()..].to_vec();
        return shadow.append(&more);
    }
    if !sound && mending.check.is_unbroken() { shadow.replace(herd, sealed) } else { Ok(()) }
}

/// Opens the herd folders that copies are taken from.
pub fn open_copies(folders: &[impl AsRef<Path>]) -> Result<Vec<HerdFolder>, Trouble> {
    folders.iter().map(|folder| HerdFolder::open(folder.as_ref())).collect()
}
