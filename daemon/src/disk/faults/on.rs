//! Counting calls, writing them down, and letting them fail.

use std::collections::HashMap;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::sync::{LazyLock, Mutex};

use rustix::io::Errno;

use super::spec::{Fate, Fault};
use super::{Op, power};

static STATE: LazyLock<Mutex<State>> = LazyLock::new(|| Mutex::new(State::from_environment()));
static MUTANT: LazyLock<Option<String>> = LazyLock::new(|| std::env::var("FOOTFOLD_MUTANT").ok());

struct State {
    faults: Vec<Fault>,
    log: Option<File>,
    calls: u32,
    of_kind: HashMap<Op, u32>,
}

impl State {
    fn from_environment() -> Self {
        let log = std::env::var_os("FOOTFOLD_CALLS")
            .map(|path| File::options().create(true).append(true).open(path).expect("FOOTFOLD_CALLS can be written"));
        let faults = Fault::all(&std::env::var("FOOTFOLD_FAULT").unwrap_or_default());
        Self { faults, log, calls: 0, of_kind: HashMap::new() }
    }

    fn note(&mut self, line: &str) {
        if let Some(log) = &mut self.log {
            log.write_all(format!("{line}\n").as_bytes()).expect("FOOTFOLD_CALLS can be written");
        }
    }
}

/// Whether a mistake is to be made.
pub(crate) fn mutant(name: &str) -> bool {
    MUTANT.as_deref() == Some(name)
}

/// Whether the disk is to be of this kind.
pub(crate) fn disk(kind: &str) -> bool {
    std::env::var("FOOTFOLD_DISK").is_ok_and(|disk| disk == kind)
}

/// Which machine this is to be.
pub(crate) fn machine() -> Option<String> {
    std::env::var("FOOTFOLD_HOST").ok()
}

/// A step is done.
pub(crate) fn point(name: &str) {
    let fate = {
        let mut state = STATE.lock().expect("no thread panicked");
        state.note(&format!("step {name}"));
        state.faults.iter().find(|fault| fault.at_step(name)).map(|fault| fault.fate)
    };
    match fate {
        Some(Fate::Kill) => kill(),
        Some(Fate::Cut(cut)) => power::cut(cut),
        Some(Fate::Then) => then(),
        _ => {}
    }
}

/// A call is about to be made: it may fail, or never come.
pub(crate) fn call(op: Op, folder: &Path, name: &str) -> Result<(), Errno> {
    let path = if name.is_empty() { folder.to_owned() } else { folder.join(name) };
    match fate(op, &path) {
        Some(Fate::Kill) => kill(),
        Some(Fate::Cut(cut)) => power::cut(cut),
        Some(Fate::Fail(errno)) => Err(errno),
        Some(Fate::Short | Fate::Then) | None => Ok(()),
    }
}

/// A call for so many bytes: how many it is let to have.
pub(crate) fn room(op: Op, path: &Path, bytes: usize) -> Result<usize, Errno> {
    match fate(op, path) {
        Some(Fate::Kill) => kill(),
        Some(Fate::Cut(cut)) => power::cut(cut),
        Some(Fate::Fail(errno)) => Err(errno),
        Some(Fate::Short) => Ok(bytes.div_ceil(2)),
        Some(Fate::Then) | None => Ok(bytes),
    }
}

fn fate(op: Op, path: &Path) -> Option<Fate> {
    let mut state = STATE.lock().expect("no thread panicked");
    state.calls += 1;
    let of_kind = *state.of_kind.entry(op).and_modify(|n| *n += 1).or_insert(1);
    let number = state.calls;
    let fate = state.faults.iter().find(|fault| fault.at_call(op, number, of_kind)).map(|fault| fault.fate);
    let struck = fate.map_or(String::new(), |fate| format!(" {fate:?}"));
    state.note(&format!("{number} {} {}{struck}", format!("{op:?}").to_lowercase(), path.display()));
    fate
}

/// Somebody else does something at this very moment.
fn then() {
    static DONE: std::sync::Once = std::sync::Once::new();
    if DONE.is_completed() {
        return;
    }
    DONE.call_once(|| {});
    let command = std::env::var("FOOTFOLD_THEN").expect("FOOTFOLD_THEN says what is done");
    let done = std::process::Command::new("sh").args(["-c", &command]).status();
    assert!(done.is_ok_and(|status| status.success()), "FOOTFOLD_THEN: {command}");
}

pub(super) fn kill() -> ! {
    let _ = rustix::process::kill_process(rustix::process::getpid(), rustix::process::Signal::KILL);
    loop {
        std::thread::park();
    }
}
