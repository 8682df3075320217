//! Gathering: what other copies of the herd hold and this one lacks. All is planned and verified first.

mod find;

pub(crate) use find::not_its_name;

use std::path::PathBuf;

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::mark::{self, Head};

use crate::Trouble;
use crate::audit::first_difference;
use crate::disk::accepted::{self, Accepted};
use crate::disk::replace::{self, Displaced, Stamp};
use crate::disk::{HerdFolder, LedgerName, Lock, before};
use crate::seal::stand::{FileStand, lines};

/// Lines that are taken over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Take {
    /// The ledger.
    pub name: LedgerName,
    /// Where they come from.
    pub from: PathBuf,
    /// Lines held before; 0 if the file is new here.
    pub held: usize,
    /// Lines held afterwards.
    pub lines: usize,
    /// The sealed bytes of the source.
    bytes: Vec<u8>,
}

/// Two histories of one ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fork {
    /// The ledger.
    pub name: LedgerName,
    /// The copy that differs.
    pub other: PathBuf,
    /// The first line that differs.
    pub line: usize,
    /// What stands there here.
    pub ours: String,
    /// What stands there in the copy.
    pub theirs: String,
}

/// What gathering would do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gathering {
    /// Lines to take over.
    pub takes: Vec<Take>,
    /// Protocols to take over.
    pub protocols: Vec<(PathBuf, Vec<u8>)>,
    /// Ledgers with two histories: nothing is taken of these.
    pub forks: Vec<Fork>,
    /// What does not verify: if there is any, nothing at all is taken.
    pub refused: Vec<Trouble>,
    /// A longer copy of one's own ledger: this machine may have been restored from a backup.
    pub doubts: Vec<Trouble>,
    /// Files that bring nothing new.
    pub same: usize,
    /// Files of other herds.
    pub other_herds: usize,
}

/// Looks at the sources and plans; nothing is changed.
pub fn plan(herd: &HerdFolder, sources: &[PathBuf], own_device: Option<&str>) -> Result<Gathering, Trouble> {
    let about = herd.about()?;
    let mut gathering = Gathering::default();
    let found = find::sources(sources, &mut gathering.refused)?;
    for source in found.ledgers {
        match judge(herd, &about.herd, own_device, source, &mut gathering) {
            Ok(()) => {}
            Err(refusal) => gathering.refused.push(refusal),
        }
    }
    longest_only(&mut gathering);
    let held = herd.protocols()?;
    for (path, name, bytes) in found.protocols {
        if mark::FullMark::over(&bytes).to_string() + ".ron" != name {
            gathering.refused.push(find::not_its_name(&path));
        } else if held.as_ref().map(|folder| folder.kind(&name)).transpose()?.flatten().is_none() {
            gathering.protocols.push((path, bytes));
        }
    }
    Ok(gathering)
}

/// Takes over what was planned, if nothing was refused.
pub fn carry_out(herd: &HerdFolder, gathering: &Gathering, now: NaiveDateTime) -> Result<Vec<String>, Trouble> {
    let mut notices = Vec::new();
    if !gathering.refused.is_empty() {
        return Ok(notices);
    }
    let _lock = Lock::take(herd, now)?;
    for (_, bytes) in &gathering.protocols {
        herd.keep_protocol(bytes)?;
    }
    for take in &gathering.takes {
        take_over(herd, take, &mut notices)?;
    }
    Ok(notices)
}

/// One ledger file of a source.
struct Source {
    path: PathBuf,
    /// By its place in a herd folder; for a file on its own, by its head.
    name: Option<LedgerName>,
    bytes: Vec<u8>,
}

fn judge(
    herd: &HerdFolder,
    herd_name: &str,
    own_device: Option<&str>,
    source: Source,
    gathering: &mut Gathering,
) -> Result<(), Trouble> {
    let (head, sealed_at) = find::head(&source)?;
    if head.herd != herd_name {
        gathering.other_herds += 1;
        return Ok(());
    }
    let name = name_of(&source, &head, sealed_at)?;
    let bytes = verified(&source)?;
    let ours = held(herd, &name)?;
    if bytes.starts_with(&ours) && bytes.len() > ours.len() {
        let lines = |bytes: &[u8]| bytes.iter().filter(|b| **b == b'\n').count();
        if own_device == Some(name.device.as_str()) {
            gathering.doubts.push(own_is_longer(herd, &name, &source));
            return Ok(());
        }
        let (held, lines) = (lines(&ours), lines(&bytes));
        gathering.takes.push(Take { name, from: source.path, held, lines, bytes });
    } else if ours.starts_with(&bytes) && own_device != Some(name.device.as_str()) && is_unfinished(herd, &name, &ours)?
    {
        let lines = memchr::memchr_iter(b'\n', &ours).count();
        gathering.takes.push(Take { name, from: source.path, held: lines, lines, bytes: ours });
    } else if ours.starts_with(&bytes) {
        gathering.same += 1;
    } else {
        let (line, ours, theirs) = first_difference(&ours, &bytes);
        gathering.forks.push(Fork { name, other: source.path, line, ours, theirs });
    }
    Ok(())
}

/// What we hold of a ledger: its accepted bytes, else the sealed part of the visible file.
fn held(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<u8>, Trouble> {
    let visible = herd.read(name)?.map(|bytes| keep::plain(&bytes)).unwrap_or_default();
    let accepted = crate::disk::accepted::look(herd, name)?.unwrap_or_default();
    let (check, shadow) = (mark::check(&visible), mark::check(&accepted));
    let mut ours = if accepted.is_empty() { visible.clone() } else { accepted };
    if !ours.is_empty()
        && check.vouched_bytes > shadow.vouched_bytes
        && visible.starts_with(&ours[..shadow.vouched_bytes])
    {
        ours = visible;
    }
    let check = mark::check(&ours);
    match check.first_broken {
        Some(line) if !ours.is_empty() => Err(crate::disk::accepted::broken(herd, name, line)),
        _ => {
            ours.truncate(check.sealed_bytes);
            Ok(ours)
        }
    }
}

/// Whether an interrupted gathering accepted lines that the visible file does not show, or left a text beside it.
fn is_unfinished(herd: &HerdFolder, name: &LedgerName, ours: &[u8]) -> Result<bool, Trouble> {
    let Some(folder) = herd.device(&name.device)? else { return Ok(true) };
    let visible = folder.read(&name.file())?.unwrap_or_default();
    let shown = mark::check(&visible).sealed_bytes;
    let lacks = shown < ours.len() && ours.starts_with(&visible[..shown]);
    Ok(lacks || !replace::strays(&folder, &name.file())?.is_empty())
}

/// The sealed part of a source, if every mark holds.
fn verified(source: &Source) -> Result<Vec<u8>, Trouble> {
    let mut bytes = source.bytes.clone();
    let mut check = mark::check(&bytes);
    if !check.is_unbroken() {
        // Mail programs and editors change line ends; what was sealed may still be there whole.
        bytes = keep::seen_through(&bytes).unwrap_or_else(|| keep::plain(&bytes));
        check = mark::check(&bytes);
    }
    if let Some(line) = check.first_broken {
        return Err(Trouble::new(
            "the marks of this copy do not hold from this line on; nothing was taken",
            "ask for a fresh copy; `footfold check` on it shows the line",
        )
        .at(&source.path)
        .line(line));
    }
    bytes.truncate(check.sealed_bytes);
    Ok(bytes)
}

fn name_of(source: &Source, head: &Head, year: u16) -> Result<LedgerName, Trouble> {
    match &source.name {
        Some(name) if name.device == head.device => Ok(name.clone()),
        Some(name) => Err(Trouble::new(
            format!("the head names the device {}, the folder {}; nothing was taken", head.device, name.device),
            "ask for a fresh copy: folders bear the names of the devices that write in them",
        )
        .at(&source.path)
        .line(1)),
        None => LedgerName::new(head.device, year)
            .ok_or_else(|| Trouble::new("the head names no device", "ask for a fresh copy").at(&source.path).line(1)),
    }
}

fn own_is_longer(herd: &HerdFolder, name: &LedgerName, source: &Source) -> Trouble {
    Trouble::new(
        format!(
            "{} holds more of this device's own ledger than this machine does; nothing was taken of it",
            source.path.display()
        ),
        "this machine may have been restored from a backup: seal nothing more under this name before you know; \
         another device name (`--device NAME`) is always safe",
    )
    .at(herd.path_of(name))
}

/// Of several copies that go on from ours, the longest; one that differs from it is a fork.
fn longest_only(gathering: &mut Gathering) {
    let mut takes = std::mem::take(&mut gathering.takes);
    takes.sort_by(|a, b| a.name.cmp(&b.name).then(b.bytes.len().cmp(&a.bytes.len())));
    let mut longest: Vec<Take> = Vec::new();
    let mut forked: Vec<LedgerName> = Vec::new();
    for take in takes {
        match longest.last().filter(|kept| kept.name == take.name) {
            None => longest.push(take),
            Some(kept) if kept.bytes.starts_with(&take.bytes) => gathering.same += 1,
            Some(kept) => {
                let (line, ours, theirs) = first_difference(&kept.bytes, &take.bytes);
                forked.push(take.name.clone());
                gathering.forks.push(Fork { name: take.name, other: take.from, line, ours, theirs });
            }
        }
    }
    longest.retain(|take| !forked.contains(&take.name));
    gathering.takes = longest;
}

fn take_over(herd: &HerdFolder, take: &Take, notices: &mut Vec<String>) -> Result<(), Trouble> {
    for _ in 0..8 {
        let (accepted, recovered) = Accepted::open(herd, &take.name, None)?;
        notices.extend(recovered.iter().map(|what| format!("{}: {what}", take.name)));
        let mut stand = FileStand::take(herd, accepted, &take.name, &[])?;
        let Some(more) = take.bytes.strip_prefix(stand.accepted.bytes()).map(<[u8]>::to_vec) else {
            return Err(Trouble::new("the ledger changed while it was gathered", "run the command again")
                .at(herd.path_of(&take.name)));
        };
        let text = [take.bytes.as_slice(), &lines(&stand.tail())].concat();
        let file = take.name.file();
        let aside = herd.own(&["aside", &take.name.device])?;
        replace::prepare(&stand.folder, &file, &[&text])?;
        if !more.is_empty()
            && let Err(trouble) = stand.accepted.append(&more)
        {
            let _ = replace::withdraw(&stand.folder, &file);
            return Err(trouble);
        }
        let touched = stand.saved.irregular || stand.saved.guessed || !stand.saved.typed.is_empty();
        let aside_name = |stamp: &Stamp| match &stand.read {
            Some(raw) if touched => accepted::aside_name(&take.name, "save", raw),
            _ => before::name(&take.name, stamp),
        };
        let displaced = replace::put(&stand.folder, &file, stand.read.as_deref(), &aside, aside_name)?;
        stand.strays_aside(&aside)?;
        before::keep_newest(&aside, &take.name)?;
        if displaced != Displaced::Newer {
            return Ok(());
        }
    }
    notices.push(format!("{}: a program keeps saving it; its last saves are taken over next time", take.name));
    Ok(())
}
