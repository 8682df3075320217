//! Any history of edits and saves, on a real folder: nothing sealed is lost or altered, nothing typed is lost or
//! sealed twice, and the file comes to rest.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use daemon::disk::HerdFolder;
use daemon::keys::DeviceKey;
use daemon::seal::{Desk, NewHerd, begin_herd, seal_text, tend};
use ledger_format::mark;
use proptest::prelude::*;

static KEY: LazyLock<DeviceKey> = LazyLock::new(|| DeviceKey::of_secret(&[7; 32]));

/// What a person does at one of three editors.
#[derive(Clone, Debug)]
enum Step {
    /// Opens or reloads the file.
    Open(usize),
    /// Types a line of this kind at a place.
    Type(usize, usize, Kind),
    /// Adds a word to a line.
    Change(usize, usize),
    Delete(usize, usize),
    Move(usize, usize, usize),
    Double(usize, usize),
    /// Joins a line with the next.
    Join(usize, usize),
    /// Loses the end of the text.
    Cut(usize, usize),
    Save(usize, Bytes),
    /// A line comes in by the command, whatever stands in the file.
    Write,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Good,
    Unreadable,
    Heading,
    Comment,
    Empty,
}

#[derive(Clone, Copy, Debug)]
enum Bytes {
    Plain,
    Crlf,
    Mark,
    Utf16,
    Padded,
    NoLastFeed,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let (editor, line) = (0usize..3, 0usize..60);
    let kind = prop_oneof![
        6 => Just(Kind::Good), 2 => Just(Kind::Unreadable), 1 => Just(Kind::Heading),
        1 => Just(Kind::Comment), 1 => Just(Kind::Empty)
    ];
    let bytes = prop_oneof![
        6 => Just(Bytes::Plain), 1 => Just(Bytes::Crlf), 1 => Just(Bytes::Mark), 1 => Just(Bytes::Utf16),
        1 => Just(Bytes::Padded), 1 => Just(Bytes::NoLastFeed)
    ];
    let step = prop_oneof![
        2 => editor.clone().prop_map(Step::Open),
        8 => (editor.clone(), line.clone(), kind).prop_map(|(e, at, kind)| Step::Type(e, at, kind)),
        2 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Change(e, at)),
        2 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Delete(e, at)),
        1 => (editor.clone(), line.clone(), line.clone()).prop_map(|(e, at, to)| Step::Move(e, at, to)),
        1 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Double(e, at)),
        1 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Join(e, at)),
        1 => (editor.clone(), line).prop_map(|(e, at)| Step::Cut(e, at)),
        6 => (editor, bytes).prop_map(|(e, bytes)| Step::Save(e, bytes)),
        1 => Just(Step::Write),
    ];
    prop::collection::vec(step, 1..40)
}

/// One folder, three editors, and what was ever typed.
struct World {
    folder: tempfile::TempDir,
    herd: HerdFolder,
    editors: [Vec<String>; 3],
    now: NaiveDateTime,
    words: usize,
    /// Every word typed: whether it was saved, and how often it may be sealed, if at most so often.
    typed: BTreeMap<String, Word>,
    accepted: Vec<u8>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Word {
    saved: bool,
    /// Stands in a line that nobody doubled, changed, joined or cut.
    once: bool,
    good: bool,
}

impl World {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let now = NaiveDate::from_ymd_opt(2026, 3, 14).unwrap().and_hms_opt(9, 0, 0).unwrap();
        let new = NewHerd {
            herd: "quillmere",
            zone: "Europe/London",
            device: "crush-laptop",
            key: &KEY,
            by: "kj",
            now,
            today: now.date(),
            protocol: None,
        };
        let herd = begin_herd(&folder.path().join("quillmere"), &new).unwrap();
        let mut world = Self {
            folder,
            herd,
            editors: [const { Vec::new() }; 3],
            now,
            words: 0,
            typed: BTreeMap::new(),
            accepted: Vec::new(),
        };
        world.accepted = fs::read(world.ledger()).unwrap();
        (0..3).for_each(|editor| world.open(editor));
        world
    }

    fn ledger(&self) -> PathBuf {
        self.herd.path().join("ledgers/crush-laptop/2026.txt")
    }

    fn open(&mut self, editor: usize) {
        let text = fs::read_to_string(self.ledger()).unwrap();
        self.editors[editor] = text.lines().map(str::to_owned).collect();
    }

    fn word(&mut self, good: bool) -> String {
        self.words += 1;
        let word = format!("w{}w", self.words);
        self.typed.insert(word.clone(), Word { saved: false, once: true, good });
        word
    }

    /// Words of a line may from now on be sealed more than once, or not at all.
    fn touch(&mut self, line: &str) {
        for (word, known) in &mut self.typed {
            if line.contains(word.as_str()) {
                known.once = false;
            }
        }
    }

    fn line(&mut self, kind: Kind) -> String {
        match kind {
            Kind::Good => format!("{} note: {}", 400 + self.words % 7, self.word(true)),
            Kind::Unreadable => format!("{} wlx rh: {}", 400 + self.words % 7, self.word(false)),
            Kind::Heading => format!("2026-03-{:02} by ao", 1 + self.words % 13),
            Kind::Comment => format!("; {}", self.word(false)),
            Kind::Empty => String::new(),
        }
    }

    fn step(&mut self, step: &Step) {
        match *step {
            Step::Open(editor) => self.open(editor),
            Step::Type(editor, at, kind) => {
                let line = self.line(kind);
                let text = &mut self.editors[editor];
                // People type at the end, and sometimes elsewhere.
                let at = if at % 3 == 0 { at.min(text.len()) } else { text.len() };
                text.insert(at, line);
            }
            Step::Save(editor, bytes) => self.save(editor, bytes),
            Step::Write => self.write(),
            Step::Cut(editor, keep) => {
                let lost: Vec<String> = self.editors[editor].drain(keep.min(self.editors[editor].len())..).collect();
                for line in &lost {
                    self.touch(line);
                }
            }
            Step::Change(editor, at)
            | Step::Delete(editor, at)
            | Step::Move(editor, at, _)
            | Step::Double(editor, at)
            | Step::Join(editor, at) => {
                if at < self.editors[editor].len() {
                    self.touch_line(editor, at, step);
                }
            }
        }
    }

    fn touch_line(&mut self, editor: usize, at: usize, step: &Step) {
        let line = self.editors[editor][at].clone();
        let word = self.word(false);
        let text = &mut self.editors[editor];
        match *step {
            Step::Change(..) => {
                text[at] = match line.find(" | ") {
                    Some(bar) => format!("{} {word}{}", &line[..bar], &line[bar..]),
                    None => format!("{line} {word}"),
                };
            }
            Step::Delete(..) => drop(text.remove(at)),
            Step::Move(_, _, to) => {
                text.remove(at);
                let to = to.min(text.len());
                text.insert(to, line.clone());
            }
            Step::Double(..) => text.insert(at, line.clone()),
            Step::Join(..) if at + 1 < text.len() => {
                let next = text.remove(at + 1);
                text[at] = format!("{line}{next}");
                self.touch(&next);
            }
            _ => {}
        }
        if !matches!(step, Step::Move(..)) {
            self.touch(&line);
        }
        if !matches!(step, Step::Change(..)) {
            self.typed.remove(&word);
        }
    }

    fn save(&mut self, editor: usize, bytes: Bytes) {
        let mut text: String = self.editors[editor].iter().flat_map(|line| [line.as_str(), "\n"]).collect();
        let saved = match bytes {
            Bytes::Plain => text.into_bytes(),
            Bytes::Crlf => text.replace('\n', "\r\n").into_bytes(),
            Bytes::Mark => format!("\u{FEFF}{text}").into_bytes(),
            Bytes::Utf16 => [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect(),
            Bytes::Padded => text.replace('\n', "  \n").into_bytes(),
            Bytes::NoLastFeed => {
                text.pop();
                text.into_bytes()
            }
        };
        fs::write(self.ledger(), saved).unwrap();
        let shown = self.editors[editor].join("\n");
        for (word, known) in &mut self.typed {
            known.saved |= shown.contains(word.as_str());
        }
        self.tend_and_check();
    }

    fn write(&mut self) {
        let line = self.line(Kind::Good);
        for (word, known) in &mut self.typed {
            known.saved |= line.contains(word.as_str());
        }
        let done = seal_text(&self.desk(), line.as_bytes()).unwrap();
        assert_eq!(done.kept.len(), 1, "{done:?}");
        self.tend_and_check();
    }

    fn desk(&mut self) -> Desk<'_> {
        self.now += TimeDelta::seconds(7);
        let today = NaiveDate::from_ymd_opt(2026, 3, 14).unwrap();
        Desk { herd: &self.herd, device: "crush-laptop", by: "kj", key: &KEY, now: self.now, today }
    }

    fn tend(&mut self) {
        tend(&self.desk(), &[]).unwrap();
    }

    fn tend_and_check(&mut self) {
        self.tend();
        let text = fs::read(self.ledger()).unwrap();
        let accepted = fs::read(self.herd.path().join(".footfold/accepted/crush-laptop/2026.txt")).unwrap();
        assert!(accepted.starts_with(&self.accepted), "sealed lines only grow");
        assert!(mark::check(&accepted).is_unbroken());
        assert!(text.starts_with(&accepted), "the file begins with what is accepted, byte for byte");
        self.accepted = accepted;
        let sealed = String::from_utf8(self.accepted.clone()).unwrap();
        let everywhere = all_text(self.folder.path());
        for (word, known) in self.typed.iter().filter(|(_, known)| known.saved) {
            assert!(everywhere.contains(word.as_str()), "{word} is lost");
            let times = sealed.matches(word.as_str()).count();
            assert!(times <= 1 || !known.once, "{word} is sealed {times} times\n{sealed}");
            assert!(
                times == 1 || !known.once || !known.good || is_held(&text, word),
                "{word} was not sealed\n{sealed}"
            );
        }
        self.tend();
        assert_eq!(String::from_utf8(text), String::from_utf8(fs::read(self.ledger()).unwrap()), "no rest");
    }
}

/// Whether a good line stays in the tail all the same: joined with another, or under a heading that is not understood.
fn is_held(text: &[u8], word: &str) -> bool {
    String::from_utf8_lossy(text).lines().any(|line| line.contains(word) && !line.contains(" | "))
}

/// All that is in a folder, as text.
fn all_text(folder: &Path) -> String {
    let mut all = String::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all += &all_text(&path);
        } else {
            all += &ledger_format::text::decode(&fs::read(&path).unwrap()).text;
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn f02_f05_any_history_of_edits_loses_nothing_and_seals_nothing_twice(steps in steps()) {
        let mut world = World::new();
        for step in &steps {
            world.step(step);
        }
        prop_assert!(mark::check(&world.accepted).is_unbroken());
    }
}
