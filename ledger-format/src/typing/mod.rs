//! Typing: what people type loosely becomes canonical lines, or remarks (`spec/typing.md`).
//!
//! ```
//! use ledger_format::typing::{Context, Outcome, read};
//! let today = ledger_format::line::read_date(b"2026-03-14").unwrap();
//! let context = Context { today, by: "kj", device: "crush-laptop" };
//! let typed = read("417 WLA RH outer z3, trim\n", &context);
//! let Outcome::Kept(lines) = &typed[0].outcome else { panic!() };
//! assert_eq!(lines[0].body, "2026-03-14 417 lesion WLA RH outer zone 3 by kj");
//! assert_eq!(lines[1].body, "2026-03-14 417 trim lame RH by kj");
//! ```

mod acts;
mod date;
mod doubt;
mod keep;
mod leftover;
mod near;
mod part;
mod parts;
mod phrase;
mod remark;
mod segment;
mod subject;
mod token;
mod units;
mod whole;

use chrono::NaiveDate;

pub use remark::Remark;

use crate::limits::{TYPED_LINE_BYTES, TYPED_LINES};
use crate::line::Minute;
use crate::text::{CleanLine, Decoded, clean, decode, split};
use remark::{Span, Wrong};
use token::Source;
use whole::LineReader;

/// What typed text is read with.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The day of reading, in the herd's civil time.
    pub today: NaiveDate,
    /// The device's usual person.
    pub by: &'a str,
    /// The device's name.
    pub device: &'a str,
}

/// One typed line and what became of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Typed {
    /// Its number in the typed text, from 1.
    pub number: usize,
    /// The line, cleaned.
    pub text: String,
    /// What became of it.
    pub outcome: Outcome,
}

/// What became of a typed line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing on it.
    Blank,
    /// A person's comment, which stays.
    Comment,
    /// Date, time or person for the lines under it.
    Heading,
    /// Understood: canonical lines.
    Kept(Vec<Kept>),
    /// Not understood as a whole: it stays typed, with these remarks.
    Refused(Vec<Remark>),
    /// The program's own remark of an earlier reading, which goes.
    OldRemark,
}

/// A line that was understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The canonical body; [`crate::line::read`] accepts it.
    pub body: String,
    /// What is unlikely in it, or was taken out of the typed text.
    pub doubts: Vec<Remark>,
}

/// Decodes bytes and reads them as typed text.
pub fn read_bytes(bytes: &[u8], context: &Context<'_>) -> (Decoded, Vec<Typed>) {
    let decoded = decode(bytes);
    let typed = read(&decoded.text, context);
    (decoded, typed)
}

/// Reads typed text, line by line; headings hold for the lines under them. Reading never fails.
pub fn read(text: &str, context: &Context<'_>) -> Vec<Typed> {
    let mut carry = Carry::default();
    let lines = split(text).enumerate();
    lines.map(|(index, line)| read_line(index + 1, clean(line), context, &mut carry)).collect()
}

/// What headings have said so far.
#[derive(Default)]
struct Carry {
    date: Option<NaiveDate>,
    minute: Option<Minute>,
    by: Option<String>,
    /// The last heading is not understood.
    broken: bool,
    /// That its date is ahead has been said.
    told_ahead: bool,
}

fn read_line(number: usize, line: CleanLine, context: &Context<'_>, carry: &mut Carry) -> Typed {
    let outcome = match line.text.as_bytes() {
        [] => Outcome::Blank,
        [b';', b'!', ..] => Outcome::OldRemark,
        [b';', ..] => Outcome::Comment,
        _ => {
            if let Some(remark) = beyond_limits(number, &line) {
                return Typed { number, text: line.text, outcome: Outcome::Refused(vec![remark]) };
            }
            let source = Source::new(line.text);
            let outcome = LineReader::new(&source, context, carry).read(line.invisible, line.control);
            let outcome = refuse_lost_character(&source.text, outcome, carry);
            return Typed { number, text: source.text, outcome };
        }
    };
    Typed { number, text: line.text, outcome }
}

fn beyond_limits(number: usize, line: &CleanLine) -> Option<Remark> {
    let whole = Span { start: 0, end: line.text.len() };
    if line.too_long {
        let expected = format!("at most {TYPED_LINE_BYTES} bytes");
        return Some(Wrong::new("a line that is too long", expected).at(&line.text, whole));
    }
    if number > TYPED_LINES {
        let expected = format!("at most {TYPED_LINES} lines in one go");
        return Some(Wrong::new("a line too many", expected).at(&line.text, whole));
    }
    None
}

/// What could not be decoded is not sealed; as a heading it holds back what is under it.
fn refuse_lost_character(text: &str, outcome: Outcome, carry: &mut Carry) -> Outcome {
    let Some((at, lost)) = text.char_indices().find(|(_, c)| *c == char::REPLACEMENT_CHARACTER) else {
        return outcome;
    };
    carry.broken |= outcome == Outcome::Heading;
    let expected = "the character as it was; it was lost when the text was saved";
    let remark = Wrong::new("a lost character", expected).at(text, Span { start: at, end: at + lost.len_utf8() });
    let mut remarks = vec![remark];
    if let Outcome::Refused(others) = outcome {
        remarks.extend(others.into_iter().filter(|other| other.found != "cannot be written as a line"));
        remarks.sort_by_key(|remark| remark.column);
    }
    Outcome::Refused(remarks)
}
