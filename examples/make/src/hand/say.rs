//! One deed in a person's own words: what was seen on feet and done to them.

use chrono::NaiveDate;
use ledger_format::vocabulary::{DoseUnit, Feet, Foot, Lesion, Scale, Stage, TrimKind};

use super::{Hand, SoFar};
use crate::calendar::days_between;
use crate::chance::Chance;
use crate::deed::{Deed, Finding, Measured};
use crate::work::remedy::Dose;

impl Hand {
    /// One part of a line, between commas.
    pub(super) fn deed(&self, deed: &Deed, day: NaiveDate, so_far: &SoFar, chance: &mut Chance) -> String {
        match deed {
            Deed::Score { value, half, scale, foot } => self.score(*value, *half, *scale, *foot, chance),
            Deed::Tally { walked, zeros, ones } => self.tally(*walked, *zeros, *ones, chance),
            Deed::Trim { kind, feet, measured } => self.trim(*kind, *feet, *measured, so_far, chance),
            Deed::Lesion(finding) => self.lesion(*finding, so_far, chance),
            Deed::NoLesion(feet) => format!("{} {}", chance.pick(self.no_lesion), self.feet(*feet, chance)),
            Deed::BlockOn { foot, claw, kind } => {
                let on = if chance.permille(self.brief) { "" } else { " on" };
                let foot = self.carried(*foot, so_far, chance);
                let claw = self.claw(*claw, chance);
                let kind = kind.map(|kind| format!(" {kind}")).unwrap_or_default();
                format!("{}{on}{foot} {claw}{kind}", chance.pick(self.block))
            }
            Deed::BlockGone { lost, foot } => {
                let how = chance.pick(if *lost { self.block_lost } else { self.block_off });
                format!("{} {how}{}", chance.pick(self.block), self.carried(*foot, so_far, chance))
            }
            Deed::Dressing { on, foot } => {
                let how = if *on { "on" } else { "off" };
                format!("{} {how}{}", chance.pick(self.dressing), self.carried(*foot, so_far, chance))
            }
            Deed::RecheckDue { due, foot } => {
                let when = when(*due, day, chance);
                format!("{} {when}{}", chance.pick(self.recheck), self.carried(*foot, so_far, chance))
            }
            Deed::RecheckFound { found, foot } => {
                let how = chance.pick(self.found[*found as usize]);
                format!("{} {how}{}", chance.pick(self.recheck), self.carried(*foot, so_far, chance))
            }
            Deed::Refer(foot) => format!("{}{}", chance.pick(self.refer), self.carried(*foot, so_far, chance)),
            Deed::Seen { foot, due } => {
                let due = due.map(|due| format!(" due {due}")).unwrap_or_default();
                format!("{} {}{due}", chance.pick(self.seen), self.foot(*foot, chance))
            }
            Deed::Medicine(dose) => self.medicine(dose, chance),
            other => self.register(other, chance),
        }
    }

    fn score(&self, value: u8, half: Option<char>, scale: Scale, foot: Option<Foot>, chance: &mut Chance) -> String {
        let half = half.map(String::from).unwrap_or_default();
        let foot = foot.map(|foot| format!(" {}", self.foot(foot, chance))).unwrap_or_default();
        if scale != Scale::Mobility {
            return format!("score {value} scale {scale}{foot}");
        }
        let word = chance.pick(self.score);
        let space = if word.is_empty() { "" } else { " " };
        format!("{word}{space}{value}{half}{foot}")
    }

    fn tally(&self, walked: u32, zeros: u32, ones: u32, chance: &mut Chance) -> String {
        let word = chance.pick(self.tally);
        match chance.below(3) {
            0 => format!("{word} {walked}, zeros {zeros}, ones {ones}"),
            1 => format!("{word} {walked} 0s {zeros} 1s {ones}"),
            _ => format!("{word} walked {walked} zeros {zeros} ones {ones}"),
        }
    }

    fn trim(
        &self,
        kind: TrimKind,
        feet: Feet,
        measured: Option<Measured>,
        so_far: &SoFar,
        chance: &mut Chance,
    ) -> String {
        let word = chance.pick(self.trim);
        // Without a kind it is read as lame beside a lesion, and as routine on a line of its own.
        let clear = match kind {
            TrimKind::Lame => so_far.lesion,
            TrimKind::Routine => so_far.alone && measured.is_none(),
            TrimKind::Check => false,
        };
        let kind = if clear && chance.permille(self.brief) { "" } else { chance.pick(self.kinds[kind as usize]) };
        let carried = feet.count() == 1 && feet.iter().next() == so_far.foot();
        let understood = carried || feet == Feet::ALL && so_far.feet.is_empty() && measured.is_none();
        let feet = if understood && chance.permille(self.brief) { String::new() } else { self.feet(feet, chance) };
        let measured = measured.map(|measured| self.measured(measured, chance)).unwrap_or_default();
        join([word, kind, &feet, &measured])
    }

    fn lesion(&self, finding: Finding, so_far: &SoFar, chance: &mut Chance) -> String {
        let name = chance.pick((self.lesion)(finding.lesion));
        let what = match finding.stage {
            // A stage alone says digital dermatitis.
            Some(stage) if chance.permille(self.brief / 2) => stage_word(stage, chance),
            Some(stage) => format!("{name} {}", stage_word(stage, chance)),
            None => name.to_owned(),
        };
        let foot = self.carried(finding.foot, so_far, chance);
        let claw = finding.claw.map_or("", |claw| self.claw(claw, chance));
        let place = join([foot.trim_start(), claw]);
        let zone = finding
            .zone
            .map(|zone| if chance.permille(self.brief) { format!("z{zone}") } else { format!("zone {zone}") });
        let zone = zone.unwrap_or_default();
        let grade = finding.grade.map(|grade| self.grade(grade, chance)).unwrap_or_default();
        if chance.permille(150) { join([&place, &what, &zone, &grade]) } else { join([&what, &place, &zone, &grade]) }
    }

    fn grade(&self, grade: u8, chance: &mut Chance) -> String {
        let in_words = ["mild", "moderate", "severe"].get(usize::from(grade) - 1);
        match in_words {
            _ if chance.permille(self.brief) => format!("g{grade}"),
            Some(word) if chance.permille(500) => (*word).to_owned(),
            _ => format!("grade {grade}"),
        }
    }

    fn measured(&self, measured: Measured, chance: &mut Chance) -> String {
        let claw = self.claw(measured.claw, chance);
        let sole = measured.sole_mm.map(|sole| format!(" sole {sole}mm")).unwrap_or_default();
        let angle = measured.angle_deg.map(|angle| format!(" angle {angle}deg")).unwrap_or_default();
        format!("{claw} wall {}mm{sole}{angle}", measured.wall_mm)
    }

    /// The foot, unless the act before has named it and this person is brief.
    fn carried(&self, foot: Foot, so_far: &SoFar, chance: &mut Chance) -> String {
        if so_far.foot() == Some(foot) && chance.permille(self.brief) {
            return String::new();
        }
        format!(" {}", self.foot(foot, chance))
    }

    fn feet(&self, feet: Feet, chance: &mut Chance) -> String {
        match feet {
            Feet::ALL => chance.pick(self.all_feet).to_owned(),
            Feet::HINDS => chance.pick(self.hinds).to_owned(),
            feet => feet.iter().map(|foot| self.foot(foot, chance)).collect::<Vec<_>>().join(" "),
        }
    }

    fn medicine(&self, dose: &Dose, chance: &mut Chance) -> String {
        let remedy = dose.remedy;
        let plain = remedy.product.bytes().all(|byte| byte.is_ascii_alphabetic()) && chance.permille(self.brief);
        let product = if plain { remedy.product.to_owned() } else { format!("\"{}\"", remedy.product) };
        let med = format!("{} {product}", chance.pick(self.medicine));
        let batch = dose.batch.as_ref().map(|batch| format!(" batch {batch}")).unwrap_or_default();
        let amount = if remedy.unit == DoseUnit::Piece {
            format!("{} {}", dose.amount, if dose.amount == 1 { "tablet" } else { "tablets" })
        } else if chance.permille(500) {
            format!("{}{}", dose.amount, remedy.unit)
        } else {
            format!("dose {} {}", dose.amount, remedy.unit)
        };
        let route = remedy.route.map(|route| format!(" {route}")).unwrap_or_default();
        let reason = if dose.reason.contains(' ') { format!("\"{}\"", dose.reason) } else { dose.reason.clone() };
        let [milk, meat] =
            [remedy.milk, remedy.meat].map(|hold| if hold == "0d" && chance.permille(600) { "0" } else { hold });
        match chance.below(3) {
            0 => format!("{med} {amount}{route}{batch} milk {milk} meat {meat} for {reason}"),
            1 => format!("{med}{batch} {amount}{route} for {reason} milk {milk} meat {meat}"),
            _ => format!("{med} {amount}{route}{batch} for {reason} milk {milk} meat {meat}"),
        }
    }
}

/// Words with one space between them; parts that say nothing leave no gap.
fn join<const N: usize>(parts: [&str; N]) -> String {
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

fn stage_word(stage: Stage, chance: &mut Chance) -> String {
    if chance.permille(300) { stage.word().to_lowercase() } else { stage.word().to_owned() }
}

/// A day ahead, counted or named.
fn when(due: NaiveDate, day: NaiveDate, chance: &mut Chance) -> String {
    let days = days_between(day, due);
    let weeks = days / 7;
    match chance.below(8) {
        0 | 1 if days % 7 == 0 && weeks > 1 => format!("{weeks} weeks"),
        2 if days % 7 == 0 && weeks > 1 => format!("in {weeks} weeks"),
        3 if days % 7 == 0 => format!("{weeks}w"),
        4 => format!("{days} days"),
        5 => format!("due {due}"),
        6 => format!("{due}"),
        _ => format!("{days}d"),
    }
}

/// Lesions that a person calls by their code, for hands without trade words of their own.
pub(super) fn code(lesion: Lesion) -> super::Words {
    let at = Lesion::ALL.iter().position(|other| *other == lesion).unwrap_or(0);
    &CODES[at..=at]
}

const CODES: &[&str] = &[
    "AC", "CD", "CC", "SC", "DD", "ID", "IP", "HHE", "IH", "SW", "DS", "HF", "HFA", "HFH", "HFV", "SH", "SHC", "SHD",
    "U", "SU", "BU", "TU", "TN", "TS", "WL", "WLF", "WLA",
];

#[cfg(test)]
mod tests {
    #[test]
    fn codes_stand_in_the_order_of_the_vocabulary() {
        for lesion in ledger_format::vocabulary::Lesion::ALL {
            assert_eq!(super::code(*lesion), [lesion.word()]);
        }
    }
}
