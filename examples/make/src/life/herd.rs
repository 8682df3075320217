//! The herd: who is in it, and what one day does to all of them.

use chrono::{Days, NaiveDate};

use super::case::Case;
use super::cow::{Cow, DRY_DAYS, STRAW};
use super::example;
use crate::calendar::{FIRST_DAY, days_between};
use crate::chance::Chance;

/// The number that the specification uses in its examples.
pub(crate) const EXAMPLE: u32 = 417;

/// What a day did to a cow, for staff to write down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Event {
    Calved,
    Dried,
    MovedOn,
    DuesKnown,
}

/// All cows that ever were in the herd.
#[derive(Debug)]
pub(crate) struct Herd {
    pub(crate) cows: Vec<Cow>,
    /// How many the farm keeps.
    pub(crate) size: usize,
    /// The next number that nobody has had.
    next_number: u32,
    /// Numbers of cows that left, with the day.
    pub(crate) left: Vec<(String, NaiveDate)>,
    chance: Chance,
}

impl Herd {
    /// The herd on its first day, about a third of it lame.
    pub(crate) fn new(seed: u64, cows: u32) -> Self {
        let mut chance = Chance::new(seed, "life");
        let mut herd =
            Self { cows: Vec::new(), size: cows as usize, next_number: 21, left: Vec::new(), chance: chance.clone() };
        for _ in 0..cows {
            let number = herd.fresh_number(&mut chance);
            let mut cow = Cow::milking(number, FIRST_DAY, &mut chance);
            if chance.permille(if cow.lactation == 1 { 280 } else { 480 }) {
                let mut case = Case::begin(FIRST_DAY - chance.days(3, 90), &mut chance);
                case.chronic = case.may_last() && chance.permille(110);
                cow.cases.push(case);
            }
            if example::is(&cow) {
                // She is in calf, and her feet wait for what is planned.
                cow.due = cow.calved.map(|calved| calved + Days::new(395));
                cow.cases.clear();
            }
            herd.cows.push(cow);
        }
        herd.chance = chance;
        herd
    }

    /// A number that no cow has had, going up with gaps as bought and born animals leave them.
    pub(crate) fn fresh_number(&mut self, chance: &mut Chance) -> String {
        let before = self.next_number;
        self.next_number += chance.weighted(&[(55, 1), (25, 2), (12, 3), (8, 5)]);
        // The cow of the specification's examples is in every herd that is large enough.
        if (before + 1..self.next_number).contains(&EXAMPLE) {
            self.next_number = EXAMPLE;
        }
        let letter = if chance.permille(12) && self.next_number != EXAMPLE { "A" } else { "" };
        format!("{}{letter}", self.next_number)
    }

    /// Cows in the herd, by place in the list.
    pub(crate) fn present(&self) -> Vec<usize> {
        (0..self.cows.len()).filter(|at| !self.cows[*at].gone).collect()
    }

    /// One day goes by for all.
    pub(crate) fn live(&mut self, day: NaiveDate) -> Vec<(usize, Event)> {
        let progress = progress(day);
        let mut events = Vec::new();
        for at in self.present() {
            let cow = &mut self.cows[at];
            live_feet(cow, day, progress, &mut self.chance);
            if let Some(event) = live_year(cow, day, &mut self.chance) {
                events.push((at, event));
            }
        }
        events
    }

    /// A cow goes.
    pub(crate) fn remove(&mut self, at: usize, day: NaiveDate) {
        self.cows[at].gone = true;
        self.left.push((self.cows[at].number.clone(), day));
    }
}

/// Permille of the middling risk, much in the first months: better tracks, baths and earlier treatment tell.
fn progress(day: NaiveDate) -> u32 {
    1_250 - (days_between(FIRST_DAY, day).clamp(40, 300) as u32 - 40) * 14 / 10
}

fn live_feet(cow: &mut Cow, day: NaiveDate, progress: u32, chance: &mut Chance) {
    let before = cow.cases.len();
    cow.cases.retain_mut(|case| !case.live(day, chance));
    cow.past_cases += (before - cow.cases.len()) as u32;
    cow.cases.extend(example::case(cow, day));
    let risk = if example::is(cow) { 0 } else { cow.risk(day) * progress / 1_000 };
    if cow.cases.len() < 2 && chance.in_a_million(risk) {
        let case = Case::begin(day, chance);
        if cow.case_on(case.finding.foot).is_none() {
            cow.cases.push(case);
        }
    }
}

/// Her year: in calf, dry, calved, and from group to group.
fn live_year(cow: &mut Cow, day: NaiveDate, chance: &mut Chance) -> Option<Event> {
    if cow.due.is_some_and(|due| due <= day) {
        cow.lactation += 1;
        (cow.calved, cow.dry, cow.due_known) = (Some(day), false, false);
        // Whether she will be in calf again is settled now and seen only months later.
        cow.due = chance.permille(800).then(|| day + chance.days(365, 430));
        return Some(Event::Calved);
    }
    if let Some(due) = cow.due {
        // The real day differs a little from the day in the diary.
        let dry_from = due - Days::new(DRY_DAYS);
        if !cow.dry && cow.lactation > 0 && day >= dry_from && cow.due_known {
            cow.dry = true;
            return Some(Event::Dried);
        }
        if !cow.due_known && cow.days_in_milk(day) >= 150 && chance.permille(60) {
            cow.due_known = true;
            return Some(Event::DuesKnown);
        }
    }
    let moves = cow.group != STRAW && cow.group != cow.place(day) && chance.permille(150);
    moves.then_some(Event::MovedOn)
}
