//! Hints that something changed: events of the system. They are never facts: what changed is found by looking, and
//! everything is looked at every half minute whether there was an event or not.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use notify::{ErrorKind, Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use tokio::sync::Notify;

/// What the events touched since it was last asked.
#[derive(Debug, Default)]
struct Touched {
    herds: Vec<bool>,
    folders: BTreeMap<PathBuf, usize>,
    faults: Vec<String>,
}

/// Events for some herds, as far as the system gives them.
pub(super) struct Hints {
    watcher: Option<RecommendedWatcher>,
    touched: Arc<Mutex<Touched>>,
    bell: Arc<Notify>,
}

/// What happened since hints were last taken.
#[derive(Debug, Default)]
pub(super) struct Taken {
    /// The herds that were touched, by number.
    pub(super) herds: Vec<usize>,
    /// What the watching itself met.
    pub(super) faults: Vec<String>,
}

impl Hints {
    /// Hints for so many herds. Without `native`, there are none and everything is polled.
    pub(super) fn new(herds: usize, native: bool) -> Self {
        let touched = Arc::new(Mutex::new(Touched { herds: vec![false; herds], ..Touched::default() }));
        let bell = Arc::new(Notify::new());
        let watcher = native.then(|| {
            let (touched, bell) = (Arc::clone(&touched), Arc::clone(&bell));
            notify::recommended_watcher(move |event| {
                if lock(&touched).take_in(event) {
                    bell.notify_one();
                }
            })
        });
        let watcher = watcher.and_then(|made| match made {
            Ok(watcher) => Some(watcher),
            Err(error) => {
                lock(&touched).faults.push(said(&error));
                None
            }
        });
        Self { watcher, touched, bell }
    }

    /// Begins to watch a herd's ledgers. An error says why there are no events for it.
    pub(super) fn watch(&mut self, herd: usize, ledgers: &Path) -> Result<(), String> {
        let Some(watcher) = &mut self.watcher else { return Err("no events of the system are asked for".to_owned()) };
        // An old watch stays with a folder that was moved away; it would send events of the wrong one.
        let _ = watcher.unwatch(ledgers);
        watcher.watch(ledgers, RecursiveMode::Recursive).map_err(|error| said(&error))?;
        lock(&self.touched).folders.insert(ledgers.to_owned(), herd);
        Ok(())
    }

    /// Rings when something was touched.
    pub(super) fn bell(&self) -> Arc<Notify> {
        Arc::clone(&self.bell)
    }

    /// What was touched since the last time.
    pub(super) fn take(&self) -> Taken {
        let mut touched = lock(&self.touched);
        let herds = (0..touched.herds.len()).filter(|herd| touched.herds[*herd]).collect();
        touched.herds.fill(false);
        Taken { herds, faults: std::mem::take(&mut touched.faults) }
    }
}

impl Touched {
    /// Says whether anything is to be looked at. An overflow names no paths: then everything is.
    fn take_in(&mut self, event: notify::Result<Event>) -> bool {
        let event = match event {
            Ok(event) => event,
            Err(error) => {
                self.faults.push(said(&error));
                self.herds.fill(true);
                return true;
            }
        };
        if event.need_rescan() {
            self.herds.fill(true);
            return true;
        }
        // Our own reading makes these; they would ring for ever.
        if matches!(event.kind, EventKind::Access(_)) {
            return false;
        }
        let mut any = false;
        for path in &event.paths {
            let folder = path.ancestors().find_map(|folder| self.folders.get(folder));
            if let Some(herd) = folder.and_then(|herd| self.herds.get_mut(*herd)) {
                *herd = true;
                any = true;
            }
        }
        any
    }
}

fn said(error: &notify::Error) -> String {
    match error.kind {
        ErrorKind::MaxFilesWatch => "the system allows no more watches (fs.inotify.max_user_watches)".to_owned(),
        _ => error.to_string(),
    }
}

fn lock(touched: &Mutex<Touched>) -> MutexGuard<'_, Touched> {
    touched.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use notify::event::{AccessKind, CreateKind, Flag};

    use super::*;

    fn touched() -> Touched {
        let folders = [("/h/a/ledgers", 0), ("/h/b/ledgers", 1)].map(|(path, herd)| (PathBuf::from(path), herd));
        Touched { herds: vec![false; 2], folders: folders.into(), faults: Vec::new() }
    }

    #[test]
    fn f36_an_overflow_names_no_path_and_touches_every_herd() {
        let mut all = touched();
        assert!(all.take_in(Ok(Event::new(EventKind::Other).set_flag(Flag::Rescan))));
        assert_eq!(all.herds, [true, true]);
    }

    #[test]
    fn f36_a_watcher_that_fails_touches_every_herd_and_says_so() {
        let mut all = touched();
        assert!(all.take_in(Err(notify::Error::new(ErrorKind::MaxFilesWatch))));
        assert_eq!(all.herds, [true, true]);
        assert!(all.faults[0].contains("no more watches"), "{:?}", all.faults);
    }

    #[test]
    fn f36_reading_touches_nothing_and_writing_touches_its_herd_alone() {
        let mut all = touched();
        let path = PathBuf::from("/h/b/ledgers/crush-laptop/2026.txt");
        assert!(!all.take_in(Ok(Event::new(EventKind::Access(AccessKind::Read)).add_path(path.clone()))));
        assert_eq!(all.herds, [false, false]);
        assert!(all.take_in(Ok(Event::new(EventKind::Create(CreateKind::File)).add_path(path))));
        assert_eq!(all.herds, [false, true]);
    }
}
