//! What the herd's state says against a line before it is kept (`fold.md` §14).

use super::herd::Herd;
use crate::line::{Act, CowNumber, Line, Subject};
use crate::merge::Event;
use crate::vocabulary::ActWord;

/// Doubts about a line, in words. It is kept all the same.
pub fn doubts(herd: &Herd, line: &Line<'_>) -> Vec<String> {
    let Subject::Cow(number) = line.subject else { return Vec::new() };
    let Some(animal) = herd.find(number) else { return Vec::new() };
    let mut doubts = Vec::new();
    if line.act.word() != ActWord::Joined && is_new_number(herd, number) {
        doubts.push(format!("nothing was written about a cow {number} before; is the number right?"));
    }
    if let Some(left) = animal.left
        && left.day < line.observed.date
        && line.act.word() != ActWord::Joined
    {
        doubts.push(format!("{number} left the herd on {}", crate::line::date_text(left.day)));
    }
    if let Act::BlockOn { foot, claw, .. } = line.act {
        for case in animal.open_cases().into_iter().filter(|case| (case.foot, case.claw) == (foot, Some(claw))) {
            doubts.push(format!("the {foot} {claw} claw has an open {}; a block goes on the sound claw", case.lesion));
        }
        if animal.block_on(foot, claw.other()).is_some() {
            doubts.push(format!("the other claw of {foot} has a block on already"));
        }
    }
    doubts
}

/// Herds smaller than this are only just being written down: every number is new.
const FIRST_COWS: usize = 10;

/// Whether all lines about a number were sealed at the newest moment there is, in a herd that knows its cows.
fn is_new_number(herd: &Herd, number: CowNumber) -> bool {
    let log = herd.log();
    let newest = log.ledgers().iter().filter_map(|ledger| ledger.entries().last()).map(|entry| entry.sealed).max();
    let lines = herd.lines_of(number);
    let all_new = lines.iter().all(|id| Some(log.entry(*id).sealed) == newest);
    let joined = lines.iter().any(|id| matches!(log.entry(*id).event, Event::Joined { .. } | Event::Renumbered(_)));
    all_new && !joined && herd.present().len() >= FIRST_COWS
}
