//! The words of a part as units of sense: phrases that an act has use for, and single words.

use super::phrase::{Lead, Sense, longest};
use super::remark::Span;
use super::token::{Kind, Source, Token};
use crate::vocabulary::ActWord;

/// A phrase with its sense, or one word without.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unit {
    pub(super) span: Span,
    pub(super) sense: Option<Sense>,
    pub(super) quoted: bool,
    pub(super) used: bool,
}

/// The words of a part in small letters; quoted values are no words.
fn lower<'l>(source: &'l Source, tokens: &[Token]) -> Vec<&'l str> {
    tokens.iter().map(|token| if token.kind == Kind::Word { source.lower(token.span) } else { "\"" }).collect()
}

/// Cuts words into phrases with a wanted sense, the longest first, and single words.
pub(super) fn units(source: &Source, tokens: &[Token], want: impl Fn(Sense) -> bool) -> Vec<Unit> {
    cut(source, tokens, |words| longest(words, &want).map(|(sense, count)| (Some(sense), count)))
}

/// Cuts words into what an act has use for. A lesion of more words stays whole: `trim RH sole ulcer` says no sole.
pub(super) fn units_of(source: &Source, tokens: &[Token], act: ActWord) -> Vec<Unit> {
    cut(source, tokens, |words| {
        let (sense, count) = longest(words, |sense| belongs(act, sense))?;
        let lesion = longest(words, |sense| matches!(sense, Sense::Lesion(_) | Sense::NoLesion));
        Some(lesion.filter(|(_, more)| *more > count).map_or((Some(sense), count), |(_, more)| (None, more)))
    })
}

fn cut(source: &Source, tokens: &[Token], find: impl Fn(&[&str]) -> Option<(Option<Sense>, usize)>) -> Vec<Unit> {
    let words = lower(source, tokens);
    let (mut out, mut at) = (Vec::new(), 0);
    while at < tokens.len() {
        let (sense, count) = find(&words[at..]).unwrap_or((None, 1));
        let span = tokens[at].span.to(tokens[at + count - 1].span);
        out.push(Unit { span, sense, quoted: tokens[at].kind == Kind::Quoted, used: false });
        at += count;
    }
    out
}

/// Whether this act has use for words of this sense.
pub(super) fn belongs(act: ActWord, sense: Sense) -> bool {
    use Lead::{
        After, Angle, As, Batch, Dose, Due, Ear, Electronic, For, Found, Grade, Key, Lactation, Length, Mark, Meat,
        Milk, Ones, Passes, Replaces, Route as By, Scale as On, Sole, To, Walked, Wall, Zeros, Zone,
    };
    match sense {
        Sense::Act(word) => word == act || (act == ActWord::Joined && word == ActWord::Calved),
        Sense::Feet(_) => matches!(
            act,
            ActWord::Score
                | ActWord::Trim
                | ActWord::Lesion
                | ActWord::Block
                | ActWord::Dressing
                | ActWord::Recheck
                | ActWord::Refer
                | ActWord::Seen
        ),
        Sense::Claw(_) => matches!(act, ActWord::Trim | ActWord::Lesion | ActWord::Block),
        Sense::Lesion(_) | Sense::NoLesion | Sense::Stage(_) | Sense::Grade(_) => act == ActWord::Lesion,
        Sense::Scale(_) => matches!(act, ActWord::Score | ActWord::Tally),
        Sense::Trim(_) => act == ActWord::Trim,
        Sense::How(_) => matches!(act, ActWord::Block | ActWord::Dressing),
        Sense::Block(_) => act == ActWord::Block,
        Sense::Found(_) => act == ActWord::Recheck,
        Sense::Departure(_) | Sense::FeetReason => act == ActWord::Left,
        Sense::Route(_) | Sense::Unit(_) => act == ActWord::Medicine,
        Sense::Bath(_) => act == ActWord::Bath,
        Sense::Capacity(_) => act == ActWord::Admit,
        Sense::Lead(lead) => match lead {
            Replaces => act != ActWord::Strike,
            Zone | Grade => act == ActWord::Lesion,
            Due => matches!(act, ActWord::Recheck | ActWord::Seen | ActWord::Calved | ActWord::Dried),
            Found => act == ActWord::Recheck,
            Walked | Zeros | Ones => act == ActWord::Tally,
            On => matches!(act, ActWord::Score | ActWord::Tally),
            Wall | Sole | Angle => act == ActWord::Trim,
            Lactation => matches!(act, ActWord::Calved | ActWord::Joined),
            Passes => act == ActWord::Bath,
            To => matches!(act, ActWord::Renumbered | ActWord::Moved),
            Ear | Electronic => act == ActWord::Tagged,
            Key | As => act == ActWord::Admit,
            After => act == ActWord::Revoke,
            Length | Mark => act == ActWord::Witness,
            Batch | Dose | By | For | Milk | Meat => act == ActWord::Medicine,
        },
    }
}

/// Words passed over where they say nothing.
const PASSED_OVER: &[&str] = &["a", "an", "the", "at", "and", "with", "claw", "foot", "feet", "leg", "of"];

pub(super) fn says_nothing(word: &str) -> bool {
    PASSED_OVER.contains(&word)
}
