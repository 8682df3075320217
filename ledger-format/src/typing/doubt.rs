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
