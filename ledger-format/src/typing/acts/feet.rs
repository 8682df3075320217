//! Scores, trims, lesions, blocks, dressings and second looks.

use crate::line::{Act, Decimal, Finding, Score, Trim};
use crate::typing::date::Year;
use crate::typing::part::{Part, Topic, foot_and_zone, is_detail, loose_decimal, loose_number};
use crate::typing::phrase::{How, Lead, Sense};
use crate::typing::remark::{Span, Wrong};
use crate::typing::units::Unit;
use crate::vocabulary::{ActWord, Feet, Half, Lesion, Scale, TrimKind};

use super::{Due, Setting, date_from};

/// `2/3`, `2-3`: the scorer would not say which.
pub(in crate::typing) fn between_scores(word: &str) -> Option<Wrong> {
    let (a, b) = word.split_once(['/', '-'])?;
    let is_score = |word: &str| matches!(word, "0" | "1" | "2" | "3" | "4" | "5");
    let wrong = || Wrong::new("two scores in one", "one of the two").suggest(format!("score {a} or score {b}"));
    (is_score(a) && is_score(b)).then(wrong)
}

/// A digit, with or without the finer half; `s2` and `score2` too.
pub(in crate::typing) fn score_value(word: &str) -> Option<(u8, Option<Half>)> {
    let bare = word.strip_prefix("score").or_else(|| word.strip_prefix('s')).unwrap_or(word);
    match bare.as_bytes() {
        [value @ b'0'..=b'9'] => Some((value - b'0', None)),
        [value @ b'0'..=b'9', b'a' | b'b'] => Some((value - b'0', Half::from_word(&bare[1..]))),
        _ => None,
    }
}

pub(super) fn score<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    part.all(|sense| (sense == Sense::Act(ActWord::Score)).then_some(()));
    part.lead(Lead::Scale);
    let scale = part.one(|sense| if let Sense::Scale(scale) = sense { Some(scale) } else { None }, "scale");
    let (scale, foot) = (scale.unwrap_or(Scale::Mobility), part.foot(false));
    let Some(((value, half), span)) = part.first(0, score_value) else {
        return part.missing("no score", "0, 1, 2 or 3, or 2a, 2b, 3a, 3b");
    };
    let range = scale.range();
    if !range.contains(&value) {
        let expected = format!("{} to {}", range.start(), range.end());
        part.wrong(span, Wrong::new("a score that is not on its scale", expected));
        return None;
    }
    if half.is_some() && !(scale == Scale::Mobility && value >= 2) {
        part.wrong(span, Wrong::new("a half that this score does not have", "2a, 2b, 3a or 3b"));
        return None;
    }
    Some(Act::Score(Score { value, half, scale, foot }))
}

pub(super) fn trim<'l>(part: &mut Part<'l>, kind_open: &mut bool) -> Act<'l> {
    let kind = part.one(|sense| if let Sense::Trim(kind) = sense { Some(kind) } else { None }, "kind of trim");
    if part.feet().is_empty() {
        part.stands_on = part.named;
    }
    let feet = Some(part.stands_on).filter(|feet| !feet.is_empty()).unwrap_or(Feet::ALL);
    let claw = part.claw();
    let wall_mm = wall(part);
    let sole_mm = sole(part);
    let angle_deg = angle(part);
    *kind_open = kind.is_none();
    Act::Trim(Trim { kind: kind.unwrap_or(TrimKind::Routine), feet, claw, wall_mm, sole_mm, angle_deg })
}

fn wall(part: &mut Part<'_>) -> Option<u8> {
    const EXPECTED: &str = "50mm to 150mm";
    let (word, span) = part.measure(Lead::Wall, &["mm"], EXPECTED)?;
    if let Some(mm) = loose_number(word).filter(|mm| (50..=150).contains(mm)) {
        part.places.push((Topic::Wall, span));
        return Some(mm as u8);
    }
    // Centimetres are how the trade talks of a claw, and how a slip of ten is made.
    let tenfold = loose_decimal(word.strip_suffix("cm").unwrap_or(word)).map(Decimal::hundredths);
    let wrong = Wrong::new("not a wall length", EXPECTED);
    let mm = tenfold.filter(|cm| cm % 10 == 0 && (500..=1_500).contains(cm)).map(|cm| format!("{}mm", cm / 10));
    part.wrong(span, mm.into_iter().fold(wrong, Wrong::suggest));
    None
}

fn sole(part: &mut Part<'_>) -> Option<Decimal> {
    const EXPECTED: &str = "1mm to 40mm";
    let (word, span) = part.measure(Lead::Sole, &["mm"], EXPECTED)?;
    let mm = loose_decimal(word).filter(|mm| (100..=4_000).contains(&mm.hundredths()));
    match mm {
        Some(_) => part.places.push((Topic::Sole, span)),
        None => part.wrong(span, Wrong::new("not a sole thickness", EXPECTED)),
    }
    mm
}

fn angle(part: &mut Part<'_>) -> Option<u8> {
    const EXPECTED: &str = "20deg to 80deg";
    let (word, span) = part.measure(Lead::Angle, &["deg", "degrees", "°"], EXPECTED)?;
    let degrees = loose_number(word).filter(|degrees| (20..=80).contains(degrees));
    if degrees.is_none() {
        part.wrong(span, Wrong::new("not a toe angle", EXPECTED));
    }
    degrees.map(|degrees| degrees as u8)
}

pub(super) fn lesion<'l>(part: &mut Part<'l>) -> Vec<Act<'l>> {
    let none = part.all(|sense| (sense == Sense::NoLesion).then_some(()));
    let code = part.one(|sense| if let Sense::Lesion(lesion) = sense { Some(lesion) } else { None }, "lesion");
    if let (Some(((), span)), Some(_)) = (none.first(), code) {
        part.wrong(*span, Wrong::new("a lesion and no lesion", "one of the two"));
    }
    if !none.is_empty() {
        if part.feet().is_empty() && !part.trimmed.is_empty() {
            part.stands_on = part.trimmed;
            return vec![Act::NoLesion(part.trimmed)];
        }
        if part.stands_on.is_empty() && part.found {
            // That foot has a lesion: the clear one must be said.
            part.named = Feet::NONE;
        }
        // The feet named are taken by now.
        let named = part.stands_on;
        let feet = if named.is_empty() { feet_needed(part) } else { named };
        return if feet.is_empty() { Vec::new() } else { vec![Act::NoLesion(feet)] };
    }
    finding(part, code)
}

fn finding<'l>(part: &mut Part<'l>, code: Option<Lesion>) -> Vec<Act<'l>> {
    no_such_stage(part);
    let stages = part.all(|sense| if let Sense::Stage(stage) = sense { Some(stage) } else { None });
    let stage = stages.first().map(|(stage, _)| *stage);
    if let Some((_, span)) = stages.iter().find(|(other, _)| Some(*other) != stage) {
        part.wrong(*span, Wrong::new("a second stage", "one stage; put a comma between two lesions"));
    }
    one_foot_with_details(part);
    let joined = foot_with_zone(part);
    let feet = if joined.is_some() { part.stands_on } else { feet_needed(part) };
    let claw = part.claw();
    let zone = part.number(Lead::Zone, "z", 0..=12, "no such zone");
    if let (Some((_, span)), Some(_)) = (joined, zone) {
        part.wrong(span, Wrong::new("a second zone", "one zone; put a comma between two lesions"));
    }
    let zone = zone.or(joined);
    part.places.extend(zone.map(|(_, span)| (Topic::Zone, span)));
    let zone = zone.map(|(zone, _)| zone as u8);
    let grade = grade(part);
    let Some(lesion) = code.or(stage.map(|_| Lesion::DD)) else {
        let _: Option<()> = part.missing("no lesion", "a lesion code, as SU, WLA, DD");
        return Vec::new();
    };
    if let Some((_, span)) = stages.first().filter(|_| lesion != Lesion::DD) {
        part.wrong(*span, Wrong::new(format!("a stage, which {lesion} has not"), "a stage only with DD"));
    }
    feet.iter().map(|foot| Act::Lesion(Finding { lesion, stage, foot, claw, zone, grade })).collect()
}

/// `WLA RH3 outer`: the foot, which is then the only one, and the zone.
fn foot_with_zone(part: &mut Part<'_>) -> Option<(u32, Span)> {
    let ((foot, zone), span) = part.first(0, foot_and_zone)?;
    if part.feet().and(Feet::one(foot)).count() > 1 {
        part.wrong(span, Wrong::new("a second foot after details of the first", "its own lesion, after a comma"));
    }
    part.stands_on = Feet::one(foot);
    Some((zone, span))
}

fn feet_needed(part: &mut Part<'_>) -> Feet {
    let feet = part.feet_or_carried();
    if feet.is_empty() {
        let _: Option<()> = part.no_foot();
    }
    feet
}

fn grade(part: &mut Part<'_>) -> Option<u8> {
    let number = part.number(Lead::Grade, "g", 1..=3, "no such grade").map(|(grade, _)| grade as u8);
    let word = part.one(|sense| if let Sense::Grade(grade) = sense { Some(grade) } else { None }, "grade");
    number.or(word)
}

/// `WLA RH outer LH`: whether the second foot's claw is outer too would be a guess.
fn one_foot_with_details(part: &mut Part<'_>) {
    let is_foot = |unit: &Unit| matches!(unit.sense, Some(Sense::Feet(_)));
    let (Some(first), Some(last)) = (part.units.iter().position(is_foot), part.units.iter().rposition(is_foot)) else {
        return;
    };
    let detail = |unit: &&Unit| {
        matches!(unit.sense, Some(Sense::Claw(_) | Sense::Grade(_) | Sense::Lead(Lead::Zone | Lead::Grade)))
            || is_detail(part.source.lower(unit.span))
    };
    if part.units[first..last].iter().any(|unit| detail(&unit)) {
        let span = part.units[last].span;
        part.wrong(span, Wrong::new("a second foot after details of the first", "its own lesion, after a comma"));
    }
}

/// `M5`: looks like a stage, and is none.
fn no_such_stage(part: &mut Part<'_>) {
    for at in 0..part.units.len() {
        let unit = part.units[at];
        if unit.sense.is_none() && part.free(at).is_some_and(looks_like_stage) {
            part.use_up(at..at + 1);
            part.wrong(unit.span, Wrong::new("no such stage", "M0, M1, M2, M3, M4 or M4.1"));
        }
    }
}

/// `m` and a number.
pub(in crate::typing) fn looks_like_stage(word: &str) -> bool {
    word.strip_prefix('m').is_some_and(|rest| {
        rest.len() <= 4
            && rest.starts_with(|c: char| c.is_ascii_digit())
            && rest.bytes().all(|b| b == b'.' || b.is_ascii_digit())
    })
}

fn how(part: &mut Part<'_>) -> Option<How> {
    part.one(|sense| if let Sense::How(how) = sense { Some(how) } else { None }, "on, off or lost")
}

pub(super) fn block<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let (how, claw) = (how(part), part.claw());
    let kind = part.one(|sense| if let Sense::Block(kind) = sense { Some(kind) } else { None }, "kind of block");
    let foot = part.needed_foot();
    match (how, claw) {
        (None, None) => part.missing("a block that is neither on, off nor lost", "on and a claw, off, or lost"),
        (Some(How::On), None) => part.missing("no claw", "inner or outer"),
        (None | Some(How::On), Some(claw)) => Some(Act::BlockOn { foot: foot?, claw, kind }),
        (Some(gone), claw) => {
            if kind.is_some() {
                part.wrong(
                    part.said,
                    Wrong::new("a kind of block that is gone", "the kind only where a block is put on"),
                );
            }
            Some(Act::BlockGone { lost: gone == How::Lost, foot: foot?, claw })
        }
    }
}

pub(super) fn dressing<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let (how, foot) = (how(part), part.needed_foot());
    match how {
        None | Some(How::On) => Some(Act::DressingOn(foot?)),
        Some(How::Off) => Some(Act::DressingOff(foot?)),
        Some(How::Lost) => {
            part.wrong(part.said, Wrong::new("a dressing lost", "on or off").suggest("dressing off"));
            None
        }
    }
}

pub(super) fn recheck<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    let found = part.one(|sense| if let Sense::Found(found) = sense { Some(found) } else { None }, "finding");
    part.lead(Lead::Found);
    part.lead(Lead::Due);
    let due = date_from(part, 0, setting, Year::From(setting.day));
    let foot = part.foot(true);
    match (found, due) {
        (Some(found), None) => Some(Act::RecheckFound { found, foot }),
        (None, Some((due, span))) => {
            part.places.push((Topic::Due, span));
            Some(Act::RecheckDue { due: due?, foot })
        }
        (Some(_), Some((_, span))) => {
            part.wrong(span, Wrong::new("a finding and a date", "a comma and `recheck` between the two"));
            None
        }
        (None, None) => {
            part.missing("neither a day nor a finding", "a length as 28d, a date, or sound, better, same or worse")
        }
    }
}

pub(super) fn seen<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    let due = super::due(part, setting);
    let foot = part.foot(false);
    match due {
        Due::Not => Some(Act::Seen { foot, due: None }),
        Due::On(date) => Some(Act::Seen { foot, due: Some(date) }),
        Due::Wrong => None,
    }
}
