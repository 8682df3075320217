//! What staff do and notice from day to day.

use chrono::{Datelike, Weekday};
use ledger_format::vocabulary::{BathProduct, Lesion};

use super::farm::{AO, Farm, TB};
use super::remedy::{CASTUREN, Dose, OVELMAR, PEDIREL, Remedy, TAVRISAN};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry};
use crate::life::cow::STRAW;
use crate::life::example;

impl Farm {
    /// Baths, eyes open, lost blocks, medicines, notes.
    pub(crate) fn chores(&mut self) {
        self.bath();
        for at in self.herd.present() {
            self.notice(at);
            self.find_lost_block(at);
            self.cut_off_dressings(at);
            self.lift_by_staff(at);
            self.medicate(at);
            self.nurse(at);
        }
        if self.chance.permille(75) {
            self.jot();
        }
    }

    /// The bath stands at the parlour's exit on Thursdays, while DD is about twice a week.
    fn bath(&mut self) {
        let twice = self.age() < 150 && self.day.weekday() == Weekday::Mon;
        if self.day.weekday() != Weekday::Thu && !twice || self.chance.permille(80) {
            return;
        }
        let (product, percent) = self.chance.weighted(&[
            (50, (BathProduct::Copper, 5)),
            (30, (BathProduct::Formalin, 3)),
            (12, (BathProduct::Zinc, 10)),
            (4, (BathProduct::Peracetic, 1)),
            (2, (BathProduct::Salt, 10)),
            (1, (BathProduct::Iodophor, 2)),
            (1, (BathProduct::Hypochlorite, 1)),
        ]);
        let passes = self.chance.permille(350).then(|| self.chance.pick(&[1, 2, 2]));
        let deed = Deed::Bath { product, percent, passes };
        let subjects: &[&str] = if self.chance.permille(650) { &["herd"] } else { &["group high", "group low"] };
        let by = if self.chance.permille(300) { TB } else { AO };
        for subject in subjects {
            self.office.push(Entry::new(self.day, by, *subject, vec![deed.clone()]));
        }
    }

    /// A lame cow catches the eye between rounds, the worse the sooner.
    fn notice(&mut self, at: usize) {
        let cow = &self.herd.cows[at];
        let waits = cow.listed.is_some_and(|(since, _)| days_between(since, self.day) < 20);
        // Nobody is surprised that she still favours a foot that was treated this week.
        let treated = cow.lifted.is_some_and(|lifted| days_between(lifted, self.day) < 6);
        if waits || treated {
            return;
        }
        // With the months the milkers learn to look at feet.
        let keen = 100 + (self.age().min(300) as u32) / 3;
        let odds = match cow.pain() {
            3 => 1_900,
            2 => 230,
            _ => return,
        };
        let shown = example::is_seen(cow, self.day);
        if !shown && !self.chance.in_a_million(odds * keen) {
            return;
        }
        let value = if shown { 2 } else { self.seen_score(at).max(2) };
        let deed = self.score(at, value);
        let by = if self.chance.permille(350) { TB } else { AO };
        let mut entry = Entry::new(self.day, by, &self.herd.cows[at].number, vec![deed]);
        if self.chance.permille(250) {
            entry.words = Some(self.chance.pick(WHAT_STAFF_SEE).to_owned());
        }
        self.office.push(entry);
        self.list(at, value);
    }

    /// Staff treat foul at once, and give something for the pain of the worst.
    fn medicate(&mut self, at: usize) {
        let day = self.day;
        let cow = &self.herd.cows[at];
        if cow.listed.is_none()
            || cow.overlooked.is_some_and(|until| until > day)
            || cow.medicated.is_some_and(|last| days_between(last, day) < 12)
        {
            return;
        }
        let Some(worst) = cow.worst() else { return };
        let (finding, pain) = (cow.cases[worst].finding, cow.cases[worst].pain);
        let by = if self.chance.permille(300) { TB } else { AO };
        if finding.lesion == Lesion::IP && self.chance.permille(500) {
            let dose = self.dose(&PEDIREL, "foul");
            let number = self.herd.cows[at].number.clone();
            let mut deeds = vec![Deed::Lesion(finding), Deed::Medicine(dose)];
            if self.chance.permille(400) {
                deeds.insert(1, self.recheck(at, finding.foot, 7));
            }
            self.office.push(Entry::new(day, by, number, deeds));
            let cow = &mut self.herd.cows[at];
            (cow.medicated, cow.lifted, cow.listed) = (Some(day), Some(day), None);
            let mut chance = self.chance.clone();
            self.herd.cows[at].cases[worst].treat(day, 400, &mut chance);
            self.chance = chance;
            return;
        }
        let (odds, remedy, reason) = match (pain, finding.lesion) {
            (_, Lesion::DD) => (12, &TAVRISAN, "digital dermatitis"),
            (3, _) => (60, &OVELMAR, "very lame"),
            (2, _) => (6, &OVELMAR, "lame"),
            _ => return,
        };
        if self.chance.permille(odds) {
            let dose = self.dose(remedy, reason);
            self.office.push(Entry::new(day, by, &self.herd.cows[at].number, vec![Deed::Medicine(dose)]));
            self.herd.cows[at].medicated = Some(day);
        }
    }

    /// The batch of the bottle that is open; now and then nobody looks at it.
    pub(crate) fn dose(&mut self, remedy: &'static Remedy, reason: &str) -> Dose {
        self.batches += 1;
        let batch = format!("{}{}", remedy.batch, 2_210 + (self.age() / 45) * 7);
        let amount = self.chance.pick(remedy.doses);
        let batch = (!self.batches.is_multiple_of(40)).then_some(batch);
        Dose { remedy, batch, amount, reason: reason.to_owned() }
    }

    /// Severely lame cows go to the straw yard, and back when they walk again.
    fn nurse(&mut self, at: usize) {
        let day = self.day;
        let cow = &self.herd.cows[at];
        let known = cow.listed.is_some_and(|(_, value)| value == 3);
        if cow.group != STRAW && known && cow.in_milk() && cow.pain() == 3 && self.chance.permille(60) {
            self.herd.cows[at].group = STRAW;
            self.office.push(Entry::new(day, AO, &self.herd.cows[at].number, vec![Deed::Moved(STRAW)]));
        } else if cow.group == STRAW && cow.pain() < 2 && self.chance.permille(120) {
            let back = cow.place(day);
            self.herd.cows[at].group = back;
            self.office.push(Entry::new(day, AO, &self.herd.cows[at].number, vec![Deed::Moved(back)]));
        }
    }

    /// Anything else.
    fn jot(&mut self) {
        let (subject, words) = self.chance.pick(JOTTINGS);
        let by = if self.chance.permille(300) { TB } else { AO };
        self.office.push(Entry::new(self.day, by, subject, vec![Deed::Note]).saying(words));
        if self.chance.permille(120) {
            let present = self.herd.present();
            let at = self.chance.pick(&present);
            let words = self.chance.pick(ABOUT_A_COW);
            self.office.push(Entry::new(self.day, AO, &self.herd.cows[at].number, vec![Deed::Note]).saying(words));
        }
        if self.chance.permille(60) {
            let dose = self.dose(&CASTUREN, "off her feed");
            let present = self.herd.present();
            let at = self.chance.pick(&present);
            self.office.push(Entry::new(self.day, AO, &self.herd.cows[at].number, vec![Deed::Medicine(dose)]));
        }
    }
}

const WHAT_STAFF_SEE: &[&str] = &[
    "last in at both milkings",
    "won't put it down",
    "lies a lot",
    "hopping on the concrete",
    "seen at the gate, not hurried",
    "smells of foul",
    "short on it since yesterday",
];

const JOTTINGS: &[(&str, &str)] = &[
    ("herd", "passage scraper stopped for a day, feet filthy"),
    ("herd", "new rubber by the parlour exit"),
    ("herd", "ice on the track, kept them in"),
    ("herd", "stones on the far track raked off"),
    ("herd", "footbath leaked, half full at the end"),
    ("herd", "turned out by day"),
    ("herd", "housed again"),
    ("group high", "queue at the collecting yard over an hour"),
    ("group high", "fresh sand in the cubicles"),
    ("group low", "moved to the back house"),
    ("group fresh", "two heifers pushed about, given a quiet pen"),
    ("group straw", "bedded up, 3 to 4 days on straw helps most of them"),
    ("group paddock", "gateway deep in mud"),
];

const ABOUT_A_COW: &[&str] = &[
    "kicks in the crush, mind the left side",
    "brand faint, looks like another number",
    "cubicle trainer broken where she lies",
    "don't dry before the vet has seen her",
    "limped after bulling, fine today",
];
