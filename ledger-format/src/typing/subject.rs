//! How a typed line opens: date, time, person, and what it is about (`typing.md` §3, §5, §6).

use chrono::NaiveDate;

use super::date::{self, Year};
use super::phrase::{Sense, longest, senses};
use super::remark::{Remark, Span, Wrong};
use super::token::{Kind, Source, Token};
use crate::line::{CowNumber, Minute, Subject, is_group, is_who};

/// What stands before the first act.
#[derive(Default)]
pub(super) struct Opening<'l> {
    pub(super) date: Option<(NaiveDate, Span)>,
    pub(super) minute: Option<Minute>,
    pub(super) by: Option<&'l str>,
    pub(super) subject: Option<Subject<'l>>,
    /// Something here is wrong, or what should be a subject is none.
    pub(super) wrong: bool,
    pub(super) bad_subject: bool,
    /// How many words it has.
    pub(super) length: usize,
}

/// Takes `by WHO` out of the words, wherever it stands; `seen by vet` is no person.
pub(super) fn take_by<'l>(
    source: &'l Source,
    tokens: &mut Vec<Token>,
    remarks: &mut Vec<Remark>,
) -> (Option<&'l str>, bool) {
    let word = |token: Option<&Token>| token.filter(|t| t.kind == Kind::Word).map(|t| source.lower(t.span));
    let (mut by, mut wrong, mut kept, mut at) = (None, false, Vec::with_capacity(tokens.len()), 0);
    while at < tokens.len() {
        let token = tokens[at];
        let next = word(tokens.get(at + 1));
        let vet = next == Some("vet") && word(kept.last()) == Some("seen");
        if word(Some(&token)) != Some("by") || vet {
            kept.push(token);
            at += 1;
            continue;
        }
        at += 1 + usize::from(next.is_some());
        let problem = match next {
            Some(who) if is_who(who) && by.is_some_and(|before| before != who) => "a second person",
            Some(who) if is_who(who) => {
                by = Some(who);
                continue;
            }
            Some(_) => "not a person",
            None => "nobody named",
        };
        wrong = true;
        let span = next.map_or(token.span, |_| tokens[at - 1].span);
        remarks.push(source.remark(span, Wrong::new(problem, "initials, as kj")));
    }
    *tokens = kept;
    (by, wrong)
}

/// Reads date, time and subject at the start of the words.
pub(super) fn opening<'l>(
    source: &'l Source,
    tokens: &[Token],
    today: NaiveDate,
    remarks: &mut Vec<Remark>,
) -> Opening<'l> {
    let mut out = Opening::default();
    while let Some(token) = tokens.get(out.length) {
        if token.kind == Kind::Comma {
            out.length += 1;
            continue;
        }
        let words = words_of_date(source, &tokens[out.length..]);
        if let Some((date, count)) = date::read(&words, today, Year::UpTo(today)) {
            let count = count + commas_within(&tokens[out.length..], count);
            let span = token.span.to(tokens[out.length + count - 1].span);
            match date {
                Ok(date) if out.date.is_none() => out.date = Some((date, span)),
                Ok(_) => {
                    out.refuse(source, remarks, span, Wrong::new("a second date", "one date before the cow's number"));
                }
                Err(wrong) => out.refuse(source, remarks, span, wrong),
            }
            out.length += count;
        } else if let Some(time) = words.first().and_then(|word| date::time(word)) {
            match time {
                Ok(minute) => out.minute = Some(minute),
                Err(wrong) => out.refuse(source, remarks, token.span, wrong),
            }
            out.length += 1;
        } else {
            out.subject(source, &tokens[out.length..], remarks);
            return out;
        }
    }
    out
}

impl<'l> Opening<'l> {
    fn refuse(&mut self, source: &Source, remarks: &mut Vec<Remark>, span: Span, wrong: Wrong) {
        remarks.push(source.remark(span, wrong));
        self.wrong = true;
    }

    fn subject(&mut self, source: &'l Source, tokens: &[Token], remarks: &mut Vec<Remark>) {
        let Some((subject, count)) = subject(source, tokens) else { return };
        self.length += count;
        match subject {
            Ok(subject) => self.subject = Some(subject),
            Err(wrong) => {
                remarks.push(source.remark(tokens[count - 1].span, wrong));
                self.bad_subject = true;
            }
        }
    }
}

/// Up to `most` words from here, in small letters.
pub(super) fn words<'l>(source: &'l Source, tokens: &[Token], most: usize) -> Vec<&'l str> {
    let words = tokens.iter().take(most).take_while(|token| token.kind == Kind::Word);
    words.map(|token| source.lower(token.span)).collect()
}

/// Up to four words, past a comma after a weekday: `Tues, 24 Nov`.
fn words_of_date<'l>(source: &'l Source, tokens: &[Token]) -> Vec<&'l str> {
    let first = words(source, tokens, 1);
    let is_weekday = first.first().is_some_and(|word| date::is_weekday(word));
    let from = if is_weekday && tokens.get(1).is_some_and(|token| token.kind == Kind::Comma) { 2 } else { 1 };
    let more = if tokens.is_empty() { Vec::new() } else { words(source, &tokens[from.min(tokens.len())..], 3) };
    first.into_iter().chain(more).collect()
}

/// Commas among the tokens of so many words.
fn commas_within(tokens: &[Token], words: usize) -> usize {
    usize::from(words > 1 && tokens[1].kind == Kind::Comma)
}

/// The cows between the first and the last of a list that one act follows: `425, 426 and 427 trim`. Gives how many
/// tokens follow the first.
pub(super) fn list_of_cows<'l>(source: &'l Source, first: Subject<'l>, tokens: &[Token]) -> (Vec<Subject<'l>>, usize) {
    let joins = |token: &Token| {
        token.kind == Kind::Comma || (token.kind == Kind::Word && matches!(source.lower(token.span), "and" | "&" | "+"))
    };
    let number = |token: &Token| {
        let word = source.upper(token.span);
        let digits = word.bytes().filter(u8::is_ascii_digit).count();
        (token.kind == Kind::Word && digits > 1 && looks_like_number(word)).then(|| cow(word)).flatten()
    };
    let (mut cows, mut at) = (vec![first], 0);
    while let [join, next, ..] = &tokens[at..]
        && joins(join)
        && let Some(cow) = number(next)
    {
        cows.push(Subject::Cow(cow));
        at += 2;
    }
    let is_short = matches!(first, Subject::Cow(number) if number.to_string().len() < 2);
    let after = words(source, &tokens[at..], 1);
    let last = at.checked_sub(1).map(|last| source.lower(tokens[last].span));
    let measured = after.first().zip(last).is_none_or(|(next, number)| {
        date::is_month(next)
            || date::length(&[number, next]).is_some()
            || senses(next).iter().any(|sense| matches!(sense, Sense::Unit(_)))
    });
    if is_short || measured { (vec![first], 0) } else { (cows, at) }
}

/// Reads a subject at the start of these words: of how many words it is, and what may be wrong with it.
pub(super) fn subject<'l>(source: &'l Source, tokens: &[Token]) -> Option<(Result<Subject<'l>, Wrong>, usize)> {
    let words = words(source, tokens, 4);
    match *words.first()? {
        "herd" => Some((Ok(Subject::Herd), 1)),
        "group" => Some(match words.get(1) {
            Some(name) if is_group(name) => (Ok(Subject::Group(name)), 2),
            Some(_) => (Err(Wrong::new("not a group's name", "a name of small letters, digits, hyphens")), 2),
            None => (Err(Wrong::new("no group's name", "a name after `group`")), 1),
        }),
        "cow" | "#" => {
            let number = if words.get(1) == Some(&"#") { 2 } else { 1 };
            match tokens.get(number).filter(|token| token.kind == Kind::Word) {
                Some(token) => Some((cow(source.upper(token.span)).map(Subject::Cow).ok_or_else(no_cow), number + 1)),
                None => Some((Err(no_cow()), number)),
            }
        }
        // `4 feet` is no cow.
        word if word.starts_with(|c: char| c.is_ascii_digit())
            && longest(&words, |_| true).is_none_or(|(_, n)| n == 1) =>
        {
            match cow(source.upper(tokens[0].span)) {
                Some(cow) => Some((Ok(Subject::Cow(cow)), 1)),
                None => looks_like_number(word).then(|| (Err(no_cow()), 1)),
            }
        }
        _ => None,
    }
}

fn no_cow() -> Wrong {
    Wrong::new("not a cow's number", "1 to 6 digits, then at most one letter")
}

/// Digits, then at most one letter.
pub(super) fn looks_like_number(word: &str) -> bool {
    let digits = word.bytes().take_while(u8::is_ascii_digit).count();
    digits > 0 && (digits == word.len() || (digits + 1 == word.len() && word.as_bytes()[digits].is_ascii_alphabetic()))
}

/// A cow's number in capitals; leading zeros are dropped.
pub(super) fn cow(word: &str) -> Option<CowNumber> {
    if word.len() > 20 { None } else { CowNumber::read(word.trim_start_matches('0')) }
}
