//! Gathering: what other copies of the herd hold and this one lacks. All is planned and verified first.

mod find;

pub(crate) use find::not_its_name;

use std::path::PathBuf;

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::line::split_seal;
use ledger_format::mark::{self, Head};

use crate::audit::first_difference;
use crate::disk::accepted::{self, Accepted};
use crate::disk::replace::{self, Displaced, Stamp};
use crate::disk::{HerdFolder, LedgerName, Lock, before};
use crate::exchange::{Relation, relation};
use crate::forks::{self, Met};
use crate::keys::DeviceKey;
use crate::seal::stand::{FileStand, lines};
use crate::seal::target::last_sealed;
use crate::seal::{Desk, Sealed};
use crate::states::{self, Kept};
use crate::{Trouble, doubt};

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
    /// The sealed bytes of the copy.
    bytes: Vec<u8>,
}

/// Another copy of one's own ledger that is not as it stands here, or goes as far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Own {
    /// The ledger.
    pub name: LedgerName,
    /// The copy.
    pub other: PathBuf,
    /// Whether it is as it stands here.
    pub is_same: bool,
    /// Its sealed bytes.
    bytes: Vec<u8>,
}

/// Who writes on this machine.
#[derive(Clone, Copy, Debug)]
pub struct Writes<'a> {
    /// The device.
    pub device: &'a str,
    /// Its key.
    pub key: &'a DeviceKey,
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
    /// Ledgers of other devices that go on in another history than the one here, which they give up.
    pub followed: Vec<(LedgerName, Vec<u8>)>,
    /// What does not verify: if there is any, nothing at all is taken.
    pub refused: Vec<Trouble>,
    /// Copies of one's own ledgers, to be met once the rest is taken.
    pub own: Vec<Own>,
    /// Ledgers of other machines under this one's name.
    pub doubts: Vec<Trouble>,
    /// What devices signed of their files, as it stands in the sources.
    statements: Vec<(LedgerName, Vec<String>)>,
    /// Files that bring nothing new.
    pub same: usize,
    /// Files of other herds.
    pub other_herds: usize,
}

/// Looks at the sources and plans; nothing is changed.
pub fn plan(herd: &HerdFolder, sources: &[PathBuf], writes: Option<Writes>) -> Result<Gathering, Trouble> {
    let about = herd.about()?;
    let mut gathering = Gathering::default();
    let found = find::sources(sources, &mut gathering.refused)?;
    for source in found.ledgers {
        match judge(herd, &about.herd, writes, source, &mut gathering) {
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
        take_over(herd, &take.name, &take.bytes, &mut notices)?;
    }
    for fork in &gathering.forks {
        forks::keep_other(herd, &fork.name, &fork.bytes)?;
    }
    for (name, bytes) in &gathering.followed {
        if forks::follow(herd, name, &held(herd, name)?, bytes)? {
            notices.push(format!("{name}: {} goes on in another history; the one that was here is kept", name.device));
        }
    }
    for (name, lines) in &gathering.statements {
        // What becomes of one's own is told when it is met.
        let is_own = gathering.own.iter().any(|own| own.name == *name);
        if states::keep_new(herd, name, lines)?.contains(&Kept::Another) && !is_own {
            notices.push(format!(
                "{name}: its device signed two histories; both statements are kept, `footfold check` shows them"
            ));
        }
    }
    Ok(notices)
}

/// Meets the copies of one's own ledgers. What became of each is told in this order.
pub fn meet_own(desk: &Desk, gathering: &Gathering) -> Result<Vec<(LedgerName, Met, Sealed)>, Trouble> {
    if !gathering.refused.is_empty() {
        return Ok(Vec::new());
    }
    let each = gathering.own.iter();
    let meet =
        |own: &Own| forks::meet(desk, &own.name, &own.bytes).map(|(met, sealed)| (own.name.clone(), met, sealed));
    each.map(meet).collect()
}

/// One ledger file of a source.
struct Source {
    path: PathBuf,
    /// By its place in a herd folder; for a file on its own, by its head.
    name: Option<LedgerName>,
    bytes: Vec<u8>,
    /// The lines of the statements beside it.
    statements: Vec<String>,
}

fn judge(
    herd: &HerdFolder,
    herd_name: &str,
    writes: Option<Writes>,
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
    if !source.statements.is_empty() {
        gathering.statements.push((name.clone(), source.statements.clone()));
    }
    let ours = held(herd, &name)?;
    let relation = relation(&ours, &bytes);
    let is_own = writes.is_some_and(|own| own.device == name.device && forks::is_by(own.key, &name, &bytes));
    if is_own && (ours.is_empty() || same_head(&ours, &bytes)) && (relation != Relation::Older || ours == bytes) {
        let is_same = ours == bytes;
        gathering.same += usize::from(is_same);
        gathering.own.push(Own { name, other: source.path, is_same, bytes });
    } else if relation == Relation::GoesOn {
        let lines = |bytes: &[u8]| memchr::memchr_iter(b'\n', bytes).count();
        let (held, lines) = (lines(&ours), lines(&bytes));
        gathering.takes.push(Take { name, from: source.path, held, lines, bytes });
    } else if relation == Relation::Older && !is_own && is_unfinished(herd, &name, &ours)? {
        let lines = memchr::memchr_iter(b'\n', &ours).count();
        gathering.takes.push(Take { name, from: source.path, held: lines, lines, bytes: ours });
    } else if relation == Relation::Older {
        gathering.same += 1;
    } else if forks::is_given_up_in(&bytes, &name, &ours) {
        gathering.followed.push((name, bytes));
    } else if !same_head(&ours, &bytes) {
        gathering.doubts.push(two_of_a_name(herd, &name, &source, [&ours, &bytes]));
    } else {
        let (line, ours, theirs) = first_difference(&ours, &bytes);
        gathering.forks.push(Fork { name, other: source.path, line, ours, theirs, bytes });
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

fn same_head(ours: &[u8], theirs: &[u8]) -> bool {
    let key = |bytes: &[u8]| of_head(bytes, |head| head.key.to_owned());
    key(ours) == key(theirs)
}

fn of_head<T>(bytes: &[u8], what: impl FnOnce(&Head) -> T) -> Option<T> {
    let (body, _) = split_seal(bytes.split(|b| *b == b'\n').next()?)?;
    Head::read(std::str::from_utf8(body).ok()?).ok().map(|head| what(&head))
}

/// Two devices that began under one name: the later one takes another (`forks.md` §9).
fn two_of_a_name(herd: &HerdFolder, name: &LedgerName, source: &Source, [ours, theirs]: [&[u8]; 2]) -> Trouble {
    let began = |bytes: &[u8]| last_sealed(&bytes[..bytes.iter().position(|b| *b == b'\n').map_or(0, |at| at + 1)]);
    let later =
        if began(ours) <= began(theirs) { "the one that wrote the copy" } else { "the one whose ledger is here" };
    Trouble::new(
        format!(
            "{} was begun with another key than {name} here: two machines bear the name {}; nothing was taken of it",
            source.path.display(),
            name.device
        ),
        format!(
            "the one that began later, {later}, takes a name of its own: set `device` in its footfold.ron to {}, and \
             type there anew what it wrote",
            doubt::next_name(herd, &name.device)
        ),
    )
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
                let Take { name, from: other, bytes, .. } = take;
                gathering.forks.push(Fork { name, other, line, ours, theirs, bytes });
            }
        }
    }
    longest.retain(|take| !forked.contains(&take.name));
    gathering.takes = longest;
}

/// Puts the verified bytes of a file, which go on from what is accepted, in its place: first the accepted copy, then
/// the visible file. The caller holds the lock.
pub(crate) fn take_over(
    herd: &HerdFolder,
    name: &LedgerName,
    bytes: &[u8],
    notices: &mut Vec<String>,
) -> Result<(), Trouble> {
    for _ in 0..8 {
        let (accepted, recovered) = Accepted::open(herd, name, None)?;
        notices.extend(recovered.iter().map(|what| format!("{name}: {what}")));
        let mut stand = FileStand::take(herd, accepted, name, &[])?;
        let Some(more) = bytes.strip_prefix(stand.accepted.bytes()).map(<[u8]>::to_vec) else {
            return Err(Trouble::new("the ledger changed while it was gathered", "run the command again")
                .at(herd.path_of(name)));
        };
        let text = [bytes, &lines(&stand.tail())].concat();
        let file = name.file();
        let aside = herd.own(&["aside", &name.device])?;
        replace::prepare(&stand.folder, &file, &[&text])?;
        if !more.is_empty()
            && let Err(trouble) = stand.accepted.append(&more)
        {
            let _ = replace::withdraw(&stand.folder, &file);
            return Err(trouble);
        }
        let touched = stand.saved.irregular || stand.saved.guessed || !stand.saved.typed.is_empty();
        let aside_name = |stamp: &Stamp| match &stand.read {
            Some(raw) if touched => accepted::aside_name(name, "save", raw),
            _ => before::name(name, stamp),
        };
        let displaced = replace::put(&stand.folder, &file, stand.read.as_deref(), &aside, aside_name)?;
        stand.strays_aside(&aside)?;
        before::keep_newest(&aside, name)?;
        if displaced != Displaced::Newer {
            return Ok(());
        }
    }
    notices.push(format!("{name}: a program keeps saving it; its last saves are taken over next time"));
    Ok(())
}
