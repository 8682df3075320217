//! A herd over a period: lives, rounds, and days at risk, which every measure asks.

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::period::Period;
use super::rounds::{self, Round};
use crate::fold::{Herd, Life, Seen};
use crate::merge::Event;

/// What every measure works from.
#[derive(Debug)]
pub struct History<'a> {
    herd: &'a Herd,
    period: Period,
    lives: Vec<Life<'a>>,
    rounds: Vec<Round>,
}

/// Which herd, which days, and as known when: beside every figure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct About {
    /// The herd, the last day, and as known when.
    #[serde(flatten)]
    pub seen: Seen,
    /// First day of the period.
    pub from: String,
    /// Last day of the period.
    pub to: String,
    /// Lines about the period that were sealed later than what is known: late lines that these figures miss. None
    /// where everything that is here is known.
    pub late_lines_missed: Option<u64>,
}

impl<'a> History<'a> {
    /// A herd over a period. What the herd was folded to is the last day that can be asked; a period that ends later
    /// is cut there.
    pub fn of(herd: &'a Herd, period: Period) -> Self {
        let lives = herd.lives();
        let rounds = rounds::of(herd, &lives);
        let to = period.to().min(herd.view().on);
        let period = Period::new(period.from(), to).unwrap_or_else(|| Period::year_to(to));
        Self { herd, period, lives, rounds }
    }

    /// The herd.
    pub const fn herd(&self) -> &'a Herd {
        self.herd
    }

    /// The period.
    pub const fn period(&self) -> Period {
        self.period
    }

    /// Every animal that was ever in the herd.
    pub fn lives(&self) -> &[Life<'a>] {
        &self.lives
    }

    /// All scoring rounds up to the end of the period, oldest first.
    pub fn rounds(&self) -> &[Round] {
        let to = self.rounds.partition_point(|round| round.last <= self.period.to());
        &self.rounds[..to]
    }

    /// The rounds that ended in the period.
    pub fn rounds_in_period(&self) -> &[Round] {
        let rounds = self.rounds();
        &rounds[rounds.partition_point(|round| round.last < self.period.from())..]
    }

    /// Cow-days in the herd over the period.
    pub fn cow_days(&self) -> u64 {
        self.lives.iter().map(|life| life.days_in(self.period)).sum()
    }

    /// Which herd, which days, as known when.
    pub fn about(&self) -> About {
        About {
            seen: Seen::of(self.herd),
            from: crate::line::date_text(self.period.from()),
            to: crate::line::date_text(self.period.to()),
            late_lines_missed: self.late_lines_missed(),
        }
    }

    fn late_lines_missed(&self) -> Option<u64> {
        let known = self.herd.view().known?.and_utc().timestamp();
        let entries = self.herd.log().ledgers().iter().flat_map(crate::merge::Ledger::entries);
        let is_missed = |entry: &&crate::merge::Entry| entry.sealed > known && self.period.has(entry.observed.date);
        Some(entries.filter(is_missed).count() as u64)
    }
}

impl Life<'_> {
    /// The day from which on she is known to be in the herd: joined, or first written of.
    pub fn entered(&self) -> NaiveDate {
        self.animal.joined.map_or(self.animal.first_seen, |joined| joined.min(self.animal.first_seen))
    }

    /// Whether she was in the herd on a day; the day she left is with it.
    pub fn is_present_on(&self, day: NaiveDate) -> bool {
        self.entered() <= day && self.animal.left.is_none_or(|left| day <= left.day)
    }

    /// On how many days of a period she was in the herd; the day she left is not counted.
    pub fn days_in(&self, period: Period) -> u64 {
        let end = period.to() + TimeDelta::days(1);
        let end = self.animal.left.map_or(end, |left| left.day.min(end));
        (end - self.entered().max(period.from())).num_days().max(0) as u64
    }

    /// What she is called: her number, with the use of the number where it was given more than once.
    pub fn name(&self) -> String {
        match self.animal.use_of_number {
            1 => self.animal.number.to_string(),
            nth => format!("{} (use {nth})", self.animal.number),
        }
    }
}

/// Whether a line says that a foot was lifted (`fold.md` §6).
pub(super) const fn lifts(event: Event) -> bool {
    matches!(
        event,
        Event::Trim { .. }
            | Event::Lesion(_)
            | Event::NoLesion(_)
            | Event::BlockOn { .. }
            | Event::DressingOn(_)
            | Event::RecheckFound { .. }
            | Event::Seen { .. }
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::View;
    use crate::fold::sample::{day, herd, ledger};
    use crate::merge::Log;

    fn period(from: &str, to: &str) -> Period {
        Period::new(day(from), day(to)).unwrap()
    }

    #[test]
    fn days_at_risk_end_when_she_leaves() {
        let herd = herd(
            "2026-03-31",
            &["2026-01-02 417 joined by kj", "2026-03-11 418 joined by kj", "2026-03-21 417 left sold by kj"],
        );
        let history = History::of(&herd, period("2026-03-01", "2026-03-31"));
        let days: Vec<u64> = history.lives().iter().map(|life| life.days_in(history.period())).collect();
        assert_eq!(days, [20, 21]);
        let present = history.lives().iter().filter(|life| life.is_present_on(day("2026-03-21"))).count();
        assert_eq!((history.cow_days(), present), (41, 2));
    }

    #[test]
    fn late_lines_are_counted_where_a_past_knowledge_is_asked() {
        let lines = ["2026-03-02 417 score 2 by kj", "2026-03-03 418 score 2 by kj | 2026-04-09T08:00:00Z"];
        let view = |known| View { on: day("2026-03-31"), known };
        let herd = |known| Herd::fold(Log::union(vec![ledger("office", &lines)]), Vec::new(), view(known));
        let known = day("2026-03-31").and_hms_opt(20, 0, 0);
        let (then, now) = (herd(known), herd(None));
        let missed = |herd| History::of(herd, period("2026-03-01", "2026-03-31")).about().late_lines_missed;
        assert_eq!((missed(&then), missed(&now)), (Some(1), None));
        assert_eq!(History::of(&then, period("2026-03-01", "2026-03-31")).lives().len(), 1);
    }

    #[test]
    fn an_empty_herd_has_a_history() {
        let herd = herd("2026-03-31", &[""; 0]);
        let history = History::of(&herd, period("2026-03-01", "2026-03-31"));
        assert!(history.lives().is_empty() && history.rounds().is_empty());
        assert_eq!(history.cow_days(), 0);
    }
}
