//! What an entry does to a cow, without its words: small, and independent of the text it was read from.

use chrono::NaiveDate;

use crate::line::{Act, CowNumber, Finding, Hold, Score};
use crate::vocabulary::{ActWord, BlockKind, Claw, Departure, Feet, Foot, RecheckFinding, TrimKind};

/// An act as the fold needs it. What it leaves out (names, products, words) is read again from the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each variant is an act of line.md §10, each field a word of it")]
pub enum Event {
    Score(Score),
    Trim {
        kind: TrimKind,
        feet: Feet,
    },
    Lesion(Finding),
    NoLesion(Feet),
    BlockOn {
        foot: Foot,
        claw: Claw,
        kind: Option<BlockKind>,
    },
    BlockGone {
        lost: bool,
        foot: Foot,
        claw: Option<Claw>,
    },
    DressingOn(Foot),
    DressingOff(Foot),
    RecheckDue {
        due: NaiveDate,
        foot: Option<Foot>,
    },
    RecheckFound {
        found: RecheckFinding,
        foot: Option<Foot>,
    },
    Refer(Option<Foot>),
    Seen {
        foot: Option<Foot>,
        due: Option<NaiveDate>,
    },
    Medicine {
        milk: Hold,
        meat: Hold,
    },
    Calved(Option<u8>),
    CalvingDue(NaiveDate),
    Dried,
    DryingDue(NaiveDate),
    Joined {
        lactation: Option<u8>,
        calved: Option<NaiveDate>,
    },
    Left {
        reason: Departure,
        feet: bool,
    },
    Renumbered(CowNumber),
    /// Tags, a group, words, a strike: read again where they matter.
    Other(ActWord),
}

impl From<&Act<'_>> for Event {
    fn from(act: &Act<'_>) -> Self {
        match *act {
            Act::Score(score) => Self::Score(score),
            Act::Trim(trim) => Self::Trim { kind: trim.kind, feet: trim.feet },
            Act::Lesion(finding) => Self::Lesion(finding),
            Act::NoLesion(feet) => Self::NoLesion(feet),
            Act::BlockOn { foot, claw, kind } => Self::BlockOn { foot, claw, kind },
            Act::BlockGone { lost, foot, claw } => Self::BlockGone { lost, foot, claw },
            Act::DressingOn(foot) => Self::DressingOn(foot),
            Act::DressingOff(foot) => Self::DressingOff(foot),
            Act::RecheckDue { due, foot } => Self::RecheckDue { due, foot },
            Act::RecheckFound { found, foot } => Self::RecheckFound { found, foot },
            Act::Refer { foot } => Self::Refer(foot),
            Act::Seen { foot, due } => Self::Seen { foot, due },
            Act::Medicine(medicine) => Self::Medicine { milk: medicine.milk, meat: medicine.meat },
            Act::Calved { lactation } => Self::Calved(lactation),
            Act::CalvingDue(due) => Self::CalvingDue(due),
            Act::Dried => Self::Dried,
            Act::DryingDue(due) => Self::DryingDue(due),
            Act::Joined { lactation, calved } => Self::Joined { lactation, calved },
            Act::Left { reason, feet } => Self::Left { reason, feet },
            Act::Renumbered(number) => Self::Renumbered(number),
            _ => Self::Other(act.word()),
        }
    }
}

impl Event {
    /// What is left when details that two people may note differently are left out (`merge.md` §4);
    /// nothing for acts that are only words.
    pub(crate) fn thing(self) -> Option<Self> {
        match self {
            Self::Lesion(finding) => Some(Self::Lesion(Finding { stage: None, zone: None, grade: None, ..finding })),
            Self::BlockOn { foot, claw, .. } => Some(Self::BlockOn { foot, claw, kind: None }),
            Self::Refer(_) | Self::Other(ActWord::Note | ActWord::Strike) => None,
            event => Some(event),
        }
    }
}
