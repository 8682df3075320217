//! What happened, before anybody typed it. Shown, a deed is its canonical act (`spec/line.md` §10).

use std::fmt;

use chrono::{NaiveDate, NaiveTime};
use ledger_format::vocabulary::{
    BathProduct, BlockKind, Claw, Departure, Feet, Foot, Lesion, RecheckFinding, Scale, Stage, TrimKind,
};

use crate::work::remedy::Dose;

/// A lesion as the story knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Finding {
    pub(crate) lesion: Lesion,
    pub(crate) stage: Option<Stage>,
    pub(crate) foot: Foot,
    pub(crate) claw: Option<Claw>,
    pub(crate) zone: Option<u8>,
    pub(crate) grade: Option<u8>,
}

impl Finding {
    /// Whether it is painful and to be looked at again.
    pub(crate) const fn alarms(self) -> bool {
        self.lesion.is_alarm(self.stage, self.grade)
    }
}

/// What a careful trimmer measures on one claw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Measured {
    pub(crate) claw: Claw,
    pub(crate) wall_mm: u32,
    pub(crate) sole_mm: Option<u32>,
    pub(crate) angle_deg: Option<u32>,
}

/// One thing seen or done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Deed {
    Score {
        value: u8,
        half: Option<char>,
        scale: Scale,
        foot: Option<Foot>,
    },
    Tally {
        walked: u32,
        zeros: u32,
        ones: u32,
    },
    Trim {
        kind: TrimKind,
        feet: Feet,
        measured: Option<Measured>,
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
    },
    Dressing {
        on: bool,
        foot: Foot,
    },
    RecheckDue {
        due: NaiveDate,
        foot: Foot,
    },
    RecheckFound {
        found: RecheckFinding,
        foot: Foot,
    },
    Refer(Foot),
    Seen {
        foot: Foot,
        due: Option<NaiveDate>,
    },
    Medicine(Dose),
    Bath {
        product: BathProduct,
        percent: u32,
        passes: Option<u32>,
    },
    Calved(u8),
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
    Renumbered(String),
    Tagged {
        ear: String,
        electronic: Option<String>,
    },
    Moved(&'static str),
    Note,
    Strike(String),
    /// Membership, protocol and witness lines: typed as they are sealed, with placeholders.
    Charter(String),
}

impl Deed {
    /// The foot that it is about, when that is exactly one.
    pub(crate) fn foot(&self) -> Option<Foot> {
        match self {
            Self::Score { foot, .. } => *foot,
            Self::Trim { feet, .. } | Self::NoLesion(feet) => feet.iter().next().filter(|_| feet.count() == 1),
            Self::Lesion(finding) => Some(finding.foot),
            Self::BlockOn { foot, .. }
            | Self::BlockGone { foot, .. }
            | Self::Dressing { foot, .. }
            | Self::RecheckDue { foot, .. }
            | Self::RecheckFound { foot, .. }
            | Self::Refer(foot)
            | Self::Seen { foot, .. } => Some(*foot),
            _ => None,
        }
    }

    /// Its act word.
    pub(crate) fn word(&self) -> String {
        let shown = self.to_string();
        shown.split(' ').next().unwrap_or_default().to_owned()
    }
}

impl fmt::Display for Deed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Score { value, half, scale, foot } => {
                write!(f, "score {value}{}", half.map(String::from).unwrap_or_default())?;
                if *scale != Scale::Mobility {
                    write!(f, " scale {scale}")?;
                }
                and(f, "", *foot)
            }
            Self::Tally { walked, zeros, ones } => write!(f, "tally walked {walked} zeros {zeros} ones {ones}"),
            Self::Trim { kind, feet, measured } => {
                write!(f, "trim {kind} {feet}")?;
                measured.map_or(Ok(()), |measured| write!(f, " {measured}"))
            }
            Self::Lesion(finding) => write!(f, "lesion {finding}"),
            Self::NoLesion(feet) => write!(f, "lesion none {feet}"),
            Self::BlockOn { foot, claw, kind } => {
                write!(f, "block on {foot} {claw}")?;
                and(f, "", *kind)
            }
            Self::BlockGone { lost, foot } => write!(f, "block {} {foot}", if *lost { "lost" } else { "off" }),
            Self::Dressing { on, foot } => write!(f, "dressing {} {foot}", if *on { "on" } else { "off" }),
            Self::RecheckDue { due, foot } => write!(f, "recheck due {due} {foot}"),
            Self::RecheckFound { found, foot } => write!(f, "recheck found {found} {foot}"),
            Self::Refer(foot) => write!(f, "refer {foot}"),
            Self::Seen { foot, due } => {
                write!(f, "seen {foot}")?;
                and(f, "due ", *due)
            }
            Self::Medicine(dose) => write!(f, "medicine {dose}"),
            Self::Bath { product, percent, passes } => {
                write!(f, "bath {product} {percent}%")?;
                and(f, "passes ", *passes)
            }
            other => other.register(f),
        }
    }
}

impl Deed {
    /// The acts of the herd register and of the ledger itself.
    fn register(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Calved(lactation) => write!(f, "calved lactation {lactation}"),
            Self::CalvingDue(due) => write!(f, "calved due {due}"),
            Self::Dried => f.write_str("dried"),
            Self::DryingDue(due) => write!(f, "dried due {due}"),
            Self::Joined { lactation, calved } => {
                f.write_str("joined")?;
                and(f, "lactation ", *lactation)?;
                and(f, "calved ", *calved)
            }
            Self::Left { reason, feet } => write!(f, "left {reason}{}", if *feet { " feet" } else { "" }),
            Self::Renumbered(number) => write!(f, "renumbered to {number}"),
            Self::Tagged { ear, electronic } => {
                write!(f, "tagged ear {ear}")?;
                and(f, "electronic ", electronic.as_ref())
            }
            Self::Moved(group) => write!(f, "moved to {group}"),
            Self::Strike(mark) => write!(f, "strike {mark}"),
            Self::Charter(text) => f.write_str(text),
            _ => f.write_str("note"),
        }
    }
}

/// An optional part after a space.
fn and(f: &mut fmt::Formatter<'_>, lead: &str, value: Option<impl fmt::Display>) -> fmt::Result {
    value.map_or(Ok(()), |value| write!(f, " {lead}{value}"))
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.lesion)?;
        and(f, "", self.stage)?;
        and(f, "", Some(self.foot))?;
        and(f, "", self.claw)?;
        and(f, "zone ", self.zone)?;
        and(f, "grade ", self.grade)
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} wall {}mm", self.claw, self.wall_mm)?;
        if let Some(sole) = self.sole_mm {
            write!(f, " sole {sole}mm")?;
        }
        self.angle_deg.map_or(Ok(()), |angle| write!(f, " angle {angle}deg"))
    }
}

/// What one person means to say of one subject at one time; one typed line, or a part of one.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    pub(crate) day: NaiveDate,
    pub(crate) time: Option<NaiveTime>,
    pub(crate) by: &'static str,
    pub(crate) subject: String,
    pub(crate) deeds: Vec<Deed>,
    pub(crate) replaces: Option<String>,
    /// Free words; they belong to the last deed.
    pub(crate) words: Option<String>,
}

impl Entry {
    pub(crate) fn new(day: NaiveDate, by: &'static str, subject: impl Into<String>, deeds: Vec<Deed>) -> Self {
        Self { day, time: None, by, subject: subject.into(), deeds, replaces: None, words: None }
    }

    #[must_use]
    pub(crate) fn saying(mut self, words: impl Into<String>) -> Self {
        self.words = Some(words.into());
        self
    }

    /// The canonical bodies that are meant, one for each deed.
    pub(crate) fn bodies(&self) -> Vec<String> {
        let time = self.time.map(|time| format!(" {}", time.format("%H:%M"))).unwrap_or_default();
        let last = self.deeds.len().saturating_sub(1);
        let body = |(at, deed): (usize, &Deed)| {
            let replaces = self.replaces.as_ref().map(|mark| format!(" replaces {mark}")).unwrap_or_default();
            let words = self.words.as_ref().filter(|_| at == last).map(|words| format!(": {words}"));
            let (day, subject, by) = (self.day, &self.subject, self.by);
            format!("{day}{time} {subject} {deed}{replaces} by {by}{}", words.unwrap_or_default())
        };
        self.deeds.iter().enumerate().map(body).collect()
    }
}
