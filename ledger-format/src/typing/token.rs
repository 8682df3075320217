//! A cleaned line cut into segments at `;`, and segments into words.

use std::cell::OnceCell;

use super::remark::{Remark, Span, Wrong};

/// One cleaned line, with copies in small letters and capitals that names in a line value can borrow.
pub(super) struct Source {
    pub(super) text: String,
    lower: String,
    upper: String,
    tight: OnceCell<Tight>,
}

/// The line in capitals without spaces, and where each byte of the line went.
struct Tight {
    text: String,
    moved: Vec<usize>,
}

impl Source {
    pub(super) fn new(text: String) -> Self {
        // Only ASCII letters change, so that every offset stays right.
        let (lower, upper) = (text.to_ascii_lowercase(), text.to_ascii_uppercase());
        Self { text, lower, upper, tight: OnceCell::new() }
    }

    pub(super) fn text(&self, span: Span) -> &str {
        &self.text[span.start..span.end]
    }

    pub(super) fn lower(&self, span: Span) -> &str {
        &self.lower[span.start..span.end]
    }

    pub(super) fn upper(&self, span: Span) -> &str {
        &self.upper[span.start..span.end]
    }

    /// In capitals with the spaces inside left out, as ear numbers are printed in groups.
    pub(super) fn tight(&self, span: Span) -> &str {
        let tight = self.tight.get_or_init(|| {
            let (mut text, mut moved) = (String::with_capacity(self.upper.len()), Vec::new());
            for character in self.upper.chars() {
                moved.extend(std::iter::repeat_n(text.len(), character.len_utf8()));
                if character != ' ' {
                    text.push(character);
                }
            }
            moved.push(text.len());
            Tight { text, moved }
        });
        &tight.text[tight.moved[span.start]..tight.moved[span.end]]
    }

    pub(super) fn remark(&self, span: Span, wrong: Wrong) -> Remark {
        wrong.at(&self.text, span)
    }
}

/// What stands between two `;`, and the free words that follow it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Segment {
    pub(super) span: Span,
    /// From the first letter after the colon or `because` to the end of the line; may be empty.
    pub(super) words: Option<Span>,
}

/// Acts whose reason may be given with `because`.
const NEED_A_REASON: [&str; 6] = ["refer", "ref", "referred", "vet", "strike", "x"];

/// Cuts the first `end` bytes of the line at each `;` outside quotation marks and before free words.
pub(super) fn segments(source: &Source, end: usize) -> Vec<Segment> {
    let text = &source.lower[..end];
    let bytes = text.as_bytes();
    let (mut out, mut start, mut at) = (Vec::new(), 0, 0);
    let (mut quoted, mut reason) = (false, false);
    let close = |start, at, from| {
        let words = Span { start: usize::min(from, end), end };
        Segment { span: Span { start, end: at }, words: Some(words) }
    };
    while at < end {
        let begins = at == 0 || matches!(bytes[at - 1], b' ' | b',' | b';');
        match bytes[at] {
            b'"' => quoted = !quoted,
            b';' if !quoted => {
                out.push(Segment { span: Span { start, end: at }, words: None });
                (start, reason) = (at + 1, false);
            }
            b':' if !quoted && matches!(bytes.get(at + 1..end), None | Some([] | [b' ', ..])) => {
                out.push(close(start, at, at + 2));
                return out;
            }
            _ if begins && !quoted => {
                let word = &text[at..at + word_length(&bytes[at..])];
                if word == "because" && reason {
                    out.push(close(start, at, at + word.len() + 1));
                    return out;
                }
                reason |= NEED_A_REASON.contains(&word);
            }
            _ => {}
        }
        at += 1;
    }
    out.push(Segment { span: Span { start, end }, words: None });
    out
}

fn word_length(bytes: &[u8]) -> usize {
    bytes.iter().position(|b| matches!(b, b' ' | b',' | b';' | b':' | b'"')).unwrap_or(bytes.len())
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Word,
    /// In quotation marks; the span leaves them out.
    Quoted,
    Comma,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Token {
    pub(super) span: Span,
    pub(super) kind: Kind,
}

/// Cuts a segment into words, quoted values and commas. `#` is a word of its own.
pub(super) fn tokens(source: &Source, segment: Span, remarks: &mut Vec<Remark>) -> Vec<Token> {
    let bytes = source.text.as_bytes();
    let (mut out, mut at) = (Vec::new(), segment.start);
    while at < segment.end {
        let rest = &bytes[at..segment.end];
        let (from, length, kind) = match rest[0] {
            b' ' => {
                at += 1;
                continue;
            }
            b',' => (at, 1, Kind::Comma),
            b'#' => (at, 1, Kind::Word),
            b'"' => {
                let Some(length) = rest[1..].iter().position(|b| *b == b'"') else {
                    let span = Span { start: at, end: segment.end };
                    remarks.push(source.remark(span, Wrong::new("a quotation that does not end", "a closing \"")));
                    return out;
                };
                (at + 1, length, Kind::Quoted)
            }
            _ => {
                let length = rest.iter().position(|b| matches!(b, b' ' | b',' | b'"' | b'#'));
                (at, length.unwrap_or(rest.len()), Kind::Word)
            }
        };
        out.push(Token { span: Span { start: from, end: from + length }, kind });
        at = from + length + usize::from(kind == Kind::Quoted);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(text: &str) -> Vec<(String, Option<String>)> {
        let source = Source::new(text.to_owned());
        let part = |span: Span| source.text(span).to_owned();
        segments(&source, text.len()).into_iter().map(|s| (part(s.span), s.words.map(part))).collect()
    }

    #[test]
    fn words_begin_at_the_first_colon_before_a_space() {
        assert_eq!(cut("09:12 417 3: a: b"), [("09:12 417 3".into(), Some("a: b".into()))]);
        assert_eq!(cut("by kj:"), [("by kj".into(), Some(String::new()))]);
        assert_eq!(cut("med \"a: b\" 1"), [("med \"a: b\" 1".into(), None)]);
    }

    #[test]
    fn because_begins_words_only_where_a_reason_is_due() {
        assert_eq!(cut("417 refer because hot; bad"), [("417 refer ".into(), Some("hot; bad".into()))]);
        assert_eq!(cut("417 3 because slow"), [("417 3 because slow".into(), None)]);
    }

    #[test]
    fn a_semicolon_is_a_new_line_but_not_among_words() {
        assert_eq!(cut("417 3;418 2"), [("417 3".into(), None), ("418 2".into(), None)]);
        assert_eq!(cut("417 note: a; b"), [("417 note".into(), Some("a; b".into()))]);
    }

    #[test]
    fn printed_groups_close_up() {
        let source = Source::new("é tag uk 123450 600001".to_owned());
        assert_eq!(source.tight(Span { start: 7, end: 23 }), "UK123450600001");
    }
}
