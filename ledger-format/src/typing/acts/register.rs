//! The herd register: calved, dried, joined, left, and under which number.

use super::{Due, Setting, date_from, due};
use crate::line::{Act, CowNumber, EarTag, Electronic, is_group};
use crate::typing::date::{Year, is_digits};
use crate::typing::part::{Part, is_number};
use crate::typing::phrase::{How, Lead, Sense};
use crate::typing::remark::{Span, Wrong};
use crate::typing::subject::cow;
use crate::vocabulary::ActWord;

pub(super) fn calved<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    match due(part, setting) {
        Due::On(date) => Some(Act::CalvingDue(date)),
        Due::Wrong => None,
        Due::Not => Some(Act::Calved { lactation: lactation(part) }),
    }
}

fn lactation(part: &mut Part<'_>) -> Option<u8> {
    part.number(Lead::Lactation, "", 1..=20, "no such lactation").map(|(number, _)| number as u8)
}

pub(super) fn dried<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    part.all(|sense| (sense == Sense::How(How::Off)).then_some(()));
    match due(part, setting) {
        Due::On(date) => Some(Act::DryingDue(date)),
        Due::Wrong => None,
        Due::Not => Some(Act::Dried),
    }
}

pub(super) fn joined<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    let lactation = lactation(part);
    let at = part.units.iter().position(|unit| unit.sense == Some(Sense::Act(ActWord::Calved)));
    let Some(at) = at else { return Some(Act::Joined { lactation, calved: None }) };
    part.use_up(at..at + 1);
    let Some((calved, _)) = date_from(part, at + 1, setting, Year::UpTo(setting.day)) else {
        let span = part.units[at].span;
        part.wrong(span, Wrong::new("no date", "the day she calved, as 2026-01-02"));
        return None;
    };
    Some(Act::Joined { lactation, calved: Some(calved?) })
}

pub(super) fn left<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let reason = part.one(|sense| if let Sense::Departure(reason) = sense { Some(reason) } else { None }, "departure");
    let feet = !part.all(|sense| (sense == Sense::FeetReason).then_some(())).is_empty();
    match reason {
        Some(reason) => Some(Act::Left { reason, feet }),
        None => part.missing("no word how she left", "sold, culled, died or moved"),
    }
}

pub(super) fn renumbered<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    const EXPECTED: &str = "a cow's number";
    let found = match part.lead(Lead::To) {
        Some(at) => {
            let (word, span) = part.word_at(at + 1, part.units[at].span, EXPECTED)?;
            let number = cow(part.source.upper(span));
            if number.is_none() {
                part.wrong(span, Wrong::new(format!("{word} is no cow's number"), EXPECTED));
            }
            return number.map(Act::Renumbered);
        }
        None => part.first(0, |word| cow(&word.to_ascii_uppercase())),
    };
    let number: Option<CowNumber> = found.map(|(number, _)| number);
    match number {
        Some(number) => Some(Act::Renumbered(number)),
        None => part.missing("no new number", EXPECTED),
    }
}

pub(super) fn moved<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    const EXPECTED: &str = "a group's name: small letters, digits, hyphens";
    let found = match part.lead(Lead::To) {
        Some(at) => Some(part.word_at(at + 1, part.units[at].span, EXPECTED)?),
        None => part.first(0, Some),
    };
    match found {
        Some((name, _)) if is_group(name) => Some(Act::Moved(name)),
        Some((_, span)) => {
            part.wrong(span, Wrong::new("not a group's name", EXPECTED));
            None
        }
        None => part.missing("no group", EXPECTED),
    }
}

pub(super) fn tagged<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let before = part.remarks.len();
    let ear = ear_at(part).and_then(|at| official(part, at, 12, EarTag::read));
    let electronic = electronic_at(part).and_then(|at| official(part, at, 15, Electronic::read));
    if ear.is_none() && electronic.is_none() {
        if part.remarks.len() > before {
            return None;
        }
        return part.missing("no number", "an ear number or an electronic number");
    }
    Some(Act::Tagged { ear, electronic })
}

/// Where an ear number begins: after its word, or at what looks like one.
fn ear_at(part: &mut Part<'_>) -> Option<usize> {
    if let Some(at) = part.lead(Lead::Ear) {
        return Some(at + 1);
    }
    let looks_so = |at: usize| {
        let word = part.free(at)?;
        let (letters, digits) = word.split_at_checked(2)?;
        let country = letters.bytes().all(|b| b.is_ascii_lowercase());
        let number = if digits.is_empty() { part.free(at + 1)? } else { digits };
        (country && is_number(number)).then_some(at)
    };
    (0..part.units.len()).find_map(looks_so)
}

fn electronic_at(part: &mut Part<'_>) -> Option<usize> {
    if let Some(at) = part.lead(Lead::Electronic) {
        return Some(at + 1);
    }
    (0..part.units.len()).find(|at| part.free(*at).is_some_and(|word| word.len() == 15 && is_digits(word, 15)))
}

/// Reads an official number there; groups of digits, as they are printed, are closed up.
fn official<'l, T>(
    part: &mut Part<'l>,
    at: usize,
    digits: usize,
    read: impl FnOnce(&'l str) -> Result<T, crate::line::IdentityProblem>,
) -> Option<T> {
    let count = |word: &str| word.bytes().filter(u8::is_ascii_digit).count();
    let before = part.units.get(at.saturating_sub(1))?.span;
    let (word, first) = part.word_at(at, before, "a number")?;
    let (mut have, mut end) = (count(word), at + 1);
    while let Some(next) = part.free(end).filter(|next| is_number(next) && have + next.len() <= digits) {
        have += next.len();
        end += 1;
    }
    part.use_up(at..end);
    let span: Span = first.to(part.units[end - 1].span);
    match read(part.source.tight(span)) {
        Ok(number) => Some(number),
        Err(why) => {
            part.wrong(span, Wrong::new(why.to_string(), "the number as it stands on the tag"));
            None
        }
    }
}
