//! The one spelling (`line.md` §10): the inverse of `read`.

use std::fmt::{Display, Formatter, Result};

use super::{Act, Bath, Finding, Line, Medicine, Reference, Score, Tally, Trim, date_text};
use crate::vocabulary::Scale;

impl Display for Line<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "{} {} {}", self.observed, self.subject, self.act)?;
        if let Some(reference) = self.replaces {
            write!(f, " replaces {reference}")?;
        }
        write!(f, " by {}", self.by)?;
        after(f, ": ", self.words)
    }
}

impl Display for Reference<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "{}", self.mark)?;
        after(f, " of ", self.device)
    }
}

impl Display for Act<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match *self {
            Self::Score(ref score) => score.fmt(f),
            Self::Tally(ref tally) => tally.fmt(f),
            Self::Trim(ref trim) => trim.fmt(f),
            Self::Lesion(ref finding) => finding.fmt(f),
            Self::NoLesion(feet) => write!(f, "lesion none {feet}"),
            Self::BlockOn { foot, claw, kind } => {
                write!(f, "block on {foot} {claw}")?;
                after(f, " ", kind)
            }
            Self::BlockGone { lost, foot, claw } => {
                write!(f, "block {} {foot}", if lost { "lost" } else { "off" })?;
                after(f, " ", claw)
            }
            Self::DressingOn(foot) => write!(f, "dressing on {foot}"),
            Self::DressingOff(foot) => write!(f, "dressing off {foot}"),
            Self::RecheckDue { due, foot } => {
                write!(f, "recheck due {}", date_text(due))?;
                after(f, " ", foot)
            }
            Self::RecheckFound { found, foot } => {
                write!(f, "recheck found {found}")?;
                after(f, " ", foot)
            }
            Self::Refer { foot } => {
                f.write_str("refer")?;
                after(f, " ", foot)
            }
            Self::Seen { foot, due } => {
                f.write_str("seen")?;
                after(f, " ", foot)?;
                after(f, " due ", due.map(date_text))
            }
            Self::Medicine(ref medicine) => medicine.fmt(f),
            Self::Bath(ref bath) => bath.fmt(f),
            Self::Calved { lactation } => {
                f.write_str("calved")?;
                after(f, " lactation ", lactation)
            }
            Self::CalvingDue(due) => write!(f, "calved due {}", date_text(due)),
            Self::Dried => f.write_str("dried"),
            Self::DryingDue(due) => write!(f, "dried due {}", date_text(due)),
            Self::Joined { lactation, calved } => {
                f.write_str("joined")?;
                after(f, " lactation ", lactation)?;
                after(f, " calved ", calved.map(date_text))
            }
            Self::Left { reason, feet } => {
                write!(f, "left {reason}")?;
                if feet { f.write_str(" feet") } else { Ok(()) }
            }
            Self::Renumbered(number) => write!(f, "renumbered to {number}"),
            Self::Tagged { ear, electronic } => {
                f.write_str("tagged")?;
                after(f, " ear ", ear.map(super::EarTag::as_str))?;
                after(f, " electronic ", electronic.map(super::Electronic::as_str))
            }
            Self::Moved(group) => write!(f, "moved to {group}"),
            Self::Note => f.write_str("note"),
            Self::Strike(reference) => write!(f, "strike {reference}"),
            Self::Admit { device, key, capacity } => write!(f, "admit {device} key {key} as {capacity}"),
            Self::Revoke { device, after } => write!(f, "revoke {device} after {after}"),
            Self::Adopt(protocol) => write!(f, "adopt {protocol}"),
            Self::Witness { device, year, length, mark } => {
                write!(f, "witness {device} {year:04} length {length} mark {mark}")
            }
        }
    }
}

impl Display for Score {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "score {}", self.value)?;
        after(f, "", self.half)?;
        scale(f, self.scale)?;
        after(f, " ", self.foot)
    }
}

impl Display for Tally {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "tally walked {}", self.walked)?;
        after(f, " zeros ", self.zeros)?;
        after(f, " ones ", self.ones)?;
        scale(f, self.scale)
    }
}

impl Display for Trim {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "trim {} {}", self.kind, self.feet)?;
        after(f, " ", self.claw)?;
        if let Some(wall) = self.wall_mm {
            write!(f, " wall {wall}mm")?;
        }
        if let Some(sole) = self.sole_mm {
            write!(f, " sole {sole}mm")?;
        }
        if let Some(angle) = self.angle_deg {
            write!(f, " angle {angle}deg")?;
        }
        Ok(())
    }
}

impl Display for Finding {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "lesion {}", self.lesion)?;
        after(f, " ", self.stage)?;
        write!(f, " {}", self.foot)?;
        after(f, " ", self.claw)?;
        after(f, " zone ", self.zone)?;
        after(f, " grade ", self.grade)
    }
}

impl Display for Medicine<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "medicine \"{}\"", self.product)?;
        if let Some(batch) = self.batch {
            write!(f, " batch \"{batch}\"")?;
        }
        write!(f, " dose {} {}", self.dose, self.unit)?;
        after(f, " route ", self.route)?;
        if let Some(reason) = self.reason {
            write!(f, " for \"{reason}\"")?;
        }
        write!(f, " milk {} meat {}", self.milk, self.meat)
    }
}

impl Display for Bath {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        write!(f, "bath {}", self.product)?;
        if let Some(percent) = self.percent {
            write!(f, " {percent}%")?;
        }
        after(f, " passes ", self.passes)
    }
}

fn scale(f: &mut Formatter<'_>, scale: Scale) -> Result {
    after(f, " scale ", Some(scale).filter(|scale| *scale != Scale::Mobility))
}

/// A part that may be there, after the word that announces it.
fn after(f: &mut Formatter<'_>, lead: &str, part: Option<impl Display>) -> Result {
    match part {
        Some(part) => write!(f, "{lead}{part}"),
        None => Ok(()),
    }
}
