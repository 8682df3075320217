//! The herd register: which animal a number means on a day (`fold.md` §2 to §4), and the same thing typed twice.

use chrono::NaiveDate;

use super::animal::Animal;
use super::apply::Context;
use super::feet;
use super::question::{Question, Why};
use crate::line::{Act, CowNumber, Medicine};
use crate::merge::{Entry, EntryId, Event, Log, Whose};
use crate::vocabulary::ActWord;

/// The animals of one number, or of several that renumbering ties together, and the lines about them in order.
#[derive(Debug, Default)]
pub(super) struct Unit {
    pub(super) lines: Vec<EntryId>,
    pub(super) state: UnitState,
}

/// What the lines of a unit fold to.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct UnitState {
    pub(super) animals: Vec<Animal>,
    pub(super) questions: Vec<Question>,
    /// A line counted, and the other device's line that says the same.
    pub(super) twice: Vec<(EntryId, EntryId)>,
    day: Option<NaiveDate>,
    things: Vec<EntryId>,
}

impl UnitState {
    /// Applies the next line in order.
    pub(super) fn apply(&mut self, context: Context<'_>, id: EntryId, entry: &Entry) {
        let Whose::Cow(number) = entry.whose else { return };
        if let Some(first) = self.said_already(context.log, id, entry) {
            self.twice.push((first, id));
            self.fill(number, entry);
            return;
        }
        match entry.event {
            Event::Joined { lactation, calved } => self.join(number, id, entry.observed.date, lactation, calved),
            Event::Renumbered(to) => self.renumber(number, to, id, entry.observed.date),
            event => {
                let Some(animal) = self.subject(number, entry.observed.date) else {
                    let why = if matches!(event, Event::Left { .. }) { Why::LeftTwice } else { Why::HadLeft };
                    return self.ask(number, vec![id], why);
                };
                if let Some((why, other)) = animal.apply(context, id, entry) {
                    self.ask(number, other.into_iter().chain([id]).collect(), why);
                }
            }
        }
    }

    /// A line that waits for its day.
    pub(super) fn not_yet(&mut self, id: EntryId, entry: &Entry) {
        if let Whose::Cow(number) = entry.whose {
            self.ask(number, vec![id], Why::NotYet);
        }
    }

    fn ask(&mut self, number: CowNumber, lines: Vec<EntryId>, why: Why) {
        self.questions.push(Question { cow: Some(number), lines, why });
    }

    /// The animal that a number means on a day; none if the last one left before.
    fn subject(&mut self, number: CowNumber, day: NaiveDate) -> Option<&mut Animal> {
        match self.newest(number) {
            Some(at) => Some(&mut self.animals[at]).filter(|animal| animal.left.is_none_or(|left| left.day >= day)),
            None => {
                let animal = self.begin(number, day);
                Some(&mut self.animals[animal])
            }
        }
    }

    fn newest(&self, number: CowNumber) -> Option<usize> {
        self.animals.iter().rposition(|animal| animal.number == number)
    }

    fn begin(&mut self, number: CowNumber, day: NaiveDate) -> usize {
        let uses = self.animals.iter().filter(|animal| animal.number == number).count() as u32;
        self.animals.push(Animal::begin(number, uses + 1, day));
        self.animals.len() - 1
    }

    fn join(
        &mut self,
        number: CowNumber,
        id: EntryId,
        day: NaiveDate,
        lactation: Option<u8>,
        calved: Option<NaiveDate>,
    ) {
        let at = match self.newest(number) {
            Some(at) if self.animals[at].is_present() && self.animals[at].joined.is_none() => at,
            Some(at) if self.animals[at].is_present() => return self.ask(number, vec![id], Why::JoinedTwice),
            _ => self.begin(number, day),
        };
        let animal = &mut self.animals[at];
        animal.joined = Some(day);
        animal.lactation = animal.lactation.or(lactation);
        animal.calved = animal.calved.or(calved);
    }

    fn renumber(&mut self, number: CowNumber, to: CowNumber, id: EntryId, day: NaiveDate) {
        if self.newest(to).is_some_and(|at| self.animals[at].is_present()) {
            return self.ask(number, vec![id], Why::NumberInUse(to));
        }
        let uses = self.animals.iter().filter(|animal| animal.number == to).count() as u32;
        match self.subject(number, day) {
            Some(animal) => (animal.number, animal.use_of_number) = (to, uses + 1),
            None => self.ask(number, vec![id], Why::HadLeft),
        }
    }

    /// The line of another device that says the same thing of the same cow on the same day (`merge.md` §5).
    fn said_already(&mut self, log: &Log, id: EntryId, entry: &Entry) -> Option<EntryId> {
        if self.day != Some(entry.observed.date) {
            self.day = Some(entry.observed.date);
            self.things.clear();
        }
        let thing = entry.event.thing()?;
        let same = |first: &&EntryId| {
            let before = log.entry(**first);
            before.event.thing() == Some(thing)
                && before.whose == entry.whose
                && log.devices_differ(**first, id)
                && same_words(log, **first, id, entry.event)
        };
        let first = self.things.iter().find(same).copied();
        if first.is_none() {
            self.things.push(id);
        }
        first
    }

    /// What the first account left out is taken from the second.
    fn fill(&mut self, number: CowNumber, entry: &Entry) {
        let Some(animal) = self.subject(number, entry.observed.date) else { return };
        match entry.event {
            Event::Lesion(finding) => {
                if let Some(case) = feet::case_of(&mut animal.cases, finding) {
                    case.fill(finding);
                }
            }
            Event::BlockOn { foot, claw, kind } => {
                for block in animal.blocks.iter_mut().filter(|block| (block.foot, block.claw) == (foot, claw)) {
                    block.kind = block.kind.or(kind);
                }
            }
            _ => {}
        }
    }
}

/// Acts whose thing lies in their text are compared there.
fn same_words(log: &Log, a: EntryId, b: EntryId, event: Event) -> bool {
    match event {
        Event::Medicine { .. } => gist(log.body(a).act) == gist(log.body(b).act),
        Event::Other(ActWord::Moved | ActWord::Tagged) => log.body(a).act == log.body(b).act,
        _ => true,
    }
}

fn gist(act: Act<'_>) -> Act<'_> {
    match act {
        Act::Medicine(medicine) => Act::Medicine(Medicine { batch: None, route: None, reason: None, ..medicine }),
        act => act,
    }
}
