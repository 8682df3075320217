//! A herd folder that is copied fresh for each round, run with a fault, healed, and judged.

use std::cell::RefCell;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// A herd as it stood before, to be copied for each round.
pub(crate) struct Scene {
    place: TempDir,
    rounds: AtomicU32,
}

/// One round: a copy of the scene.
pub(crate) struct Round {
    place: PathBuf,
}

/// How a run ended.
#[derive(Debug)]
pub(crate) struct End {
    /// None if it was killed.
    pub(crate) code: Option<i32>,
    pub(crate) said: String,
}

/// The lines that every scene has typed and not sealed.
pub(crate) const TYPED: [&str; 2] = ["417 note: line 0 end", "418 note: line 1 end"];
const HEADS: usize = 3;

impl Scene {
    /// A herd with one ledger and the typed lines under it.
    pub(crate) fn new() -> Self {
        let scene = Self::bare();
        scene.round_zero().types(&TYPED.map(|line| format!("{line}\n")).concat());
        scene
    }

    /// A herd with one ledger and nothing typed.
    pub(crate) fn bare() -> Self {
        Self::in_folder(&std::env::temp_dir())
    }

    /// The same in memory, where calls fail as they are told to and nobody waits for a disk: not for kills.
    pub(crate) fn in_memory() -> Self {
        let memory = Path::new("/dev/shm");
        let scene = Self::in_folder(if memory.is_dir() { memory } else { Path::new("/tmp") });
        scene.round_zero().types(&TYPED.map(|line| format!("{line}\n")).concat());
        scene
    }

    fn in_folder(folder: &Path) -> Self {
        let scene = Self { place: tempfile::tempdir_in(folder).unwrap(), rounds: AtomicU32::new(0) };
        let round = scene.round_zero();
        fs::create_dir(&round.place).unwrap();
        let herd = round.herd();
        let new = ["new", herd.to_str().unwrap(), "--device", "crush-laptop", "--by", "kj"];
        assert_eq!(round.run_in(&round.place, &new, &[]).code, Some(0));
        scene
    }

    /// The scene itself, to be changed before it is copied.
    pub(crate) fn round_zero(&self) -> Round {
        Round { place: self.place.path().join("0") }
    }

    /// A copy, gone when `judge` is done with it.
    pub(crate) fn round(&self) -> Round {
        let number = self.rounds.fetch_add(1, Ordering::Relaxed) + 1;
        let round = Round { place: self.place.path().join(number.to_string()) };
        copy_folder(&self.place.path().join("0"), &round.place);
        round
    }
}

impl Round {
    pub(crate) fn place(&self) -> &Path {
        &self.place
    }

    pub(crate) fn herd(&self) -> PathBuf {
        self.place.join("quillmere")
    }

    pub(crate) fn ledger(&self) -> PathBuf {
        only_file(&self.herd().join("ledgers/crush-laptop"))
    }

    pub(crate) fn text(&self) -> String {
        fs::read_to_string(self.ledger()).unwrap()
    }

    /// The accepted bytes, whatever state they are in.
    pub(crate) fn shadow(&self) -> Vec<u8> {
        fs::read(only_file(&self.herd().join(".footfold/accepted/crush-laptop"))).unwrap()
    }

    /// Sets how long a daemon waits after a save.
    pub(crate) fn settles_after(&self, seconds: u16) {
        let file = self.place.join("config/footfold.ron");
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.contains("settle_seconds: 5,"), "{text}");
        fs::write(file, text.replace("settle_seconds: 5,", &format!("settle_seconds: {seconds},"))).unwrap();
    }

    pub(crate) fn types(&self, typed: &str) {
        let text = self.text() + typed;
        fs::write(self.ledger(), text).unwrap();
    }

    /// Runs a command in the herd's folder; `with` is the environment that breaks something.
    pub(crate) fn run(&self, args: &[&str], with: &[(&str, &str)]) -> End {
        self.run_in(&self.herd(), args, with)
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
        command.args(args).env("FOOTFOLD_CONFIG", self.place.join("config")).current_dir(self.herd());
        command.stdin(Stdio::null());
        command
    }

    fn run_in(&self, folder: &Path, args: &[&str], with: &[(&str, &str)]) -> End {
        let mut command = self.command(args);
        let output = command.current_dir(folder).envs(with.iter().copied()).output().unwrap();
        let said = [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).unwrap()).concat();
        let end = End { code: output.status.code(), said };
        assert!(end.code.is_none_or(|code| code < 90) && !end.said.contains("panicked"), "{with:?}: {end:#?}");
        end
    }

    /// The calls and steps of a command.
    pub(crate) fn calls(&self, args: &[&str], with: &[(&str, &str)]) -> Vec<String> {
        let log = self.place.join("calls");
        self.run(args, &[with, &[("FOOTFOLD_CALLS", log.to_str().unwrap())]].concat());
        let text = fs::read_to_string(&log).unwrap_or_default();
        let _ = fs::remove_file(log);
        text.lines().map(str::to_owned).collect()
    }

    /// What must hold after any fault, once a healthy `seal` has run. Says what does not.
    pub(crate) fn judge(&self, typed: &[String]) -> Result<(), String> {
        let (shadow, again) = (self.shadow(), self.run(&["seal"], &[]));
        let text = self.text();
        let claim = |holds: bool, what: &str| if holds { Ok(()) } else { Err(format!("{what}\n{again:#?}\n{text}")) };
        claim(again.code == Some(0), "the healthy seal failed")?;
        for line in typed {
            let sealed = text.lines().filter(|kept| kept.contains(&format!("{} | ", tail_of(line)))).count();
            claim(sealed == 1, &format!("sealed {sealed} times: {line}"))?;
        }
        claim(text.lines().count() == HEADS + typed.len(), "other lines came or went")?;
        let kept = ledger_format::mark::check(&shadow).vouched_bytes;
        claim(text.as_bytes().starts_with(&shadow[..kept]), "an accepted byte was changed")?;
        claim(self.shadow() == text.as_bytes(), "the file is not the accepted copy and its tail")?;
        claim(ledger_format::mark::check(text.as_bytes()).is_unbroken(), "the marks do not hold")?;
        let mut beside = names(self.ledger().parent().unwrap());
        beside.retain(|name| !name.ends_with('~'));
        claim(beside.len() == 1, &format!("left beside the ledger: {beside:?}"))?;
        let plans = names(&self.herd().join(".footfold/plan"));
        claim(plans.iter().all(|name| name.starts_with('.')), &format!("a plan was left: {plans:?}"))?;
        let verdict = self.verdict();
        claim(verdict == "well", &format!("the independent verifier: {verdict}"))
    }

    /// What the independent verifier says of the folder: `well`, or what is not.
    pub(crate) fn verdict(&self) -> String {
        VERIFIER.with_borrow_mut(|verifier| verifier.get_or_insert_with(Verifier::start).ask(&self.herd()))
    }

    /// The same, judged; the round's folder goes.
    #[track_caller]
    pub(crate) fn whole(self, typed: &[String], what: &str) {
        if let Err(found) = self.judge(typed) {
            panic!("{what}: {found}");
        }
        fs::remove_dir_all(self.place).unwrap();
    }

    /// What a command promised: fine means that all is done already; a failure says what to do.
    #[track_caller]
    pub(crate) fn kept_its_word(&self, end: &End, typed: &[String], what: &str) {
        let text = self.text();
        match end.code {
            None => {}
            Some(0) => {
                for line in typed {
                    assert!(text.contains(&format!("{} | ", tail_of(line))), "{what}: {line}\n{end:#?}\n{text}");
                }
                assert_eq!(self.shadow(), text.as_bytes(), "{what}");
            }
            Some(_) => assert!(end.said.contains("to do:"), "{what}: {end:#?}"),
        }
    }

    /// The independent verifier and the whole check have nothing against the folder.
    #[track_caller]
    pub(crate) fn verifies(&self, what: &str) {
        let verifier = Path::new(env!("CARGO_MANIFEST_DIR")).join("../spec/verifier");
        let out = Command::new("python3").arg(verifier).arg(self.herd()).output().unwrap();
        assert!(out.status.success(), "{what}: {out:?}");
        assert_eq!(self.run(&["check", "--every-mark"], &[]).code, Some(0), "{what}");
    }
}

thread_local! {
    /// Starting it takes longer than judging a folder, so each thread keeps one.
    static VERIFIER: RefCell<Option<Verifier>> = const { RefCell::new(None) };
}

/// The independent verifier, running: a folder in, a verdict out.
struct Verifier {
    child: Child,
    says: BufReader<ChildStdout>,
}

impl Verifier {
    fn start() -> Self {
        let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/faults/verify_each.py");
        let verifier = Path::new(env!("CARGO_MANIFEST_DIR")).join("../spec/verifier");
        let mut command = Command::new("python3");
        command.arg(tests).arg(verifier).stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let says = BufReader::new(child.stdout.take().unwrap());
        Self { child, says }
    }

    fn ask(&mut self, herd: &Path) -> String {
        let input = self.child.stdin.as_mut().unwrap();
        writeln!(input, "{}", herd.display()).unwrap();
        let mut verdict = String::new();
        self.says.read_line(&mut verdict).unwrap();
        verdict.trim_end().to_owned()
    }
}

impl Drop for Verifier {
    fn drop(&mut self) {
        drop(self.child.stdin.take());
        let _ = self.child.wait();
    }
}

/// A daemon that watches a round's folder, killed with the test.
pub(crate) struct Watching {
    child: Child,
    log: PathBuf,
}

impl Watching {
    /// Starts one under a name of its own, with the environment that breaks something.
    pub(crate) fn start(round: &Round, name: &str, with: &[(&str, &str)]) -> Self {
        let log = round.place().join(format!("{name}.log"));
        let mut command = round.command(&["watch", "."]);
        command.env("FOOTFOLD_SOCKET", round.place().join(format!("{name}.sock"))).envs(with.iter().copied());
        command.stdout(Stdio::null()).stderr(fs::File::create(&log).unwrap());
        Self { child: command.spawn().unwrap(), log }
    }

    pub(crate) fn log(&self) -> String {
        fs::read_to_string(&self.log).unwrap()
    }

    #[track_caller]
    pub(crate) fn says(&self, words: &str) {
        until(&format!("`{words}` in {}", self.log.display()), || self.log().contains(words));
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            eprintln!("{}", self.log());
        }
    }
}

/// Waits for a condition, and fails if it never comes: nothing here takes so long on any machine that works.
#[track_caller]
pub(crate) fn until(what: &str, is_so: impl Fn() -> bool) {
    let since = Instant::now();
    while !is_so() {
        assert!(since.elapsed() < Duration::from_secs(120), "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// The typed lines of a scene and more.
pub(crate) fn typed(more: &[&str]) -> Vec<String> {
    TYPED.iter().chain(more).map(|line| (*line).to_owned()).collect()
}

/// What a sealed line must show of a typed one: its words; the cow and the person may stand elsewhere.
fn tail_of(line: &str) -> &str {
    line.split_once("note").map_or(line, |(_, words)| words)
}

pub(crate) fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

pub(crate) fn only_file(folder: &Path) -> PathBuf {
    let mut names = names(folder);
    names.retain(|name| !name.starts_with('.') && !name.ends_with('~'));
    assert_eq!(names.len(), 1, "{names:?} in {}", folder.display());
    folder.join(&names[0])
}

pub(crate) fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// How many calls a record holds.
pub(crate) fn count(record: &[String]) -> usize {
    record.iter().filter(|line| !line.starts_with("step ")).count()
}

/// The numbers of the calls before which something was changed on the disk: between them, a stop leaves the same.
pub(crate) fn after_changes(record: &[String]) -> Vec<usize> {
    const CHANGES: [&str; 10] =
        ["create", "makefolder", "mode", "write", "cut", "sync", "syncfolder", "exchange", "rename", "remove"];
    let calls = record.iter().filter(|line| !line.starts_with("step "));
    let kinds = calls.map(|line| line.split(' ').nth(1).unwrap());
    let after = kinds.enumerate().filter(|(_, kind)| CHANGES.contains(kind)).map(|(before, _)| before + 2);
    std::iter::once(1).chain(after).collect()
}

/// Does something for each number, on every core.
pub(crate) fn for_each(numbers: std::ops::Range<usize>, act: impl Fn(usize) + Sync) {
    let next = std::sync::atomic::AtomicUsize::new(numbers.start);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(n) = Some(next.fetch_add(1, Ordering::Relaxed)).filter(|n| *n < numbers.end) {
                    act(n);
                }
            });
        }
    });
}

/// How many rounds, if the environment asks for more.
pub(crate) fn rounds(usual: usize) -> usize {
    std::env::var("FOOTFOLD_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(usual)
}
