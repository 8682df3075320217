//! The herd register: which animal a number means on a day (`fold.md` §2 to §4), and the same thing typed twice.

use chrono::NaiveDate;

use super::animal::Animal;
use super::apply::Context;
use super::question::{Question, Why};
use super::score::Scored;
use crate::line::{Act, CowNumber, Medicine};
use crate::merge::{Entry, EntryId, Event, Log, Whose};
use crate::vocabulary::{ActWord, Scale};

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
    used: Vec<CowNumber>,
    day: Option<NaiveDate>,
    things: Vec<Said>,
}

/// A thing said on the day at hand, and who else said it.
#[derive(Debug, PartialEq, Eq)]
struct Said {
    first: EntryId,
    others: Vec<EntryId>,
}

impl UnitState {
    /// Applies the next line in order.
    pub(super) fn apply(&mut self, context: Context<'_>, id: EntryId, entry: &Entry) {
        let Whose::Cow(number) = entry.whose else { return };
        if self.is_said_already(context.log, id, entry) && !matches!(entry.event, Event::Score(_)) {
            return self.fill(number, entry);
        }
        let day = entry.observed.date;
        match entry.event {
            Event::Other(ActWord::Strike) => {}
            Event::Joined { lactation, calved } => self.join(number, id, day, lactation, calved),
            Event::Renumbered(to) => self.renumber(number, to, id, day),
            event => {
                let Some(animal) = self.subject(number, day) else {
                    let why = if matches!(event, Event::Left { .. }) { Why::LeftTwice } else { Why::HadLeft };
                    return self.ask(number, vec![id], why);
                };
                if let Event::Score(score) = event {
                    let scored = Scored { observed: entry.observed, score, line: id };
                    let differ = animal.score_seen(context, scored);
                    if animal.accounts.len() > 1 {
                        let accounts = animal.accounts.iter().filter(|account| account.score.scale == score.scale);
                        let lines = accounts.map(|account| account.line).collect();
                        self.ask_of_scores(number, context.log, lines, differ);
                    }
                } else if let Some(why) = animal.apply(context, id, entry) {
                    self.ask(number, vec![id], why);
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

    /// Whether the accounts of a day differ is asked once, of all of them, and no more once they agree.
    fn ask_of_scores(&mut self, number: CowNumber, log: &Log, lines: Vec<EntryId>, differ: bool) {
        let of_this_day = |question: &Question| {
            let same_day = |line: &EntryId| {
                let (then, now) = (log.entry(*line), lines.first().map(|line| log.entry(*line)));
                now.is_some_and(|now| now.observed.date == then.observed.date && scale(now) == scale(then))
            };
            question.why == Why::ScoresDiffer && question.cow == Some(number) && question.lines.iter().any(same_day)
        };
        self.questions.retain(|question| !of_this_day(question));
        if differ {
            self.ask(number, lines, Why::ScoresDiffer);
        }
    }

    /// The animal that a number means on a day; none if the last one left before.
    fn subject(&mut self, number: CowNumber, day: NaiveDate) -> Option<&mut Animal> {
        if self.newest(number).is_none() {
            self.begin(number, day);
        }
        self.meant(number, day).map(|at| &mut self.animals[at])
    }

    /// Which of the animals a number means on a day, if it was given and she had not left.
    pub(super) fn meant(&self, number: CowNumber, day: NaiveDate) -> Option<usize> {
        self.newest(number).filter(|at| self.animals[*at].left.is_none_or(|left| left.day >= day))
    }

    fn newest(&self, number: CowNumber) -> Option<usize> {
        // A renumbered animal took the number later than one that was there before her, wherever she stands here.
        let uses = self.animals.iter().enumerate().filter(|(_, animal)| animal.number == number);
        uses.max_by_key(|(_, animal)| animal.use_of_number).map(|(at, _)| at)
    }

    fn begin(&mut self, number: CowNumber, day: NaiveDate) -> usize {
        let use_of_number = self.use_number(number);
        self.animals.push(Animal::begin(number, use_of_number, day));
        self.animals.len() - 1
    }

    /// Counts one more use of a number.
    fn use_number(&mut self, number: CowNumber) -> u32 {
        self.used.push(number);
        self.used.iter().filter(|used| **used == number).count() as u32
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
        if to == number {
            return;
        }
        if self.newest(to).is_some_and(|at| self.animals[at].is_present()) {
            return self.ask(number, vec![id], Why::NumberInUse(to));
        }
        if self.subject(number, day).is_none() {
            return self.ask(number, vec![id], Why::HadLeft);
        }
        let use_of_number = self.use_number(to);
        if let Some(animal) = self.subject(number, day) {
            (animal.number, animal.use_of_number) = (to, use_of_number);
        }
    }

    /// Whether another device said the same thing of the same cow on the same day (`merge.md` §5). Each saying takes
    /// at most one from every other device.
    fn is_said_already(&mut self, log: &Log, id: EntryId, entry: &Entry) -> bool {
        if self.day != Some(entry.observed.date) {
            self.day = Some(entry.observed.date);
            self.things.clear();
        }
        let Some(thing) = entry.event.thing() else { return false };
        let is_same = |said: &Said| {
            let first = log.entry(said.first);
            first.event.thing() == Some(thing)
                && first.whose == entry.whose
                && said.others.iter().chain([&said.first]).all(|by| log.devices_differ(*by, id))
                && same_words(log, said.first, id, entry.event)
        };
        let Some(said) = self.things.iter_mut().find(|said| is_same(said)) else {
            self.things.push(Said { first: id, others: Vec::new() });
            return false;
        };
        said.others.push(id);
        self.twice.push((said.first, id));
        true
    }

    /// What the first account left out is taken from the second.
    fn fill(&mut self, number: CowNumber, entry: &Entry) {
        let Some(animal) = self.subject(number, entry.observed.date) else { return };
        match entry.event {
            Event::Lesion(finding) => animal.cases.fill(finding),
            Event::BlockOn { foot, claw, kind } => {
                for block in animal.blocks.iter_mut().filter(|block| (block.foot, block.claw) == (foot, claw)) {
                    block.kind = block.kind.or(kind);
                }
            }
            _ => {}
        }
    }
}

fn scale(entry: &Entry) -> Option<Scale> {
    match entry.event {
        Event::Score(score) => Some(score.scale),
        _ => None,
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
