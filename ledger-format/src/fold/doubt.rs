//! What the herd's state says against a line before it is kept (`fold.md` §14).

use super::herd::Herd;
use crate::line::{Act, Line, Subject};
use crate::vocabulary::ActWord;

/// Doubts about a line, in words. It is kept all the same.
pub fn doubts(herd: &Herd, line: &Line<'_>) -> Vec<String> {
    let Subject::Cow(number) = line.subject else { return Vec::new() };
    let Some(animal) = herd.find(number) else { return Vec::new() };
    let mut doubts = Vec::new();
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
