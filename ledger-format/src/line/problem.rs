//! What is wrong with a text, and where.

use std::ops::Range;

/// A text that is not a line: where, what was expected, what may help.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("expected {expected}")]
pub struct Problem {
    /// Bytes of the text that are wrong.
    pub span: Range<usize>,
    /// What was expected there, in words.
    pub expected: String,
    /// A suggestion, if there is one.
    pub help: Option<String>,
}

impl Problem {
    /// A problem without a suggestion.
    pub fn new(span: Range<usize>, expected: impl Into<String>) -> Self {
        Self { span, expected: expected.into(), help: None }
    }

    /// The same with a suggestion.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}
