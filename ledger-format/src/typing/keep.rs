//! Parts that were read become remarks, or lines that can be read back.

use super::Kept;
use super::doubt;
use super::leftover;
use super::part::Topic;
use super::parts::Run;
use super::remark::{Remark, Span, Wrong};
use super::segment::{Frame, ReadPart};
use super::whole::LineReader;
use crate::line::{Act, Line, Subject, may_be_about, read};
use crate::vocabulary::TrimKind;

impl<'l> LineReader<'l, '_> {
    pub(super) fn remark_parts(&mut self, done: &[(Run<'l>, Vec<ReadPart<'l>>)], has_words: bool) {
        let mut to_come: usize = done.iter().map(|(_, parts)| parts.len()).sum();
        for (run, parts) in done {
            for read in parts {
                to_come -= 1;
                self.remark_part(run, read, has_words && to_come == 0);
            }
            if parts.is_empty() && !run.bad_subject {
                let span = Span { start: 0, end: self.source.text.len() };
                self.wrong(span, Wrong::new("no act", "an act, as score, lesion, trim"));
            }
        }
    }

    fn remark_part(&mut self, run: &Run<'l>, read: &ReadPart<'l>, has_words: bool) {
        let (Some(part), Some(act)) = (&read.part, read.act) else {
            self.remarks.extend(leftover::of_no_act(self.source, &read.left, self.context.today));
            return;
        };
        if let Some(remark) = leftover::another_act(part, &read.left) {
            // What else seems wrong in two acts at once comes of that.
            return self.remarks.push(remark);
        }
        self.remarks.extend_from_slice(&part.remarks);
        let left = leftover::of_act(part, act, &read.left, has_words, self.context.today);
        let silent = left.is_empty() && part.remarks.is_empty();
        self.remarks.extend(left);
        if !silent {
            return;
        }
        self.remarks.extend_from_slice(&part.missing);
        if let Some(subject) = run.subject.filter(|subject| !may_be_about(act, *subject)) {
            let expected = match subject {
                Subject::Cow(_) => "`group NAME` or `herd` before it",
                _ => "a cow's number before it",
            };
            self.wrong(part.said, Wrong::new(format!("{act}, which is not said of {subject}"), expected));
        }
        if !has_words && read.said.acts.first().is_some_and(Act::needs_words) {
            self.wrong(part.said, Wrong::new("no words", format!("`: ` and words after {act}")));
        }
        if read.said.replaces.is_some() && read.said.acts.len() > 1 {
            self.wrong(part.said, Wrong::new("two lines in place of one", "one foot in a line that replaces another"));
        }
    }

    pub(super) fn keep(&mut self, done: Vec<(Run<'l>, Vec<ReadPart<'l>>)>, frame: &Frame<'_>) {
        if !self.remarks.is_empty() {
            return;
        }
        let lame: Vec<Subject<'l>> = done
            .iter()
            .filter(|(_, parts)| parts.iter().flat_map(|part| &part.said.acts).any(says_lame))
            .filter_map(|(run, _)| run.subject)
            .collect();
        let mut to_come: usize = done.iter().map(|(_, parts)| parts.len()).sum();
        for (run, mut parts) in done {
            let Some(subject) = run.subject else { continue };
            for read in &mut parts {
                to_come -= 1;
                if read.said.kind_open && lame.contains(&subject) {
                    read.said.acts.iter_mut().for_each(make_lame);
                }
                let words = frame.words.filter(|_| to_come == 0);
                for subject in run.also.iter().chain([&subject]) {
                    self.keep_part(*subject, read, &Frame { words, ..*frame });
                }
            }
        }
    }

    fn keep_part(&mut self, subject: Subject<'l>, read: &ReadPart<'l>, frame: &Frame<'_>) {
        let Some(part) = &read.part else { return };
        for act in &read.said.acts {
            let Frame { observed, by, words } = *frame;
            let line = Line { observed, subject, act: *act, replaces: read.said.replaces, by, words };
            self.keep_line(&line, part.said, |topic| {
                part.places.iter().find(|(place, _)| *place == topic).map(|(_, span)| *span)
            });
        }
    }

    /// Writes the line and makes sure that it can be read back, so that nothing unreadable is ever sealed.
    pub(super) fn keep_line(&mut self, line: &Line<'_>, said: Span, place: impl Fn(Topic) -> Option<Span>) {
        let body = line.to_string();
        match read(&body) {
            Ok(back) if back == *line => {
                let doubts = doubt::doubts(line).into_iter();
                let doubts =
                    doubts.map(|(topic, wrong)| self.source.remark(topic.and_then(&place).unwrap_or(said), wrong));
                let doubts = doubts.chain(self.secrets(line)).collect();
                self.kept.push(Kept { body, doubts });
            }
            Ok(_) => self.wrong(said, Wrong::new("cannot be written as a line", "other words")),
            Err(problem) => self.wrong(said, Wrong::new("cannot be written as a line", problem.expected)),
        }
    }

    /// What in the free words nobody else should read.
    fn secrets(&self, line: &Line<'_>) -> Vec<Remark> {
        let found = doubt::secrets(line.words.unwrap_or_default());
        let place = |piece: &str| {
            let start = self.source.text.find(piece).unwrap_or(0);
            Span { start, end: start + piece.len().min(self.source.text.len() - start) }
        };
        found.into_iter().map(|(piece, wrong)| self.source.remark(place(piece), wrong)).collect()
    }
}

fn make_lame(act: &mut Act<'_>) {
    if let Act::Trim(trim) = act {
        trim.kind = TrimKind::Lame;
    }
}

/// A finding or a lame score makes a trim without a kind a lame one.
fn says_lame(act: &Act<'_>) -> bool {
    match act {
        Act::Lesion(_) => true,
        Act::Score(score) => score.is_lame(),
        _ => false,
    }
}
