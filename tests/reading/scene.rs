//! Herd folders to read, and the command run in them.

use std::path::Path;
use std::process::{Command, Output};

use ledger_format::line::{read, read_utc};
use ledger_format::mark::Chain;
use tempfile::TempDir;

/// A herd's folder and a configuration folder of its own.
pub(crate) struct Scene {
    pub(crate) root: TempDir,
}

impl Scene {
    /// A herd from ledgers: device, and bodies that may end in ` | SEALED`.
    pub(crate) fn of(ledgers: &[(&str, &[&str])]) -> Self {
        let root = tempfile::tempdir().unwrap();
        for (device, lines) in ledgers {
            let folder = root.path().join("quillmere/ledgers").join(device);
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join("2026.txt"), file(device, lines)).unwrap();
        }
        std::fs::create_dir_all(root.path().join("config")).unwrap();
        Self { root }
    }

    /// The invented herd of the examples, smaller or larger.
    pub(crate) fn of_story(seed: u64, cows: u32, months: u32) -> Self {
        let root = tempfile::tempdir().unwrap();
        let herd = examples_make::herd_of(&examples_make::story_of(seed, cows, months));
        for (device, year, bytes) in herd.ledgers {
            let folder = root.path().join("quillmere/ledgers").join(device);
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join(format!("{year}.txt")), bytes).unwrap();
        }
        std::fs::create_dir_all(root.path().join("config")).unwrap();
        Self { root }
    }

    /// Writes `footfold.ron`.
    pub(crate) fn settings(&self, text: &str) {
        std::fs::write(self.root.path().join("config/footfold.ron"), text).unwrap();
    }

    pub(crate) fn herd(&self) -> std::path::PathBuf {
        self.root.path().join("quillmere")
    }

    /// Runs the command in the herd's folder.
    pub(crate) fn run(&self, arguments: &[&str]) -> Output {
        run(&self.herd(), &self.root.path().join("config"), arguments)
    }

    /// Runs it and gives what it printed; it must go well.
    pub(crate) fn read(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let (out, err) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8_lossy(&output.stderr));
        assert!(output.status.success(), "{arguments:?}: {err}{out}");
        out
    }

    /// The same as JSON.
    pub(crate) fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let arguments: Vec<&str> = arguments.iter().copied().chain(["--format", "json"]).collect();
        serde_json::from_str(&self.read(&arguments)).unwrap()
    }
}

fn run(folder: &Path, config: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_footfold"))
        .args(arguments)
        .current_dir(folder)
        .env("FOOTFOLD_CONFIG", config)
        .output()
        .unwrap()
}

fn file(device: &str, lines: &[&str]) -> Vec<u8> {
    let (mut file, mut chain) = (Vec::new(), Chain::default());
    let head = format!("footfold 1 herd quillmere device {device} key {} zone Europe/London", "8d".repeat(32));
    chain.seal(&head, read_utc(b"2026-01-01T08:00:00Z").unwrap(), &mut file);
    for line in lines {
        let (body, sealed) = match line.split_once(" | ") {
            Some((body, sealed)) => (body, sealed.to_owned()),
            None => (*line, format!("{}T20:00:00Z", &line[..10])),
        };
        read(body).unwrap_or_else(|problem| panic!("{body}: {problem}"));
        chain.seal(body, read_utc(sealed.as_bytes()).unwrap(), &mut file);
    }
    file
}
