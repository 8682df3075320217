//! What the trimmer finds and does on a lame foot, and at a second look.

use chrono::Days;
use ledger_format::vocabulary::{BlockKind, Feet, Foot, Lesion, RecheckFinding, TrimKind};

use super::farm::{AO, Farm, KJ};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry, Measured};
use crate::life::cow::{Block, Cow, Dressing, Due};
use crate::life::example;

impl Farm {
    /// Feet that are due a second look, or carry a block that has done its time.
    pub(crate) fn look_again(&mut self, at: usize) -> Vec<Entry> {
        let day = self.day;
        let cow = &mut self.herd.cows[at];
        let (due, later): (Vec<Due>, Vec<Due>) =
            std::mem::take(&mut cow.rechecks).into_iter().partition(|due| days_between(day, due.day) <= 6);
        cow.rechecks = later;
        let old = |block: &&Block| !block.forgotten && (days_between(day, block.until) <= 1 || block.falls <= day);
        let mut feet: Vec<Foot> = due.iter().map(|due| due.foot).collect();
        feet.extend(cow.blocks.iter().filter(old).map(|block| block.foot));
        feet.sort_unstable();
        feet.dedup();
        feet.into_iter().map(|foot| self.look_at(at, foot, KJ)).collect()
    }

    /// What has become of that foot since it was treated.
    fn look_at(&mut self, at: usize, foot: Foot, by: &'static str) -> Entry {
        let cow = &self.herd.cows[at];
        let case = cow.case_on(foot).map(|case| &cow.cases[case]);
        let found = match case {
            None => RecheckFinding::Sound,
            Some(case) if case.heals.is_some() => RecheckFinding::Better,
            Some(case) if case.pain == 3 => RecheckFinding::Worse,
            Some(_) => RecheckFinding::Same,
        };
        // One that is not at rest is treated in the same go, which sets its own day.
        let will_be_treated = case.is_some_and(|case| !case.is_at_rest(self.day));
        let mut deeds = vec![Deed::RecheckFound { found, foot }];
        let healed = matches!(found, RecheckFinding::Sound | RecheckFinding::Better);
        deeds.extend(self.block_off(at, foot, healed));
        if healed {
            deeds.extend(self.undress(at));
        }
        if healed && by == KJ && self.chance.permille(420) {
            deeds.push(Deed::Trim { kind: TrimKind::Check, feet: Feet::one(foot), measured: None });
            self.herd.cows[at].planned = Some(self.day);
        }
        if found == RecheckFinding::Better && self.chance.permille(200) {
            deeds.push(self.recheck(at, foot, 28));
            self.was_looked_at(at, foot);
        } else if found != RecheckFinding::Sound && !will_be_treated {
            deeds.extend(self.look_later(at, foot));
        } else {
            self.was_looked_at(at, foot);
        }
        Entry::new(self.day, by, &self.herd.cows[at].number, deeds)
    }

    /// A cow sent for being lame although nothing is left to treat: on the mend, or nothing to be seen.
    pub(crate) fn look_at_the_lame(&mut self, at: usize, by: &'static str) -> Entry {
        let mending = self.herd.cows[at].worst().map(|worst| self.herd.cows[at].cases[worst].finding.foot);
        match mending {
            Some(foot) => self.look_at(at, foot, by),
            None => self.find_nothing(at, by),
        }
    }

    /// Every dressing that is still on comes off.
    pub(crate) fn undress(&mut self, at: usize) -> Vec<Deed> {
        let dressings = std::mem::take(&mut self.herd.cows[at].dressings);
        dressings.into_iter().map(|dressing| Deed::Dressing { on: false, foot: dressing.foot }).collect()
    }

    /// The block at a second look: taken off, found gone, or left on.
    fn block_off(&mut self, at: usize, foot: Foot, healed: bool) -> Option<Deed> {
        let day = self.day;
        let cow = &mut self.herd.cows[at];
        let nth = cow.blocks.iter().position(|block| block.foot == foot)?;
        let gone = cow.blocks[nth].falls <= day;
        let old = days_between(day, cow.blocks[nth].until) <= 1;
        if gone {
            cow.blocks.remove(nth);
            return Some(Deed::BlockGone { lost: true, foot });
        }
        // A block put on three weeks ago has done its work on a foot that mends; a newer one stays.
        let done = healed && days_between(cow.blocks[nth].on, day) >= 21;
        (done || old).then(|| {
            cow.blocks.remove(nth);
            Deed::BlockGone { lost: false, foot }
        })
    }

    /// Every painful foot of a cow in the crush.
    pub(crate) fn treat_all(&mut self, at: usize, by: &'static str) -> Vec<Entry> {
        let feet: Vec<Foot> = self.herd.cows[at]
            .cases
            .iter()
            .filter(|case| !case.is_at_rest(self.day))
            .map(|case| case.finding.foot)
            .collect();
        feet.into_iter().filter_map(|foot| self.treat(at, foot, by)).collect()
    }

    fn treat(&mut self, at: usize, foot: Foot, by: &'static str) -> Option<Entry> {
        let nth = self.herd.cows[at].case_on(foot)?;
        let case = self.herd.cows[at].cases[nth].clone();
        let finding = case.finding;
        let mut deeds = vec![Deed::Lesion(finding)];
        if self.chance.permille(90) && finding.claw.is_some() {
            deeds.push(Deed::Lesion(crate::deed::Finding {
                lesion: Lesion::HHE,
                stage: None,
                zone: Some(6),
                grade: Some(1),
                ..finding
            }));
        }
        let measured = self.measure().filter(|_| self.chance.permille(300));
        deeds.push(Deed::Trim { kind: TrimKind::Lame, feet: Feet::one(foot), measured });
        let mut help = 0;
        let shown = case.settled.is_some();
        if case.wants_block() && (shown || self.chance.permille(if by == KJ { 780 } else { 300 })) {
            deeds.extend(self.block_on(at, foot, finding.claw));
            help += 160;
        }
        if self.wants_dressing(finding.lesion, case.pain) {
            deeds.push(self.dress(at, foot));
            help += 120;
        }
        if case.pain >= 2 && (shown || self.chance.permille(480)) {
            let days = if case.pain == 3 || finding.lesion == Lesion::DD { self.chance.pick(&[7, 14, 14]) } else { 28 };
            deeds.push(self.recheck(at, foot, days));
            self.was_looked_at(at, foot);
        } else {
            deeds.extend(self.look_later(at, foot));
        }
        let medicated = self.herd.cows[at].medicated.is_some_and(|last| days_between(last, self.day) < 6);
        // With the months the farm brings them sooner, keeps them on straw, and the trimmer knows their feet.
        help += self.age().min(180) as u32;
        self.herd.cows[at].cases[nth].treat(self.day, help + if medicated { 110 } else { 0 }, &mut self.chance);
        if by == KJ {
            self.tell_the_office(at, &deeds);
        }
        Some(self.hand_over(at, nth, deeds, by))
    }

    /// Refers a foot that is too deep, else leaves a word now and then.
    fn hand_over(&mut self, at: usize, nth: usize, mut deeds: Vec<Deed>, by: &'static str) -> Entry {
        let case = &mut self.herd.cows[at].cases[nth];
        let foot = case.finding.foot;
        let mut words = None;
        if case.is_for_the_vet() && self.chance.permille(750) {
            case.referred = true;
            deeds.push(Deed::Refer(foot));
            self.referrals.push((at, foot));
            words = Some(match case.finding.lesion {
                Lesion::SW => self.chance.pick(&["swollen above the coronet, hot", "hot to the fetlock"]),
                Lesion::TN => self.chance.pick(&["toe soft and black, bone?", "probe goes deep, smells"]),
                _ if case.is_of_skin() => self.chance.pick(&["keeps coming back", "not clearing, too sore to bath"]),
                _ => self.chance.pick(WHY_THE_VET),
            });
        } else if self.chance.permille(140) {
            words = Some(self.chance.pick(if case.is_of_skin() { ON_SKIN } else { IN_HORN }));
        }
        let mut entry = Entry::new(self.day, by, &self.herd.cows[at].number, deeds);
        entry.words = words.map(str::to_owned);
        entry
    }

    /// Staff stand by and write the same lesion into their own ledger.
    fn tell_the_office(&mut self, at: usize, deeds: &[Deed]) {
        if self.chance.permille(35) {
            self.office.push(Entry::new(self.day, AO, &self.herd.cows[at].number, vec![deeds[0].clone()]));
        }
    }

    fn block_on(&mut self, at: usize, foot: Foot, bad: Option<ledger_format::vocabulary::Claw>) -> Vec<Deed> {
        let Some(bad) = bad else { return Vec::new() };
        let mut deeds = Vec::new();
        let cow = &mut self.herd.cows[at];
        if let Some(nth) = cow.blocks.iter().position(|block| block.foot == foot) {
            let lost = cow.blocks.remove(nth).falls <= self.day;
            deeds.push(Deed::BlockGone { lost, foot });
        }
        let kind = self.chance.weighted(&[
            (38, None),
            (36, Some(BlockKind::Wood)),
            (12, Some(BlockKind::Shoe)),
            (8, Some(BlockKind::Rubber)),
            (6, Some(BlockKind::Bio)),
        ]);
        let cow = &mut self.herd.cows[at];
        // The block of the documentation's cow holds.
        let kind = if example::is(cow) { Some(BlockKind::Wood) } else { kind };
        cow.block(foot, kind, self.day, &mut self.chance);
        if example::is(cow) {
            cow.blocks.iter_mut().for_each(|block| block.falls = self.last + Days::new(1));
        }
        deeds.push(Deed::BlockOn { foot, claw: Cow::sound_claw(bad), kind });
        deeds
    }

    /// A dressing goes on; staff cut it off within days, but for the odd one.
    fn dress(&mut self, at: usize, foot: Foot) -> Deed {
        let off = self.day + self.chance.days(2, 5);
        let off = (!self.chance.permille(8)).then_some(off);
        let dressings = &mut self.herd.cows[at].dressings;
        dressings.retain(|dressing| dressing.foot != foot);
        dressings.push(Dressing { foot, off });
        Deed::Dressing { on: true, foot }
    }

    fn wants_dressing(&mut self, lesion: Lesion, pain: u8) -> bool {
        let odds = match lesion {
            Lesion::DD => 620,
            Lesion::SU | Lesion::TU | Lesion::BU | Lesion::TN | Lesion::IH if pain >= 2 => 380,
            _ => 40,
        };
        self.chance.permille(odds)
    }

    /// A second look after so many days, which one in fifty will slip everybody's mind.
    pub(crate) fn recheck(&mut self, at: usize, foot: Foot, days: u64) -> Deed {
        let due = self.day + Days::new(days);
        let forgotten = self.chance.permille(20) && !example::is(&self.herd.cows[at]);
        self.herd.cows[at].rechecks.push(Due { day: due, foot, forgotten });
        Deed::RecheckDue { due, foot }
    }

    /// Lame in the yard, but the foot shows nothing.
    pub(crate) fn find_nothing(&mut self, at: usize, by: &'static str) -> Entry {
        let feet = self.chance.pick(&[Feet::one(Foot::LH), Feet::one(Foot::RH), Feet::HINDS, Feet::HINDS]);
        let deeds = vec![Deed::NoLesion(feet), Deed::Trim { kind: TrimKind::Lame, feet, measured: None }];
        let mut entry = Entry::new(self.day, by, &self.herd.cows[at].number, deeds);
        entry.words = self
            .chance
            .permille(250)
            .then(|| self.chance.pick(&["hip or stifle?", "walked off fine", "hock swollen, not the foot"]).to_owned());
        entry
    }

    /// Measures are taken on one cow in six.
    pub(crate) fn measure(&mut self) -> Option<Measured> {
        self.chance.permille(160).then(|| Measured {
            claw: self.chance.pick(&[ledger_format::vocabulary::Claw::Inner, ledger_format::vocabulary::Claw::Outer]),
            wall_mm: self.chance.between(75, 92),
            sole_mm: self.chance.permille(500).then(|| self.chance.between(5, 8)),
            angle_deg: self.chance.permille(300).then(|| self.chance.between(44, 52)),
        })
    }
}

const WHY_THE_VET: &[&str] = &[
    "probe goes deep, smells",
    "third time on this claw, not healing",
    "pus again from the same hole",
    "can't get a bottom to it",
];

const ON_SKIN: &[&str] = &["raw, sprayed", "same place as last time", "two fingers wide", "wet and sore to touch"];

const IN_HORN: &[&str] = &[
    "runs toward the heel",
    "pus under pressure, opened",
    "undermined, pared back",
    "same place as last time",
    "granulating nicely",
    "stone in the white line",
];
