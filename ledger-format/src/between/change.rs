//! What changed for one animal.

use serde::Serialize;

use super::pair::Pair;
use crate::fold::words::{case_words, score_words};
use crate::fold::{Animal, Block, Case, Closed, Herd, Scored};
use crate::line::date_text;

/// What kind of change; the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Became severely lame.
    BecameSeverelyLame,
    /// Became lame.
    BecameLame,
    /// Lame in both.
    StillLame,
    /// A recheck came due between the two and still waits.
    RecheckMissed,
    /// A lesion is open that was not.
    LesionNew,
    /// A block is on that was not.
    BlockOn,
    /// A block that was on is off.
    BlockOff,
    /// A lesion that was open is closed.
    LesionClosed,
    /// Lame before, not lame now.
    GotBetter,
    /// Came into the herd.
    Joined,
    /// Went out of the herd.
    Left,
    /// Has another number.
    Renumbered,
    /// In another group.
    Moved,
    /// Something does not fit that did before.
    Question,
    /// What did not fit is settled.
    Settled,
    /// Something else of the state changed; the lines tell what.
    Other,
}

impl Kind {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BecameSeverelyLame => "became severely lame",
            Self::BecameLame => "became lame",
            Self::StillLame => "still lame",
            Self::RecheckMissed => "recheck missed",
            Self::LesionNew => "new lesion",
            Self::BlockOn => "block put on",
            Self::BlockOff => "block off",
            Self::LesionClosed => "lesion closed",
            Self::GotBetter => "got better",
            Self::Joined => "joined",
            Self::Left => "left",
            Self::Renumbered => "renumbered",
            Self::Moved => "moved",
            Self::Question => "open question",
            Self::Settled => "question settled",
            Self::Other => "other",
        }
    }
}

/// One change of one animal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// Her number in the second state; in the first, if she is only there.
    pub cow: String,
    /// What kind.
    pub kind: Kind,
    /// In words.
    pub words: String,
}

pub(super) fn changes(a: &Herd, b: &Herd, pair: &Pair<'_>) -> Vec<Change> {
    let mut found: Vec<(Kind, String)> = Vec::new();
    match pair {
        Pair::Gone(animal) => found.push((Kind::Other, gone(animal))),
        Pair::New(animal) => new(b, animal, &mut found),
        Pair::Both(before, after) => both(a, b, before, after, &mut found),
    }
    let cow = pair.number().to_string();
    found.into_iter().map(|(kind, words)| Change { cow: cow.clone(), kind, words }).collect()
}

/// She is written of in the first state only: the line that named her was struck or was not known then.
fn gone(animal: &Animal) -> String {
    format!("no line of her counts any more; first written of {}", date_text(animal.first_seen))
}

fn new(b: &Herd, animal: &Animal, found: &mut Vec<(Kind, String)>) {
    let day = animal.joined.unwrap_or(animal.first_seen);
    let how = if animal.joined.is_some() { "joined" } else { "first written of" };
    found.push((Kind::Joined, format!("{how} {}", date_text(day))));
    walking(None, b, animal, found);
    if animal.is_present() {
        feet(None, animal, found);
        missed(None, animal, b, found);
    } else {
        found.extend(left(animal));
    }
}

fn both(a: &Herd, b: &Herd, before: &Animal, after: &Animal, found: &mut Vec<(Kind, String)>) {
    if before.number != after.number {
        found.push((Kind::Renumbered, format!("was {}", before.number)));
    }
    match (before.is_present(), after.is_present()) {
        (true, false) => found.extend(left(after)),
        (false, true) => found.push((Kind::Other, "had left; that does not count any more".to_owned())),
        (false, false) => {}
        (true, true) => {
            walking(Some((a, before)), b, after, found);
            feet(Some(before), after, found);
            missed(Some(a), after, b, found);
            moved(a.group(before), b.group(after), found);
        }
    }
    if found.is_empty() {
        found.extend(other(&crate::fold::facts(a, before), &crate::fold::facts(b, after)));
    }
}

/// Facts that only one of the states has, as the lines give them.
fn other(before: &[String], after: &[String]) -> Option<(Kind, String)> {
    let only = |these: &[String], those: &[String]| -> Vec<String> {
        these.iter().filter(|fact| !those.contains(fact)).cloned().collect()
    };
    let (now, gone) = (only(after, before), only(before, after));
    match (now.is_empty(), gone.is_empty()) {
        (false, _) => Some((Kind::Other, now.join("; "))),
        (true, false) => Some((Kind::Other, format!("no longer {}", gone.join("; ")))),
        (true, true) => None,
    }
}

fn left(animal: &Animal) -> Option<(Kind, String)> {
    let left = animal.left?;
    let feet = if left.feet { ", for her feet" } else { "" };
    Some((Kind::Left, format!("{} {}{feet}", left.reason, date_text(left.day))))
}

fn walking(before: Option<(&Herd, &Animal)>, b: &Herd, after: &Animal, found: &mut Vec<(Kind, String)>) {
    let was = before.and_then(|(_, animal)| animal.score());
    let was_lame = before.is_some_and(|(a, animal)| a.is_lame(animal));
    let was_severe = was_lame && was.is_some_and(|scored| scored.score.is_severe());
    let Some(is) = after.score() else { return };
    let scored = |scored: &Scored| format!("{} on {}", score_words(scored.score), date_text(scored.observed.date));
    let passed = before.and_then(|(a, animal)| a.walked_past(animal));
    let passed = passed.map_or(String::new(), |day| format!(", then walked past {}", date_text(day)));
    let was = was.filter(|was| was.line != is.line);
    let before = was.map_or(String::new(), |was| format!(", was {}{passed}", scored(was)));
    let words = format!("scored {}{before}", scored(is));
    match (b.lame_since(after), is.score.is_severe()) {
        (Some(_), true) if !was_severe => found.push((Kind::BecameSeverelyLame, words)),
        (Some(_), _) if !was_lame => found.push((Kind::BecameLame, words)),
        (Some(since), _) => found.push((Kind::StillLame, format!("{words}; lame since {}", date_text(since)))),
        (None, _) if was_lame => found.push((Kind::GotBetter, words + &walked_past(b, after))),
        _ => {}
    }
}

fn walked_past(b: &Herd, animal: &Animal) -> String {
    b.walked_past(animal).map_or(String::new(), |day| format!("; walked past on {}", date_text(day)))
}

fn feet(before: Option<&Animal>, after: &Animal, found: &mut Vec<(Kind, String)>) {
    let was_open = before.map_or_else(Vec::new, Animal::open_cases);
    let is_same = |x: &Case, y: &Case| (x.lesion, x.foot, x.claw) == (y.lesion, y.foot, y.claw);
    let is_open = after.open_cases();
    for case in is_open.iter().filter(|case| !was_open.iter().any(|was| is_same(was, case))) {
        found.push((Kind::LesionNew, format!("{}, first seen {}", case_words(case), date_text(case.first))));
    }
    for case in was_open.iter().filter(|was| !is_open.iter().any(|case| is_same(was, case))) {
        let end = after.cases().rev().find(|now| is_same(now, case)).and_then(|now| now.closed);
        found.push((Kind::LesionClosed, format!("{}{}", case_words(case), closed(end))));
    }
    blocks(before.map_or(&[], |before| &before.blocks), &after.blocks, found);
}

fn closed(end: Option<Closed>) -> String {
    match end {
        Some(Closed::Sound(day)) => format!(", found sound {}", date_text(day)),
        Some(Closed::NotSeenAgain(day)) => format!(", trimmed and not seen again {}", date_text(day)),
        None => String::new(),
    }
}

/// A block renewed meanwhile went off and on.
fn blocks(before: &[Block], after: &[Block], found: &mut Vec<(Kind, String)>) {
    let words = |block: &Block| {
        let kind = block.kind.map_or(String::new(), |kind| format!("{kind} "));
        format!("{} {} {kind}block, on since {}", block.foot, block.claw, date_text(block.since))
    };
    let is_same = |x: &Block, y: &Block| (x.foot, x.claw, x.since) == (y.foot, y.claw, y.since);
    for block in after.iter().filter(|block| !before.iter().any(|was| is_same(was, block))) {
        found.push((Kind::BlockOn, words(block)));
    }
    for block in before.iter().filter(|was| !after.iter().any(|block| is_same(was, block))) {
        found.push((Kind::BlockOff, words(block)));
    }
}

/// Rechecks that came due after the first state and by the second, and still wait.
fn missed(a: Option<&Herd>, after: &Animal, b: &Herd, found: &mut Vec<(Kind, String)>) {
    let from = a.map(|a| a.view().on);
    let until = b.view().on;
    for waits in after.rechecks.iter().chain(&after.orders) {
        if waits.due < until && from.is_none_or(|from| waits.due >= from) {
            let foot = waits.foot.map_or(String::new(), |foot| format!("{foot} "));
            found.push((Kind::RecheckMissed, format!("{foot}was due {}", date_text(waits.due))));
        }
    }
}

fn moved(before: Option<&str>, after: Option<&str>, found: &mut Vec<(Kind, String)>) {
    if before == after {
        return;
    }
    let words = match (before, after) {
        (Some(before), Some(after)) => format!("from {before} to {after}"),
        (None, Some(after)) => format!("to {after}"),
        (Some(before), None) => format!("no longer in {before}"),
        (None, None) => return,
    };
    found.push((Kind::Moved, words));
}
