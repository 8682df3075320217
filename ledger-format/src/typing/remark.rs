//! Remarks: where a typed line is not understood, and what would be.

use std::fmt::{Display, Formatter, Result};

use crate::limits::REMARK_COLUMNS;
use crate::text;

/// What is wrong or unlikely in a typed line, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Column of the cleaned line, in characters from 1.
    pub column: usize,
    /// How many characters it covers.
    pub width: usize,
    /// What was found there, in words.
    pub found: String,
    /// What was expected there.
    pub expected: String,
    /// What the person may have meant.
    pub suggestion: Option<String>,
}

impl Remark {
    /// As it stands in the file, under its line (`typing.md` §19).
    pub fn in_file(&self) -> Vec<String> {
        text::wrapped(&self.to_string(), REMARK_COLUMNS).into_iter().map(|piece| format!(";! {piece}")).collect()
    }
}

impl Display for Remark {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "col {}: {}", self.column, self.found)?;
        if !self.expected.is_empty() {
            write!(f, "; expected {}", self.expected)?;
        }
        match &self.suggestion {
            Some(suggestion) => write!(f, "; did you mean {suggestion}?"),
            None => Ok(()),
        }
    }
}

/// Bytes of the cleaned line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) start: usize,
    pub(super) end: usize,
}

impl Span {
    pub(super) const fn to(self, other: Self) -> Self {
        Self { start: self.start, end: other.end }
    }
}

/// A remark before its place is counted in characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    pub(super) found: String,
    pub(super) expected: String,
    pub(super) suggestion: Option<String>,
}

impl Wrong {
    pub(super) fn new(found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { found: found.into(), expected: expected.into(), suggestion: None }
    }

    pub(super) fn suggest(mut self, suggestion: impl Into<String>) -> Self {
        self.suggestion = Some(suggestion.into());
        self
    }

    pub(super) fn at(self, text: &str, span: Span) -> Remark {
        let chars = |from: usize, to: usize| text.get(from..to).map_or(0, |part| part.chars().count());
        let Self { found, expected, suggestion } = self;
        Remark { column: chars(0, span.start) + 1, width: chars(span.start, span.end), found, expected, suggestion }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_the_file_every_line_of_a_remark_is_one_and_fits() {
        let remark = Wrong::new("not a footbath product", "copper, zinc, formalin, peracetic, iodophor or salt")
            .suggest("peracetic")
            .at("herd bath perasetic", Span { start: 10, end: 19 });
        let lines = remark.in_file();
        assert_eq!(lines.len(), 2, "{lines:?}");
        assert!(lines.iter().all(|line| line.starts_with(";! ") && line.chars().count() <= 80), "{lines:?}");
        let again: Vec<&str> = lines.iter().map(|line| &line[3..]).collect();
        assert_eq!(again.join(" "), remark.to_string());
    }
}
