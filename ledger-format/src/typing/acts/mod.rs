//! Each act of `line.md` §10 as people type it: one part in, one or more acts out.

mod feet;
mod herd;
mod register;
mod remedies;

pub(super) use feet::{between_scores, looks_like_stage, score_value};

use chrono::NaiveDate;

use super::date::{self, Year};
use super::part::Part;
use super::phrase::Lead;
use super::remark::{Span, Wrong};
use crate::line::{Act, Mark, Reference, is_name};
use crate::vocabulary::ActWord;

/// What a part is read with.
pub(super) struct Setting<'s> {
    /// The observed day.
    pub(super) day: NaiveDate,
    pub(super) today: NaiveDate,
    /// The writing device.
    pub(super) device: &'s str,
}

/// What a part says.
#[derive(Default)]
pub(super) struct Said<'l> {
    pub(super) acts: Vec<Act<'l>>,
    pub(super) replaces: Option<Reference<'l>>,
    /// A trim without a kind: the other acts of the line decide.
    pub(super) kind_open: bool,
}

/// Reads the part as this act. What is wrong is in the part's remarks; what no one took is left over in it.
pub(super) fn read<'l>(act: ActWord, part: &mut Part<'l>, setting: &Setting<'_>) -> Said<'l> {
    let mut said = Said { replaces: replaces(part, setting), ..Said::default() };
    let one = match act {
        ActWord::Score => feet::score(part),
        ActWord::Trim => Some(feet::trim(part, &mut said.kind_open)),
        ActWord::Lesion => {
            said.acts = feet::lesion(part);
            None
        }
        ActWord::Block => feet::block(part),
        ActWord::Dressing => feet::dressing(part),
        ActWord::Recheck => feet::recheck(part, setting),
        ActWord::Refer => Some(Act::Refer { foot: part.foot_unless_unclear() }),
        ActWord::Seen => feet::seen(part, setting),
        ActWord::Medicine => remedies::medicine(part),
        ActWord::Bath => remedies::bath(part),
        ActWord::Calved => register::calved(part, setting),
        ActWord::Dried => register::dried(part, setting),
        ActWord::Joined => register::joined(part, setting),
        ActWord::Left => register::left(part),
        ActWord::Renumbered => register::renumbered(part),
        ActWord::Tagged => register::tagged(part),
        ActWord::Moved => register::moved(part),
        ActWord::Note => Some(Act::Note),
        ActWord::Tally => herd::tally(part),
        ActWord::Strike => herd::strike(part, setting),
        ActWord::Admit => herd::admit(part),
        ActWord::Revoke => herd::revoke(part),
        ActWord::Adopt => herd::adopt(part),
        ActWord::Witness => herd::witness(part),
    };
    said.acts.extend(one);
    said
}

/// What an act is made of, for a remark about a word that is none of it.
pub(super) const fn made_of(act: ActWord) -> &'static str {
    match act {
        ActWord::Score => "a score of 0 to 3, a scale or a foot",
        ActWord::Tally => "how many walked, zeros and ones",
        ActWord::Trim => "routine, lame or check, feet, a claw, wall, sole or angle",
        ActWord::Lesion => "a lesion, a foot, a claw, a zone or a grade",
        ActWord::Block => "on, off or lost, a foot, a claw or a kind of block",
        ActWord::Dressing => "on or off, and a foot",
        ActWord::Recheck => "a length as 28d, a date, a finding or a foot",
        ActWord::Refer => "a foot, then `: ` or `because` and words",
        ActWord::Seen => "a foot, or `due` and a date",
        ActWord::Medicine => "batch, dose, route, for, milk or meat",
        ActWord::Bath => "a footbath product, a strength as 5%, or passes",
        ActWord::Calved => "lactation and a number, or due and a date",
        ActWord::Dried => "due and a date, or nothing",
        ActWord::Joined => "lactation and a number, or calved and a date",
        ActWord::Left => "sold, culled, died or moved, and feet if they were why",
        ActWord::Renumbered => "`to` and a cow's number",
        ActWord::Tagged => "an ear number or an electronic number",
        ActWord::Moved => "`to` and a group's name",
        ActWord::Note => "`: ` and words",
        ActWord::Strike => "a mark, then `: ` or `because` and words",
        ActWord::Admit => "a device, `key` and 64 digits, `as` and keeper, writer or reader",
        ActWord::Revoke => "a device, `after` and 64 digits",
        ActWord::Adopt => "64 digits",
        ActWord::Witness => "a device, a year, a length and a mark",
    }
}

/// `replaces MARK`, `replaces MARK of DEVICE`.
fn replaces<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Reference<'l>> {
    let at = part.lead(Lead::Replaces)?;
    let before = part.units[at].span;
    let (word, span) = part.word_at(at + 1, before, MARK)?;
    let Some(mark) = Mark::read(word.as_bytes()) else {
        part.wrong(span, Wrong::new("not a mark", MARK));
        return None;
    };
    Some(Reference { mark, device: of_device(part, at + 2, setting) })
}

const MARK: &str = "a mark of 16 digits";

/// `of DEVICE`; the writing device's own name says nothing.
fn of_device<'l>(part: &mut Part<'l>, at: usize, setting: &Setting<'_>) -> Option<&'l str> {
    part.free(at).filter(|word| *word == "of")?;
    let device = part.free(at + 1).filter(|word| is_name(word))?;
    part.use_up(at..at + 2);
    (device != setting.device).then_some(device)
}

/// A date at or after this place, past `in` and `on`; the outer `None` where there is none.
fn date_from(part: &mut Part<'_>, from: usize, setting: &Setting<'_>, year: Year) -> Option<(Option<NaiveDate>, Span)> {
    for at in from..part.units.len() {
        let words = part.words(at);
        let found = date::read(&words, setting.today, year).or_else(|| ahead(&words, setting));
        let Some((date, count)) = found else { continue };
        if at > 0 && part.free(at - 1).is_some_and(|word| matches!(word, "in" | "on")) {
            part.use_up(at - 1..at);
        }
        part.use_up(at..at + count);
        let span = part.units[at].span.to(part.units[at + count - 1].span);
        return Some((date.map_err(|wrong| part.wrong(span, wrong)).ok(), span));
    }
    None
}

/// A length counts from the observed day.
fn ahead(words: &[&str], setting: &Setting<'_>) -> Option<date::Found<NaiveDate>> {
    let (days, count) = date::length(words)?;
    let day = days.and_then(|days| {
        date::after(setting.day, days).ok_or_else(|| Wrong::new("no such date", "a real date, as 2026-03-14"))
    });
    Some((day, count))
}

/// What a part says after `due`.
enum Due {
    /// Nothing is due.
    Not,
    On(NaiveDate),
    /// It says `due`, and no day that is one.
    Wrong,
}

/// Reads `due` and a date or a length.
fn due(part: &mut Part<'_>, setting: &Setting<'_>) -> Due {
    let Some(at) = part.lead(Lead::Due) else { return Due::Not };
    let lead = part.units[at].span;
    let Some((date, span)) = date_from(part, at + 1, setting, Year::From(setting.day)) else {
        part.wrong(lead, Wrong::new("nothing due", "a date, or a length as 28d"));
        return Due::Wrong;
    };
    part.places.push((super::part::Topic::Due, span));
    date.map_or(Due::Wrong, Due::On)
}
