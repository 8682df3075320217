//! One foot going wrong: which lesion, where, how lame it makes her, and how it goes on.

use chrono::{Days, NaiveDate};
use ledger_format::vocabulary::{Claw, Foot, Lesion, Stage};

use crate::calendar::days_between;
use crate::chance::Chance;
use crate::deed::Finding;

/// A lesion that hurts, from its beginning to its end.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) finding: Finding,
    /// 1 uneven, 2 lame, 3 severely lame.
    pub(crate) pain: u8,
    pub(crate) since: NaiveDate,
    /// The day it will be over, once it has been treated with success.
    pub(crate) heals: Option<NaiveDate>,
    /// The day it stops laming on the way there.
    pub(crate) eases: Option<NaiveDate>,
    /// When it was treated last.
    pub(crate) last: Option<NaiveDate>,
    /// How often it was treated.
    pub(crate) treated: u8,
    /// Will not heal in this story.
    pub(crate) chronic: bool,
    /// Handed to the vet.
    pub(crate) referred: bool,
    /// How many treatments it takes, where the story has settled that beforehand.
    pub(crate) settled: Option<u8>,
}

/// How often each lesion lames, of a thousand; after common mixes of horn and skin lesions in housed herds.
const LAMING: &[(u32, Lesion)] = &[
    (185, Lesion::SU),
    (130, Lesion::WLA),
    (95, Lesion::WLF),
    (230, Lesion::DD),
    (75, Lesion::IP),
    (30, Lesion::TU),
    (15, Lesion::TN),
    (45, Lesion::SHC),
    (35, Lesion::SHD),
    (20, Lesion::SH),
    (35, Lesion::IH),
    (30, Lesion::BU),
    (20, Lesion::TS),
    (20, Lesion::SW),
    (10, Lesion::HFV),
    (10, Lesion::HFA),
    (15, Lesion::U),
    (15, Lesion::WL),
];

/// What a trimmer notes on cows that walk well.
const MINOR: &[(u32, Lesion)] = &[
    (220, Lesion::HHE),
    (170, Lesion::DD),
    (150, Lesion::SHD),
    (70, Lesion::SHC),
    (90, Lesion::WLF),
    (40, Lesion::IH),
    (35, Lesion::CC),
    (25, Lesion::HFH),
    (25, Lesion::HFV),
    (45, Lesion::ID),
    (20, Lesion::DS),
    (20, Lesion::AC),
    (15, Lesion::CD),
    (10, Lesion::SC),
    (10, Lesion::HF),
];

/// Permille of treatments that turn an old lesion of a claw, before all that helps.
const HOPE: u32 = 320;

/// Hind feet carry most of the trouble.
const FEET: &[(u32, Foot)] = &[(6, Foot::LF), (6, Foot::RF), (43, Foot::LH), (45, Foot::RH)];

impl Case {
    /// A new painful lesion. One cow has at most one case on a foot.
    pub(crate) fn begin(day: NaiveDate, chance: &mut Chance) -> Self {
        let lesion = chance.weighted(LAMING);
        let foot = chance.weighted(FEET);
        let pain = match lesion {
            Lesion::IP | Lesion::TN => chance.pick(&[2, 2, 3]),
            Lesion::WLA | Lesion::SU | Lesion::SW => chance.pick(&[1, 2, 2, 2, 2, 2, 3]),
            Lesion::DD | Lesion::SH | Lesion::SHD | Lesion::IH => chance.pick(&[1, 1, 2, 2]),
            _ => chance.pick(&[1, 2, 2, 2]),
        };
        let finding = Finding {
            lesion,
            stage: (lesion == Lesion::DD)
                .then(|| chance.weighted(&[(80, Stage::M2), (12, Stage::M4_1), (8, Stage::M1)])),
            foot,
            claw: claw(lesion, foot, chance),
            zone: zone(lesion, chance),
            grade: Some(if pain == 3 { 3 } else { pain.max(chance.pick(&[1, 2])) }),
        };
        Self::of(finding, pain, day)
    }

    /// This painful lesion from that day on.
    pub(crate) fn of(finding: Finding, pain: u8, day: NaiveDate) -> Self {
        Self {
            finding,
            pain,
            since: day,
            heals: None,
            eases: None,
            last: None,
            treated: 0,
            chronic: false,
            referred: false,
            settled: None,
        }
    }

    /// One day goes by. Says whether the case is over.
    pub(crate) fn live(&mut self, day: NaiveDate, chance: &mut Chance) -> bool {
        if let Some(heals) = self.heals {
            if self.eases.is_some_and(|eases| eases <= day) {
                self.pain = self.pain.min(1);
            }
            return heals <= day;
        }
        let (better, worse) = match self.pain {
            _ if !self.may_last() => (60_000, 2_000),
            1 => (14_000, 9_000),
            2 => (5_000, 1_500),
            _ => (2_000, 0),
        };
        if self.chronic {
            // A chronic foot has better and worse weeks, but no end.
            if chance.in_a_million(20_000) {
                self.pain = chance.pick(&[1, 2, 2, 2, 3]);
            }
            return false;
        }
        if chance.in_a_million(worse) {
            self.pain += 1;
        }
        if chance.in_a_million(better) {
            self.pain -= 1;
        }
        self.pain == 0
    }

    /// Somebody treats it. `help` permille is what the treatment adds to the foot's own chance.
    pub(crate) fn treat(&mut self, day: NaiveDate, help: u32, chance: &mut Chance) {
        self.treated += 1;
        self.last = Some(day);
        let fresh = if days_between(self.since, day) < 21 { 150 } else { 0 };
        let worn = 130 * u32::from(self.treated - 1);
        let acute = if self.may_last() { 0 } else { 300 };
        let hope = (HOPE + help + fresh + acute).saturating_sub(worn);
        if let Some(needed) = self.settled {
            if self.treated >= needed {
                self.turn(day, chance);
            }
        } else if self.chronic || self.finding.lesion == Lesion::TN && chance.permille(600) {
            self.chronic = true;
        } else if chance.permille(hope) {
            self.turn(day, chance);
        } else if self.treated >= 3 && self.may_last() && chance.permille(450) {
            self.chronic = true;
        }
    }

    /// It is on the mend: within days she walks better, within weeks it is over.
    pub(crate) fn turn(&mut self, day: NaiveDate, chance: &mut Chance) {
        let quick = matches!(self.finding.lesion, Lesion::IP | Lesion::DD);
        let eases = match self.pain {
            _ if self.settled.is_some() => day + Days::new(4),
            3 => day + chance.days(4, 10),
            _ => day + chance.days(2, 8),
        };
        self.chronic = false;
        self.eases = Some(eases);
        self.heals = Some(eases + if quick { chance.days(4, 10) } else { chance.days(8, 26) });
    }

    /// Foul comes and goes quickly; the others can stay for good.
    pub(crate) fn may_last(&self) -> bool {
        self.finding.lesion != Lesion::IP
    }

    /// On the skin, where there is no horn to open or to block.
    pub(crate) fn is_of_skin(&self) -> bool {
        matches!(self.finding.lesion, Lesion::DD | Lesion::IP | Lesion::IH)
    }

    /// Treated so lately that it is left alone.
    pub(crate) fn is_at_rest(&self, day: NaiveDate) -> bool {
        self.heals.is_some() || self.last.is_some_and(|last| days_between(last, day) < 12)
    }

    /// Deep enough that it is no longer the trimmer's to treat alone.
    pub(crate) fn is_for_the_vet(&self) -> bool {
        let deep = matches!(self.finding.lesion, Lesion::TN | Lesion::SW);
        !self.referred && (deep && self.pain >= 2 || self.treated >= 3 && self.heals.is_none())
    }

    /// Horn lesions on one claw are relieved by a block on the other.
    pub(crate) fn wants_block(&self) -> bool {
        use Lesion::{BU, HFA, SU, TN, TU, U, WL, WLA, WLF};
        self.finding.claw.is_some()
            && self.pain >= 2
            && matches!(self.finding.lesion, SU | BU | TU | TN | U | WL | WLA | WLF | HFA)
    }
}

/// What a trim of a sound cow may bring to light.
pub(crate) fn minor(foot: Foot, chance: &mut Chance) -> Finding {
    let lesion = chance.weighted(MINOR);
    Finding {
        lesion,
        stage: (lesion == Lesion::DD)
            .then(|| chance.weighted(&[(70, Stage::M4), (12, Stage::M3), (10, Stage::M1), (8, Stage::M0)])),
        foot,
        claw: claw(lesion, foot, chance),
        zone: zone(lesion, chance).filter(|_| chance.permille(700)),
        grade: chance.permille(600).then(|| chance.weighted(&[(8, 1), (2, 2)])),
    }
}

/// The outer claw behind, more often the inner one in front.
fn claw(lesion: Lesion, foot: Foot, chance: &mut Chance) -> Option<Claw> {
    if lesion.level() == ledger_format::vocabulary::Level::Foot {
        return None;
    }
    let usual = if matches!(foot, Foot::LH | Foot::RH) { Claw::Outer } else { Claw::Inner };
    Some(if chance.permille(820) { usual } else { usual.other() })
}

fn zone(lesion: Lesion, chance: &mut Chance) -> Option<u8> {
    let zones: &[(u32, u8)] = match lesion {
        Lesion::SU | Lesion::U => &[(85, 4), (10, 5), (5, 6)],
        Lesion::WL | Lesion::WLA | Lesion::WLF => &[(62, 3), (28, 2), (10, 1)],
        Lesion::DD => &[(85, 10), (10, 0), (5, 9)],
        Lesion::SH | Lesion::SHC => &[(60, 4), (25, 5), (15, 6)],
        Lesion::TU | Lesion::TN => &[(70, 1), (30, 5)],
        Lesion::HFV => &[(50, 7), (50, 8)],
        Lesion::HFA => &[(50, 11), (50, 12)],
        Lesion::TS => &[(60, 4), (40, 5)],
        Lesion::HHE | Lesion::BU => &[(1, 6)],
        Lesion::IH | Lesion::IP | Lesion::ID => &[(1, 0)],
        _ => return None,
    };
    // Once in a while a lesion sits where the maps do not expect it.
    Some(if chance.permille(6) { chance.between(1, 6) as u8 } else { chance.weighted(zones) })
}
