//! A typed line as a whole: a canonical body as it is, a pasted seal, days ahead, and the outcome.

use super::doubt::MOST_DAYS_AHEAD;
use super::part::Topic;
use super::remark::{Remark, Span, Wrong};
use super::subject::Opening;
use super::token::{Source, segments};
use super::{Carry, Context, Kept, Outcome};
use crate::limits::SEAL_BYTES;
use crate::line::{Act, Line, Observed, Reference, read, split_seal};

/// Reads one cleaned line.
pub(super) struct LineReader<'l, 'c> {
    pub(super) source: &'l Source,
    pub(super) context: &'l Context<'l>,
    pub(super) carry: &'c mut Carry,
    pub(super) remarks: Vec<Remark>,
    pub(super) kept: Vec<Kept>,
    pub(super) acts: usize,
    pub(super) headings: usize,
    /// That the heading above holds this line back has been said.
    pub(super) held_back: bool,
    /// Doubts about the line as a whole.
    doubts: Vec<Remark>,
}

impl<'l, 'c> LineReader<'l, 'c> {
    pub(super) fn new(source: &'l Source, context: &'l Context<'l>, carry: &'c mut Carry) -> Self {
        let (remarks, kept, doubts) = (Vec::new(), Vec::new(), Vec::new());
        Self { source, context, carry, remarks, kept, acts: 0, headings: 0, held_back: false, doubts }
    }

    /// Reads the line; `invisible` and `control` tell what cleaning took out.
    pub(super) fn read(mut self, invisible: bool, control: bool) -> Outcome {
        let end = self.body_end();
        self.doubt_cleaning(invisible, control);
        if !self.canonical(end) {
            for segment in segments(self.source, end) {
                self.doubt_semicolon(segment.words);
                self.segment(&segment);
            }
        }
        self.outcome()
    }

    fn outcome(mut self) -> Outcome {
        if !self.remarks.is_empty() {
            self.remarks.sort_by_key(|remark| remark.column);
            self.remarks.dedup();
            return Outcome::Refused(self.remarks);
        }
        if let Some(first) = self.kept.first_mut() {
            first.doubts.splice(0..0, self.doubts);
            first.doubts.sort_by_key(|remark| remark.column);
            return Outcome::Kept(self.kept);
        }
        if self.headings > 0 {
            return Outcome::Heading;
        }
        let whole = Span { start: 0, end: self.source.text.len() };
        let wrong = Wrong::new("nothing said", "a heading, or a cow's number, `group NAME` or `herd`, and an act");
        Outcome::Refused(vec![self.source.remark(whole, wrong)])
    }

    pub(super) fn wrong(&mut self, span: Span, wrong: Wrong) {
        self.remarks.push(self.source.remark(span, wrong));
    }

    fn doubt(&mut self, span: Span, wrong: Wrong) {
        self.doubts.push(self.source.remark(span, wrong));
    }

    /// Where the body ends: a seal pasted with it says nothing here.
    fn body_end(&mut self) -> usize {
        let text = &self.source.text;
        let Some((body, _)) = split_seal(text.as_bytes()) else { return text.len() };
        let seal = Span { start: body.len() + 3, end: body.len() + SEAL_BYTES };
        self.doubt(
            seal,
            Wrong::new("a pasted seal, which says nothing here", "the line alone; it is kept as newly typed"),
        );
        body.len()
    }

    fn doubt_cleaning(&mut self, invisible: bool, control: bool) {
        let start = Span { start: 0, end: 0 };
        if invisible {
            self.doubt(start, Wrong::new("invisible characters were taken out", ""));
        }
        if control {
            self.doubt(start, Wrong::new("control characters were taken out", ""));
        }
    }

    /// `417 3: slow; 418 2`: the second cow is words of the first, and that may not be meant.
    fn doubt_semicolon(&mut self, words: Option<Span>) {
        let Some(words) = words else { return };
        let text = self.source.text(words);
        let cow = text.match_indices("; ").find(|(at, _)| {
            let next = text[at + 2..].split(' ').next().unwrap_or("");
            next.len() > 1 && next.starts_with(|c: char| c.is_ascii_digit())
        });
        if let Some((at, _)) = cow {
            let start = words.start + at;
            let wrong = Wrong::new("`;` among words is kept as words", "a new line for another cow");
            self.doubt(Span { start, end: start + 1 }, wrong);
        }
    }

    /// A canonical body stays as it is. Gives whether it was one.
    fn canonical(&mut self, end: usize) -> bool {
        let text = &self.source.text[..end];
        let Ok(mut line) = read(text) else { return false };
        let date = Span { start: 0, end: 10 };
        if self.too_far_ahead(date, line.observed) {
            return true;
        }
        self.doubt_ahead(date, line.observed);
        let words = line.words.map(|words| Span { start: end - words.len(), end });
        self.doubt_semicolon(words);
        self.forget_own_name(&mut line);
        let place = |word: &str| text.find(word).map(|at| at + 1);
        let span = |start: usize| {
            let rest = &text[start..];
            let first = rest.find(' ').unwrap_or(rest.len());
            Span { start, end: start + first }
        };
        let act = place(&format!(" {}", line.act.word())).map_or(date, span);
        self.keep_line(&line, act, |topic| {
            let lead = match topic {
                Topic::Zone => " zone ",
                Topic::Wall => " wall ",
                Topic::Sole => " sole ",
                Topic::Due => " due ",
            };
            place(lead).map(|at| span(at + lead.len() - 1))
        });
        true
    }

    /// A reference to the writing device's own line does not name the device (`line.md` §7).
    fn forget_own_name(&self, line: &mut Line<'_>) {
        let own = |reference: &mut Reference<'_>| {
            reference.device = reference.device.filter(|device| *device != self.context.device);
        };
        if let Some(reference) = &mut line.replaces {
            own(reference);
        }
        if let Act::Strike(reference) = &mut line.act {
            own(reference);
        }
    }

    /// Refuses what is too far ahead to be anything but a slip.
    fn too_far_ahead(&mut self, span: Span, observed: Observed) -> bool {
        let far = (observed.date - self.context.today).num_days() > MOST_DAYS_AHEAD;
        if far {
            let wrong = Wrong::new(format!("more than {MOST_DAYS_AHEAD} days ahead"), "today or an earlier day");
            self.wrong(span, wrong);
        }
        far
    }

    pub(super) fn refuse_far_ahead(&mut self, opening: &mut Opening<'_>) {
        let Some((date, span)) = opening.date else { return };
        opening.wrong |= self.too_far_ahead(span, Observed::day(date));
    }

    pub(super) fn doubt_ahead(&mut self, span: Span, observed: Observed) {
        if observed.date > self.context.today {
            self.doubt(span, Wrong::new("a day that is still ahead", "today or an earlier day"));
        }
    }
}
