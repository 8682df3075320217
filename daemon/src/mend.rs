//! Mending: a damaged ledger put right from the shadow or from other copies, with what stood there kept aside.

use std::path::Path;

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::mark::{self, Check, Mended, Stretch};

use crate::Trouble;
use crate::audit::first_difference;
use crate::disk::accepted::{self, Accepted, aside_name};
use crate::disk::replace::{self, Displaced};
use crate::disk::{HerdFolder, LedgerName, Lock};

/// A copy of a ledger, and where it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// What to call it.
    pub from: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Whether it is this machine's accepted copy.
    pub accepted: bool,
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
    /// Whether the file is other than it was.
    pub changed: bool,
    /// The check of the result.
    pub check: Check,
    /// Where what stood there is kept, once done.
    pub aside: Option<String>,
}

impl Mending {
    /// Whether it puts anything right.
    pub fn helps(&self) -> bool {
        !self.stretches.is_empty() || (self.changed && self.check.is_unbroken())
    }
}

/// Copies of a ledger: the shadow, and those in other herd folders.
pub fn copies(herd: &HerdFolder, name: &LedgerName, others: &[HerdFolder]) -> Result<Vec<Copy>, Trouble> {
    let mut copies = Vec::new();
    if let Some(bytes) = accepted::look(herd, name)? {
        copies.push(Copy { from: "the accepted copy".to_owned(), bytes, accepted: true });
    }
    for other in others {
        if let Some(bytes) = other.read(name)? {
            copies.push(Copy { from: other.path().display().to_string(), bytes: keep::plain(&bytes), accepted: false });
        }
    }
    Ok(copies)
}

/// What the copies can mend of a file. Where its history is another one than was accepted here, the accepted one
/// comes back; what was accepted comes first among the copies.
pub fn plan(name: &LedgerName, visible: &[u8], copies: &[Copy]) -> Mending {
    let plain = keep::seen_through(visible).unwrap_or_else(|| keep::plain(visible));
    let bytes: Vec<&[u8]> = copies.iter().map(|copy| copy.bytes.as_slice()).collect();
    let mut mended = mark::mend(&plain, &bytes);
    if mended.check.is_unbroken() && mended.stretches.is_empty() {
        mended = rewritten(mended, copies);
    }
    let changed = mended.bytes != visible;
    Mending {
        name: name.clone(),
        changed,
        bytes: mended.bytes,
        stretches: mended.stretches,
        check: mended.check,
        aside: None,
    }
}

/// A file with right marks and another history than the accepted copy was rewritten as a whole.
fn rewritten(mended: Mended, copies: &[Copy]) -> Mended {
    let sealed = &mended.bytes[..mended.check.sealed_bytes];
    let Some(shadow) = copies.first().filter(|copy| copy.accepted) else { return mended };
    let shadow = &shadow.bytes[..mark::check(&shadow.bytes).vouched_bytes];
    if shadow.is_empty() || sealed.starts_with(shadow) {
        return mended;
    }
    let (first_line, ..) = first_difference(sealed, shadow);
    let last_line = memchr::memchr_iter(b'\n', shadow).count();
    let bytes = [shadow, &mended.bytes[sealed.len()..]].concat();
    let stretches = vec![Stretch { first_line, last_line, was: sealed.to_vec() }];
    Mended { check: mark::check(&bytes), bytes, stretches }
}

/// Mends a file of the herd. What stood there is kept aside before anything is changed.
pub fn carry_out(herd: &HerdFolder, mending: &mut Mending, now: NaiveDateTime) -> Result<(), Trouble> {
    let _lock = Lock::take(herd, now)?;
    let name = &mending.name;
    let folder = herd.device_or_make(&name.device)?;
    let aside = herd.own(&["aside", &name.device])?;
    let read = folder.read(&name.file())?;
    let kept_as = aside_name(name, "mended", read.as_deref().unwrap_or_default());
    if let Some(damaged) = &read {
        // Whatever fails from here on, the next sealing knows it for damage, and not for what somebody typed.
        replace::overwrite(&aside, &kept_as, damaged)?;
    }
    mend_shadow(herd, mending)?;
    replace::prepare(&folder, &name.file(), &[&mending.bytes])?;
    let displaced = replace::put(&folder, &name.file(), read.as_deref(), &aside, |_| kept_as.clone())?;
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
