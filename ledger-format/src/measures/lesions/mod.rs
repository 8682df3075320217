//! Lesions found: how often, where, when in the lactation, and whether the records fit to say so (`measures.md` §46 to §52).

mod cases;
mod fit;
mod risk;
#[cfg(test)]
mod tests;

use serde::Serialize;

pub use fit::Fit;

pub(super) use cases::{CaseFound, of as cases_of};

use super::figure::{Figure, Rate, Share};
use super::history::{About, History};
use crate::vocabulary::{Group, Lesion};

/// Lesions found over the period.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LesionFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// The same code on the same foot and claw within so many days of when it was last seen is the same case.
    pub repeat_days: u16,
    /// All lesions, then the groups, then codes and the codes they are counted under, the most cases first.
    pub rows: Vec<LesionRow>,
    /// Cases of horn lesions and of infectious ones by stage of lactation.
    pub stages: Vec<Slice>,
    /// The same by lactation number.
    pub lactations: Vec<Slice>,
    /// The same by calendar month, over animal-days of that month.
    pub months: Vec<Slice>,
    /// Cases by leg, of all.
    pub legs: Vec<Place>,
    /// Cases by claw, of those whose claw is written.
    pub claws: Vec<Place>,
    /// Cases by foot zone, of those whose zone is written.
    pub zones: Vec<Place>,
    /// Lesions found soon after a routine trim.
    pub after_trim: Figure<AfterTrim>,
    /// What the liftings of the period wrote down.
    pub lifted: Lifted,
    /// Whether the records are fit for rates.
    pub fit: Fit,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
    /// The cases themselves, for what asks further.
    #[serde(skip)]
    pub(super) cases: Vec<CaseFound>,
}

/// Cases of one code or group.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LesionRow {
    /// "all", a group, or a code.
    pub code: String,
    /// In words.
    pub name: String,
    /// Cases that began in the period, and their rate over all animal-days.
    pub cases: Figure<Rate>,
    /// Animals with at least one, of the animals lifted in the period.
    pub animals: Figure<Share>,
}

/// Cases in a slice of the animal-time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Slice {
    /// Which: "days 0 to 100", "lactation 2", "January".
    pub of: String,
    /// Cases of horn lesions.
    pub horn: Figure<Rate>,
    /// Cases of infectious lesions.
    pub infectious: Figure<Rate>,
}

/// Cases at a place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Place {
    /// "RH", "outer", "zone 3".
    pub at: String,
    /// Of those written.
    pub cases: Figure<Share>,
}

/// Lesions after a routine trim.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AfterTrim {
    /// Within so many days after it, the day itself not counted.
    pub days: u16,
    /// Routine trims with a new case so soon after, of all whose days had passed and whose cow was still there.
    pub trims: Share,
}

/// Days on which an animal was lifted, each once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Lifted {
    /// How many animals.
    pub animals: u64,
    /// How many times.
    pub times: u64,
    /// With a lesion.
    pub with_lesion: u64,
    /// With `lesion none` and no lesion.
    pub written_sound: u64,
    /// With neither: nobody wrote what was found.
    pub nothing_written: u64,
}

/// A routine trim is taken to have to do with what is found so many days after it. Common practice.
const AFTER_TRIM_DAYS: u16 = 28;

/// Lesions over the period, with the herd's own window for repeat cases if none is given.
pub fn lesions(history: &History<'_>, repeat_days: Option<u16>) -> LesionFigures {
    let repeat_days = repeat_days.unwrap_or(history.herd().protocol().repeat_case_days);
    let cases = cases::of(history, repeat_days);
    let lifted = cases::lifted(history);
    let risk = risk::of(history);
    let fit = fit::of(history, &cases, lifted);
    let mut warnings = fit.warnings();
    warnings.extend(seasons(history));
    LesionFigures {
        about: history.about(),
        repeat_days,
        rows: rows(history, &cases, lifted),
        stages: risk::stages(&risk, &cases),
        lactations: risk::lactations(&risk, &cases),
        months: risk::months(&risk, &cases),
        legs: places(&cases, |case| Some(case.foot.to_string())),
        claws: places(&cases, |case| case.claw.map(|claw| claw.to_string())),
        zones: places(&cases, |case| case.zone.map(|zone| format!("zone {zone}"))),
        after_trim: cases::after_trim(history, &cases, AFTER_TRIM_DAYS),
        lifted,
        fit,
        definitions: definitions(repeat_days),
        warnings,
        cases,
    }
}

fn definitions(repeat_days: u16) -> Vec<String> {
    vec![
        format!("case: a code on a foot and claw; seen again within {repeat_days} days of when it was last seen it is the same case"),
        "rate: cases that began in these days over all animal-days in the herd; 100 cow-years are 36,525 days; exact Poisson limits, 95 %".to_owned(),
        "animals: with at least one such case, of those lifted in these days; Wilson's limits".to_owned(),
        "codes: ICAR Claw Health Atlas, 2nd ed. 2020; WL holds WLF and WLA, U holds SU, BU and TU, SH and HF their forms".to_owned(),
    ]
}

fn seasons(history: &History<'_>) -> Option<String> {
    (history.period().days() < 2 * 365)
        .then(|| "months of less than two full years are not a season: one wet autumn looks the same".to_owned())
}

fn rows(history: &History<'_>, cases: &[CaseFound], lifted: Lifted) -> Vec<LesionRow> {
    let days = history.cow_days();
    let row = |code: &str, name: &str, of: Vec<&CaseFound>| {
        let mut animals: Vec<usize> = of.iter().map(|case| case.life).collect();
        animals.sort_unstable();
        animals.dedup();
        let share = Share::of(animals.len() as u64, lifted.animals);
        LesionRow {
            code: code.to_owned(),
            name: name.to_owned(),
            cases: Figure::of(
                Rate::per_100_cow_years(of.len() as u64, days),
                "no animal was in the herd in these days",
            ),
            animals: Figure::of(share, "no animal was lifted in these days"),
        }
    };
    let mut rows = vec![row("all", "all lesions", cases.iter().collect())];
    for group in Group::ALL {
        let of: Vec<&CaseFound> = cases.iter().filter(|case| case.lesion.group() == group).collect();
        if !of.is_empty() {
            rows.push(row(group.word(), &format!("{} lesions", group.word()), of));
        }
    }
    let mut codes: Vec<(Lesion, Vec<&CaseFound>)> = Vec::new();
    for lesion in Lesion::ALL.iter().copied() {
        let of: Vec<&CaseFound> =
            cases.iter().filter(|case| case.lesion == lesion || case.lesion.rolled_up() == lesion).collect();
        if !of.is_empty() {
            codes.push((lesion, of));
        }
    }
    codes.sort_by_key(|(lesion, of)| (usize::MAX - of.len(), *lesion));
    rows.extend(codes.into_iter().map(|(lesion, of)| row(&lesion.to_string(), lesion.name(), of)));
    rows
}

/// Counts by place, the most first; of those where the place is written.
fn places(cases: &[CaseFound], at: impl Fn(&CaseFound) -> Option<String>) -> Vec<Place> {
    let mut counts: Vec<(String, u64)> = Vec::new();
    for place in cases.iter().filter_map(at) {
        match counts.iter_mut().find(|(other, _)| *other == place) {
            Some((_, n)) => *n += 1,
            None => counts.push((place, 1)),
        }
    }
    let written: u64 = counts.iter().map(|(_, n)| n).sum();
    counts.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let place = |(at, n): (String, u64)| Place { at, cases: Figure::of(Share::of(n, written), "no case says where") };
    counts.into_iter().map(place).collect()
}
