//! One line applied to one animal (`fold.md` §5 to §13).

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};

use super::animal::{Animal, Leaving, Recheck, Referral};
use super::feet::{Block, Closed};
use super::protocol::Protocol;
use super::question::Why;
use super::rounds::Tallies;
use super::score::{self, Scored};
use crate::line::{Hold, Observed};
use crate::merge::{Entry, EntryId, Event, Log};
use crate::vocabulary::{ActWord, BlockKind, Claw, Feet, Foot, RecheckFinding, TrimKind};

/// What a line meets: the whole log (to read words again) and what was agreed on its day.
#[derive(Clone, Copy)]
pub(super) struct Context<'a> {
    pub(super) log: &'a Log,
    pub(super) protocol: &'a Protocol,
    pub(super) rounds: &'a Tallies,
}

/// What does not fit.
pub(super) type Doubtful = Option<Why>;

impl Animal {
    /// Applies a line that is about her. What does not fit changes nothing and is told.
    pub(super) fn apply(&mut self, context: Context<'_>, id: EntryId, entry: &Entry) -> Doubtful {
        let (observed, day) = (entry.observed, entry.observed.date);
        match entry.event {
            Event::Trim { kind, feet } => self.trim(context, observed, kind, feet),
            Event::Lesion(finding) => {
                self.lift(observed);
                self.treated = self.treated.max(Some(day));
                self.cases.see(finding, day, context.protocol.repeat_case_days);
            }
            Event::NoLesion(feet) => {
                self.lift(observed);
                self.cases.close(feet, Closed::Sound(day));
            }
            Event::BlockOn { foot, claw, kind } => self.block_put_on(observed, foot, claw, kind),
            Event::BlockGone { foot, claw, .. } => return self.block_gone(foot, claw),
            Event::DressingOn(foot) => {
                self.lift(observed);
                self.dressings.retain(|(on, _)| *on != foot);
                self.dressings.push((foot, day));
                self.dressings.sort();
            }
            Event::DressingOff(foot) => return self.dressing_gone(foot),
            Event::RecheckDue { due, foot } => set(&mut self.rechecks, Recheck { due, foot, set: day }),
            Event::RecheckFound { found, foot } => self.recheck(observed, found, foot),
            Event::Refer(foot) => self.referrals.push(Referral { day, foot, line: id }),
            Event::Seen { foot, due } => self.seen_by_vet(observed, foot, due),
            Event::Medicine { milk, meat } => self.hold(observed, milk, meat),
            Event::Calved(lactation) => self.calve(day, lactation),
            Event::CalvingDue(due) => self.calving_due = Some(due),
            Event::Dried => {
                (self.dried, self.drying_due) = (Some(day), None);
                self.turns.push((day, true));
            }
            Event::DryingDue(due) => self.drying_due = Some(due),
            Event::Left { .. } if self.left.is_some() => return Some(Why::LeftTwice),
            Event::Left { reason, feet } => self.left = Some(Leaving { day, reason, feet }),
            Event::Score(_) | Event::Joined { .. } | Event::Renumbered(_) => {}
            Event::Other(word) => self.other(context.log, word, day, id),
        }
        None
    }

    fn lift(&mut self, observed: Observed) {
        self.lifted = self.lifted.max(Some(observed));
        if self.lifted_since_score.is_none()
            && self.scores.last().is_some_and(|scored| self.is_lifted_since(scored.observed))
        {
            self.lifted_since_score = Some(observed.date);
        }
        if self.worse.is_some_and(|worse| worse < observed.date) {
            self.worse = None;
        }
    }

    /// Hears an account of a day and counts the worst. Says whether accounts differ, for a question that is asked once.
    pub(super) fn score_seen(&mut self, context: Context<'_>, now: Scored) -> bool {
        let day = now.observed.date;
        if self.accounts.first().is_none_or(|before| before.observed.date != day) {
            let before = day.pred_opt().unwrap_or(day);
            self.run_before = self.lame_run.filter(|_| context.rounds.walked_past(context.log, self, before).is_none());
            self.lifted_since_score = None;
        }
        score::hear(context.log, &mut self.accounts, now);
        let counted = score::counted(&self.accounts, now);
        let today = self.scores.iter().rposition(|scored| scored.observed.date < day).map_or(0, |before| before + 1);
        let same = self.scores[today..].iter().position(|scored| scored.score.scale == now.score.scale);
        same.map(|at| self.scores.remove(today + at));
        self.scores.push(counted);
        self.lame_run = if counted.score.is_lame() { self.run_before.or(Some(day)) } else { None };
        if self.lifted_since_score.is_none() && self.is_lifted_since(counted.observed) {
            self.lifted_since_score = Some(day);
        }
        score::differ(&self.accounts, now)
    }

    fn trim(&mut self, context: Context<'_>, observed: Observed, kind: TrimKind, feet: Feet) {
        let day = observed.date;
        self.lift(observed);
        self.trimmed = Some((kind, day));
        match kind {
            TrimKind::Lame => self.treated = self.treated.max(Some(day)),
            TrimKind::Routine => (self.routine, self.planned) = (Some(day), Some(day)),
            TrimKind::Check => self.planned = Some(day),
        }
        if feet == Feet::ALL {
            (self.routine, self.planned) = (Some(day), Some(day));
        }
        self.cases.close(feet, Closed::NotSeenAgain(day));
        let early = TimeDelta::days(context.protocol.recheck_early_days.into());
        let met = |waiting: &Recheck| {
            waiting.set < day && waiting.due - early <= day && waiting.foot.is_none_or(|foot| feet.has(foot))
        };
        self.rechecks.retain(|waiting| !met(waiting));
        self.orders.retain(|waiting| !met(waiting));
    }

    fn block_put_on(&mut self, observed: Observed, foot: Foot, claw: Claw, kind: Option<BlockKind>) {
        self.lift(observed);
        self.blocks.retain(|block| (block.foot, block.claw) != (foot, claw));
        self.blocks.push(Block { foot, claw, kind, since: observed.date });
        self.blocks.sort_by_key(|block| (block.foot, block.claw));
    }

    fn block_gone(&mut self, foot: Foot, claw: Option<Claw>) -> Doubtful {
        let before = self.blocks.len();
        self.blocks.retain(|block| block.foot != foot || claw.is_some_and(|claw| claw != block.claw));
        (self.blocks.len() == before).then_some(Why::NothingToTakeOff { what: "block", foot })
    }

    fn dressing_gone(&mut self, foot: Foot) -> Doubtful {
        let before = self.dressings.len();
        self.dressings.retain(|(on, _)| *on != foot);
        (self.dressings.len() == before).then_some(Why::NothingToTakeOff { what: "dressing", foot })
    }

    fn recheck(&mut self, observed: Observed, found: RecheckFinding, foot: Option<Foot>) {
        let day = observed.date;
        self.lift(observed);
        let met =
            |waiting: &Recheck| waiting.set < day && (foot.is_none() || waiting.foot.is_none_or(|of| foot == Some(of)));
        self.rechecks.retain(|waiting| !met(waiting));
        self.orders.retain(|waiting| !met(waiting));
        let feet = foot.map_or(Feet::ALL, Feet::one);
        self.cases.look(feet, day);
        match found {
            RecheckFinding::Sound => self.cases.close(feet, Closed::Sound(day)),
            RecheckFinding::Worse => self.worse = Some(day),
            RecheckFinding::Better | RecheckFinding::Same => {}
        }
    }

    fn seen_by_vet(&mut self, observed: Observed, foot: Option<Foot>, due: Option<NaiveDate>) {
        let day = observed.date;
        self.lift(observed);
        self.referrals.clear();
        self.cases.look(foot.map_or(Feet::ALL, Feet::one), day);
        self.orders.retain(|waiting| waiting.set >= day);
        if let Some(due) = due {
            set(&mut self.orders, Recheck { due, foot, set: day });
        }
    }

    fn hold(&mut self, observed: Observed, milk: Hold, meat: Hold) {
        let given = moment(observed);
        let until = |hold: Hold| (hold.hours() > 0).then(|| given + TimeDelta::hours(hold.hours().into()));
        self.milk_held = self.milk_held.max(until(milk));
        self.meat_held = self.meat_held.max(until(meat));
    }

    fn calve(&mut self, day: NaiveDate, lactation: Option<u8>) {
        self.lactation = lactation.or(self.lactation.map(|lactation| lactation.saturating_add(1)));
        (self.calved, self.dried, self.calving_due, self.drying_due) = (Some(day), None, None, None);
        self.turns.push((day, false));
    }

    fn other(&mut self, log: &Log, word: ActWord, day: NaiveDate, id: EntryId) {
        match word {
            ActWord::Moved => self.groups.push((day, id)),
            ActWord::Tagged => {
                if let crate::line::Act::Tagged { ear, electronic } = log.body(id).act {
                    self.ear = ear.map(|_| id).or(self.ear);
                    self.electronic = electronic.map(|_| id).or(self.electronic);
                }
            }
            _ => {}
        }
    }
}

/// Adds what waits, once, in order of its day.
fn set(waiting: &mut Vec<Recheck>, new: Recheck) {
    if !waiting.iter().any(|old| (old.due, old.foot) == (new.due, new.foot)) {
        waiting.push(new);
        waiting.sort();
    }
}

/// When a withdrawal begins: without a time of day, at the end of the day, which is the safe side.
fn moment(observed: Observed) -> NaiveDateTime {
    let midnight = observed.date.and_time(chrono::NaiveTime::MIN);
    match observed.minute {
        Some(minute) => midnight + TimeDelta::minutes(minute.into()),
        None => midnight + TimeDelta::days(1),
    }
}
