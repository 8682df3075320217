//! The herds that this machine tells of, as they stand on its disk. A view is made anew once anything changed.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::mark::{self, FullMark};
use ledger_format::members::Members;
use ledger_format::merge::{Ledger, Log};
use tokio::sync::{Semaphore, watch};
use tracing::warn;

use super::limits::BODIES;
use super::metrics::Counts;
use crate::Trouble;
use crate::disk::{HerdFolder, LedgerName, Lock, accepted};
use crate::exchange::{Asked, Held, Holding, Quota, Said, tag};
use crate::keys::DeviceKey;
use crate::states;
use crate::watch::settle::Facts;

/// A herd as it stands.
pub(super) struct View {
    pub(super) folder: PathBuf,
    pub(super) herd: String,
    pub(super) founder: FullMark,
    pub(super) holding: Holding,
    /// What others are told, and its `ETag`.
    pub(super) body: String,
    pub(super) tag: String,
    members: Members,
    facts: BTreeMap<String, Facts>,
}

impl View {
    /// Whether who holds this key may read the herd now.
    pub(super) fn may_read(&self, key: FullMark) -> bool {
        self.members.may_read(key)
    }

    pub(super) fn asked<'a>(&'a self, name: &'a LedgerName) -> Asked<'a> {
        Asked { herd: &self.herd, founder: Some(self.founder), name }
    }

    /// What is held of a file and told.
    pub(super) fn told(&self, name: &LedgerName) -> Option<&Said> {
        self.holding.files.get(name)?.told.as_ref()
    }
}

pub(super) type Seen = Option<Arc<View>>;

/// One folder.
struct Slot {
    path: PathBuf,
    view: watch::Sender<Seen>,
    /// One at a time looks at the folder, or writes in it, for the net.
    turn: Arc<Mutex<Option<Trouble>>>,
}

/// All folders, and who writes in them.
pub(super) struct Herds {
    slots: Vec<Slot>,
    pub(super) own: Option<String>,
    pub(super) key: DeviceKey,
    pub(super) clock: fn() -> NaiveDateTime,
    pub(super) quota: Mutex<Quota>,
    pub(super) counts: Counts,
    /// Room for bodies that come in.
    pub(super) bodies: Semaphore,
}

impl Herds {
    pub(super) fn new(folders: &[PathBuf], own: Option<String>, key: DeviceKey, clock: fn() -> NaiveDateTime) -> Self {
        let slot = |path: &PathBuf| Slot { path: path.clone(), view: watch::Sender::new(None), turn: Arc::default() };
        Self {
            slots: folders.iter().map(slot).collect(),
            own,
            key,
            clock,
            quota: Mutex::default(),
            counts: Counts::default(),
            bodies: Semaphore::new(BODIES),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.slots.len()
    }

    /// How many herds others may ask for, the files in them, and their bytes.
    pub(super) fn held(&self) -> (u64, u64, u64) {
        let views = self.slots.iter().filter_map(|slot| slot.view.borrow().clone());
        views.fold((0, 0, 0), |(herds, files, bytes), view| {
            let held = &view.holding.files;
            (herds + 1, files + held.len() as u64, bytes + held.values().map(|file| file.length).sum::<u64>())
        })
    }

    /// The herd with this founder, as it was seen last; no disk is asked, so that it takes as long for a herd that
    /// is not here.
    pub(super) fn seen(&self, founder: FullMark) -> Option<(usize, Arc<View>)> {
        let views = self.slots.iter().enumerate().map(|(at, slot)| (at, slot.view.borrow().clone()));
        let found = views.filter_map(|(at, view)| Some((at, view?))).filter(|(_, view)| view.founder == founder);
        found.fold(None, |first, next| first.or(Some(next)))
    }

    /// How it changes.
    pub(super) fn watch(&self, at: usize) -> watch::Receiver<Seen> {
        self.slots[at].view.subscribe()
    }

    /// Looks whether a folder changed; tells those who wait for news. For a thread that may wait.
    pub(super) fn refresh(&self, at: usize) -> Seen {
        let slot = &self.slots[at];
        let mut told = lock(&slot.turn);
        let known = slot.view.borrow().clone();
        let fresh = match self.look(&slot.path, known.as_ref()) {
            Ok(fresh) => {
                *told = None;
                fresh
            }
            Err(trouble) => {
                if told.as_ref() != Some(&trouble) {
                    warn!(folder = %slot.path.display(), "not exchanged: {trouble}; to do: {}", trouble.remedy);
                    *told = Some(trouble);
                }
                None
            }
        };
        let is_same = |old: &Seen| match (old, &fresh) {
            (Some(old), Some(new)) => Arc::ptr_eq(old, new),
            (None, None) => true,
            _ => false,
        };
        slot.view.send_if_modified(|old| {
            let changes = !is_same(old);
            old.clone_from(&fresh);
            changes
        });
        fresh
    }

    fn look(&self, path: &Path, known: Option<&Arc<View>>) -> Result<Seen, Trouble> {
        let herd = HerdFolder::open(path)?;
        // Before the bytes: what changes in between is then found to be newer.
        let facts = facts_of(&herd)?;
        if let Some(known) = known.filter(|known| known.facts == facts) {
            return Ok(Some(Arc::clone(known)));
        }
        let about = herd.about()?;
        let mut ledgers = Vec::new();
        let mut holding = Holding { own: self.own.clone(), ..Holding::default() };
        for name in names(&herd)? {
            let bytes = held(&herd, &name)?;
            let told = self.told(&herd, &name, &bytes)?;
            holding.files.insert(name.clone(), Held { length: bytes.len() as u64, told });
            ledgers.extend(Ledger::read(&name.device, name.year, bytes));
        }
        let members = Members::of(&Log::union(ledgers));
        // In an open herd nobody was let in by anybody: there is nobody to tell.
        let Some(founder) = members.founder() else { return Ok(None) };
        if let Some(protocols) = herd.protocols()? {
            let names = protocols.names()?;
            holding.protocols = names.iter().filter_map(|name| FullMark::read(name.strip_suffix(".ron")?)).collect();
        }
        let body = holding.list().text();
        let tag = tag(body.as_bytes());
        let (folder, herd) = (path.to_owned(), about.herd);
        Ok(Some(Arc::new(View { folder, herd, founder, holding, body, tag, members, facts })))
    }

    /// The newest statement; one's own file is stated to its end before anybody is told of it.
    fn told(&self, herd: &HerdFolder, name: &LedgerName, held: &[u8]) -> Result<Option<Said>, Trouble> {
        let newest = states::newest(herd, name)?;
        let is_short = newest.as_ref().is_none_or(|said| said.length < held.len() as u64);
        if is_short && self.own.as_ref() == Some(&name.device) && !held.is_empty() {
            let now = (self.clock)();
            // While somebody else writes, or with another key than this machine's, nobody here can state it.
            let stated = Lock::take(herd, now).and_then(|_lock| states::state(herd, name, &self.key, now));
            return Ok(stated.ok().or(newest).and_then(|said| Said::read(&said.text)));
        }
        Ok(newest.and_then(|said| Said::read(&said.text)))
    }
}

/// What is held of a file: its accepted bytes, else the sealed part of the visible file if it is whole.
pub(super) fn held(herd: &HerdFolder, name: &LedgerName) -> Result<Vec<u8>, Trouble> {
    if let Some(mut bytes) = accepted::look(herd, name)?.filter(|bytes| !bytes.is_empty()) {
        bytes.truncate(mark::sealed_end(&bytes));
        return Ok(bytes);
    }
    let mut bytes = herd.read(name)?.map(|bytes| keep::plain(&bytes)).unwrap_or_default();
    let check = mark::check(&bytes);
    bytes.truncate(if check.is_unbroken() { check.sealed_bytes } else { 0 });
    Ok(bytes)
}

fn names(herd: &HerdFolder) -> Result<Vec<LedgerName>, Trouble> {
    let mut names = [herd.ledgers()?.files, accepted::names(herd)?].concat();
    names.sort();
    names.dedup();
    Ok(names)
}

/// How all stands that a view is made of, without reading it.
fn facts_of(herd: &HerdFolder) -> Result<BTreeMap<String, Facts>, Trouble> {
    let mut all = BTreeMap::new();
    for name in names(herd)? {
        let shadow = herd.own_if_there(&["accepted", &name.device])?;
        let visible = herd.device(&name.device)?;
        let of = |folder: &Option<crate::disk::Folder>, file: &str| match folder {
            Some(folder) => crate::watch::facts::of_file(folder, file),
            None => Ok(None),
        };
        let accepted = of(&shadow, &name.file())?;
        let text = if accepted.is_some() { None } else { of(&visible, &name.file())? };
        let statements = of(&visible, &states::file_of(&name))?;
        for (what, facts) in [("accepted", accepted), ("visible", text), ("stated", statements)] {
            all.extend(facts.map(|facts| (format!("{what}/{name}"), facts)));
        }
    }
    if let Some(protocols) = herd.protocols()? {
        all.extend(protocols.names()?.into_iter().map(|name| (format!("protocols/{name}"), Facts::default())));
    }
    Ok(all)
}

pub(super) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
