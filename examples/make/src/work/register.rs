//! The herd register: the first sitting, calvings, dryings, joinings and leavings.

use chrono::Days;
use ledger_format::vocabulary::{Departure, Feet, TrimKind};

use super::farm::{AO, Desk, Farm, KJ};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry};
use crate::life::cow::{Cow, DRY_DAYS, HIGH, PADDOCK};
use crate::life::example;
use crate::life::herd::Event;

impl Farm {
    /// The first sitting: who may write, which protocol holds, and every cow.
    pub(crate) fn open_the_record(&mut self) {
        let day = self.day;
        let charter = |text: &str| Entry::new(day, AO, "herd", vec![Deed::Charter(text.to_owned())]);
        let mut entries = vec![
            charter("admit farm-office key {KEY:farm-office} as keeper"),
            charter("admit crush-laptop key {KEY:crush-laptop} as writer"),
            charter("admit vet-tablet key {KEY:vet-tablet} as writer"),
            charter("admit old-phone key {KEY:old-phone} as reader"),
            charter("adopt {PROTOCOL}"),
        ];
        for at in self.herd.present() {
            entries.extend(self.enrol(at));
            self.copy_the_blue_book(at);
        }
        entries.push(
            Entry::new(day, AO, "herd", vec![Deed::Note])
                .saying("record begins here, the last trims of the blue book to follow"),
        );
        let at = self.clock(20, 10);
        self.hand_in(Desk::Office, at, entries);
    }

    /// What is written of a cow that was there on the first day.
    fn enrol(&mut self, at: usize) -> Vec<Entry> {
        let tag = self.chance.permille(420).then(|| self.tag(at));
        let day = self.day;
        let cow = &self.herd.cows[at];
        let mut deeds =
            vec![Deed::Joined { lactation: Some(cow.lactation), calved: cow.calved }, Deed::Moved(cow.group)];
        deeds.extend(tag);
        let mut entries = vec![Entry::new(day, AO, &cow.number, deeds)];
        if cow.dry {
            entries
                .push(Entry::new(day, AO, &cow.number, vec![Deed::Dried]).saying("was dry before this record began"));
        }
        if let Some(due) = cow.due.filter(|_| cow.due_known) {
            let mut deeds = vec![Deed::CalvingDue(due)];
            if !cow.dry {
                deeds.push(Deed::DryingDue(due - Days::new(DRY_DAYS)));
            }
            entries.push(Entry::new(day, AO, &cow.number, deeds));
        }
        entries
    }

    /// Her last routine trim before the record, typed on the day after from the trimmer's old book.
    fn copy_the_blue_book(&mut self, at: usize) {
        let cow = &self.herd.cows[at];
        let Some(trimmed) = cow.routine else { return };
        let trim = Deed::Trim { kind: TrimKind::Routine, feet: Feet::ALL, measured: None };
        self.late.push((self.day + Days::new(1), Desk::Office, Entry::new(trimmed, KJ, &cow.number, vec![trim])));
    }

    /// Ear number of an invented herd mark, and for newer animals a chip of an unassigned maker.
    fn tag(&mut self, at: usize) -> Deed {
        const HERD_MARK: u64 = 999_417;
        let animal = 1_000 + at as u64;
        let check = (HERD_MARK * 100_000 + animal) % 7 + 1;
        let chip = self.chance.permille(450).then(|| format!("999{:012}", 41_700_000_000 + animal));
        Deed::Tagged { ear: format!("UK{HERD_MARK:06}{check}{animal:05}"), electronic: chip }
    }

    /// Writes down what the day did to the herd, then who comes and who goes.
    pub(crate) fn register(&mut self, events: &[(usize, Event)]) {
        for (at, event) in events {
            self.register_one(*at, *event);
        }
        self.let_go();
        self.take_in();
        if self.is_nth_day(97, 40) {
            self.renumber();
        }
    }

    fn register_one(&mut self, at: usize, event: Event) {
        let day = self.day;
        let place = self.herd.cows[at].place(day);
        let cow = &mut self.herd.cows[at];
        let moved = cow.group != place;
        if event != Event::DuesKnown {
            cow.group = place;
        }
        let mut deeds = match event {
            Event::Calved => vec![Deed::Calved(cow.lactation)],
            Event::Dried => vec![Deed::Dried],
            Event::MovedOn => Vec::new(),
            Event::DuesKnown => {
                let due = cow.due.unwrap_or(day);
                vec![Deed::CalvingDue(due), Deed::DryingDue(due - Days::new(DRY_DAYS))]
            }
        };
        if moved && event != Event::DuesKnown {
            deeds.push(Deed::Moved(place));
        }
        let number = cow.number.clone();
        let words = if event == Event::Calved { self.calving_words() } else { None };
        if !deeds.is_empty() {
            let mut entry = Entry::new(day, AO, number, deeds);
            entry.words = words.map(str::to_owned);
            self.office.push(entry);
        }
    }

    fn calving_words(&mut self) -> Option<&'static str> {
        self.chance.permille(90).then(|| {
            self.chance.pick(&[
                "heifer calf",
                "bull calf",
                "twins, slow to rise",
                "easy",
                "held cleansing",
                "milk fever, up by noon",
            ])
        })
    }

    /// Cows leave: bad feet, empty late in milk, or misfortune.
    fn let_go(&mut self) {
        for at in self.herd.present() {
            if example::is(&self.herd.cows[at]) {
                continue;
            }
            let Some((reason, feet, words)) = self.farewell(at) else { continue };
            let mut entry = Entry::new(self.day, AO, &self.herd.cows[at].number, vec![Deed::Left { reason, feet }]);
            entry.words = words.map(str::to_owned);
            self.office.push(entry);
            self.herd.remove(at, self.day);
        }
    }

    fn farewell(&mut self, at: usize) -> Option<(Departure, bool, Option<&'static str>)> {
        let cow = &self.herd.cows[at];
        let milk = cow.days_in_milk(self.day);
        let hopeless = cow.cases.iter().any(|case| case.chronic && case.treated >= 3);
        let empty = cow.due.is_none() && cow.lactation > 0 && milk > 240;
        if self.chance.in_a_million(45) {
            let words = self.chance.pick(&[
                None,
                Some("toxic mastitis, found down"),
                Some("calving, lost both"),
                Some("bloat"),
            ]);
            return Some((Departure::Died, false, words));
        }
        if hopeless && self.chance.in_a_million(6_500) {
            return Some((Departure::Culled, true, self.chance.pick(&[None, Some("not fit to travel, done on farm")])));
        }
        if empty && self.chance.in_a_million(9_000) {
            let lame = cow.pain() >= 2;
            return Some((Departure::Culled, lame, if lame { None } else { Some("not in calf") }));
        }
        if self.chance.in_a_million(230) && cow.in_milk() {
            let words =
                self.chance.pick(&[None, Some("cell count"), Some("mastitis again"), Some("udder"), Some("old age")]);
            return Some((Departure::Culled, false, words));
        }
        if self.chance.in_a_million(80) {
            return Some((Departure::Sold, false, self.chance.pick(&[None, Some("to a neighbour"), Some("surplus")])));
        }
        self.chance.in_a_million(15).then_some((Departure::Moved, false, Some("to the rearing unit")))
    }

    /// Home-bred heifers shortly before calving, and once in a while a bought cow.
    fn take_in(&mut self) {
        let lacking = self.herd.size.saturating_sub(self.herd.present().len()) as u32;
        if lacking == 0 || !self.chance.permille(60 + 70 * lacking.min(8)) {
            return;
        }
        let number = self.number_for_a_newcomer();
        let day = self.day;
        let mut deeds = Vec::new();
        let mut chance = self.chance.clone();
        let cow = if chance.permille(850) {
            let mut cow = Cow::heifer(number, Some(day + chance.days(12, 40)));
            cow.due_known = true;
            deeds.extend([Deed::Joined { lactation: None, calved: None }, Deed::Moved(PADDOCK)]);
            deeds.extend(cow.due.map(Deed::CalvingDue));
            cow
        } else {
            let mut cow = Cow::heifer(number, None);
            (cow.lactation, cow.calved, cow.group) = (2, Some(day - chance.days(35, 80)), HIGH);
            cow.due = cow.calved.map(|calved| calved + chance.days(365, 420));
            deeds.extend([Deed::Joined { lactation: Some(2), calved: cow.calved }, Deed::Moved(HIGH)]);
            cow
        };
        self.chance = chance;
        let number = cow.number.clone();
        self.herd.cows.push(cow);
        if self.chance.permille(500) {
            deeds.push(self.tag(self.herd.cows.len() - 1));
        }
        self.office.push(Entry::new(day, AO, number, deeds));
    }

    /// Farms give numbers again once the cow that had one is out of mind.
    fn number_for_a_newcomer(&mut self) -> String {
        let day = self.day;
        let old = self.herd.left.iter().position(|(_, left)| days_between(*left, day) > 75);
        match old {
            Some(old) if self.chance.permille(330) => self.herd.left.remove(old).0,
            _ => {
                let mut chance = self.chance.clone();
                let number = self.herd.fresh_number(&mut chance);
                self.chance = chance;
                number
            }
        }
    }

    /// A brand that cannot be read any more is given up for a new number.
    fn renumber(&mut self) {
        let present = self.herd.present();
        let at = self.chance.pick(&present);
        if example::is(&self.herd.cows[at]) {
            return;
        }
        let mut chance = self.chance.clone();
        let number = self.herd.fresh_number(&mut chance);
        self.chance = chance;
        let old = std::mem::replace(&mut self.herd.cows[at].number, number.clone());
        let entry = Entry::new(self.day, AO, old, vec![Deed::Renumbered(number)]);
        self.office.push(entry.saying("brand not readable"));
    }
}
