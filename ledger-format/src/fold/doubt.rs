//! What the herd's state says against a line before it is kept (`fold.md` §14).

use super::animal::Animal;
use super::herd::Herd;
use crate::line::{Act, CowNumber, Finding, Line, Reference, Subject, date_text};
use crate::merge::{EntryId, Event, Standing};
use crate::vocabulary::{ActWord, Departure, Lesion, Level};

/// Doubts about a line that was just kept and is in the state already, in words.
pub fn doubts(herd: &Herd, line: &Line<'_>) -> Vec<String> {
    let Subject::Cow(number) = line.subject else { return Vec::new() };
    let mut doubts = corrections(herd, number, line);
    let Some(animal) = herd.find(number) else { return doubts };
    if line.act.word() != ActWord::Joined && is_new_number(herd, number) {
        doubts.push(format!("nothing was written about a cow {number} before; is the number right?"));
    }
    if let Some(left) = animal.left
        && left.day < line.observed.date
        && line.act.word() != ActWord::Joined
    {
        doubts.push(format!("{number} left the herd on {}", date_text(left.day)));
    }
    doubts.extend(said_before(herd, number, line));
    doubts.extend(sore_claw(animal, line.act));
    if matches!(line.act, Act::Left { reason: Departure::Sold | Departure::Culled | Departure::Moved, .. }) {
        doubts.extend(leaving(herd, animal, line));
    }
    doubts
}

/// A block belongs on the sound claw (five-step method), and not on a foot that is swollen above it (trade sources).
fn sore_claw(animal: &Animal, act: Act<'_>) -> Vec<String> {
    let mut doubts = Vec::new();
    if let Act::BlockOn { foot, claw, .. } = act {
        for case in animal.open_cases().into_iter().filter(|case| case.foot == foot) {
            match (case.claw, case.lesion) {
                (Some(sore), lesion) if sore == claw => {
                    doubts.push(format!("the {foot} {claw} claw has an open {lesion}; a block goes on the sound claw"));
                }
                (_, Lesion::SW) => doubts.push(format!("{foot} is swollen; that foot is for the vet before a block")),
                (None, lesion) if lesion.level() == Level::Claw => {
                    doubts
                        .push(format!("{foot} has an open {lesion}, not said on which claw; is {claw} the sound one?"));
                }
                _ => {}
            }
        }
        if animal.block_on(foot, claw.other()).is_some() {
            doubts.push(format!("the other claw of {foot} has a block on already"));
        }
    }
    if let Act::Lesion(Finding { lesion, foot, claw: Some(claw), .. }) = act
        && animal.block_on(foot, claw).is_some()
    {
        doubts
            .push(format!("the {foot} {claw} claw with the {lesion} carries a block; a block goes on the sound claw"));
    }
    doubts
}

/// Whether this device kept the same line before.
fn said_before(herd: &Herd, number: CowNumber, line: &Line<'_>) -> Option<String> {
    let log = herd.log();
    let same: Vec<EntryId> =
        herd.lines_of(number).iter().copied().filter(|id| log.body(*id) == *line && !is_undone(herd, *id)).collect();
    let (last, before) = same.split_last()?;
    let twice = before.iter().any(|id| !log.devices_differ(*id, *last));
    twice.then(|| "this machine kept the very same line before; strike one if it was typed twice".to_owned())
}

fn is_undone(herd: &Herd, id: EntryId) -> bool {
    herd.standings().get(id) != Standing::Standing
}

/// A correction should be of a line about the same cow.
fn corrections(herd: &Herd, number: CowNumber, line: &Line<'_>) -> Vec<String> {
    let reference = match (line.act, line.replaces) {
        (Act::Strike(reference), _) => Some(reference),
        (_, replaced) => replaced,
    };
    let Some(Reference { mark, .. }) = reference else { return Vec::new() };
    let log = herd.log();
    let is_hers = herd.lines_of(number).iter().any(|id| log.entry(*id).mark == mark);
    if is_hers {
        Vec::new()
    } else {
        vec![format!("no line about {number} has the mark {mark}; is it the right line?")]
    }
}

/// What speaks against her leaving alive: fitness to travel, and meat held back.
fn leaving(herd: &Herd, animal: &Animal, line: &Line<'_>) -> Vec<String> {
    let mut doubts = Vec::new();
    let unfit = herd.travel_doubts(animal);
    if !unfit.is_empty() {
        doubts.push(format!("she may be unfit to travel: {}; the law and the vet decide", unfit.join(", ")));
    }
    if let Some(until) = animal.held_after(line.observed.date).meat {
        doubts.push(format!("her meat is held to {}", until.format("%Y-%m-%d %H:%M")));
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
