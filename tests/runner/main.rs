//! Tests that cross crates: the house rules, the independent verifier, the story, the README.

mod agreement;
mod due_list;
mod fields;
mod gallery;
mod packages;
mod readme;
mod said;
mod scale;
mod setup;
mod tidy;
mod troubles;
mod two_histories;
mod verifier;
mod villages;
mod zones;

use std::path::{Path, PathBuf};

use examples_make::HerdFiles;
use ledger_format::fold::protocol;
use tempfile::TempDir;

/// The top of the project.
pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// A herd's folder that goes when the test ends.
pub(crate) struct TempHerd {
    place: TempDir,
}

impl TempHerd {
    /// A folder with nothing in it.
    pub(crate) fn empty() -> Self {
        let place = tempfile::tempdir().unwrap();
        std::fs::create_dir(place.path().join("quillmere")).unwrap();
        Self { place }
    }

    /// A folder with these ledgers and protocols.
    pub(crate) fn of(herd: &HerdFiles) -> Self {
        let folder = Self::empty();
        for (device, year, bytes) in &herd.ledgers {
            let device = folder.path().join("ledgers").join(device);
            std::fs::create_dir_all(&device).unwrap();
            std::fs::write(device.join(format!("{year}.txt")), bytes).unwrap();
        }
        std::fs::create_dir_all(folder.path().join("protocols")).unwrap();
        for text in &herd.protocols {
            let name = format!("protocols/{}.ron", protocol::name_of(text));
            std::fs::write(folder.path().join(name), text).unwrap();
        }
        folder
    }

    pub(crate) fn path(&self) -> PathBuf {
        self.place.path().join("quillmere")
    }

    /// A configuration folder of its own.
    pub(crate) fn config(&self) -> PathBuf {
        self.place.path().join("config")
    }

    /// The folder around it.
    pub(crate) fn around(&self) -> &Path {
        self.place.path()
    }
}
