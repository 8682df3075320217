//! Typed text, sorted into what is kept and what stays.

use std::collections::HashMap;
use std::ops::Range;

use chrono::NaiveDate;
use ledger_format::keep::{self, Changed, Correction, Fate, Said, TypedBefore, What};
use ledger_format::limits::TYPED_LINES;
use ledger_format::line::{self, Mark, read_date};
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
    /// Accepted lines of this file, by their places, that changed lines give no more.
    pub(super) gone: Vec<usize>,
    /// What became of each typed line.
    fates: Vec<Fated>,
}

/// A typed line and what became of it.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Fated {
    text: String,
    fate: LineFate,
    /// What it changes, if it stays.
    changes: Option<Changed>,
}

/// What becomes of one typed line.
#[derive(Clone, Debug, PartialEq, Eq)]
enum LineFate {
    /// It is sealed as these of the bodies.
    Sealed(Range<usize>),
    /// It was sealed before, and changed since: as these, old and new.
    Changed(Vec<Piece>),
    /// It was sealed before.
    Again(Vec<Mark>),
    /// It stays as these of the lines left.
    Left(Range<usize>),
    /// It has the fate of the same line in a text that is taken in with this one.
    Elsewhere,
}

/// One of the lines that a changed line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Piece {
    Old(Mark),
    /// This of the bodies.
    New(usize),
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
                    sorted.left.push(as_left(typed));
                    LineFate::Left(sorted.left.len() - 1..sorted.left.len())
                }
            };
            sorted.fate(typed, fate);
        }
        sorted
    }

    fn keep(&mut self, body: String, doubts: Vec<String>) {
        self.doubts.extend(doubts.into_iter().map(|remark| Doubt { body: body.clone(), remark }));
        self.bodies.push(body);
    }

    fn fate(&mut self, typed: &keep::Typed, fate: LineFate) {
        let changes = typed.changes().filter(|_| matches!(fate, LineFate::Left(_)));
        self.fates.push(Fated { text: typed.as_saved().to_owned(), fate, changes });
    }

    /// What became of each line, given the marks that the bodies got, and of those taken in before.
    pub(super) fn remembered(&self, marks: &[Mark], before: &[TypedBefore]) -> Vec<TypedBefore> {
        let elsewhere = |text: &String| {
            let same = before.iter().find(|line| line.text == *text).map(|line| line.fate.clone());
            same.unwrap_or_else(|| Fate::Left(vec![text.clone()]))
        };
        let mark = |piece: &Piece| match piece {
            Piece::Old(mark) => *mark,
            Piece::New(body) => marks[*body],
        };
        let fate = |line: &Fated| match &line.fate {
            LineFate::Sealed(bodies) => Fate::Kept(marks[bodies.clone()].to_vec()),
            LineFate::Changed(pieces) => Fate::Kept(pieces.iter().map(mark).collect()),
            LineFate::Again(marks) if !marks.is_empty() => Fate::Kept(marks.clone()),
            LineFate::Left(left) if !left.is_empty() => Fate::Left(self.left[left.clone()].to_vec()),
            LineFate::Elsewhere => elsewhere(&line.text),
            LineFate::Again(_) | LineFate::Left(_) => Fate::Gone,
        };
        let before =
            |line: &Fated| TypedBefore { text: line.text.clone(), fate: fate(line), changes: line.changes.clone() };
        self.fates.iter().map(before).collect()
    }
}

/// Sorts a text given on its own.
pub(super) fn sort(bytes: &[u8], desk: &Desk) -> Sorted {
    let decoded = text::decode(bytes);
    let new = |(number, text): (usize, &str)| keep::Typed {
        number,
        text: text.to_owned(),
        saved: None,
        what: What::New,
        in_front: false,
    };
    let lines: Vec<keep::Typed> = (1..).zip(text::split(&decoded.text)).map(new).collect();
    sort_lines(&lines, desk)
}

/// Sorts lines of a tail.
pub(super) fn sort_lines(lines: &[keep::Typed], desk: &Desk) -> Sorted {
    let context = Context { today: desk.today, by: desk.by, device: desk.device };
    let read: Vec<String> = lines.iter().map(|line| as_read(line, &context)).collect();
    let mut changes = Changes { lines, read: &read, context, by_day: HashMap::new() };
    let mut sorted = Sorted::default();
    let mut open = Open { blanks: false, reach: Reach::new(context) };
    for (at, (line, found)) in lines.iter().zip(all_found(&read, &context)).enumerate() {
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
            What::Corrects(correction) if found.is_kept() => {
                let readings = changes.readings(at, correction, &found);
                LineFate::Changed(change(correction, &readings, &found, &mut sorted))
            }
            _ => {
                place(line.number, &as_left(line), found, &mut sorted, &mut open);
                match bodies..sorted.bodies.len() {
                    bodies if bodies.is_empty() => LineFate::Left(left..sorted.left.len()),
                    bodies => LineFate::Sealed(bodies),
                }
            }
        };
        sorted.fate(line, fate);
    }
    sorted
}

/// A typed line as it is to be read. What stood in front of a sealed line is a comment; a change that leaves no
/// observation is refused.
fn as_read(typed: &keep::Typed, context: &Context) -> String {
    match &typed.what {
        What::Again(_) | What::Elsewhere => typed.text.clone(),
        _ if typed.is_offered() => as_left(typed),
        What::Corrects(_) => {
            let alone = typing::read(&typed.text, context).pop().map(|typed| typed.outcome);
            match alone {
                Some(Outcome::Kept(_) | Outcome::Refused(_)) => typed.text.clone(),
                _ => as_left(typed),
            }
        }
        What::New | What::Left => typed.text.clone(),
    }
}

/// A typed line as it stands if it stays.
fn as_left(typed: &keep::Typed) -> String {
    let text = match &typed.what {
        What::Corrects(Correction { was, .. }) if was.len() == 1 => {
            keep::as_correction(&text::clean(&typed.text).text, was[0].mark, None)
        }
        _ => typed.text.clone(),
    };
    if typed.is_offered() { keep::offer(&text) } else { text }
}

/// Changed lines as they are read now, and as they would have been before the change.
struct Changes<'a> {
    lines: &'a [keep::Typed],
    read: &'a [String],
    context: Context<'a>,
    /// Both readings of all lines, by the day of the reading.
    by_day: HashMap<NaiveDate, [Vec<Vec<String>>; 2]>,
}

impl Changes<'_> {
    /// What a line gives in its words now and before. Where words of their own day do not say it, they are read as on
    /// the day of the line that they were: that they were typed on another day is no change.
    fn readings(&mut self, at: usize, correction: &Correction, found: &Found) -> [Vec<String>; 2] {
        let Correction { before, was, .. } = correction;
        let day = was.first().and_then(|was| read_date(was.body.as_bytes().get(..10)?));
        let Some(day) = day.filter(|_| line::read(before).is_err()) else {
            return [found.bodies.iter().map(|(body, _)| body.clone()).collect(), vec![before.clone()]];
        };
        if !self.by_day.contains_key(&day) {
            let both = self.on(day);
            self.by_day.insert(day, both);
        }
        let both = self.by_day.get_mut(&day).map(|both| both.each_mut().map(|all| std::mem::take(&mut all[at])));
        both.unwrap_or_default()
    }

    fn on(&self, today: NaiveDate) -> [Vec<Vec<String>>; 2] {
        let before = self.lines.iter().zip(self.read).map(|(line, read)| match &line.what {
            What::Corrects(correction) => correction.before.clone(),
            _ => read.clone(),
        });
        let before: Vec<String> = before.collect();
        let context = Context { today, ..self.context };
        let bodies = |found: Found| found.bodies.into_iter().map(|(body, _)| body).collect();
        [self.read, &before].map(|read| all_found(read, &context).into_iter().map(bodies).collect())
    }
}

/// Puts what a changed line gives beside the lines that it was.
fn change(correction: &Correction, [now, before]: &[Vec<String>; 2], found: &Found, sorted: &mut Sorted) -> Vec<Piece> {
    let (said, gone) = keep::changed(now, before, &correction.was);
    sorted.gone.extend(gone.iter().filter_map(|was| was.at));
    let mut doubts = found.bodies.iter().map(|(_, doubts)| doubts.clone());
    let mut piece = |said| {
        let doubts = doubts.next().unwrap_or_default();
        match said {
            Said::Again(mark) => Piece::Old(mark),
            Said::Anew(body) => {
                sorted.keep(body, doubts);
                Piece::New(sorted.bodies.len() - 1)
            }
        }
    };
    said.into_iter().map(&mut piece).collect()
}

/// What reading finds in each of these lines.
fn all_found(read: &[String], context: &Context) -> Vec<Found> {
    let mut all: Vec<Found> = read.iter().map(|_| Found::default()).collect();
    for one in typing::read(&read.join("\n"), context) {
        if let Some(found) = one.number.checked_sub(1).and_then(|at| all.get_mut(at)) {
            found.add(one.text, one.outcome);
        }
    }
    all
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
    fn is_kept(&self) -> bool {
        !self.refused && !self.bodies.is_empty()
    }

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
            sorted.keep(body, doubts);
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
