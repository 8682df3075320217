//! Blocks: days on, lost early, overdue (`measures.md` §43 to §45).

#[cfg(test)]
mod tests;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::care::{Days, days};
use super::figure::{Figure, Share};
use super::history::{About, History};
use super::method::LEVEL;
use super::method::survival::{Interval, kaplan_meier};
use crate::fold::Life;
use crate::merge::Event;
use crate::vocabulary::{BlockKind, Claw, Foot};

/// A block gone sooner than this was gone early: it should be on for about four weeks. Common practice.
pub const EARLY_DAYS: u16 = 14;

/// What became of the blocks put on in the period.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlockFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// All, then each kind that was put on.
    pub rows: Vec<BlockRow>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// Blocks of one kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlockRow {
    /// "all", "wood", "not written" …
    pub kind: String,
    /// Put on in the period.
    pub put_on: u64,
    /// Taken off.
    pub taken_off: u64,
    /// Lost.
    pub lost: u64,
    /// Followed by another block on the same claw.
    pub replaced: u64,
    /// Still on at the end of the period.
    pub still_on: u64,
    /// On a cow that left.
    pub left: u64,
    /// Days on, whatever ended them; those still on or on cows that left were followed to that day.
    pub days_on: Figure<Days>,
    /// Lost or gone within the early days, of those followed so long or gone before.
    pub early: Figure<Share>,
    /// On for longer than agreed for their kind, of those that reached that day.
    pub overdue: Figure<Share>,
}

/// How a block's time ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ended {
    Off,
    Lost,
    Replaced,
    Left,
    On,
}

/// One block.
#[derive(Clone, Copy, Debug)]
struct Worn {
    foot: Foot,
    claw: Claw,
    kind: Option<BlockKind>,
    on: NaiveDate,
    ended: Ended,
    last: NaiveDate,
}

impl Worn {
    fn days(&self) -> i64 {
        (self.last - self.on).num_days()
    }

    const fn is_gone(&self) -> bool {
        matches!(self.ended, Ended::Off | Ended::Lost | Ended::Replaced)
    }
}

/// Blocks put on in the period; gone within `early_days` is early.
pub fn blocks(history: &History<'_>, early_days: u16) -> BlockFigures {
    let worn: Vec<Worn> = history.lives().iter().flat_map(|life| of_life(history, life)).collect();
    let worn: Vec<Worn> = worn.into_iter().filter(|worn| history.period().has(worn.on)).collect();
    let mut kinds: Vec<Option<BlockKind>> = worn.iter().map(|worn| worn.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut rows = vec![row(history, "all".to_owned(), &worn, early_days)];
    for kind in kinds {
        let of_kind: Vec<Worn> = worn.iter().filter(|worn| worn.kind == kind).copied().collect();
        let word = kind.map_or("not written".to_owned(), |kind| kind.to_string());
        rows.push(row(history, word, &of_kind, early_days));
    }
    let never = worn.iter().filter(|worn| worn.ended == Ended::On && worn.days() > NOBODY_WROTE_DAYS).count();
    let warning = format!(
        "{never} blocks have been on for more than {NOBODY_WROTE_DAYS} days by the record: perhaps nobody wrote that they came off"
    );
    BlockFigures {
        about: history.about(),
        rows,
        definitions: definitions(early_days),
        warnings: if never > 0 { vec![warning] } else { Vec::new() },
    }
}

/// No block stays on so long. Common practice: shoes hold six weeks, wood less.
const NOBODY_WROTE_DAYS: i64 = 90;

fn definitions(early_days: u16) -> Vec<String> {
    vec![
        "days on: from block on to block off, block lost, or another block on that claw; Kaplan-Meier, log-log limits"
            .to_owned(),
        format!("early: off, lost or replaced within {early_days} days"),
        "overdue: on for more days than the protocol of the day gives its kind, still on or taken off late".to_owned(),
    ]
}

fn of_life(history: &History<'_>, life: &Life<'_>) -> Vec<Worn> {
    let (mut done, mut on): (Vec<Worn>, Vec<Worn>) = (Vec::new(), Vec::new());
    for told in &life.told {
        let day = told.entry.observed.date;
        match told.entry.event {
            Event::BlockOn { foot, claw, kind } => {
                let again = |worn: &Worn| (worn.foot, worn.claw) == (foot, claw);
                done.extend(on.extract_if(.., |worn| again(worn)).map(|worn| Worn {
                    ended: Ended::Replaced,
                    last: day,
                    ..worn
                }));
                on.push(Worn { foot, claw, kind, on: day, ended: Ended::On, last: day });
            }
            Event::BlockGone { lost, foot, claw } => {
                let gone = |worn: &mut Worn| worn.foot == foot && claw.is_none_or(|claw| claw == worn.claw);
                let ended = if lost { Ended::Lost } else { Ended::Off };
                done.extend(on.extract_if(.., gone).map(|worn| Worn { ended, last: day, ..worn }));
            }
            _ => {}
        }
    }
    let (ended, last) = match life.animal.left {
        Some(left) => (Ended::Left, left.day),
        None => (Ended::On, history.period().to()),
    };
    done.extend(on.into_iter().map(|worn| Worn { ended, last: last.max(worn.on), ..worn }));
    done
}

fn row(history: &History<'_>, kind: String, worn: &[Worn], early_days: u16) -> BlockRow {
    let count = |ended: Ended| worn.iter().filter(|worn| worn.ended == ended).count() as u64;
    let times: Vec<(f64, bool)> = worn.iter().map(|worn| (worn.days() as f64, worn.is_gone())).collect();
    let early_days = i64::from(early_days);
    let (early, told_early) =
        counts(worn, |worn| worn.is_gone() && worn.days() <= early_days, |worn| worn.days() > early_days);
    let agreed = |worn: &Worn| i64::from(history.herd().protocol_on(worn.on).block_days(worn.kind));
    let overdue = worn.iter().filter(|worn| worn.days() > agreed(worn)).count() as u64;
    let due =
        |worn: &&Worn| worn.days() >= agreed(worn) && worn.on + TimeDelta::days(agreed(worn)) <= history.period().to();
    let reached = worn.iter().filter(due).count() as u64;
    let none = || "no block was put on in these days".to_owned();
    BlockRow {
        put_on: worn.len() as u64,
        taken_off: count(Ended::Off),
        lost: count(Ended::Lost),
        replaced: count(Ended::Replaced),
        still_on: count(Ended::On),
        left: count(Ended::Left),
        days_on: Figure::of(kaplan_meier(&times, Interval::LogLog, LEVEL).map(|curve| days(&curve)), none()),
        early: Figure::of(Share::of(early, told_early), format!("no {kind} block was followed for {early_days} days")),
        overdue: Figure::of(Share::of(overdue, reached), format!("no {kind} block reached its day")),
        kind,
    }
}

/// How many are so, and how many are so or are known not to be.
fn counts(worn: &[Worn], is: impl Fn(&Worn) -> bool, is_not: impl Fn(&Worn) -> bool) -> (u64, u64) {
    let are = worn.iter().filter(|worn| is(worn)).count() as u64;
    (are, are + worn.iter().filter(|worn| is_not(worn)).count() as u64)
}
