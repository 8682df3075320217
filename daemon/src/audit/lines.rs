//! What the single lines of a sealed part say: those that cannot be read, and where the clock stepped back.

use std::fs::File;
use std::path::Path;

use chrono::NaiveDateTime;
use ledger_format::keep;
use ledger_format::line::{self, Problem, read_sealed, split_seal};

use super::Report;
use crate::Trouble;
use crate::disk::read;

/// Of more lines than this only the number is told.
const TOLD: usize = 10;
const STEP_BACK_SECONDS: i64 = 60;

/// What was found so far; small, however long the file.
#[derive(Debug, Default)]
pub(super) struct Lines {
    number: usize,
    last_sealed: Option<NaiveDateTime>,
    unreadable: Told,
    why: Option<Problem>,
    steps_back: Told,
}

/// Line numbers: the first few, and how many there are.
#[derive(Debug, Default)]
struct Told {
    first: Vec<usize>,
    count: usize,
}

impl Told {
    fn add(&mut self, number: usize) {
        self.count += 1;
        if self.first.len() < TOLD {
            self.first.push(number);
        }
    }

    fn say(&self) -> String {
        let more = self.count - self.first.len();
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        keep::line_numbers(&self.first) + &more
    }
}

impl Lines {
    /// Reads the vouched part of a file, piece by piece.
    pub(super) fn of_file(file: File, path: &Path, vouched: u64) -> Result<Self, Trouble> {
        let mut lines = Self::default();
        read::lines(file, path, vouched, |line| lines.take(line))?;
        Ok(lines)
    }

    /// Reads a vouched part that is in memory.
    pub(super) fn of_bytes(vouched: &[u8]) -> Self {
        let mut lines = Self::default();
        vouched.split_inclusive(|b| *b == b'\n').for_each(|line| lines.take(line.strip_suffix(b"\n").unwrap_or(line)));
        lines
    }

    fn take(&mut self, line: &[u8]) {
        self.number += 1;
        let sealed = match std::str::from_utf8(line).map(read_sealed) {
            // The head is no observation; only its sealed time is looked at.
            _ if self.number == 1 => sealed_time(line).ok_or_else(no_time),
            Ok(read) => read.map(|sealed| sealed.seal.sealed),
            Err(error) => Err(Problem::new(error.valid_up_to()..line.len(), "UTF-8")),
        };
        let time = match sealed {
            Ok(time) => Some(time),
            Err(problem) => {
                self.unreadable.add(self.number);
                self.why.get_or_insert(problem);
                sealed_time(line)
            }
        };
        let Some(time) = time else { return };
        if self.last_sealed.is_some_and(|last| (last - time).num_seconds() > STEP_BACK_SECONDS) {
            self.steps_back.add(self.number);
        }
        self.last_sealed = Some(time);
    }

    /// Adds to a report what is to be done and what is only to be known.
    pub(super) fn tell(&self, report: &mut Report) {
        if let (Some(first), Some(problem)) = (self.unreadable.first.first(), &self.why) {
            report.findings.push(unreadable(&self.unreadable, problem).at(&report.path).line(*first));
        }
        if let Some(first) = self.steps_back.first.first() {
            report.notes.push(stepped_back(&self.steps_back).at(&report.path).line(*first));
        }
    }
}

fn sealed_time(line: &[u8]) -> Option<NaiveDateTime> {
    let (_, seal) = split_seal(line)?;
    line::read_utc(seal.get(3..23)?)
}

fn no_time() -> Problem {
    Problem::new(0..0, "a real sealed time, as 2026-03-14T09:20:11Z")
}

fn unreadable(told: &Told, problem: &Problem) -> Trouble {
    let (which, they) = (told.say(), if told.count == 1 { "is" } else { "are" });
    Trouble::new(
        format!("{which} cannot be read and {they} left out of all lists: {problem}"),
        "it stays where it is, for it is sealed; type what it should say anew, with `replaces` and its mark",
    )
}

fn stepped_back(told: &Told) -> Trouble {
    Trouble::new(
        format!("the clock stepped back by more than a minute: {}", told.say()),
        "look at that machine's clock; the order of the lines holds, and no line is lost",
    )
}
