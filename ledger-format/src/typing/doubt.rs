//! What is unlikely and kept (`typing.md` §16, §18), as far as one line can tell.

use chrono::NaiveDate;

use super::part::Topic;
use super::remark::Wrong;
use crate::line::{Act, Finding, Line, Trim};
use crate::vocabulary::Level;

/// Further ahead is a slip of the year, not a plan.
pub(super) const MOST_DAYS_AHEAD: i64 = 400;

/// Each doubt, with what it is about; `None`: the act as a whole.
pub(super) fn doubts(line: &Line<'_>) -> Vec<(Option<Topic>, Wrong)> {
    match line.act {
        Act::Lesion(finding) => lesion(finding),
        Act::Trim(ref trim) => measures(trim),
        Act::Medicine(ref medicine) if medicine.batch.is_none() => {
            vec![(None, Wrong::new("no batch", "`batch` and its number"))]
        }
        Act::RecheckDue { due, .. } | Act::CalvingDue(due) | Act::DryingDue(due) | Act::Seen { due: Some(due), .. } => {
            past(due, line.observed.date).into_iter().collect()
        }
        _ => Vec::new(),
    }
}

fn lesion(finding: Finding) -> Vec<(Option<Topic>, Wrong)> {
    let (lesion, zones) = (finding.lesion, finding.lesion.zones());
    let unusual = finding.zone.filter(|zone| !zones.is_empty() && !zones.contains(zone)).map(|zone| {
        (Some(Topic::Zone), Wrong::new(format!("zone {zone} is unusual for {lesion}"), format!("zone {}", list(zones))))
    });
    let clawless = (finding.claw.is_none() && lesion.level() == Level::Claw)
        .then(|| (None, Wrong::new(format!("no claw for {lesion}"), "inner or outer")));
    clawless.into_iter().chain(unusual).collect()
}

fn measures(trim: &Trim) -> Vec<(Option<Topic>, Wrong)> {
    let wall = trim.wall_mm.filter(|mm| *mm < 75).map(|mm| {
        (Some(Topic::Wall), Wrong::new(format!("a wall of {mm}mm is short"), "75mm or more (Kloosterman 2004)"))
    });
    let sole = trim.sole_mm.filter(|mm| mm.hundredths() < 500).map(|mm| {
        (Some(Topic::Sole), Wrong::new(format!("a sole of {mm}mm is thin"), "5mm or more (five-step method)"))
    });
    wall.into_iter().chain(sole).collect()
}

fn past(due: NaiveDate, observed: NaiveDate) -> Option<(Option<Topic>, Wrong)> {
    (due < observed).then(|| (Some(Topic::Due), Wrong::new("due before the observed day", "a later day")))
}

/// `1, 2 or 3`.
fn list(zones: &[u8]) -> String {
    let texts: Vec<String> = zones.iter().map(u8::to_string).collect();
    match texts.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => texts.concat(),
    }
}

/// A word this long of letters and digits is no word of the trade (`typing.md` §18).
const KEY_CHARACTERS: usize = 32;
const CARD_DIGITS: std::ops::RangeInclusive<usize> = 13..=19;
/// An electronic ear-tag number, never a card.
const ELECTRONIC_DIGITS: usize = 15;

/// Pieces of free words that nobody else should read, and what each looks like.
pub(super) fn secrets(words: &str) -> Vec<(&str, Wrong)> {
    let wrong = |what: &str| Wrong::new(format!("looks like {what}"), "no secret: whoever holds the herd reads it");
    let keys = words.split(|c| !is_of_a_key(c)).filter(|piece| is_key(piece)).map(|piece| (piece, wrong("a key")));
    let cards = words.split(|c| !is_of_a_card(c)).map(|piece| piece.trim_matches(|c: char| !c.is_ascii_digit()));
    let cards = cards.filter(|piece| is_card(piece)).map(|piece| (piece, wrong("a card number")));
    keys.chain(cards).collect()
}

fn is_of_a_key(c: char) -> bool {
    c.is_ascii_alphanumeric() || matches!(c, '+' | '_' | '=')
}

fn is_key(piece: &str) -> bool {
    piece.len() >= KEY_CHARACTERS
        && piece.bytes().any(|b| b.is_ascii_digit())
        && piece.bytes().any(|b| b.is_ascii_alphabetic())
}

fn is_of_a_card(c: char) -> bool {
    c.is_ascii_digit() || matches!(c, ' ' | '-')
}

/// Payment cards begin with 2 to 6, and their last digit checks the others.
fn is_card(piece: &str) -> bool {
    let digits: Vec<u32> = piece.chars().filter_map(|c| c.to_digit(10)).collect();
    let doubled = |(at, digit): (usize, &u32)| match (at % 2, digit * 2) {
        (0, _) => *digit,
        (_, twice) => twice / 10 + twice % 10,
    };
    let groups: Vec<&str> = piece.split([' ', '-']).collect();
    let are_of_four = groups
        .split_last()
        .is_some_and(|(last, rest)| rest.is_empty() || (last.len() <= 4 && rest.iter().all(|group| group.len() == 4)));
    are_of_four
        && CARD_DIGITS.contains(&digits.len())
        && digits.len() != ELECTRONIC_DIGITS
        && (2..=6).contains(&digits[0])
        && digits.iter().rev().enumerate().map(doubled).sum::<u32>().is_multiple_of(10)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(words: &str) -> Vec<String> {
        secrets(words).into_iter().map(|(piece, wrong)| format!("{piece}: {}", wrong.found)).collect()
    }

    #[test]
    fn s16_keys_and_card_numbers_in_free_words_are_doubted() {
        let key = "8d".repeat(32);
        assert_eq!(found(&format!("footfold device key 1 {key}")), [format!("{key}: looks like a key")]);
        for card in ["4000000000000002", "4000 0000 0000 0002", "4000-0000-0000-0002"] {
            assert_eq!(found(&format!("paid by {card}, 40 in all")), [format!("{card}: looks like a card number")]);
        }
    }

    #[test]
    fn s16_what_people_write_about_feet_is_no_secret() {
        for words in [
            "runs toward the heel",
            "4000000000000003",
            "tag 826000000000012 read twice",
            "UK 303565 200031",
            "see line 3f9c2a7d51be4c08 of 2026-03-14 09:12",
            "Klauenschneidestandanlagenbesitzervereinigung",
            "417 418 419 420 421 426",
        ] {
            assert!(found(words).is_empty(), "{words}");
        }
    }
}
