//! What the trimmer finds and does on a lame foot, and at a second look.

use chrono::Days;
use ledger_format::vocabulary::{BlockKind, Feet, Foot, Lesion, RecheckFinding, TrimKind};

use super::farm::{AO, Farm, KJ};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry, Measured};
use crate::life::cow::{Cow, Due};

impl Farm {
    /// Feet that are due a second look: block and dressing off where they have done their work.
    pub(crate) fn look_again(&mut self, at: usize) -> Vec<Entry> {
        let day = self.day;
        let (due, later) = std::mem::take(&mut self.herd.cows[at].rechecks)
            .into_iter()
            .partition(|due| days_between(day, due.day) <= 6);
        self.herd.cows[at].rechecks = later;
        let due: Vec<Due> = due;
        let mut feet: Vec<Foot> = due.iter().map(|due| due.foot).collect();
        feet.sort_unstable();
        feet.dedup();
        feet.into_iter().map(|foot| self.look_at(at, foot)).collect()
    }

    fn look_at(&mut self, at: usize, foot: Foot) -> Entry {
        let cow = &self.herd.cows[at];
        let case = cow.case_on(foot).map(|case| &cow.cases[case]);
        let found = match case {
            None => RecheckFinding::Sound,
            Some(case) if case.heals.is_some() => RecheckFinding::Better,
            Some(case) if case.pain == 3 => RecheckFinding::Worse,
            Some(_) => RecheckFinding::Same,
        };
        let mut deeds = vec![Deed::RecheckFound { found, foot }];
        let healed = matches!(found, RecheckFinding::Sound | RecheckFinding::Better);
        deeds.extend(self.block_off(at, foot, healed));
        let cow = &mut self.herd.cows[at];
        if cow.dressed == Some(foot) {
            cow.dressed = None;
            deeds.push(Deed::Dressing { on: false, foot });
        }
        if healed && self.chance.permille(420) {
            deeds.push(Deed::Trim { kind: TrimKind::Check, feet: Feet::one(foot), measured: None });
        }
        if found == RecheckFinding::Better && self.chance.permille(380) {
            deeds.push(self.recheck(at, foot, 28));
        }
        Entry::new(self.day, KJ, &self.herd.cows[at].number, deeds)
    }

    /// The block at a second look: taken off, found gone, or left on.
    fn block_off(&mut self, at: usize, foot: Foot, healed: bool) -> Option<Deed> {
        let day = self.day;
        let cow = &mut self.herd.cows[at];
        let nth = cow.blocks.iter().position(|block| block.foot == foot)?;
        let gone = cow.blocks[nth].falls <= day;
        let old = days_between(cow.blocks[nth].on, day) >= 35;
        if gone {
            cow.blocks.remove(nth);
            // A missing block is not always worth a word to somebody with wet hands.
            return self.chance.permille(650).then_some(Deed::BlockGone { lost: true, foot });
        }
        (healed || old).then(|| {
            cow.blocks.remove(nth);
            Deed::BlockGone { lost: false, foot }
        })
    }

    /// Every painful foot of a cow in the crush.
    pub(crate) fn treat_all(&mut self, at: usize) -> Vec<Entry> {
        let feet: Vec<Foot> = self.herd.cows[at]
            .cases
            .iter()
            .filter(|case| !case.is_at_rest(self.day))
            .map(|case| case.finding.foot)
            .collect();
        feet.into_iter().filter_map(|foot| self.treat(at, foot)).collect()
    }

    fn treat(&mut self, at: usize, foot: Foot) -> Option<Entry> {
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
        if case.wants_block() && self.chance.permille(780) {
            deeds.extend(self.block_on(at, foot, finding.claw));
            help += 160;
        }
        if self.wants_dressing(finding.lesion, case.pain) {
            self.herd.cows[at].dressed = Some(foot);
            deeds.push(Deed::Dressing { on: true, foot });
            help += 120;
        }
        if case.pain >= 2 && self.chance.permille(800) {
            let days = if case.pain == 3 || finding.lesion == Lesion::DD { self.chance.pick(&[7, 14]) } else { 28 };
            deeds.push(self.recheck(at, foot, days));
        }
        let medicated = self.herd.cows[at].medicated.is_some_and(|last| days_between(last, self.day) < 6);
        self.herd.cows[at].cases[nth].treat(self.day, help + if medicated { 110 } else { 0 }, &mut self.chance);
        self.tell_the_office(at, &deeds);
        Some(self.hand_over(at, nth, deeds))
    }

    /// Refers a foot that is too deep, else leaves a word now and then.
    fn hand_over(&mut self, at: usize, nth: usize, mut deeds: Vec<Deed>) -> Entry {
        let case = &mut self.herd.cows[at].cases[nth];
        let foot = case.finding.foot;
        let mut words = None;
        if case.is_for_the_vet() && self.chance.permille(600) {
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
        let mut entry = Entry::new(self.day, KJ, &self.herd.cows[at].number, deeds);
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
        self.herd.cows[at].block(foot, kind, self.day, &mut self.chance);
        deeds.push(Deed::BlockOn { foot, claw: Cow::sound_claw(bad), kind });
        deeds
    }

    fn wants_dressing(&mut self, lesion: Lesion, pain: u8) -> bool {
        let odds = match lesion {
            Lesion::DD => 620,
            Lesion::SU | Lesion::TU | Lesion::BU | Lesion::TN | Lesion::IH if pain >= 2 => 380,
            _ => 40,
        };
        self.chance.permille(odds)
    }

    /// A second look after so many days, which one in eight will slip everybody's mind.
    fn recheck(&mut self, at: usize, foot: Foot, days: u64) -> Deed {
        let due = self.day + Days::new(days);
        let forgotten = self.chance.permille(130);
        self.herd.cows[at].rechecks.push(Due { day: due, foot, forgotten });
        Deed::RecheckDue { due, foot }
    }

    /// Lame in the yard, but the foot shows nothing.
    pub(crate) fn find_nothing(&mut self, at: usize) -> Entry {
        let feet = self.chance.pick(&[Feet::one(Foot::LH), Feet::one(Foot::RH), Feet::HINDS, Feet::HINDS]);
        let deeds = vec![Deed::NoLesion(feet), Deed::Trim { kind: TrimKind::Lame, feet, measured: None }];
        let mut entry = Entry::new(self.day, KJ, &self.herd.cows[at].number, deeds);
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
