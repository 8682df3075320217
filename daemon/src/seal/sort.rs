//! Typed text, sorted into what is kept and what stays.

use std::ops::Range;

use ledger_format::keep::{self, Fate, TypedBefore, What};
use ledger_format::limits::TYPED_LINES;
use ledger_format::line::Mark;
use ledger_format::text;
use ledger_format::typing::{self, Context, Outcome, Remark};

use super::Desk;
use super::heading::{Reach, Written};

/// A remark on a line that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// The line kept.
    pub body: String,
    /// What is unlikely in it.
    pub remark: String,
}

/// A typed line that was left as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// Its number in the text, counted from 1.
    pub number: usize,
    /// The line, cleaned; columns of the remarks count in it.
    pub text: String,
    /// What was expected, and where.
    pub remarks: Vec<Remark>,
}

/// Typed text, sorted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Sorted {
    /// Bodies to seal, in order.
    pub(super) bodies: Vec<String>,
    pub(super) doubts: Vec<Doubt>,
    pub(super) refused: Vec<Refused>,
    /// Lines that stay in the tail, with remarks under those refused.
    pub(super) left: Vec<String>,
    /// What became of each typed line.
    fates: Vec<(String, LineFate)>,
}

/// What becomes of one typed line.
#[derive(Clone, Debug, PartialEq, Eq)]
enum LineFate {
    /// It is sealed as these of the bodies.
    Sealed(Range<usize>),
    /// It was sealed before.
    Again(Vec<Mark>),
    /// It stays as these of the lines left.
    Left(Range<usize>),
    /// It has the fate of the same line in a text that is taken in with this one.
    Elsewhere,
}

impl Sorted {
    /// Nothing is read; all stays.
    pub(super) fn left_alone(typed: &[keep::Typed]) -> Self {
        let mut sorted = Self::default();
        for typed in typed {
            let fate = match &typed.what {
                What::Again(marks) => LineFate::Again(marks.clone()),
                What::Elsewhere => LineFate::Elsewhere,
                _ => {
                    sorted.left.push(as_read(typed));
                    LineFate::Left(sorted.left.len() - 1..sorted.left.len())
                }
            };
            sorted.fates.push((typed.as_saved().to_owned(), fate));
        }
        sorted
    }

    /// What became of each line, given the marks that the bodies got, and of those taken in before.
    pub(super) fn remembered(&self, marks: &[Mark], before: &[TypedBefore]) -> Vec<TypedBefore> {
        let elsewhere = |text: &String| {
            let same = before.iter().find(|line| line.text == *text).map(|line| line.fate.clone());
            same.unwrap_or_else(|| Fate::Left(vec![text.clone()]))
        };
        let fate = |text: &String, fate: &LineFate| match fate {
            LineFate::Sealed(bodies) => Fate::Kept(marks[bodies.clone()].to_vec()),
            LineFate::Again(marks) if !marks.is_empty() => Fate::Kept(marks.clone()),
            LineFate::Left(left) if !left.is_empty() => Fate::Left(self.left[left.clone()].to_vec()),
            LineFate::Elsewhere => elsewhere(text),
            LineFate::Again(_) | LineFate::Left(_) => Fate::Gone,
        };
        self.fates.iter().map(|(text, line)| TypedBefore { text: text.clone(), fate: fate(text, line) }).collect()
    }
}

/// Sorts a text given on its own.
pub(super) fn sort(bytes: &[u8], desk: &Desk) -> Sorted {
    let decoded = text::decode(bytes);
    let new =
        |(number, text): (usize, &str)| keep::Typed { number, text: text.to_owned(), saved: None, what: What::New };
    let lines: Vec<keep::Typed> = (1..).zip(text::split(&decoded.text)).map(new).collect();
    sort_lines(&lines, desk)
}

/// Sorts lines of a tail.
pub(super) fn sort_lines(lines: &[keep::Typed], desk: &Desk) -> Sorted {
    let context = Context { today: desk.today, by: desk.by, device: desk.device };
    let read: Vec<String> = lines.iter().map(as_read).collect();
    let typed = typing::read(&read.join("\n"), &context);
    let mut fates: Vec<Found> = lines.iter().map(|_| Found::default()).collect();
    for one in typed {
        if let Some(fate) = one.number.checked_sub(1).and_then(|at| fates.get_mut(at)) {
            fate.add(one.text, one.outcome);
        }
    }
    let mut sorted = Sorted::default();
    let mut open = Open { blanks: false, reach: Reach::new(context) };
    for (at, (line, found)) in lines.iter().zip(fates).enumerate() {
        if at == TYPED_LINES {
            // From here on nothing was read, headings neither.
            stay_held(&mut sorted, &mut open);
        }
        let (bodies, left) = (sorted.bodies.len(), sorted.left.len());
        let fate = match &line.what {
            // It says its day and person to the lines under it, and nothing else.
            What::Again(_) | What::Elsewhere => {
                if found.heading {
                    open.reach.heading(&read[at]);
                }
                match &line.what {
                    What::Again(marks) => LineFate::Again(marks.clone()),
                    _ => LineFate::Elsewhere,
                }
            }
            _ => {
                place(line.number, &read[at], found, &mut sorted, &mut open);
                match bodies..sorted.bodies.len() {
                    bodies if bodies.is_empty() => LineFate::Left(left..sorted.left.len()),
                    bodies => LineFate::Sealed(bodies),
                }
            }
        };
        sorted.fates.push((line.as_saved().to_owned(), fate));
    }
    sorted
}

/// A typed line as it is to be read.
fn as_read(typed: &keep::Typed) -> String {
    match typed.what {
        What::Corrects(mark) => keep::as_correction(&text::clean(&typed.text).text, mark, None),
        _ => typed.text.clone(),
    }
}

/// What reading found in one typed line.
#[derive(Default)]
struct Found {
    text: String,
    bodies: Vec<(String, Vec<String>)>,
    remarks: Vec<Remark>,
    refused: bool,
    blank: bool,
    heading: bool,
    gone: bool,
}

impl Found {
    fn add(&mut self, text: String, outcome: Outcome) {
        match outcome {
            Outcome::Blank => self.blank = true,
            Outcome::Comment => {}
            Outcome::Heading => self.heading = true,
            Outcome::OldRemark => self.gone = true,
            Outcome::Kept(kept) => {
                let with_doubts =
                    |kept: typing::Kept| (kept.body, kept.doubts.iter().map(ToString::to_string).collect());
                self.bodies.extend(kept.into_iter().map(with_doubts));
            }
            Outcome::Refused(remarks) => {
                self.refused = true;
                self.text = text;
                self.remarks.extend(remarks);
            }
        }
    }
}

/// Blanks whose fate hangs on the lines after them, and what the headings say.
struct Open<'a> {
    blanks: bool,
    reach: Reach<'a>,
}

fn place(number: usize, line: &str, found: Found, sorted: &mut Sorted, open: &mut Open) {
    if found.refused {
        let remarks = stay(line, &found.remarks, sorted, open);
        sorted.left.extend(remarks.iter().flat_map(Remark::in_file));
        sorted.refused.push(Refused { number, text: found.text, remarks: found.remarks });
    } else if found.heading {
        open.reach.heading(line);
    } else if !found.bodies.is_empty() {
        for (body, doubts) in found.bodies {
            sorted.doubts.extend(doubts.into_iter().map(|remark| Doubt { body: body.clone(), remark }));
            sorted.bodies.push(body);
        }
    } else if found.blank {
        open.blanks |= !sorted.left.is_empty();
    } else if !found.gone {
        // A comment, or a line that was not read at all.
        push_left(line, sorted, open);
    }
}

/// A refused line stays, with what the headings above say of it: left above it, they would date and sign whatever
/// is typed below it later. Gives the remarks on the line as it stays.
fn stay(line: &str, remarks: &[Remark], sorted: &mut Sorted, open: &mut Open) -> Vec<Remark> {
    if open.reach.is_broken_heading(line) {
        stay_held(sorted, open);
    }
    match open.reach.write_into(line) {
        Written::AsIs => push_left(line, sorted, open),
        Written::Anew(text, remarks) => {
            push_left(&text, sorted, open);
            return remarks;
        }
    }
    remarks.to_vec()
}

/// A heading that is not understood holds the lines under it back; once mended, it may go on from those above it.
fn stay_held(sorted: &mut Sorted, open: &mut Open) {
    sorted.left.extend(open.reach.hold());
}

/// A blank line stays only between lines that stay.
fn push_left(line: &str, sorted: &mut Sorted, open: &mut Open) {
    if std::mem::take(&mut open.blanks) {
        sorted.left.push(String::new());
    }
    sorted.left.push(line.to_owned());
}
