//! Typed text, sorted into what is kept and what stays.

use ledger_format::limits::TYPED_LINES;
use ledger_format::text;
use ledger_format::typing::{self, Context, Outcome, Remark};

use super::Desk;
use super::heading::{Reach, Written};
use crate::saved::Numbered;

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
    /// Lines that go from the tail.
    pub(super) consumed: Vec<String>,
    /// Lines that stay in it, with remarks under those refused.
    pub(super) left: Vec<String>,
    /// Lines that stay in other words: headings, and lines that took over what these say.
    pub(super) rewritten: Vec<String>,
}

impl Sorted {
    /// Nothing is read; all stays.
    pub(super) fn left_alone(typed: &[Numbered]) -> Self {
        Self { left: typed.iter().map(|(_, line)| line.clone()).collect(), ..Self::default() }
    }
}

/// Sorts a text given on its own.
pub(super) fn sort(bytes: &[u8], desk: &Desk) -> Sorted {
    let decoded = text::decode(bytes);
    let lines: Vec<Numbered> = (1..).zip(text::split(&decoded.text).map(str::to_owned)).collect();
    sort_lines(&lines, desk)
}

/// Sorts lines of a tail.
pub(super) fn sort_lines(lines: &[Numbered], desk: &Desk) -> Sorted {
    let context = Context { today: desk.today, by: desk.by, device: desk.device };
    let typed = typing::read(&joined(lines), &context);
    let mut fates: Vec<Fate> = lines.iter().map(|_| Fate::default()).collect();
    for one in typed {
        if let Some(fate) = one.number.checked_sub(1).and_then(|at| fates.get_mut(at)) {
            fate.add(one.text, one.outcome);
        }
    }
    let mut sorted = Sorted::default();
    let mut open = Open { headings: Vec::new(), blanks: false, reach: Reach::new(context) };
    for (at, (line, fate)) in lines.iter().zip(fates).enumerate() {
        if at == TYPED_LINES {
            // From here on nothing was read, headings neither.
            stay_held(&mut sorted, &mut open);
        }
        place(line, fate, &mut sorted, &mut open);
    }
    sorted.consumed.append(&mut open.headings);
    sorted
}

/// What becomes of one typed line.
#[derive(Default)]
struct Fate {
    text: String,
    bodies: Vec<(String, Vec<String>)>,
    remarks: Vec<Remark>,
    refused: bool,
    blank: bool,
    heading: bool,
    gone: bool,
}

impl Fate {
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

/// Headings and blanks whose fate hangs on the lines after them.
struct Open<'a> {
    headings: Vec<String>,
    blanks: bool,
    reach: Reach<'a>,
}

fn place((number, line): &Numbered, fate: Fate, sorted: &mut Sorted, open: &mut Open) {
    if fate.refused {
        let remarks = stay(line, &fate.remarks, sorted, open);
        sorted.left.extend(remarks.iter().map(|remark| format!(";! {remark}")));
        sorted.refused.push(Refused { number: *number, text: fate.text, remarks: fate.remarks });
    } else if fate.heading {
        open.headings.push(line.clone());
        open.reach.heading(line);
    } else if !fate.bodies.is_empty() {
        sorted.consumed.push(line.clone());
        for (body, doubts) in fate.bodies {
            sorted.doubts.extend(doubts.into_iter().map(|remark| Doubt { body: body.clone(), remark }));
            sorted.bodies.push(body);
        }
    } else if fate.gone {
        sorted.consumed.push(line.clone());
    } else if fate.blank {
        open.blanks |= !sorted.left.is_empty();
    } else {
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
            sorted.rewritten.append(&mut open.headings);
            sorted.rewritten.push(line.to_owned());
            return remarks;
        }
    }
    remarks.to_vec()
}

/// A heading that is not understood holds the lines under it back; once mended, it may go on from those above it.
fn stay_held(sorted: &mut Sorted, open: &mut Open) {
    if let Some(heading) = open.reach.hold() {
        sorted.left.push(heading);
        sorted.rewritten.append(&mut open.headings);
    }
}

/// A blank line stays only between lines that stay.
fn push_left(line: &str, sorted: &mut Sorted, open: &mut Open) {
    if std::mem::take(&mut open.blanks) {
        sorted.left.push(String::new());
    }
    sorted.left.push(line.to_owned());
}

fn joined(lines: &[Numbered]) -> String {
    lines.iter().flat_map(|(_, line)| [line.as_str(), "\n"]).collect()
}
