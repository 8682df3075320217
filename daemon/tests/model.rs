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
    /// Opens or reloads a file: the newest, or now and then the oldest.
    Open(usize, usize),
    /// Types a line of this kind at a place.
    Type(usize, usize, Kind),
    /// Adds a word to a line.
    Change(usize, usize),
    /// Takes the last such change back.
    Back(usize),
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
    /// The same while a save was not taken in yet.
    SaveAndWrite(usize),
    /// The year is over.
    NewYear,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Good,
    Several,
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
        5 => Just(Kind::Good), 2 => Just(Kind::Several), 2 => Just(Kind::Unreadable), 1 => Just(Kind::Heading),
        1 => Just(Kind::Comment), 1 => Just(Kind::Empty)
    ];
    let bytes = prop_oneof![
        6 => Just(Bytes::Plain), 1 => Just(Bytes::Crlf), 1 => Just(Bytes::Mark), 1 => Just(Bytes::Utf16),
        1 => Just(Bytes::Padded), 1 => Just(Bytes::NoLastFeed)
    ];
    let step = prop_oneof![
        2 => (editor.clone(), 0usize..5).prop_map(|(e, which)| Step::Open(e, which)),
        8 => (editor.clone(), line.clone(), kind).prop_map(|(e, at, kind)| Step::Type(e, at, kind)),
        3 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Change(e, at)),
        1 => editor.clone().prop_map(Step::Back),
        2 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Delete(e, at)),
        1 => (editor.clone(), line.clone(), line.clone()).prop_map(|(e, at, to)| Step::Move(e, at, to)),
        1 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Double(e, at)),
        1 => (editor.clone(), line.clone()).prop_map(|(e, at)| Step::Join(e, at)),
        1 => (editor.clone(), line).prop_map(|(e, at)| Step::Cut(e, at)),
        7 => (editor.clone(), bytes).prop_map(|(e, bytes)| Step::Save(e, bytes)),
        1 => Just(Step::Write),
        1 => editor.prop_map(Step::SaveAndWrite),
        1 => Just(Step::NewYear),
    ];
    prop::collection::vec(step, 1..40)
}

/// An editor, and the text that it shows.
#[derive(Clone, Default)]
struct Editor {
    year: i32,
    lines: Vec<String>,
    /// Changes of typed lines: the word put in, the line after, and before.
    changes: Vec<(String, String, String)>,
    /// Words taken back since the last save, and the line without each.
    back: Vec<(String, String)>,
}

/// One folder, three editors, and what was ever typed.
struct World {
    folder: tempfile::TempDir,
    herd: HerdFolder,
    editors: [Editor; 3],
    now: NaiveDateTime,
    words: usize,
    /// Every word typed, and what may be expected of it.
    typed: BTreeMap<String, Word>,
    /// The accepted bytes of each year's file.
    accepted: BTreeMap<i32, Vec<u8>>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Word {
    saved: bool,
    /// Stands in a line that nobody doubled, changed, joined or cut.
    once: bool,
    good: bool,
    /// Stands in a line that somebody changed.
    changed: bool,
    /// Where it was typed; none for the command.
    editor: Option<usize>,
    /// The cow of a line of several acts that was at most changed, in the one editor that knows it.
    cow: Option<usize>,
}

/// Gone by, so that what is kept aside is not older than these days by the disk's own clock.
const FIRST: i32 = 2025;

impl World {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        // Saves are remembered for 30 days: the year's end is nearer.
        let now = NaiveDate::from_ymd_opt(FIRST, 12, 20).unwrap().and_hms_opt(9, 0, 0).unwrap();
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
            editors: Default::default(),
            now,
            words: 0,
            typed: BTreeMap::new(),
            accepted: BTreeMap::new(),
        };
        world.accepted.insert(FIRST, fs::read(world.ledger(FIRST)).unwrap());
        (0..3).for_each(|editor| world.open(editor, FIRST));
        world
    }

    fn ledger(&self, year: i32) -> PathBuf {
        self.herd.path().join(format!("ledgers/crush-laptop/{year}.txt"))
    }

    fn newest(&self) -> i32 {
        *self.accepted.last_key_value().unwrap().0
    }

    fn open(&mut self, editor: usize, year: i32) {
        let text = fs::read_to_string(self.ledger(year)).unwrap();
        let lines = text.lines().map(str::to_owned).collect();
        self.editors[editor] = Editor { year, lines, ..Editor::default() };
    }

    fn word(&mut self, editor: Option<usize>, good: bool) -> String {
        self.words += 1;
        let word = format!("w{}w", self.words);
        self.typed.insert(word.clone(), Word { once: true, good, editor, ..Word::default() });
        word
    }

    /// Words of a line may from now on be sealed more than once, or not at all.
    fn touch(&mut self, line: &str) {
        for (word, known) in &mut self.typed {
            if line.contains(word.as_str()) {
                known.once = false;
                known.cow = None;
            }
        }
    }

    /// The same of a line that was changed: the acts that it does not touch are sealed once all the same.
    fn change(&mut self, line: &str) {
        for (_, known) in self.typed.iter_mut().filter(|(word, _)| line.contains(word.as_str())) {
            known.once = false;
            known.changed = true;
        }
    }

    fn line(&mut self, editor: Option<usize>, kind: Kind) -> String {
        match kind {
            Kind::Good => format!("{} note: {}", 400 + self.words % 7, self.word(editor, true)),
            Kind::Several => {
                let cow = 1000 + self.words;
                let word = self.word(editor, true);
                self.typed.get_mut(&word).unwrap().cow = Some(cow);
                format!("{cow} trim lame rh, note: {word}")
            }
            Kind::Unreadable => format!("{} wlx rh: {}", 400 + self.words % 7, self.word(editor, false)),
            Kind::Heading => format!("2025-03-{:02} by ao", 1 + self.words % 13),
            Kind::Comment => format!("; {}", self.word(editor, false)),
            Kind::Empty => String::new(),
        }
    }

    fn step(&mut self, step: &Step) {
        match *step {
            Step::Open(editor, which) => self.open(editor, if which == 0 { FIRST } else { self.newest() }),
            Step::Type(editor, at, kind) => {
                let line = self.line(Some(editor), kind);
                let text = &mut self.editors[editor].lines;
                // People type at the end, and sometimes elsewhere.
                let at = if at % 3 == 0 { at.min(text.len()) } else { text.len() };
                text.insert(at, line);
            }
            Step::Save(editor, bytes) => self.save(editor, bytes),
            Step::Write => self.write(),
            Step::SaveAndWrite(editor) => {
                self.put(editor, Bytes::Plain);
                self.write();
                self.editors[editor].back.clear();
            }
            Step::Back(editor) => self.back(editor),
            Step::NewYear => {
                let next = NaiveDate::from_ymd_opt(FIRST + 1, 1, 2).unwrap().and_hms_opt(9, 0, 0).unwrap();
                self.now = self.now.max(next);
            }
            Step::Cut(editor, keep) => {
                let text = &mut self.editors[editor].lines;
                let lost: Vec<String> = text.drain(keep.min(text.len())..).collect();
                for line in &lost {
                    self.touch(line);
                }
            }
            Step::Change(editor, at)
            | Step::Delete(editor, at)
            | Step::Move(editor, at, _)
            | Step::Double(editor, at)
            | Step::Join(editor, at) => {
                if at < self.editors[editor].lines.len() {
                    self.touch_line(editor, at, step);
                }
            }
        }
    }

    fn touch_line(&mut self, editor: usize, at: usize, step: &Step) {
        let line = self.editors[editor].lines[at].clone();
        if let Step::Change(..) = step {
            return self.change_line(editor, at, &line);
        }
        let text = &mut self.editors[editor].lines;
        match *step {
            Step::Delete(..) => drop(text.remove(at)),
            Step::Move(_, _, to) => {
                text.remove(at);
                let to = to.min(text.len());
                text.insert(to, line.clone());
                for (_, known) in self.typed.iter_mut().filter(|(word, _)| line.contains(word.as_str())) {
                    known.cow = None;
                }
            }
            Step::Double(..) => text.insert(at, line.clone()),
            Step::Join(..) if at + 1 < text.len() => {
                let next = text.remove(at + 1);
                text[at] = format!("{line}{next}");
                if !next.contains(" | ") {
                    self.change(&line);
                }
                self.touch(&next);
            }
            _ => {}
        }
        if !matches!(step, Step::Move(..)) {
            self.touch(&line);
        }
    }

    fn change_line(&mut self, editor: usize, at: usize, line: &str) {
        let word = self.word(Some(editor), false);
        self.change(line);
        self.typed.get_mut(&word).unwrap().changed = true;
        let now = match line.find(" | ") {
            Some(bar) => format!("{} {word}{}", &line[..bar], &line[bar..]),
            None => format!("{line} {word}"),
        };
        let editor = &mut self.editors[editor];
        editor.lines[at].clone_from(&now);
        if line.contains(" note: ") && !line.contains(" | ") && !line.contains("; ") {
            editor.changes.push((word, now, line.to_owned()));
        }
    }

    fn back(&mut self, editor: usize) {
        let editor = &mut self.editors[editor];
        let Some((word, now, before)) = editor.changes.pop() else { return };
        let mut places = editor.lines.iter_mut().filter(|line| **line == now);
        if let (Some(line), None) = (places.next(), places.next()) {
            before.clone_into(line);
            editor.back.push((word, before));
        }
    }

    fn save(&mut self, editor: usize, bytes: Bytes) {
        let before = self.sealed();
        self.put(editor, bytes);
        self.tend_and_check();
        for (word, line) in std::mem::take(&mut self.editors[editor].back) {
            self.check_taken_back(&before, &word, &line, self.editors[editor].year);
        }
    }

    /// A word taken back that was sealed as a correction: what says so is sealed, or stands in the tail.
    fn check_taken_back(&self, before: &str, word: &str, line: &str, year: i32) {
        let mut corrections = before.lines().filter(|sealed| sealed.contains(word) && sealed.contains(" replaces "));
        let (Some(correction), None) = (corrections.next_back(), corrections.next()) else { return };
        let Some(first) = self.typed.keys().find(|word| line.contains(word.as_str())) else { return };
        let text = fs::read_to_string(self.ledger(year)).unwrap();
        let says = |text: &str| text.contains(first.as_str()) && !text.contains(word);
        let replaces = format!(" replaces {}", correction.rsplit(' ').next().unwrap());
        let is_back = self.sealed().lines().chain(text.lines()).any(|line| line.contains(&replaces) && says(line));
        assert!(is_back, "{word} was taken back, and nothing says so\n{text}");
    }

    fn put(&mut self, editor: usize, bytes: Bytes) {
        let Editor { year, lines, .. } = &self.editors[editor];
        let mut text: String = lines.iter().flat_map(|line| [line.as_str(), "\n"]).collect();
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
        fs::write(self.ledger(*year), saved).unwrap();
        let shown = lines.join("\n");
        for (word, known) in &mut self.typed {
            known.saved |= shown.contains(word.as_str());
        }
    }

    fn write(&mut self) {
        let line = self.line(None, Kind::Good);
        for (word, known) in &mut self.typed {
            known.saved |= line.contains(word.as_str());
        }
        let done = seal_text(&self.desk(), line.as_bytes()).unwrap();
        assert_eq!(done.kept.len(), 1, "{done:?}");
        self.tend_and_check();
    }

    fn desk(&mut self) -> Desk<'_> {
        self.now += TimeDelta::seconds(7);
        let today = self.now.date();
        Desk { herd: &self.herd, device: "crush-laptop", by: "kj", key: &KEY, now: self.now, today }
    }

    fn tend(&mut self) {
        tend(&self.desk(), &[]).unwrap();
    }

    /// All that is sealed.
    fn sealed(&self) -> String {
        self.accepted.values().map(|bytes| std::str::from_utf8(bytes).unwrap()).collect()
    }

    /// The visible files.
    fn texts(&self) -> Vec<String> {
        self.accepted.keys().map(|year| fs::read_to_string(self.ledger(*year)).unwrap()).collect()
    }

    fn look(&mut self) {
        for year in [FIRST, FIRST + 1] {
            let Ok(accepted) = fs::read(self.herd.path().join(format!(".footfold/accepted/crush-laptop/{year}.txt")))
            else {
                continue;
            };
            let text = fs::read(self.ledger(year)).unwrap();
            assert!(text.starts_with(&accepted), "the file begins with what is accepted, byte for byte");
            let before = self.accepted.insert(year, accepted).unwrap_or_default();
            assert!(self.accepted[&year].starts_with(&before), "sealed lines only grow");
            assert!(mark::check(&self.accepted[&year]).is_unbroken());
        }
    }

    fn tend_and_check(&mut self) {
        self.tend();
        self.look();
        let (sealed, texts) = (self.sealed(), self.texts());
        let everywhere = all_text(self.folder.path());
        for (word, known) in self.typed.iter_mut().filter(|(_, known)| known.saved) {
            assert!(everywhere.contains(word.as_str()), "{word} is lost");
            let times = sealed.matches(word.as_str()).count();
            let is_held = texts.iter().any(|text| is_held(text, word));
            assert!(times <= 1 || !known.once, "{word} is sealed {times} times\n{sealed}");
            assert!(times == 1 || !known.once || !known.good || is_held, "{word} was not sealed\n{sealed}");
            // Another editor may have it from the tail.
            known.cow = known.cow.filter(|_| !is_held);
            let trims = known.cow.map_or(0, |cow| sealed.matches(&format!(" {cow} trim ")).count());
            assert!(trims <= 1, "what was not changed of the line of {word} is sealed {trims} times\n{sealed}");
        }
        self.check_corrections(&sealed);
        self.tend();
        assert_eq!(texts, self.texts(), "no rest");
    }

    /// Only what somebody changed is corrected. Of two editors that show the same and type of the same cow, the second
    /// may be taken for a change of what the first typed: nothing in the two texts tells them apart.
    fn check_corrections(&self, sealed: &str) {
        let words = |line: &str| {
            self.typed
                .iter()
                .filter(|(word, _)| line.contains(word.as_str()))
                .map(|(_, known)| *known)
                .collect::<Vec<_>>()
        };
        for line in sealed.lines() {
            let Some((_, rest)) = line.split_once(" replaces ") else { continue };
            let Some(was) = sealed.lines().find(|was| was.ends_with(&rest[..16])) else { continue };
            let (of_was, of_line) = (words(was), words(line));
            let is_changed = of_was.iter().any(|known| known.changed);
            let other_hand = of_was.iter().all(|was| of_line.iter().all(|now| now.editor != was.editor));
            assert!(is_changed || other_hand, "nobody changed it: {was}\n{sealed}");
        }
    }
}

/// Whether a good line stays in the tail all the same: joined with another, or under a heading that is not understood.
fn is_held(text: &str, word: &str) -> bool {
    text.lines().any(|line| line.contains(word) && !line.contains(" | "))
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
        prop_assert!(world.accepted.values().all(|accepted| mark::check(accepted).is_unbroken()));
    }
}
