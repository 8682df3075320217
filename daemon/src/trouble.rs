//! What went wrong, where, and what to do about it.

use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// A fault that a person can act on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// What was found, and what was expected.
    pub what: String,
    /// The file or folder.
    pub path: Option<PathBuf>,
    /// The line in it, counted from 1.
    pub line: Option<usize>,
    /// What to do.
    pub remedy: String,
}

impl Trouble {
    /// A trouble without a place.
    pub fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { what: what.into(), path: None, line: None, remedy: remedy.into() }
    }

    /// The same, in this file or folder.
    #[must_use]
    pub fn at(mut self, path: impl Into<PathBuf>) -> Self {
        self.path = Some(path.into());
        self
    }

    /// The same, in this line.
    #[must_use]
    pub fn line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    /// A failed call of the system, with what to do about the usual ones.
    pub fn io(doing: &str, path: &Path, error: &io::Error) -> Self {
        Self::new(format!("could not {doing}: {}", reason(error)), remedy(error, path)).at(path)
    }
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (&self.path, self.line) {
            (Some(path), Some(line)) => write!(f, "{}, line {line}: {}", path.display(), self.what),
            (Some(path), None) => write!(f, "{}: {}", path.display(), self.what),
            (None, Some(line)) => write!(f, "line {line}: {}", self.what),
            (None, None) => f.write_str(&self.what),
        }
    }
}

impl std::error::Error for Trouble {}

fn reason(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "the disk is full".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        ErrorKind::PermissionDenied => "no permission".to_owned(),
        ErrorKind::NotFound => "it is not there".to_owned(),
        ErrorKind::ResourceBusy | ErrorKind::ExecutableFileBusy => "another program holds it".to_owned(),
        _ => error.to_string(),
    }
}

fn remedy(error: &io::Error, path: &Path) -> String {
    let path = path.display();
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "free some room, then give the same command once more; nothing was changed".to_owned()
        }
        ErrorKind::ReadOnlyFilesystem => "use a folder that can be written, or mount the disk for writing".to_owned(),
        ErrorKind::PermissionDenied => {
            format!("ask for the right to read and write it, for example with `chmod u+rwX {path}`")
        }
        ErrorKind::ResourceBusy | ErrorKind::ExecutableFileBusy => {
            "wait until that program is done with it, or close it there; then run the command again; nothing was \
             changed"
                .to_owned()
        }
        ErrorKind::NotFound => "look whether the path is right and the drive is there".to_owned(),
        _ => "nothing was changed; look at the disk, then run the command again".to_owned(),
    }
}
