//! A case of `keep.md`: accepted lines, remembered saves, a save, and what it says.
//!
//! Accepted lines are given without seal, the head is line 1. In every text `{4}` is accepted line 4 as it stands,
//! `{seal 4}` its seal, `{mark 4}` its mark, `{cut 4 30}` its first 30 bytes; `{other mark 2}` is of the device's file
//! of another year.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use ledger_format::keep::{Changed, Correction, Fate, Remembered, Said, Saved, Typed, TypedBefore, What};
use ledger_format::keep::{as_correction, changed, line_numbers, places};
use ledger_format::line::{Mark, split_seal};
use ledger_format::mark::Chain;
use ledger_format::text::clean;
use ledger_format::typing::{Context, Outcome, read};

use crate::cases::Case;

/// The accepted bytes of a file.
pub(crate) struct Accepted {
    pub(crate) bytes: Vec<u8>,
    lines: Vec<String>,
    /// The device's file of another year.
    pub(crate) other: Option<Box<Accepted>>,
}

impl Accepted {
    pub(crate) fn of(bodies: &[&str]) -> Self {
        let head = format!("footfold 1 herd quillmere device crush-laptop key {} zone Europe/London", "8d".repeat(32));
        let (mut chain, mut accepted) = (Chain::default(), Self { bytes: Vec::new(), lines: Vec::new(), other: None });
        for (n, body) in (0..).zip(std::iter::once(head.as_str()).chain(bodies.iter().copied())) {
            chain.seal(&accepted.filled(body), time(n), &mut accepted.bytes);
            let text = String::from_utf8(accepted.bytes.clone()).unwrap();
            accepted.lines = text.lines().map(str::to_owned).collect();
        }
        accepted
    }

    pub(crate) fn with(self, other: &[&str]) -> Self {
        Self { other: Some(Box::new(Self::of(other))), ..self }
    }

    /// The bytes of the other file, if there is one.
    pub(crate) fn others(&self) -> Vec<&[u8]> {
        self.other.iter().map(|other| other.bytes.as_slice()).collect()
    }

    /// An accepted line, counted from 1.
    pub(crate) fn line(&self, number: usize) -> &str {
        &self.lines[number - 1]
    }

    pub(crate) fn mark(&self, number: usize) -> Mark {
        Mark::read(self.line(number).rsplit(' ').next().unwrap().as_bytes()).unwrap()
    }

    /// The number of the line with this mark.
    fn number_of(&self, mark: Mark) -> usize {
        (1..=self.lines.len()).find(|number| self.mark(*number) == mark).unwrap_or_default()
    }

    fn numbers_of(&self, marks: &[Mark]) -> Vec<usize> {
        marks.iter().map(|mark| self.number_of(*mark)).collect()
    }

    /// A text of a case with what stands in braces filled in.
    pub(crate) fn filled(&self, text: &str) -> String {
        let Some((before, rest)) = text.split_once('{') else { return text.to_owned() };
        let (wanted, after) = rest.split_once('}').unwrap();
        let number = |text: &str| text.parse::<usize>().unwrap();
        let value = match wanted.split(' ').collect::<Vec<_>>()[..] {
            ["tab"] => "\t".to_owned(),
            ["nul"] => "\0".to_owned(),
            ["seal", n] => {
                let line = self.line(number(n));
                line[split_seal(line.as_bytes()).unwrap().0.len()..].to_owned()
            }
            ["mark", n] => self.mark(number(n)).to_string(),
            ["other", "mark", n] => self.other.as_ref().unwrap().mark(number(n)).to_string(),
            ["cut", n, bytes] => self.line(number(n))[..number(bytes)].to_owned(),
            [n] => self.line(number(n)).to_owned(),
            _ => panic!("{{{wanted}}} is nothing"),
        };
        format!("{before}{value}{}", self.filled(after))
    }
}

fn time(n: i64) -> NaiveDateTime {
    NaiveDate::from_ymd_opt(2026, 3, 14).unwrap().and_hms_opt(8, 0, 0).unwrap() + TimeDelta::minutes(n)
}

/// The saved bytes: rows as lines, in the form that `saved-as:` names.
pub(crate) fn saved_bytes(case: &Case, accepted: &Accepted) -> Vec<u8> {
    let lines: Vec<String> = case.needed("save").into_iter().map(|row| accepted.filled(row)).collect();
    let plain: String = lines.iter().flat_map(|line| [line.as_str(), "\n"]).collect();
    let utf16 = |text: &str| text.encode_utf16().collect::<Vec<u16>>();
    match case.header.get("saved-as").map_or("plain", String::as_str) {
        "plain" => plain.into_bytes(),
        "crlf" => plain.replace('\n', "\r\n").into_bytes(),
        "no last line end" => plain.trim_end_matches('\n').as_bytes().to_vec(),
        "byte order mark" => format!("\u{feff}{plain}").into_bytes(),
        "utf-16le" => utf16(&format!("\u{feff}{plain}")).into_iter().flat_map(u16::to_le_bytes).collect(),
        "utf-16be" => utf16(&format!("\u{feff}{plain}")).into_iter().flat_map(u16::to_be_bytes).collect(),
        // Only letters of the Latin alphabet occur in these cases.
        "windows-1252" => plain.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect(),
        other => panic!("{}: no form {other:?}", case.name),
    }
}

/// Earlier saves, the newest first: the sections `before`, `earlier`, `earliest`.
pub(crate) fn remembered(case: &Case, accepted: &Accepted) -> Vec<Remembered> {
    let sections = ["before", "earlier", "earliest"].into_iter().filter_map(|name| case.section(name));
    sections.map(|rows| one_save(&rows, accepted)).collect()
}

fn one_save(rows: &[&str], accepted: &Accepted) -> Remembered {
    let mut save = Remembered::default();
    for row in rows {
        let (key, value) = row.split_once(": ").unwrap_or_else(|| panic!("{row}"));
        let value = accepted.filled(value);
        let number = |text: &str| text.parse::<usize>().unwrap();
        match key {
            "shown" => save.shown = number(&value),
            "lacking" => save.lacking = value.split(", ").map(|line| number(line) - 1).collect(),
            "file" => save.shown_after = number(&value),
            "tail" => save.left.push(value),
            "changes" => {
                let (before, marks) = value.split_once(" -> ").unwrap();
                let last = save.typed.last_mut().unwrap();
                last.changes = Some(Changed { before: before.to_owned(), marks: marks_of(marks) });
            }
            "typed" => {
                let (text, fate) = value.split_once(" -> ").unwrap();
                let fate = match fate.split_once(' ').unwrap_or((fate, "")) {
                    ("gone", _) => Fate::Gone,
                    ("left", _) => Fate::Left(vec![text.to_owned()]),
                    ("kept", marks) => Fate::Kept(marks_of(marks)),
                    _ => panic!("{row}"),
                };
                save.typed.push(TypedBefore { text: text.to_owned(), fate, changes: None });
            }
            _ => panic!("{row}"),
        }
    }
    save
}

fn marks_of(text: &str) -> Vec<Mark> {
    text.split(' ').map(|mark| Mark::read(mark.as_bytes()).unwrap()).collect()
}

/// Typed lines as a case writes them.
pub(crate) fn typed(lines: &[Typed], accepted: &Accepted) -> Vec<String> {
    let row = |typed: &Typed| {
        let what = match &typed.what {
            What::New => "new".to_owned(),
            What::Left => "left".to_owned(),
            What::Again(marks) if marks.is_empty() => "again".to_owned(),
            What::Again(marks) if accepted.number_of(marks[0]) == 0 => "again elsewhere".to_owned(),
            What::Again(marks) => format!("again {}", line_numbers(&accepted.numbers_of(marks))),
            What::Corrects(of) => match of.was.iter().map(|was| was.at).collect::<Option<Vec<_>>>() {
                Some(lines) => format!("corrects {}", places(&lines)),
                None => "corrects elsewhere".to_owned(),
            },
            What::Elsewhere => "elsewhere".to_owned(),
        };
        let in_front = if typed.in_front { " in front" } else { "" };
        format!("{} {what}{in_front}: {}", typed.number, typed.text)
    };
    lines.iter().map(row).collect()
}

/// What else the save says, as a case writes it.
pub(crate) fn outcome(saved: &Saved) -> Vec<String> {
    let lists = [("deleted", &saved.deleted), ("unseen", &saved.unseen), ("repeated", &saved.repeated)];
    let mut rows: Vec<String> = lists
        .into_iter()
        .filter(|(_, lines)| !lines.is_empty())
        .map(|(name, lines)| format!("{name} {}", places(lines)))
        .collect();
    if saved.moved {
        rows.push("moved".to_owned());
    }
    if saved.damaged > 0 {
        rows.push(format!("damaged {}", saved.damaged));
    }
    if saved.guessed {
        rows.push("guessed".to_owned());
    }
    rows.extend(saved.aside.iter().map(|text| format!("aside {text}")));
    rows
}

/// Corrections of one line as they stand while they are not understood.
pub(crate) fn sentences(saved: &Saved) -> Vec<String> {
    let sentence = |typed: &Typed| match &typed.what {
        What::Corrects(Correction { was, .. }) if was.len() == 1 => {
            Some(as_correction(&clean(&typed.text).text, was[0].mark, None))
        }
        _ => None,
    };
    saved.typed.iter().filter_map(sentence).collect()
}

/// What corrections become that are understood.
pub(crate) fn becomes(saved: &Saved, accepted: &Accepted) -> Vec<String> {
    let mut rows = Vec::new();
    for typed in &saved.typed {
        let What::Corrects(Correction { before, was, .. }) = &typed.what else { continue };
        let now = bodies(&typed.text);
        if now.is_empty() {
            continue;
        }
        let (said, gone) = changed(&now, &bodies(before), was);
        rows.extend(said.into_iter().map(|said| match said {
            Said::Again(mark) if accepted.number_of(mark) == 0 => "again elsewhere".to_owned(),
            Said::Again(mark) => format!("again {}", line_numbers(&[accepted.number_of(mark)])),
            Said::Anew(body) => body,
        }));
        rows.extend(gone.iter().filter_map(|was| was.at).map(|at| format!("gone {}", places(&[at]))));
    }
    rows
}

fn bodies(text: &str) -> Vec<String> {
    let context = Context { today: time(0).date(), by: "kj", device: "crush-laptop" };
    let kept = read(text, &context).into_iter().filter_map(|typed| match typed.outcome {
        Outcome::Kept(kept) => Some(kept),
        _ => None,
    });
    kept.flatten().map(|kept| kept.body).collect()
}
