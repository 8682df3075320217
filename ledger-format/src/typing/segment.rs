//! What stands between two `;`: a heading, or a subject and its acts.

use chrono::NaiveDate;

use super::acts::{self, Said, Setting};
use super::date::{self, Year};
use super::part::Part;
use super::parts::{Draft, Run, runs};
use super::phrase::Sense;
use super::remark::{Span, Wrong};
use super::subject::{Opening, cow, list_of_cows, opening, take_by, words};
use super::token::{Kind, Segment, Source, Token, tokens};
use super::units::{Unit, units, units_of};
use super::whole::LineReader;
use crate::limits::ACTS_IN_LINE;
use crate::line::{Act, Observed, Subject, is_who};
use crate::vocabulary::{ActWord, Feet};

/// A part that has been read, before its words are.
pub(super) struct ReadPart<'l> {
    pub(super) part: Option<Part<'l>>,
    pub(super) act: Option<ActWord>,
    pub(super) said: Said<'l>,
    pub(super) left: Vec<Unit>,
}

/// What holds for every line of a segment.
pub(super) struct Frame<'f> {
    pub(super) observed: Observed,
    pub(super) by: &'f str,
    pub(super) words: Option<&'f str>,
}

impl<'l> LineReader<'l, '_> {
    pub(super) fn segment(&mut self, segment: &Segment) {
        let before = self.remarks.len();
        let mut tokens = tokens(self.source, segment.span, &mut self.remarks);
        if self.remarks.len() > before {
            // A quotation that does not end: nothing more is read, but it may have been a heading.
            self.carry.broken |= mentions_day(self.source, &tokens);
            return;
        }
        if segment.words.is_none() {
            self.pass_over_full_stop(&mut tokens);
        }
        let (by, by_wrong) = take_by(self.source, &mut tokens, &mut self.remarks);
        let mut opening = opening(self.source, &tokens, self.context.today, &mut self.remarks);
        (opening.by, opening.wrong) = (by, opening.wrong || by_wrong);
        self.refuse_far_ahead(&mut opening);
        let rest: Vec<Token> = tokens[opening.length..].to_vec();
        let words = segment.words.map(|words| self.source.text(words)).filter(|words| !words.is_empty());
        if rest.iter().all(|token| token.kind == Kind::Comma) && opening.subject.is_none() && !opening.bad_subject {
            return self.heading(&opening, segment, words.is_some());
        }
        let Some(span) = tokens.first().map(|token| token.span) else { return };
        self.hold_back(&opening, span);
        let observed = self.observed(&opening);
        let inherited = self.carry.by.clone();
        let by = opening.by.or(inherited.as_deref()).unwrap_or(self.context.by);
        if !is_who(by) {
            return self.wrong(span, Wrong::new("nobody said who saw it", "`by` and initials, as by kj"));
        }
        let says_act = self.acts_of(&opening, &rest, &Frame { observed, by, words });
        if !says_act && (says(&opening) || mentions_day(self.source, &rest)) {
            // Meant as a heading, most likely: it says when or who, and no act.
            self.carry.broken = true;
        }
        let shown_at = opening.date.map_or(span, |(_, span)| span);
        if opening.date.is_some() || !self.carry.told_ahead {
            self.doubt_ahead(shown_at, observed);
            self.carry.told_ahead |= opening.date.is_none() && self.remarks.is_empty();
        }
    }

    /// `417 2.`: a sentence's end says nothing.
    fn pass_over_full_stop(&self, tokens: &mut [Token]) {
        let Some(last) = tokens.last_mut().filter(|token| token.kind == Kind::Word) else { return };
        let word = self.source.text(last.span).strip_suffix('.');
        if word.is_some_and(|word| word.ends_with(|c: char| c.is_alphanumeric() || c == '%')) {
            last.span.end -= 1;
        }
    }

    /// A line without subject and acts holds for the lines under it.
    fn heading(&mut self, opening: &Opening<'_>, segment: &Segment, words: bool) {
        let says = says(opening);
        if words {
            let span = segment.words.unwrap_or(segment.span);
            let wrong =
                Wrong::new("words of no line", "a cow's number, `group NAME` or `herd`, and an act, before the colon");
            self.wrong(span, wrong);
            self.carry.broken |= says;
            return;
        }
        if opening.wrong {
            self.carry.broken = true;
            return;
        }
        if !says {
            return;
        }
        self.carry.broken = false;
        self.headings += 1;
        if let Some((date, _)) = opening.date {
            (self.carry.date, self.carry.minute, self.carry.told_ahead) = (Some(date), None, false);
        }
        self.carry.minute = opening.minute.or(self.carry.minute);
        if let Some(by) = opening.by {
            self.carry.by = Some(by.to_owned());
        }
    }

    /// Under a heading that is not understood, day or person would be wrong.
    fn hold_back(&mut self, opening: &Opening<'_>, span: Span) {
        if self.carry.broken && !self.held_back && !(opening.date.is_some() && opening.by.is_some()) {
            self.held_back = true;
            let expected = "that heading mended, or a date and `by WHO` on this line";
            self.wrong(span, Wrong::new("the heading above is not understood", expected));
        }
    }

    fn observed(&self, opening: &Opening<'_>) -> Observed {
        match opening.date {
            Some((date, _)) => Observed { date, minute: opening.minute },
            None => Observed {
                date: self.carry.date.unwrap_or(self.context.today),
                minute: opening.minute.or(self.carry.minute),
            },
        }
    }

    /// Reads and keeps the acts. Gives whether any word said an act.
    fn acts_of(&mut self, opening: &Opening<'l>, rest: &[Token], frame: &Frame<'_>) -> bool {
        let (source, mut wrong) = (self.source, Vec::new());
        let (mut cows, listed) = opening.subject.map_or((Vec::new(), 0), |cow| list_of_cows(source, cow, rest));
        let rest = &rest[listed..];
        let first = Run { subject: cows.pop(), also: cows, bad_subject: opening.bad_subject, drafts: Vec::new() };
        let runs = runs(source, first, rest, |span, problem| wrong.push(source.remark(span, problem)));
        self.remarks.append(&mut wrong);
        self.acts += runs.iter().map(|run| run.drafts.len() * (1 + run.also.len())).sum::<usize>();
        if self.acts > ACTS_IN_LINE {
            let expected = format!("at most {ACTS_IN_LINE}; put the others on a line of their own");
            self.wrong(rest[0].span.to(rest[rest.len() - 1].span), Wrong::new("too many acts", expected));
            return true;
        }
        let setting = Setting { day: frame.observed.date, today: self.context.today, device: self.context.device };
        let mut done: Vec<(Run<'l>, Vec<ReadPart<'l>>)> = Vec::new();
        let mut understood = false;
        for mut run in runs {
            let mut parts = self.read_parts(&run.drafts, &setting);
            if run.subject.is_none() && !run.bad_subject {
                run.subject = self.find_subject(&mut parts);
            }
            understood |= parts.iter().any(|part| part.act.is_some());
            self.no_subject(&mut run, &mut parts, rest);
            self.one_act_for_a_list(&run);
            done.push((run, parts));
        }
        self.remark_parts(&done, frame.words.is_some());
        self.keep(done, frame);
        understood
    }

    /// `425, 426 trim, block on RH outer`: whose block?
    fn one_act_for_a_list(&mut self, run: &Run<'l>) {
        let is_of_one =
            |draft: &Draft| matches!(draft.act, Some(ActWord::Renumbered | ActWord::Tagged | ActWord::Strike));
        let wrong = run.drafts.get(1).map(|draft| (draft, "several acts for a list of cows"));
        let of_one =
            run.drafts.iter().find(|draft| is_of_one(draft)).map(|draft| (draft, "an act of one cow for a list"));
        if let Some((draft, found)) = wrong.or(of_one).filter(|_| !run.also.is_empty()) {
            self.wrong(draft.said, Wrong::new(found, "one act for all of them, or a line for each cow"));
        }
    }

    fn read_parts(&self, drafts: &[Draft], setting: &Setting<'_>) -> Vec<ReadPart<'l>> {
        let (mut named, mut trimmed, mut found) = (Feet::NONE, Feet::NONE, false);
        let mut out = Vec::with_capacity(drafts.len());
        for draft in drafts {
            let Some(act) = draft.act else {
                let left = units(self.source, &draft.tokens, |sense| !matches!(sense, Sense::Lead(_)));
                out.push(ReadPart { part: None, act: None, said: Said::default(), left });
                continue;
            };
            if draft.cut {
                out.push(ReadPart { part: None, act: Some(act), said: Said::default(), left: Vec::new() });
                continue;
            }
            let own = units_of(self.source, &draft.tokens, act);
            let mut part = Part::new(self.source, own, draft.said, named);
            // What was lifted and trimmed is what was looked at, unless something was found there.
            part.trimmed = if found { Feet::NONE } else { trimmed };
            part.found = found;
            if let Some(at) = part.units.iter().position(|unit| unit.sense == Some(Sense::Act(act))) {
                part.use_up(at..at + 1);
            }
            let said = acts::read(act, &mut part, setting);
            // A list of feet trimmed, or lifted and clear, points to none of them.
            let is_list = said.acts.iter().all(|act| matches!(act, Act::Trim(_) | Act::NoLesion(_)));
            if part.stands_on.count() == 1 || !is_list {
                named = named.and(part.stands_on);
            }
            for act in &said.acts {
                match act {
                    Act::Trim(trim) => trimmed = trim.feet,
                    Act::Lesion(_) => found = true,
                    _ => {}
                }
            }
            let left = part.left_over();
            out.push(ReadPart { part: Some(part), act: Some(act), said, left });
        }
        out
    }

    /// The one bare number that is no score and belongs to nothing; or `herd`, or `group NAME`.
    fn find_subject(&self, parts: &mut [ReadPart<'l>]) -> Option<Subject<'l>> {
        let mut found = None;
        for (index, read) in parts.iter().enumerate() {
            for (at, unit) in read.left.iter().enumerate().filter(|(_, unit)| !unit.quoted) {
                let (subject, count) = match self.source.lower(unit.span) {
                    "herd" => (Subject::Herd, 1),
                    "group" => {
                        let name = self.source.lower(read.left.get(at + 1)?.span);
                        (Subject::Group(Some(name).filter(|name| crate::line::is_group(name))?), 2)
                    }
                    word if acts::score_value(word).is_some() => continue,
                    _ => match cow(self.source.upper(unit.span)) {
                        Some(cow) => (Subject::Cow(cow), 1),
                        None => continue,
                    },
                };
                if found.replace((subject, index, at, count)).is_some() {
                    return None;
                }
            }
        }
        let (subject, index, at, count) = found?;
        let lead = |at: &usize| matches!(self.source.lower(parts[index].left[*at].span), "cow" | "#");
        let from = at.checked_sub(1).filter(lead).unwrap_or(at);
        parts[index].left.drain(from..at + count);
        Some(subject)
    }

    /// One remark for a line that is about nothing.
    fn no_subject(&mut self, run: &mut Run<'l>, parts: &mut Vec<ReadPart<'l>>, rest: &[Token]) {
        if run.subject.is_some() || run.bad_subject {
            return;
        }
        let Some(first) = run.drafts.first().and_then(|draft| draft.tokens.first()).or(rest.first()) else { return };
        let understood = parts.iter().any(|part| part.act.is_some());
        let found = if understood { "no cow" } else { "not understood" };
        self.wrong(first.span, Wrong::new(found, "a cow's number, `group NAME` or `herd`"));
        if !understood {
            parts.clear();
        }
        run.bad_subject = true;
    }
}

/// Whether any of these words is a day, or a month: `Saturday 14 March`.
fn mentions_day(source: &Source, tokens: &[Token]) -> bool {
    let today = NaiveDate::default();
    (0..tokens.len()).any(|at| {
        let words = words(source, &tokens[at..], 4);
        let Some(first) = words.first().filter(|word| acts::between_scores(word).is_none()) else { return false };
        date::read(&words, today, Year::UpTo(today)).is_some() || date::is_month(first)
    })
}

fn says(opening: &Opening<'_>) -> bool {
    opening.date.is_some() || opening.minute.is_some() || opening.by.is_some() || opening.wrong
}
