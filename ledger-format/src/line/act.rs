//! What was seen or done (`line.md` §10).

use chrono::NaiveDate;

use super::{CowNumber, Decimal, EarTag, Electronic, Hold, Mark};
use crate::vocabulary::{
    ActWord, BathProduct, BlockKind, Capacity, Claw, Departure, DoseUnit, Feet, Foot, Half, Lesion, RecheckFinding,
    Route, Scale, Stage, TrimKind,
};

/// A line named by its mark, in its own device's ledger or in another's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Reference<'a> {
    /// The mark.
    pub mark: Mark,
    /// The device, when it is not the writing one.
    pub device: Option<&'a str>,
}

/// A mobility score.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Score {
    /// The value on its scale.
    pub value: u8,
    /// The finer half, if given.
    pub half: Option<Half>,
    /// The scale.
    pub scale: Scale,
    /// The leg suspected.
    pub foot: Option<Foot>,
}

impl Score {
    /// Whether this score means lame on its own scale.
    pub fn is_lame(self) -> bool {
        self.value >= self.scale.lame_from()
    }

    /// Whether it means severely lame on its own scale.
    pub fn is_severe(self) -> bool {
        self.value >= self.scale.severe_from()
    }
}

/// A scoring round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tally {
    /// Cows that walked past.
    pub walked: u32,
    /// Of them, scored 0.
    pub zeros: Option<u32>,
    /// Of them, scored 1.
    pub ones: Option<u32>,
    /// The scale.
    pub scale: Scale,
}

/// Feet trimmed, and what was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Trim {
    /// Why.
    pub kind: TrimKind,
    /// Which feet.
    pub feet: Feet,
    /// The claw measured.
    pub claw: Option<Claw>,
    /// Dorsal wall length, mm.
    pub wall_mm: Option<u8>,
    /// Sole thickness at the toe, mm.
    pub sole_mm: Option<Decimal>,
    /// Toe angle, degrees.
    pub angle_deg: Option<u8>,
}

/// A lesion found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Finding {
    /// Its code.
    pub lesion: Lesion,
    /// Stage, of digital dermatitis only.
    pub stage: Option<Stage>,
    /// The foot.
    pub foot: Foot,
    /// The claw, where it sits on one.
    pub claw: Option<Claw>,
    /// Foot zone 0 to 12.
    pub zone: Option<u8>,
    /// 1 mild, 2 moderate, 3 severe.
    pub grade: Option<u8>,
}

/// A medicine given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Medicine<'a> {
    /// Product name.
    pub product: &'a str,
    /// Batch number.
    pub batch: Option<&'a str>,
    /// Amount.
    pub dose: Decimal,
    /// Its unit.
    pub unit: DoseUnit,
    /// How it was given.
    pub route: Option<Route>,
    /// Why.
    pub reason: Option<&'a str>,
    /// Milk held back.
    pub milk: Hold,
    /// Meat held back.
    pub meat: Hold,
}

/// A footbath.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Bath {
    /// What was in it.
    pub product: BathProduct,
    /// Strength in percent.
    pub percent: Option<Decimal>,
    /// How often they walked through.
    pub passes: Option<u8>,
}

/// What a line says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each variant is an act of line.md §10, each field a word of it")]
pub enum Act<'a> {
    Score(Score),
    Tally(Tally),
    Trim(Trim),
    Lesion(Finding),
    NoLesion(Feet),
    BlockOn { foot: Foot, claw: Claw, kind: Option<BlockKind> },
    BlockGone { lost: bool, foot: Foot, claw: Option<Claw> },
    DressingOn(Foot),
    DressingOff(Foot),
    RecheckDue { due: NaiveDate, foot: Option<Foot> },
    RecheckFound { found: RecheckFinding, foot: Option<Foot> },
    Refer { foot: Option<Foot> },
    Seen { foot: Option<Foot>, due: Option<NaiveDate> },
    Medicine(Medicine<'a>),
    Bath(Bath),
    Calved { lactation: Option<u8> },
    CalvingDue(NaiveDate),
    Dried,
    DryingDue(NaiveDate),
    Joined { lactation: Option<u8>, calved: Option<NaiveDate> },
    Left { reason: Departure, feet: bool },
    Renumbered(CowNumber),
    Tagged { ear: Option<EarTag<'a>>, electronic: Option<Electronic<'a>> },
    Moved(&'a str),
    Note,
    Strike(Reference<'a>),
    Admit { device: &'a str, key: &'a str, capacity: Capacity },
    Revoke { device: &'a str, after: &'a str },
    Adopt(&'a str),
    Witness { device: &'a str, year: u16, length: u32, mark: &'a str },
}

/// What an act may be about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum About {
    Cow,
    Many,
    Herd,
    Any,
}

impl Act<'_> {
    /// The word that begins it.
    pub fn word(&self) -> ActWord {
        match self {
            Self::Score(_) => ActWord::Score,
            Self::Tally(_) => ActWord::Tally,
            Self::Trim(_) => ActWord::Trim,
            Self::Lesion(_) | Self::NoLesion(_) => ActWord::Lesion,
            Self::BlockOn { .. } | Self::BlockGone { .. } => ActWord::Block,
            Self::DressingOn(_) | Self::DressingOff(_) => ActWord::Dressing,
            Self::RecheckDue { .. } | Self::RecheckFound { .. } => ActWord::Recheck,
            Self::Refer { .. } => ActWord::Refer,
            Self::Seen { .. } => ActWord::Seen,
            Self::Medicine(_) => ActWord::Medicine,
            Self::Bath(_) => ActWord::Bath,
            Self::Calved { .. } | Self::CalvingDue(_) => ActWord::Calved,
            Self::Dried | Self::DryingDue(_) => ActWord::Dried,
            Self::Joined { .. } => ActWord::Joined,
            Self::Left { .. } => ActWord::Left,
            Self::Renumbered(_) => ActWord::Renumbered,
            Self::Tagged { .. } => ActWord::Tagged,
            Self::Moved(_) => ActWord::Moved,
            Self::Note => ActWord::Note,
            Self::Strike(_) => ActWord::Strike,
            Self::Admit { .. } => ActWord::Admit,
            Self::Revoke { .. } => ActWord::Revoke,
            Self::Adopt(_) => ActWord::Adopt,
            Self::Witness { .. } => ActWord::Witness,
        }
    }

    /// Whether it cannot stand without words.
    pub fn needs_words(&self) -> bool {
        matches!(self, Self::Refer { .. } | Self::Note | Self::Strike(_))
    }
}

impl ActWord {
    /// What this act may be about.
    pub(crate) const fn about(self) -> About {
        match self {
            Self::Tally | Self::Bath => About::Many,
            Self::Note | Self::Strike => About::Any,
            Self::Admit | Self::Revoke | Self::Adopt | Self::Witness => About::Herd,
            _ => About::Cow,
        }
    }
}
