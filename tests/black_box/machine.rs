//! A machine with a configuration of its own, and herds' folders to work in.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

/// A scratch machine with one herd, quillmere.
pub(crate) struct Machine {
    place: TempDir,
    device: &'static str,
}

/// What a run said.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Machine {
    /// A machine that has begun the herd.
    pub(crate) fn new(device: &'static str) -> Self {
        let machine = Self::bare(device);
        let folder = machine.herd();
        machine.run_in(machine.place(), &["new", path(&folder), "--device", device, "--by", "kj"]).fine();
        machine
    }

    /// A machine without a herd.
    pub(crate) fn bare(device: &'static str) -> Self {
        Self { place: tempfile::tempdir().unwrap(), device }
    }

    /// A machine as it stands, on another disk: its herd's folder and its configuration.
    pub(crate) fn backup(&self) -> Self {
        let copy = Self::bare(self.device);
        copy_folder(&self.config(), &copy.config());
        copy_folder(&self.herd(), &copy.herd());
        copy
    }

    pub(crate) fn place(&self) -> &Path {
        self.place.path()
    }

    pub(crate) fn herd(&self) -> PathBuf {
        self.place().join("quillmere")
    }

    pub(crate) fn config(&self) -> PathBuf {
        self.place().join("config")
    }

    /// This machine's only ledger file.
    pub(crate) fn ledger(&self) -> PathBuf {
        only_file(&self.herd().join("ledgers").join(self.device))
    }

    /// Where its daemon answers.
    pub(crate) fn socket(&self) -> PathBuf {
        self.place().join("daemon.sock")
    }

    pub(crate) fn shadow(&self) -> PathBuf {
        only_file(&self.herd().join(".footfold/accepted").join(self.device))
    }

    pub(crate) fn text(&self) -> String {
        String::from_utf8(std::fs::read(self.ledger()).unwrap()).unwrap()
    }

    /// The same while a daemon may be putting another text in its place.
    pub(crate) fn ledger_text(&self) -> String {
        let year = self.herd().join("ledgers").join(self.device);
        let files = std::fs::read_dir(year).into_iter().flatten().flatten().map(|file| file.path());
        let ledger = files.filter(|file| file.file_name().is_some_and(|name| name.len() == 8)).max();
        ledger.and_then(|ledger| std::fs::read_to_string(ledger).ok()).unwrap_or_default()
    }

    /// Types at the end of the ledger, as an editor that appends.
    pub(crate) fn types(&self, typed: impl AsRef<[u8]>) {
        let mut bytes = std::fs::read(self.ledger()).unwrap();
        bytes.extend_from_slice(typed.as_ref());
        std::fs::write(self.ledger(), bytes).unwrap();
    }

    /// All that is kept aside, joined.
    pub(crate) fn aside(&self) -> Vec<u8> {
        let folder = self.herd().join(".footfold/aside").join(self.device);
        let files = std::fs::read_dir(folder).into_iter().flatten();
        files.flat_map(|file| std::fs::read(file.unwrap().path()).unwrap()).collect()
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
        command.args(args).env("FOOTFOLD_CONFIG", self.config()).stdin(Stdio::null());
        command.env("FOOTFOLD_SOCKET", self.socket()).env("FOOTFOLD_MACHINE", "one");
        command.env("FOOTFOLD_NEARBY", "off");
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Said {
        self.run_in(&self.herd(), args)
    }

    pub(crate) fn run_in(&self, folder: &Path, args: &[&str]) -> Said {
        said(self.command(args).current_dir(folder))
    }
}

/// Whatever a test leaves, the independent verifier judges it as this implementation does.
impl Drop for Machine {
    fn drop(&mut self) {
        let herd = self.herd();
        if std::thread::panicking() || !herd.join("ledgers").is_dir() {
            return;
        }
        let verifier = Path::new(env!("CARGO_MANIFEST_DIR")).join("../spec/verifier");
        let out = Command::new("python3").arg(verifier).arg(&herd).arg("--json").output().unwrap();
        let verdicts: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
        for verdict in verdicts["files"].as_array().unwrap() {
            let device = verdict["device"].as_str().unwrap();
            let file = herd.join(format!("ledgers/{device}/{}.txt", verdict["year"].to_string().trim_matches('"')));
            let found = ledger_format::mark::check(&std::fs::read(&file).unwrap());
            assert_eq!(verdict["unbroken"].as_bool(), Some(found.is_unbroken()), "{verdict}");
            assert_eq!(verdict["vouched_bytes"].as_u64(), Some(found.vouched_bytes as u64), "{verdict}");
        }
    }
}

pub(crate) fn said(command: &mut Command) -> Said {
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    Said { code: output.status.code().unwrap_or(-1), out: text(output.stdout), err: text(output.stderr) }
}

impl Said {
    #[track_caller]
    pub(crate) fn fine(self) -> Self {
        self.ends(0)
    }

    #[track_caller]
    pub(crate) fn ends(self, code: i32) -> Self {
        assert_eq!(self.code, code, "{self:#?}");
        self
    }

    #[track_caller]
    pub(crate) fn says(self, words: &str) -> Self {
        let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let all = format!("{} {}", flat(&self.out), flat(&self.err));
        assert!(all.contains(words), "expected `{words}` in {self:#?}");
        self
    }

    /// No line is wider than a narrow terminal, but for paths, which are not broken.
    #[track_caller]
    pub(crate) fn fits(self) -> Self {
        for line in self.out.lines().chain(self.err.lines()) {
            assert!(line.chars().count() <= 80 || line.contains('/'), "too wide: {line}");
        }
        self
    }
}

pub(crate) fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

pub(crate) fn only_file(folder: &Path) -> PathBuf {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    let is_hidden = |file: &Path| file.file_name().is_some_and(|name| name.to_str().unwrap().starts_with('.'));
    files.retain(|file| !is_hidden(file) && file.extension().is_none_or(|end| end != "sig"));
    assert_eq!(files.len(), 1, "{files:?}");
    files.remove(0)
}

/// Copies a folder, as a person with a stick would.
pub(crate) fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}
