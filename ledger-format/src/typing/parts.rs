//! The parts of a typed line: cut at commas, sorted by subject, each under its act (`typing.md` §5, §8, §15).

use super::acts::{looks_like_stage, score_value};
use super::date;
use super::leftover::says_act;
use super::part::{foot_and_zone, is_detail, is_number};
use super::phrase::{Lead, Sense, senses};
use super::remark::{Span, Wrong};
use super::subject::{looks_like_number, subject, words};
use super::token::{Kind, Source, Token};
use super::units::{Unit, says_nothing, units, units_of};
use crate::line::Subject;
use crate::vocabulary::{ActWord, Lesion};

/// The parts that are about one subject.
#[derive(Default)]
pub(super) struct Run<'l> {
    pub(super) subject: Option<Subject<'l>>,
    /// Cows before it in a list that one act is about.
    pub(super) also: Vec<Subject<'l>>,
    /// What stands in its place is none, and that has been said.
    pub(super) bad_subject: bool,
    pub(super) drafts: Vec<Draft>,
}

/// One act, or words that are none.
pub(super) struct Draft {
    pub(super) act: Option<ActWord>,
    /// The words that say which act it is.
    pub(super) said: Span,
    pub(super) tokens: Vec<Token>,
    /// A decimal comma has cut it: that has been said, and what else seems wrong comes of it.
    pub(super) cut: bool,
}

/// Cuts what follows the opening into runs; `wrong` hears of subjects that are none.
pub(super) fn runs<'l>(
    source: &'l Source,
    first: Run<'l>,
    tokens: &[Token],
    mut wrong: impl FnMut(Span, Wrong),
) -> Vec<Run<'l>> {
    let mut runs = vec![first];
    for (index, slice) in tokens.split(|token| token.kind == Kind::Comma).enumerate() {
        if let Some(before) = runs.last_mut().and_then(|run| run.drafts.last_mut())
            && let Some((span, problem)) = decimal_comma(source, before, slice)
        {
            wrong(span, problem);
            before.act = act_of(source, slice).map(|(act, _)| act).filter(|_| !measured(before.act)).or(before.act);
            before.tokens.extend_from_slice(slice);
            before.cut = true;
            continue;
        }
        let before = runs.last().and_then(|run| run.drafts.last());
        let mut slice = slice;
        if index > 0
            && let Some((found, count)) = new_subject(source, slice, before)
        {
            let mut run = Run::default();
            match found {
                Ok(subject) => run.subject = Some(subject),
                Err(problem) => {
                    wrong(slice[count - 1].span, problem);
                    run.bad_subject = true;
                }
            }
            runs.push(run);
            slice = &slice[count..];
        }
        if let Some(run) = runs.last_mut().filter(|_| !slice.is_empty()) {
            run.add(source, slice);
        }
    }
    runs
}

impl Run<'_> {
    fn add(&mut self, source: &Source, slice: &[Token]) {
        let act = act_of(source, slice);
        if let Some(before) = self.drafts.last_mut()
            && let Some(word) = before.act
            && (continues(source, word, slice)
                || (act.is_none() && only_adds(source, slice))
                || (word == ActWord::Lesion && adds_stage(source, &before.tokens, slice)))
        {
            before.tokens.extend_from_slice(slice);
            return;
        }
        let whole = slice[0].span.to(slice[slice.len() - 1].span);
        let (act, said) = act.map_or((None, whole), |(act, said)| (Some(act), said));
        self.drafts.push(Draft { act, said, tokens: slice.to_vec(), cut: false });
    }
}

/// After a comma, a number of two or more digits followed by more words is another cow.
fn new_subject<'l>(
    source: &'l Source,
    slice: &[Token],
    before: Option<&Draft>,
) -> Option<(Result<Subject<'l>, Wrong>, usize)> {
    let words = words(source, slice, 2);
    let first = *words.first()?;
    if first.starts_with(|c: char| c.is_ascii_digit()) {
        let digits = first.bytes().filter(u8::is_ascii_digit).count();
        let next = *words.get(1)?;
        let dose = || senses(next).iter().any(|sense| matches!(sense, Sense::Unit(_)));
        let of_medicine = before.is_some_and(|draft| draft.act == Some(ActWord::Medicine)) && dose();
        // `28 d` may be days; a number of three digits is a cow's.
        let days = digits < 3 && date::length(&[first, next]).is_some();
        let counted = before.is_some_and(|draft| draft.act == Some(ActWord::Tally)) && says_count(next);
        if counted || digits < 2 || !looks_like_number(first) || date::is_month(next) || of_medicine || days {
            return None;
        }
    }
    subject(source, slice)
}

/// The act that these words say, and the words that say it.
fn act_of(source: &Source, tokens: &[Token]) -> Option<(ActWord, Span)> {
    let units = units(source, tokens, classifies);
    let word = |at: usize| word_of(source, &units[at]);
    let days = |at: usize| at > 0 && word(at) == "d" && is_number(word(at - 1));
    let by_word = units.iter().enumerate().find_map(|(at, unit)| match unit.sense? {
        Sense::Act(act) if !days(at) => Some((act, unit.span)),
        _ => None,
    });
    let by_lesion = || {
        let lesion = units.iter().find(|unit| match unit.sense {
            Some(sense) => matches!(sense, Sense::Lesion(_) | Sense::NoLesion | Sense::Stage(_)),
            None => looks_like_stage(word_of(source, unit)),
        })?;
        Some((ActWord::Lesion, lesion.span))
    };
    let by_score = || {
        let at = (0..units.len()).find(|at| is_bare_score(source, &units, *at))?;
        Some((ActWord::Score, units[at].span))
    };
    by_word.or_else(by_lesion).or_else(by_score)
}

fn word_of<'l>(source: &'l Source, unit: &Unit) -> &'l str {
    if unit.quoted { "" } else { source.lower(unit.span) }
}

fn is_bare_score(source: &Source, units: &[Unit], at: usize) -> bool {
    let announced = at > 0 && matches!(units[at - 1].sense, Some(Sense::Lead(_)));
    let measured = units.get(at + 1).is_some_and(|next| date::length(&["1", word_of(source, next)]).is_some());
    units[at].sense.is_none() && score_value(word_of(source, &units[at])).is_some() && !announced && !measured
}

/// Senses that tell acts apart, or are longer than a word that would.
fn classifies(sense: Sense) -> bool {
    says_act(sense)
        || matches!(
            sense,
            Sense::Feet(_) | Sense::Claw(_) | Sense::Grade(_) | Sense::Lead(Lead::Zone | Lead::Grade) | Sense::Scale(_)
        )
}

/// Whether these words only add a foot, a claw, a zone or a grade.
fn only_adds(source: &Source, slice: &[Token]) -> bool {
    let units = units(source, slice, classifies);
    let adds = |at: usize| {
        let word = source.lower(units[at].span);
        match units[at].sense {
            Some(_) => true,
            None if units[at].quoted => false,
            None if is_number(word) => at > 0 && matches!(units[at - 1].sense, Some(Sense::Lead(_))),
            None => is_detail(word) || foot_and_zone(word).is_some() || says_nothing(word),
        }
    };
    !units.is_empty()
        && (0..units.len()).all(adds)
        && units.iter().any(|unit| unit.sense.is_some() || source.lower(unit.span).len() > 1)
}

/// A tally, a medicine, a trim or a bath goes on where a part begins with one of its words.
fn continues(source: &Source, act: ActWord, slice: &[Token]) -> bool {
    if !matches!(act, ActWord::Tally | ActWord::Medicine | ActWord::Trim | ActWord::Bath) {
        return false;
    }
    let says_other = units(source, slice, says_act).first().is_some_and(|unit| unit.sense.is_some());
    let words = words(source, slice, 2);
    let amount = act == ActWord::Medicine && begins_with_amount(&words);
    if act == ActWord::Tally && words.first().is_some_and(|word| is_number(word)) {
        return words.get(1).is_some_and(|next| says_count(next));
    }
    let first = units_of(source, slice, act).first().and_then(|unit| unit.sense);
    (!says_other && matches!(first, Some(Sense::Lead(_) | Sense::Route(_)))) || amount
}

/// `70 0s`, `80 walked`.
fn says_count(word: &str) -> bool {
    senses(word).iter().any(|sense| matches!(sense, Sense::Lead(Lead::Zeros | Lead::Ones | Lead::Walked)))
}

fn begins_with_amount(words: &[&str]) -> bool {
    let Some(first) = words.first() else { return false };
    let digits = first.bytes().take_while(|b| b.is_ascii_digit() || *b == b'.').count();
    let unit = if digits == first.len() { words.get(1).copied().unwrap_or("") } else { &first[digits..] };
    digits > 0 && senses(unit).iter().any(|sense| matches!(sense, Sense::Unit(_)))
}

fn measured(act: Option<ActWord>) -> bool {
    matches!(act, Some(ActWord::Medicine | ActWord::Bath | ActWord::Trim))
}

/// `1,5ml`: read as two parts it would be a dose of 5 ml.
fn decimal_comma(source: &Source, before: &Draft, slice: &[Token]) -> Option<(Span, Wrong)> {
    let (last, next) = (before.tokens.last()?, slice.first()?);
    let (whole, part) = (source.text(last.span), source.text(next.span));
    let touching = next.span.start == last.span.end + 1 && last.kind == Kind::Word && next.kind == Kind::Word;
    if !touching || !whole.ends_with(is_digit) || !part.starts_with(is_digit) {
        return None;
    }
    let announced = || {
        let lead = before.tokens.len().checked_sub(2).map(|at| source.lower(before.tokens[at].span));
        lead.is_some_and(|word| matches!(word, "wall" | "sole" | "angle"))
    };
    let inside = match before.act {
        Some(ActWord::Medicine | ActWord::Bath) => true,
        Some(ActWord::Trim) => announced(),
        _ => false,
    };
    if !inside && !begins_with_measure(&words(source, slice, 2)) {
        return None;
    }
    let wrong = Wrong::new("a comma between digits", "a point in a number, or a space after a comma between two acts");
    // Three digits may be thousands: `10,000iu` is not 10.
    let places = part.chars().take_while(|c| is_digit(*c)).count();
    let offered = (places < 3 && whole.chars().all(is_digit)).then(|| format!("{whole}.{part}"));
    Some((last.span.to(next.span), offered.into_iter().fold(wrong, Wrong::suggest)))
}

const fn is_digit(c: char) -> bool {
    c.is_ascii_digit()
}

/// A number with a unit of dose, strength or length.
fn begins_with_measure(words: &[&str]) -> bool {
    let Some(first) = words.first() else { return false };
    let unit = first.trim_start_matches(|c| is_digit(c) || c == '.');
    let unit = if unit.is_empty() { words.get(1).copied().unwrap_or("") } else { unit };
    begins_with_amount(words) || matches!(unit, "%" | "mm" | "cm" | "deg" | "degrees" | "°")
}

/// `417 DD LH, M2`: the stage of the lesion before it, unless it names a foot of its own.
fn adds_stage(source: &Source, before: &[Token], slice: &[Token]) -> bool {
    let has = |tokens: &[Token], want: fn(Sense) -> bool| {
        units(source, tokens, classifies).iter().any(|u| u.sense.is_some_and(want))
    };
    let stage = |sense| matches!(sense, Sense::Stage(_));
    has(slice, stage)
        && !has(slice, |sense| matches!(sense, Sense::Feet(_) | Sense::Lesion(_) | Sense::Act(_)))
        && has(before, |sense| sense == Sense::Lesion(Lesion::DD))
        && !has(before, stage)
}
