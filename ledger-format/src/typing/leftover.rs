//! Words that no act took: what they may have been meant to say.

use super::acts::{between_scores, made_of};
use super::date::{self, Year};
use super::near::nearest;
use super::part::{Part, is_number};
use super::phrase::{Known, Sense, known};
use super::remark::{Remark, Span, Wrong};
use super::token::{Kind, Source, Token};
use super::units::{Unit, belongs, units};
use crate::vocabulary::{ActWord, RecheckFinding, TrimKind};
use chrono::NaiveDate;

/// More words of one part are not compared with the vocabulary: the time stays bounded.
const COMPARED: usize = 16;

const AN_ACT: &str = "an act, as score, lesion, trim";

/// Remarks about what is left over of an act.
pub(super) fn of_act(part: &Part<'_>, act: ActWord, left: &[Unit], has_words: bool, today: NaiveDate) -> Vec<Remark> {
    let (Some(first), Some(last)) = (left.first(), left.last()) else { return Vec::new() };
    if needs_words(act) && !has_words {
        return vec![without_colon(part.source, act, first.span.to(last.span))];
    }
    let again = again(part.source, left);
    let mut out = Remarks { source: part.source, list: Vec::new(), unknown: None, made_of: made_of(act) };
    let mut at = 0;
    while at < again.len() {
        let left = &again[at..];
        let near = || if at < COMPARED { near_here(part.source, act, left) } else { None };
        match meant_number(part, act, left).or_else(|| known_trouble(part.source, act, left, today)).or_else(near) {
            Some((wrong, count)) => {
                out.push(left[0].span.to(left[count - 1].span), wrong);
                at += count;
            }
            None => {
                out.unknown = Some(out.unknown.map_or(left[0].span, |span| span.to(left[0].span)));
                at += 1;
            }
        }
    }
    out.close();
    out.list
}

/// The words left over, cut by what may say another act.
fn again(source: &Source, left: &[Unit]) -> Vec<Unit> {
    let kind = |unit: &Unit| if unit.quoted { Kind::Quoted } else { Kind::Word };
    let tokens: Vec<Token> = left.iter().map(|unit| Token { span: unit.span, kind: kind(unit) }).collect();
    units(source, &tokens, says_act)
}

/// Two acts in one part: the remark stands where the second begins.
pub(super) fn another_act(part: &Part<'_>, left: &[Unit]) -> Option<Remark> {
    let other = again(part.source, left).into_iter().find(|unit| unit.sense.is_some())?.span;
    let second = if other.start < part.said.start { part.said } else { other };
    Some(part.source.remark(second, Wrong::new("another act", "a comma before it")))
}

/// Remarks in their order; neighbours that are not understood at all are one.
struct Remarks<'l> {
    source: &'l Source,
    list: Vec<Remark>,
    unknown: Option<Span>,
    made_of: &'static str,
}

impl Remarks<'_> {
    fn push(&mut self, span: Span, wrong: Wrong) {
        self.close();
        self.list.push(self.source.remark(span, wrong));
    }

    fn close(&mut self) {
        if let Some(span) = self.unknown.take() {
            self.list.push(self.source.remark(span, Wrong::new("not understood", self.made_of)));
        }
    }
}

/// Words that are understood, and have no place here: what is wrong, and with how many of them.
fn known_trouble(source: &Source, act: ActWord, left: &[Unit], today: NaiveDate) -> Option<(Wrong, usize)> {
    let words: Vec<&str> =
        left.iter().take(4).take_while(|unit| !unit.quoted).map(|unit| source.lower(unit.span)).collect();
    let word = *words.first()?;
    if word == "because" {
        return Some((Wrong::new("words without a colon", "`: ` in place of because"), left.len()));
    }
    if let Some(wrong) = between_scores(word) {
        return Some((wrong, 1));
    }
    let either = [Year::UpTo(today), Year::From(today)].into_iter().filter_map(|year| date::read(&words, today, year));
    if let Some((date, count)) = either.min_by_key(|(date, _)| date.is_err()) {
        let expected = match act {
            ActWord::Seen | ActWord::Calved | ActWord::Dried => "`due` before it, or it before the cow's number",
            ActWord::Recheck => "one day for a recheck",
            _ => "it before the cow's number",
        };
        return Some((date.err().unwrap_or_else(|| Wrong::new("a date", expected)), count));
    }
    if super::acts::score_value(word).is_some() {
        return Some((Wrong::new("another act", "a comma before it"), 1));
    }
    if act == ActWord::Recheck && is_number(word) && word.len() < 3 {
        let wrong = Wrong::new("a number without a unit", "days or weeks, as 28d or 4w");
        return Some((wrong.suggest(format!("{word}d")), 1));
    }
    None
}

/// `su RH 4 outer`: a number after a lesion is its zone, if anything; `2 to 3` is two scores.
fn meant_number(part: &Part<'_>, act: ActWord, left: &[Unit]) -> Option<(Wrong, usize)> {
    let word = |unit: &Unit| part.source.lower(unit.span);
    let is_score = |word: &str| matches!(word, "0" | "1" | "2" | "3");
    match (act, left) {
        (ActWord::Lesion, [number, ..]) if is_number(word(number)) && word(number).len() < 3 => {
            let zone = word(number).parse::<u8>().ok().filter(|zone| *zone <= 12)?;
            let expected = if zone > 3 { "`zone` before it" } else { "`zone` before it, or a comma if it is a score" };
            Some((Wrong::new("a number alone", expected).suggest(format!("zone {zone}")), 1))
        }
        (ActWord::Score, [to, second, ..]) if matches!(word(to), "to" | "or") && is_score(word(second)) => {
            let before = |unit: &&Unit| unit.span.end <= to.span.start;
            let first = word(part.units.iter().rev().find(before)?);
            super::acts::between_scores(&format!("{first}-{}", word(second))).map(|wrong| (wrong, 2))
        }
        _ => None,
    }
}

/// The phrase of this act that the next words are near to; then one that says an act, if it is not too short to tell.
fn near_here(source: &Source, act: ActWord, left: &[Unit]) -> Option<(Wrong, usize)> {
    let (known, count) = near(source, left, |known| belongs(act, known.sense))
        .or_else(|| near(source, left, |known| says_act(known.sense) && known.phrase.len() > 4))?;
    Some((meant(known.sense, act).suggest(known.shown.clone()), count))
}

/// As [`crate::line::Act::needs_words`], for an act that could not be made.
const fn needs_words(act: ActWord) -> bool {
    matches!(act, ActWord::Refer | ActWord::Note | ActWord::Strike)
}

fn without_colon(source: &Source, act: ActWord, span: Span) -> Remark {
    let wrong = Wrong::new("words without a colon", "`: ` before them");
    source.remark(span, wrong.suggest(format!("{act}: {}", source.text(span))))
}

/// A remark about a part that is no act.
pub(super) fn of_no_act(source: &Source, units: &[Unit], today: NaiveDate) -> Option<Remark> {
    let (first, last) = (units.first()?, units.last()?);
    let departs =
        |unit: &Unit| if let Some(Sense::Departure(way)) = unit.sense { Some((unit.span, way)) } else { None };
    if let Some((span, way)) = units.iter().find_map(departs) {
        return Some(source.remark(span, Wrong::new("not an act", AN_ACT).suggest(format!("left {way}"))));
    }
    if let Some((span, wrong)) = without_its_act(source, units) {
        return Some(source.remark(span, wrong));
    }
    if let Some((span, wrong)) = units.iter().find_map(|unit| Some((unit.span, may_mean(unit.sense?)?))) {
        return Some(source.remark(span, wrong));
    }
    let Some(raw) = units.iter().find(|unit| unit.sense.is_none() && !unit.quoted) else {
        return Some(source.remark(first.span.to(last.span), Wrong::new("no act", AN_ACT)));
    };
    if let Some(wrong) = between_scores(source.lower(raw.span)) {
        return Some(source.remark(raw.span, wrong));
    }
    if let Some((Err(wrong), _)) = date::read(&[source.lower(raw.span)], today, Year::UpTo(today)) {
        return Some(source.remark(raw.span, wrong));
    }
    let wrong = Wrong::new("not an act", AN_ACT);
    let from = units.iter().position(|unit| unit.span == raw.span)?;
    Some(match near(source, &units[from..], |known| says_act(known.sense)) {
        Some((known, count)) => {
            source.remark(raw.span.to(units[from + count - 1].span), wrong.suggest(known.shown.clone()))
        }
        None => source.remark(raw.span, wrong),
    })
}

/// Words that go with one act, which is not said: `not lame`, `pen 20ml`, `80 walked`, `retrim 6 weeks`.
fn without_its_act(source: &Source, units: &[Unit]) -> Option<(Span, Wrong)> {
    let word = |unit: &Unit| source.lower(unit.span);
    let whole = units.first()?.span.to(units.last()?.span);
    for (at, unit) in units.iter().enumerate().filter(|(_, unit)| !unit.quoted) {
        let before = at.checked_sub(1).map(|before| &units[before]);
        match unit.sense {
            Some(Sense::Trim(TrimKind::Lame)) if before.is_some_and(|no| matches!(word(no), "not" | "no")) => {
                return Some((whole, Wrong::new("not lame", "a score").suggest("score 0 or score 1")));
            }
            None if matches!(word(unit), "walked" | "zeros" | "ones" | "0s" | "1s") => {
                return Some((whole, Wrong::new("cows counted", "`tally` before them").suggest("tally")));
            }
            None if is_dose(word(unit)) => {
                let expected = "`med`, then its name, dose, milk and meat";
                return Some((whole, Wrong::new("a dose without a medicine", expected)));
            }
            _ => {}
        }
    }
    let from = usize::from(COMES_BACK.contains(&word(&units[0])));
    let from = from + usize::from(units.get(from).is_some_and(|unit| word(unit) == "in"));
    let words: Vec<&str> = units.iter().skip(from).take(4).map(word).collect();
    let (length, _) = date::length(&words)?;
    let days = length.ok()?;
    let short = if days % 7 == 0 { format!("{}w", days / 7) } else { format!("{days}d") };
    Some((whole, Wrong::new("a length without an act", "what is due then").suggest(format!("recheck {short}"))))
}

/// How people say that they want to see her again.
const COMES_BACK: [&str; 8] = ["again", "back", "bring", "look", "next", "retrim", "return", "see"];

/// `20ml`, or the unit alone where a blank stands before it.
fn is_dose(word: &str) -> bool {
    let unit = word.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    matches!(unit, "ml" | "mg" | "iu" | "cc")
}

/// Words of the trade that may be one act or another: `417 ok`, `417 lame RH`.
fn may_mean(sense: Sense) -> Option<Wrong> {
    let (found, offered) = match sense {
        Sense::Found(RecheckFinding::Sound) => ("sound, but it may be a score or a recheck", "score 0 or recheck ok"),
        Sense::Found(found) => ("not an act", recheck_of(found)),
        Sense::Trim(TrimKind::Lame) => ("lame, but not how lame", "score 2, score 3 or trim lame"),
        _ => return None,
    };
    Some(Wrong::new(found, AN_ACT).suggest(offered))
}

const fn recheck_of(found: RecheckFinding) -> &'static str {
    match found {
        RecheckFinding::Sound => "recheck sound",
        RecheckFinding::Better => "recheck better",
        RecheckFinding::Same => "recheck same",
        RecheckFinding::Worse => "recheck worse",
    }
}

/// The phrase that the next words are near to, and how many words it is; more words first.
fn near(source: &Source, units: &[Unit], want: impl Fn(&Known) -> bool) -> Option<(&'static Known, usize)> {
    let most = units.iter().take(3).take_while(|unit| unit.sense.is_none() && !unit.quoted).count();
    (1..=most).rev().find_map(|count| {
        let words: Vec<&str> = units[..count].iter().map(|unit| source.lower(unit.span)).collect();
        let fits = |known: &&Known| known.phrase.split(' ').count() == count && want(known);
        let candidates = known().filter(fits).map(|known| (known.phrase.as_str(), known));
        Some((nearest(&words.join(" "), candidates)?, count))
    })
}

/// Whether words of this sense say which act a part is.
pub(super) fn says_act(sense: Sense) -> bool {
    matches!(sense, Sense::Act(_) | Sense::Lesion(_) | Sense::NoLesion | Sense::Stage(_))
}

fn meant(sense: Sense, act: ActWord) -> Wrong {
    let (found, expected) = match sense {
        Sense::Act(_) => ("not an act", AN_ACT),
        Sense::Feet(_) => ("not a foot", "LF, RF, LH or RH"),
        Sense::Claw(_) => ("not a claw", "inner or outer"),
        Sense::Lesion(_) | Sense::NoLesion => ("not a lesion", "a lesion code, as SU, WLA, DD"),
        Sense::Stage(_) => ("not a stage", "M0, M1, M2, M3, M4 or M4.1"),
        Sense::Grade(_) => ("not a grade", "mild, moderate or severe"),
        Sense::Scale(_) => ("not a scale", "five, nz, wq or three"),
        Sense::Trim(_) => ("not a kind of trim", "routine, lame or check"),
        Sense::How(_) => ("not a word of this act", "on, off or lost"),
        Sense::Block(_) => ("not a kind of block", "wood, shoe, rubber or bio"),
        Sense::Found(_) => ("not a finding", "sound, better, same or worse"),
        Sense::Departure(_) => ("not a way to leave", "sold, culled, died or moved"),
        Sense::Route(_) => ("not a route", "im, iv, sc, oral, topical or regional"),
        Sense::Unit(_) => ("not a unit", "ml, l, mg, g, iu or piece"),
        Sense::Bath(_) => {
            ("not a footbath product", "copper, zinc, formalin, peracetic, iodophor, hypochlorite, salt or other")
        }
        Sense::Capacity(_) => ("not a capacity", "keeper, writer or reader"),
        Sense::FeetReason | Sense::Lead(_) => ("not a word of this act", made_of(act)),
    };
    Wrong::new(found, expected)
}
