//! The standing lines of a visit, put together by cow.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::Visit;
use crate::fold::Herd;
use crate::line::{Act, CowNumber, Line};
use crate::merge::{EntryId, Standing, Whose};
use crate::vocabulary::ActWord;

/// How a cow is ordered on the sheet: lifted first, then the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rank {
    not_lifted: bool,
    mildness: u8,
    number: CowNumber,
}

impl Rank {
    pub(super) fn is_lifted(self) -> bool {
        !self.not_lifted
    }
}

/// A cow's lines of the visit.
pub(super) struct OneCow<'a> {
    pub(super) number: CowNumber,
    pub(super) rank: Rank,
    pub(super) lines: Vec<Line<'a>>,
}

/// The visit's lines, in order. What two devices said alike is there once.
pub(super) fn lines(herd: &Herd, visit: &Visit<'_>) -> Vec<EntryId> {
    let log = herd.log();
    let known = herd.view().known.map(|known| known.and_utc().timestamp());
    let is_of_visit = |id: &EntryId| {
        let entry = log.entry(*id);
        entry.observed.date == visit.day
            && known.is_none_or(|known| entry.sealed <= known)
            && herd.standings().get(*id) == Standing::Standing
            && visit.device.is_none_or(|device| log.ledger(*id).device == device)
            && visit.by.is_none_or(|by| log.body(*id).by == by)
    };
    let mut lines: Vec<EntryId> = log.in_order().filter(is_of_visit).collect();
    let here: HashSet<EntryId> = lines.iter().copied().collect();
    let first_of: HashMap<EntryId, EntryId> =
        herd.typed_twice().into_iter().map(|(first, second)| (second, first)).collect();
    lines.retain(|id| first_of.get(id).is_none_or(|first| !here.contains(first)));
    leave_out_register(herd, &mut lines);
    lines
}

/// A register line belongs to the visit only if the person who wrote it did something else with that cow.
fn leave_out_register(herd: &Herd, lines: &mut Vec<EntryId>) {
    let log = herd.log();
    let is_of_register = |id: &EntryId| is_register(&log.body(*id).act);
    let whom = |id: &EntryId| (log.entry(*id).whose, log.body(*id).by);
    let work: HashSet<_> = lines.iter().filter(|id| !is_of_register(id)).map(whom).collect();
    lines.retain(|id| !is_of_register(id) || work.contains(&whom(id)));
}

/// What an office writes: of where a cow comes from and goes, not of her feet.
fn is_register(act: &Act<'_>) -> bool {
    use ActWord::{Calved, Dried, Joined, Left, Moved, Renumbered, Tagged};
    matches!(act.word(), Calved | Dried | Joined | Left | Renumbered | Tagged | Moved)
}

/// By cow, in order of their numbers.
pub(super) fn by_cow<'a>(herd: &'a Herd, lines: &[EntryId]) -> Vec<OneCow<'a>> {
    let mut cows: BTreeMap<CowNumber, Vec<Line<'a>>> = BTreeMap::new();
    for id in lines {
        if let Whose::Cow(number) = herd.log().entry(*id).whose {
            let line = herd.log().body(*id);
            if !matches!(line.act, Act::Strike(_)) {
                cows.entry(number).or_default().push(line);
            }
        }
    }
    cows.into_iter().map(|(number, lines)| OneCow { number, rank: rank(number, &lines), lines }).collect()
}

/// Lines about groups and the herd, as the ledger has them; not those about devices and marks.
pub(super) fn herd_lines(herd: &Herd, lines: &[EntryId]) -> Vec<String> {
    let words = |id: &EntryId| {
        let line = herd.log().body(*id);
        let is_work = matches!(line.act, Act::Tally(_) | Act::Bath(_) | Act::Note);
        let more = line.words.map_or(String::new(), |words| format!(": {words}"));
        (is_work && !matches!(herd.log().entry(*id).whose, Whose::Cow(_)))
            .then(|| format!("{} {}{more}", line.subject, line.act))
    };
    lines.iter().filter_map(words).collect()
}

fn rank(number: CowNumber, lines: &[Line<'_>]) -> Rank {
    let mildness = lines.iter().map(|line| mildness(&line.act)).min().unwrap_or(9);
    Rank { not_lifted: !lines.iter().any(|line| is_lifting(&line.act)), mildness, number }
}

/// Whether this says that a foot was up (`fold.md` §6).
pub(super) fn is_lifting(act: &Act<'_>) -> bool {
    matches!(
        act,
        Act::Trim(_)
            | Act::Lesion(_)
            | Act::NoLesion(_)
            | Act::BlockOn { .. }
            | Act::DressingOn(_)
            | Act::RecheckFound { .. }
            | Act::Seen { .. }
    )
}

fn mildness(act: &Act<'_>) -> u8 {
    match act {
        Act::Refer { .. } => 0,
        Act::Lesion(finding) if finding.lesion.is_alarm(finding.stage, finding.grade) => 1,
        Act::Score(score) if score.is_severe() => 1,
        Act::Lesion(_) => 2,
        Act::Score(score) if score.is_lame() => 3,
        _ => 4,
    }
}
