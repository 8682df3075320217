//! What headings say of the lines under them, written into a line that stays.

use ledger_format::text;
use ledger_format::typing::{self, Context, Outcome, Remark};

/// What the headings read so far say.
pub(super) struct Reach<'a> {
    context: Context<'a>,
    when: Option<String>,
    by: Option<String>,
    /// The last heading is not understood: lines under it wait for it.
    held: bool,
}

/// A line that stays.
pub(super) enum Written {
    AsIs,
    /// In other words, with the remarks on these.
    Anew(String, Vec<Remark>),
}

/// A day and a person that nobody types, to see whether a heading says another.
const NO_DAY: &str = "1901-02-03";
const NOBODY: &str = "nobody-at-all";
/// A line to see what holds under a heading.
const PROBE: &str = "1 score 3";

impl<'a> Reach<'a> {
    pub(super) fn new(context: Context<'a>) -> Self {
        Self { context, when: None, by: None, held: false }
    }

    /// A heading that was understood.
    pub(super) fn heading(&mut self, line: &str) {
        self.held = false;
        let when = self.when.as_deref().unwrap_or(NO_DAY);
        let by = self.by.as_deref().unwrap_or(NOBODY);
        let Some((mut when, by)) = self.under(&format!("{when} by {by}\n{line}")) else { return };
        if when.starts_with(NO_DAY) && when != NO_DAY {
            // A time alone is of the day on which it is read.
            when = self.under(line).map_or(when, |(today, _)| today);
        }
        self.when = Some(when).filter(|when| when != NO_DAY);
        self.by = Some(by).filter(|by| by != NOBODY);
    }

    /// Whether a refused line is a heading that holds back the lines under it.
    pub(super) fn is_broken_heading(&self, line: &str) -> bool {
        self.under(line).is_none()
    }

    /// From here on lines stay as they are, until the next heading. Gives the heading that must stay above them.
    pub(super) fn hold(&mut self) -> Option<String> {
        if std::mem::replace(&mut self.held, true) {
            return None;
        }
        let by = self.by.as_ref().map(|by| format!("by {by}"));
        let parts: Vec<String> = self.when.clone().into_iter().chain(by).collect();
        (!parts.is_empty()).then(|| parts.join(" "))
    }

    /// Writes what the headings say into a line, where the line does not say it itself.
    pub(super) fn write_into(&self, line: &str) -> Written {
        let clean = text::clean(line).text;
        if self.held || (self.when.is_none() && self.by.is_none()) {
            return Written::AsIs;
        }
        let anew: Vec<String> = segments(&clean).into_iter().map(|segment| self.segment(segment)).collect();
        let anew = anew.join("; ");
        if anew == clean {
            return Written::AsIs;
        }
        let remarks = match typing::read(&anew, &self.context).pop().map(|typed| typed.outcome) {
            Some(Outcome::Refused(remarks)) => remarks,
            _ => Vec::new(),
        };
        Written::Anew(anew, remarks)
    }

    fn segment(&self, segment: &str) -> String {
        let own = self.own_when(segment);
        let mut parts = Vec::new();
        if let (Some(when), Own::Nothing | Own::Time) = (&self.when, own) {
            parts.push(if own == Own::Time { &when[..NO_DAY.len()] } else { when.as_str() });
        }
        let by = self.by.as_ref().filter(|_| !names_person(segment)).map(|by| format!("by {by}"));
        match own {
            // The line's own day or time stands first.
            Own::Nothing => parts.extend(by.as_deref().into_iter().chain([segment])),
            Own::Time | Own::Day => {
                let (first, rest) = segment.split_at(self.own_length(segment));
                parts.push(first.trim());
                parts.extend(by.as_deref());
                parts.push(rest.trim());
            }
        }
        parts.retain(|part| !part.is_empty());
        parts.join(" ")
    }

    /// What a line itself says of its day. A day that is not understood is one all the same.
    fn own_when(&self, segment: &str) -> Own {
        let opening = &segment[..self.own_length(segment)];
        match self.under(&format!("{NO_DAY}\n{opening}")) {
            _ if opening.is_empty() => Own::Nothing,
            Some((when, _)) if when.starts_with(NO_DAY) => Own::Time,
            _ => Own::Day,
        }
    }

    /// How long the day and time are that begin a line.
    fn own_length(&self, segment: &str) -> usize {
        let ends = segment.match_indices(' ').map(|(at, _)| at).take(5);
        let opens = |end: &usize| {
            let heading = typing::read(&segment[..*end], &self.context).pop();
            !names_person(&segment[..*end]) && heading.is_some_and(|one| one.outcome == Outcome::Heading)
        };
        let first = segment.split(' ').next().unwrap_or_default();
        let like_a_day = first.starts_with(|c: char| c.is_ascii_digit()) && first.contains(['-', '/', '.']);
        ends.filter(opens).last().unwrap_or(if like_a_day { first.len() } else { 0 })
    }

    /// Day, with its time, and person of a line under a heading; none if the heading holds it back.
    fn under(&self, heading: &str) -> Option<(String, String)> {
        let typed = typing::read(&format!("{heading}\n{PROBE}"), &self.context).pop()?;
        let Outcome::Kept(kept) = typed.outcome else { return None };
        let (when, by) = kept.first()?.body.split_once(&format!(" {PROBE} by "))?;
        Some((when.to_owned(), by.to_owned()))
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Own {
    Nothing,
    Time,
    Day,
}

/// Whether a line names a person before its free words.
fn names_person(segment: &str) -> bool {
    let words = segment.split(' ').scan(false, |over, word| {
        let before = !*over;
        *over |= word.ends_with(':');
        before.then_some(word)
    });
    words.into_iter().any(|word| word.eq_ignore_ascii_case("by"))
}

/// A line at each `;` that begins a new one: none among quoted or free words.
fn segments(line: &str) -> Vec<&str> {
    let (mut found, mut start, mut quoted) = (Vec::new(), 0, false);
    for (at, character) in line.char_indices() {
        match character {
            '"' => quoted = !quoted,
            ':' if !quoted && line[at + 1..].chars().next().is_none_or(|next| next == ' ') => break,
            ';' if !quoted => {
                found.push(line[start..at].trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    found.push(line[start..].trim());
    found.retain(|segment| !segment.is_empty());
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What stays of a line under headings.
    fn stays(headings: &[&str], line: &str) -> String {
        let today = chrono::NaiveDate::from_ymd_opt(2026, 11, 25).unwrap();
        let mut reach = Reach::new(Context { today, by: "kj", device: "crush" });
        for heading in headings {
            reach.heading(heading);
        }
        match reach.write_into(line) {
            Written::AsIs => line.to_owned(),
            Written::Anew(text, _) => text,
        }
    }

    #[test]
    fn a_line_takes_over_what_it_does_not_say_itself() {
        for (headings, line, expected) in [
            (&["2026-11-20 by ao"][..], "501 wla rh otuer: by hand", "2026-11-20 by ao 501 wla rh otuer: by hand"),
            (&["2026-11-20", "by ao"], "501 wla rh otuer by xy", "2026-11-20 501 wla rh otuer by xy"),
            (&["yesterday"], "501 wla rh otuer", "2026-11-24 501 wla rh otuer"),
            (&["by ao"], "14 March 501 wla rh otuer", "14 March by ao 501 wla rh otuer"),
            (&["2026-11-20 by ao"], "2026-13-14 501 3", "2026-13-14 by ao 501 3"),
            (&["2026-11-20 9:12"], "501 wla rh otuer", "2026-11-20 09:12 501 wla rh otuer"),
            (&["2026-11-20 9:12"], "10:15 501 wla rh otuer", "2026-11-20 10:15 501 wla rh otuer"),
            (&["2026-11-20"], "501 wla rh otuer; 502 3", "2026-11-20 501 wla rh otuer; 2026-11-20 502 3"),
            (&[], "501 wla rh otuer", "501 wla rh otuer"),
        ] {
            assert_eq!(stays(headings, line), expected);
        }
    }

    #[test]
    fn a_mended_line_has_the_day_and_person_of_its_heading() {
        let later = chrono::NaiveDate::from_ymd_opt(2026, 12, 9).unwrap();
        let context = Context { today: later, by: "kj", device: "crush" };
        for line in ["501 wla rh otuer", "501 wla rh otuer, 502 3: slow", "501 3; 502 wla rh otuer: by hand"] {
            let mended = stays(&["yesterday 9:12 by ao"], line).replace("otuer", "outer");
            for typed in typing::read(&mended, &context) {
                let Outcome::Kept(kept) = typed.outcome else { panic!("{mended}: {typed:?}") };
                assert_eq!(kept.len(), line.matches("50").count());
                for kept in kept {
                    assert!(kept.body.starts_with("2026-11-24") && kept.body.contains(" by ao"), "{}", kept.body);
                }
            }
        }
    }
}
