//! The herd: all units, folded to a day, as known at a time; kept up to date line by line.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::Range;

use chrono::{NaiveDate, NaiveDateTime};

use super::animal::Animal;
use super::apart;
use super::feet::Case;
use super::life::Life;
use super::protocol::{self, Protocol, Timeline};
use super::question::{Question, Why};
use super::register::Unit;
use super::rounds::Tallies;
use super::rules::Rules;
use crate::line::{Act, CowNumber, Subject};
use crate::members::Members;
use crate::merge::{Entry, EntryId, Event, Log, Standing, Standings, Whose};

/// From where the herd is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct View {
    /// The state at the end of this day.
    pub on: NaiveDate,
    /// As known at this sealed time, UTC; everything that is here, if none.
    pub known: Option<NaiveDateTime>,
}

/// A herd's state.
#[derive(Debug)]
pub struct Herd {
    log: Log,
    view: View,
    protocols: Vec<(String, String)>,
    default: Protocol,
    members: Members,
    standings: Standings,
    timeline: Timeline,
    tallies: Tallies,
    units: Vec<Unit>,
    unit_of: HashMap<CowNumber, u32, BuildHasherDefault<NumberHasher>>,
    questions: Vec<Question>,
}

impl Herd {
    /// Folds a log. `protocols` are the herd's protocol files: name (64 digits) and text.
    pub fn fold(log: Log, protocols: Vec<(String, String)>, view: View) -> Self {
        Self::fold_from(log, protocols, Protocol::default_of_the_trade(), view)
    }

    /// Folds a log where something else than the trade's default applies until a protocol is adopted.
    pub fn fold_from(log: Log, protocols: Vec<(String, String)>, default: Protocol, view: View) -> Self {
        let mut herd = Self {
            log,
            view,
            protocols,
            members: Members::default(),
            standings: Standings::default(),
            timeline: Timeline::new(Vec::new(), default.clone()),
            default,
            tallies: Tallies::default(),
            units: Vec::new(),
            unit_of: HashMap::default(),
            questions: Vec::new(),
        };
        herd.fold_all();
        herd
    }

    /// The same herd from another day or another time.
    #[must_use]
    pub fn seen_from(self, view: View) -> Self {
        Self::fold_from(self.log, self.protocols, self.default, view)
    }

    /// Adds sealed lines that continue one of the ledgers, and folds again what they change.
    pub fn append(&mut self, ledger: usize, lines: &[u8]) {
        let added: Vec<EntryId> = self.log.append(ledger, lines).collect();
        if self.members.may_change(&self.log, &added, ledger) {
            let now = Members::of(&self.log);
            if !now.says_the_same(&self.members) {
                return self.fold_all();
            }
            self.members = now;
        }
        for id in &added {
            self.add(*id);
        }
        if added.iter().any(|id| self.standings.get(*id) == Standing::Apart) {
            self.ask_about_rights();
        }
    }

    /// All lines.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Who may read, write and admit.
    pub fn members(&self) -> &Members {
        &self.members
    }

    /// From where it is looked at.
    pub fn view(&self) -> View {
        self.view
    }

    /// What is agreed on the day of the view.
    pub fn protocol(&self) -> &Protocol {
        self.timeline.on(self.view.on)
    }

    /// What is agreed on a day.
    pub fn protocol_on(&self, day: NaiveDate) -> &Protocol {
        self.timeline.on(day)
    }

    /// Every animal with the lines that counted for her, by number, then use of the number.
    pub fn lives(&self) -> Vec<Life<'_>> {
        let mut lives: Vec<Life<'_>> = self.units.iter().flat_map(|unit| self.rules().lives(unit)).collect();
        lives.sort_by_key(|life| (life.animal.number, life.animal.use_of_number));
        lives
    }

    /// Which lines stand.
    pub fn standings(&self) -> &Standings {
        &self.standings
    }

    /// Every animal that was ever in the herd, by number, then use of the number.
    pub fn animals(&self) -> Vec<&Animal> {
        let mut animals: Vec<&Animal> = self.units.iter().flat_map(|unit| &unit.state.animals).collect();
        animals.sort_by_key(|animal| (animal.number, animal.use_of_number));
        animals
    }

    /// The animals in the herd now, by number.
    pub fn present(&self) -> Vec<&Animal> {
        let mut animals = self.animals();
        animals.retain(|animal| animal.is_present());
        animals
    }

    /// The animal that a number means now, or the last that it meant.
    pub fn find(&self, number: CowNumber) -> Option<&Animal> {
        let unit = &self.units[*self.unit_of.get(&number)? as usize];
        let uses = unit.state.animals.iter().filter(|animal| animal.number == number);
        uses.max_by_key(|animal| animal.use_of_number)
    }

    /// All lines about a number, and the numbers tied to it, in order, standing or not.
    pub fn lines_of(&self, number: CowNumber) -> &[EntryId] {
        self.unit_of.get(&number).map_or(&[], |unit| &self.units[*unit as usize].lines)
    }

    /// Her group on the day of the view.
    pub fn group(&self, animal: &Animal) -> Option<&str> {
        self.group_on(animal, self.view.on)
    }

    /// Her group on a day.
    pub fn group_on(&self, animal: &Animal, day: NaiveDate) -> Option<&str> {
        match self.log.body(animal.group_line(day)?).act {
            Act::Moved(group) => Some(group),
            _ => None,
        }
    }

    /// Her official ear number and her electronic number, each as last given.
    pub fn tags(&self, animal: &Animal) -> (Option<&str>, Option<&str>) {
        let tagged = |id: Option<EntryId>| match self.log.body(id?).act {
            Act::Tagged { ear, electronic } => Some((ear, electronic)),
            _ => None,
        };
        let ear = tagged(animal.ear).and_then(|(ear, _)| Some(ear?.as_str()));
        let electronic = tagged(animal.electronic).and_then(|(_, electronic)| Some(electronic?.as_str()));
        (ear, electronic)
    }

    /// The round in which she was walked past since her newest lame score and a lifting after it (`fold.md` §5a).
    pub fn walked_past(&self, animal: &Animal) -> Option<NaiveDate> {
        self.tallies.walked_past(&self.log, animal, self.view.on)
    }

    /// The first day of her present run of lame scores.
    pub fn lame_since(&self, animal: &Animal) -> Option<NaiveDate> {
        animal.lame_run.filter(|_| self.walked_past(animal).is_none())
    }

    /// Whether she is lame: scored so, and not walked past since.
    pub fn is_lame(&self, animal: &Animal) -> bool {
        self.lame_since(animal).is_some()
    }

    /// Why she may be unfit to travel (`fold.md` §15); empty when nothing here speaks against it.
    pub fn travel_doubts(&self, animal: &Animal) -> Vec<&'static str> {
        let day = self.view.on;
        let mut doubts = Vec::new();
        let waits = !animal.referrals.is_empty();
        if animal.is_scored_severe() && (waits || self.is_lame(animal)) {
            doubts.push("severely lame");
        } else if self.is_lame(animal) {
            doubts.push("lame");
        }
        if waits {
            doubts.push("waiting for the vet");
        }
        if animal.cases.open().iter().any(Case::is_alarm) {
            doubts.push("painful lesion");
        }
        if animal.calved.is_some_and(|calved| (0..=7).contains(&(day - calved).num_days())) {
            doubts.push("calved within a week");
        }
        if animal.calving_due.is_some_and(|due| (due - day).num_days() <= 28) {
            doubts.push("last tenth of pregnancy");
        }
        doubts
    }

    /// Everything that does not fit, in the order of its newest line.
    pub fn questions(&self) -> Vec<&Question> {
        let of_cows = self.units.iter().flat_map(|unit| &unit.state.questions);
        let mut questions: Vec<&Question> = of_cows.chain(&self.questions).collect();
        questions.sort_by_key(|question| question.lines.last().map(|id| self.log.key(*id)));
        questions
    }

    /// Everything that does not fit about a cow's number.
    pub fn questions_of(&self, number: CowNumber) -> impl Iterator<Item = &Question> {
        let unit = self.unit_of.get(&number).map(|unit| &self.units[*unit as usize].state.questions);
        unit.into_iter().flatten().chain(&self.questions).filter(move |question| question.cow == Some(number))
    }

    /// Lines counted, each with the other device's line that says the same.
    pub fn typed_twice(&self) -> Vec<(EntryId, EntryId)> {
        let mut twice: Vec<_> = self.units.iter().flat_map(|unit| &unit.state.twice).copied().collect();
        twice.sort_by_key(|(first, _)| self.log.key(*first));
        twice
    }

    /// Standing herd and group lines up to the day of the view, in order.
    pub fn herd_lines(&self) -> Vec<EntryId> {
        let mut lines: Vec<EntryId> = self
            .every_herd_line()
            .filter(|id| self.is_known(self.log.entry(*id)) && self.standings.get(*id) == Standing::Standing)
            .filter(|id| self.log.entry(*id).observed.date <= self.view.on)
            .collect();
        lines.sort_by_key(|id| self.log.key(*id));
        lines
    }

    fn fold_all(&mut self) {
        self.members = Members::of(&self.log);
        self.standings = self.standings_now();
        self.read_protocols();
        self.ask_about_rights();
        self.read_tallies();
        self.units.clear();
        self.unit_of.clear();
        self.tie_numbers();
        let log = std::mem::take(&mut self.log);
        for id in log.in_order() {
            let entry = log.entry(id);
            if let Whose::Cow(number) = entry.whose
                && self.is_known(entry)
            {
                let unit = self.unit(number);
                self.units[unit].lines.push(id);
            }
        }
        self.log = log;
        self.refold(0..self.units.len());
    }

    fn refold(&mut self, which: Range<usize>) {
        let (rules, units) = self.rules_and_units();
        rules.fold(&mut units[which]);
    }

    fn rules(&self) -> Rules<'_> {
        let Self { log, standings, timeline, tallies, view, .. } = self;
        Rules { log, standings, timeline, tallies, on: view.on }
    }

    fn rules_and_units(&mut self) -> (Rules<'_>, &mut Vec<Unit>) {
        let Self { log, standings, timeline, tallies, view, units, .. } = self;
        (Rules { log, standings, timeline, tallies, on: view.on }, units)
    }

    /// A new line: applied if it is the last of its unit, else its unit is folded again.
    fn add(&mut self, id: EntryId) {
        let entry = *self.log.entry(id);
        if !self.is_known(&entry) {
            return;
        }
        let Whose::Cow(number) = entry.whose else { return self.add_herd_line(id) };
        if matches!(entry.event, Event::Renumbered(_)) {
            return self.fold_all();
        }
        let unit = self.unit(number);
        let key = self.log.key(id);
        let lines = &mut self.units[unit].lines;
        let at = lines.partition_point(|line| self.log.key(*line) < key);
        // A line of the same append may have had everything folded, this one too.
        if lines.get(at) == Some(&id) {
            return;
        }
        let is_last = at == lines.len();
        lines.insert(at, id);
        if self.is_correction(id) {
            self.correct(unit);
        } else if is_last {
            let (rules, units) = self.rules_and_units();
            rules.apply(&mut units[unit].state, id, &entry);
        } else {
            self.refold(unit..unit + 1);
        }
    }

    fn add_herd_line(&mut self, id: EntryId) {
        if self.is_correction(id) || matches!(self.log.body(id).act, Act::Adopt(_) | Act::Tally(_)) {
            self.fold_all();
        }
    }

    fn is_correction(&self, id: EntryId) -> bool {
        let line = self.log.body(id);
        line.replaces.is_some() || matches!(line.act, Act::Strike(_)) || self.standings.awaits(&self.log, id)
    }

    /// Corrections may reach other cows, or what the whole herd goes by: all that is touched is folded again.
    fn correct(&mut self, unit: usize) {
        let now = self.standings_now();
        let before = std::mem::replace(&mut self.standings, now);
        let changed = self.standings.changed_since(&before);
        if changed.iter().any(|id| self.unit_of_line(*id).is_none()) {
            return self.fold_all();
        }
        self.ask_about_corrections();
        let mut units: Vec<usize> = changed.iter().filter_map(|id| self.unit_of_line(*id)).chain([unit]).collect();
        units.sort_unstable();
        units.dedup();
        for unit in units {
            self.refold(unit..unit + 1);
        }
    }

    #[inline]
    fn unit(&mut self, number: CowNumber) -> usize {
        let next = self.units.len() as u32;
        let unit = *self.unit_of.entry(number).or_insert(next);
        if unit == next {
            self.units.push(Unit::default());
        }
        unit as usize
    }

    fn unit_of_line(&self, id: EntryId) -> Option<usize> {
        match self.log.entry(id).whose {
            Whose::Cow(number) => self.unit_of.get(&number).map(|unit| *unit as usize),
            _ => None,
        }
    }

    /// Numbers that a renumbering ties together are one unit.
    fn tie_numbers(&mut self) {
        let mut ties = Vec::new();
        for (ledger, file) in self.log.ledgers().iter().enumerate() {
            for index in file.renumberings() {
                let id = EntryId { ledger: ledger as u16, index: *index };
                let entry = self.log.entry(id);
                if let (Whose::Cow(from), Event::Renumbered(to)) = (entry.whose, entry.event)
                    && self.is_known(entry)
                    && self.standings.get(id) != Standing::Apart
                {
                    ties.push((from, to));
                }
            }
        }
        for (from, to) in ties {
            let (from, to) = (self.unit(from) as u32, self.unit(to) as u32);
            for unit in self.unit_of.values_mut().filter(|unit| **unit == to) {
                *unit = from;
            }
        }
    }

    fn read_tallies(&mut self) {
        let tallies = self.herd_lines().into_iter().filter_map(|id| {
            let line = self.log.body(id);
            let group = match line.subject {
                Subject::Group(name) => Some(name.to_owned()),
                _ => None,
            };
            matches!(line.act, Act::Tally(_)).then_some((line.observed.date, group))
        });
        self.tallies = Tallies::new(tallies.collect());
    }

    fn read_protocols(&mut self) {
        self.questions.clear();
        self.ask_about_corrections();
        let mut steps = Vec::new();
        for id in self.every_herd_line().collect::<Vec<_>>() {
            let entry = self.log.entry(id);
            if !self.is_known(entry) || self.standings.get(id) != Standing::Standing {
                continue;
            }
            if let Act::Adopt(name) = self.log.body(id).act {
                match self.protocol_named(name) {
                    Ok(protocol) => steps.push((entry.observed, protocol)),
                    Err(why) => self.questions.push(Question { cow: None, lines: vec![id], why }),
                }
            }
        }
        self.timeline = Timeline::new(steps, self.default.clone());
    }

    fn protocol_named(&self, name: &str) -> Result<Protocol, Why> {
        let is_it = |(file, text): &&(String, String)| file == name && protocol::name_of(text).to_string() == name;
        let missing = || Why::ProtocolMissing(name.to_owned());
        let (_, text) = self.protocols.iter().find(is_it).ok_or_else(missing)?;
        Protocol::read(text).map_err(|problem| Why::ProtocolUnreadable { name: name.to_owned(), problem })
    }

    fn ask_about_corrections(&mut self) {
        let is_of_corrections = |why: &Why| matches!(why, Why::TargetNotHere | Why::Concurrent | Why::TooDeep);
        self.questions.retain(|question| !is_of_corrections(&question.why));
        let standings = &self.standings;
        let cow = |id: EntryId| match self.log.entry(id).whose {
            Whose::Cow(number) => Some(number),
            _ => None,
        };
        let one = |why: Why| move |id: &EntryId| (vec![*id], why.clone());
        let all = standings
            .waiting
            .iter()
            .map(one(Why::TargetNotHere))
            .chain(standings.concurrent.iter().map(|ids| (ids.clone(), Why::Concurrent)))
            .chain(standings.too_deep.iter().map(one(Why::TooDeep)));
        let asks = |lines: &[EntryId]| {
            lines.last().is_some_and(|id| {
                standings.get(*id) == Standing::Standing && self.log.entry(*id).observed.date <= self.view.on
            })
        };
        let asked = all.filter(|(lines, _)| asks(lines));
        let questions: Vec<Question> =
            asked.map(|(lines, why)| Question { cow: lines.last().and_then(|id| cow(*id)), lines, why }).collect();
        self.questions.extend(questions);
    }

    fn ask_about_rights(&mut self) {
        let is_seen = |id: EntryId| {
            let entry = self.log.entry(id);
            self.is_known(entry) && entry.observed.date <= self.view.on
        };
        let asked = apart::questions(&self.log, &self.members, is_seen);
        self.questions.retain(|question| !matches!(question.why, Why::Apart(_)));
        self.questions.extend(asked);
    }

    fn every_herd_line(&self) -> impl Iterator<Item = EntryId> {
        self.log.ledgers().iter().enumerate().flat_map(|(ledger, file)| {
            file.herd_lines().iter().map(move |index| EntryId { ledger: ledger as u16, index: *index })
        })
    }

    fn standings_now(&self) -> Standings {
        let known = self.view.known.map(|known| known.and_utc().timestamp());
        Standings::of(&self.log, known, self.members.first_apart())
    }

    #[inline]
    fn is_known(&self, entry: &Entry) -> bool {
        self.view.known.is_none_or(|known| entry.sealed <= known.and_utc().timestamp())
    }
}

/// Cow numbers are small and spread by one multiplication.
#[derive(Default)]
struct NumberHasher(u64);

impl Hasher for NumberHasher {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u32(u32::from(*byte));
        }
    }

    fn write_u32(&mut self, number: u32) {
        self.0 = (self.0 ^ u64::from(number)).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(32);
    }
}
