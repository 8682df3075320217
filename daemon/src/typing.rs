//! A stand-in until `ledger_format::typing` is merged: whole lines, and acts with date and person left out.

use chrono::NaiveDate;
use ledger_format::line::{self, date_text};
use ledger_format::text::{self, Decoded};

pub(crate) struct Context<'a> {
    pub(crate) today: NaiveDate,
    pub(crate) by: &'a str,
    pub(crate) device: &'a str,
}

#[derive(Debug)]
pub(crate) struct Typed {
    pub(crate) number: usize,
    pub(crate) text: String,
    pub(crate) outcome: Outcome,
}

#[derive(Debug)]
pub(crate) enum Outcome {
    Blank,
    Comment,
    Heading,
    Kept(Vec<Kept>),
    Refused(Vec<Remark>),
    OldRemark,
}

#[derive(Debug)]
pub(crate) struct Kept {
    pub(crate) body: String,
    pub(crate) doubts: Vec<Remark>,
}

/// A remark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Column, from 1.
    pub column: usize,
    /// Characters.
    pub width: usize,
    found: String,
}

impl std::fmt::Display for Remark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "col {}: {}", self.column, self.found)
    }
}

pub(crate) fn read_bytes(bytes: &[u8], context: &Context) -> (Decoded, Vec<Typed>) {
    let decoded = text::decode(bytes);
    let typed = text::split(&decoded.text)
        .enumerate()
        .map(|(i, line)| {
            let text = text::clean(line).text;
            Typed { number: i + 1, outcome: outcome(&text, context), text }
        })
        .collect();
    (decoded, typed)
}

fn outcome(text: &str, context: &Context) -> Outcome {
    if text.is_empty() {
        return Outcome::Blank;
    }
    if text.starts_with(";!") {
        return Outcome::OldRemark;
    }
    if text.starts_with(';') {
        return Outcome::Comment;
    }
    if text.starts_with("by ") && text != context.device {
        return Outcome::Heading;
    }
    let whole = format!("{} {text} by {}", date_text(context.today), context.by);
    let body = text
        .len()
        .checked_sub(40)
        .filter(|at| text.is_char_boundary(*at))
        .map_or(text, |at| if line::split_seal(text.as_bytes()).is_some() { &text[..at] } else { text });
    match [body, &whole].into_iter().find(|body| line::read(body).is_ok()) {
        Some(body) => Outcome::Kept(vec![Kept { body: body.to_owned(), doubts: Vec::new() }]),
        None => Outcome::Refused(vec![Remark { column: 1, width: text.len(), found: "not understood".to_owned() }]),
    }
}
