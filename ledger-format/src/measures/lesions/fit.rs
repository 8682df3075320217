//! Whether the records of the period are fit for rates (`measures.md` §52).

use serde::Serialize;

use super::{CaseFound, Lifted};
use crate::measures::{Figure, History, Share};
use crate::merge::Event;
use crate::vocabulary::TrimKind;

/// At least so many percent of the mean number of cows trimmed: Kofler 2022.
const TRIMMED_PERCENT: f64 = 50.0;

/// From so many percent of the cows on, a herd counts as trimmed whole: Solano 2016.
const WHOLE_PERCENT: f64 = 80.0;

/// At least so many different diagnoses: Kofler 2022.
const DIAGNOSES: u64 = 5;

/// What rates rest on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// Animals trimmed, of the mean number in the herd; over 100 % where many came and went.
    pub trimmed_percent: Figure<f64>,
    /// Animals trimmed.
    pub trimmed: u64,
    /// Mean number of animals in the herd.
    pub mean_animals: f64,
    /// Liftings with `lesion none`, of all that say what was found.
    pub written_sound: Figure<Share>,
    /// Liftings with a routine or check trim, of all with a trim.
    pub routine: Figure<Share>,
    /// Different codes.
    pub diagnoses: u64,
    /// Whether nothing speaks against comparing these rates with other herds'.
    pub fit_for_comparing: bool,
}

pub(super) fn of(history: &History<'_>, cases: &[CaseFound], lifted: Lifted) -> Fit {
    let (mut trimmed, mut trims, mut routine) = (0, 0, 0);
    for life in history.lives() {
        let in_period = life.told.iter().filter(|told| history.period().has(told.entry.observed.date));
        let kinds: Vec<TrimKind> = in_period
            .filter_map(|told| match told.entry.event {
                Event::Trim { kind, .. } => Some(kind),
                _ => None,
            })
            .collect();
        trimmed += u64::from(!kinds.is_empty());
        trims += kinds.len() as u64;
        routine += kinds.iter().filter(|kind| **kind != TrimKind::Lame).count() as u64;
    }
    let mean_animals = history.cow_days() as f64 / history.period().days() as f64;
    let mut codes: Vec<_> = cases.iter().map(|case| case.lesion).collect();
    codes.sort_unstable();
    codes.dedup();
    let percent = (mean_animals > 0.0).then(|| 100.0 * trimmed as f64 / mean_animals);
    let mut fit = Fit {
        trimmed_percent: Figure::of(percent, "no animal was in the herd in these days"),
        trimmed,
        mean_animals,
        written_sound: Figure::of(
            Share::counted(lifted.written_sound, lifted.written_sound + lifted.with_lesion),
            "no lifting says what was found",
        ),
        routine: Figure::of(Share::counted(routine, trims), "no trim is written"),
        diagnoses: codes.len() as u64,
        fit_for_comparing: false,
    };
    fit.fit_for_comparing = fit.warnings().is_empty();
    fit
}

impl Fit {
    /// What speaks against comparing.
    pub(super) fn warnings(&self) -> Vec<String> {
        let mut warnings = Vec::new();
        let (trimmed, mean) = (self.trimmed, self.mean_animals);
        match self.trimmed_percent.value() {
            Some(percent) if *percent < TRIMMED_PERCENT => warnings.push(format!(
                "only {trimmed} animals of a mean of {mean:.0} were trimmed, under half: rates are not fit for comparing with other herds (Kofler 2022)"
            )),
            Some(percent) if *percent < WHOLE_PERCENT => warnings.push(format!(
                "{trimmed} animals of a mean of {mean:.0} were trimmed, under {WHOLE_PERCENT:.0} %: part of a herd is mostly chosen for being lame, and has more lesions (Solano 2016)"
            )),
            _ => {}
        }
        if self.written_sound.value().is_some_and(|share| share.part == 0) {
            warnings
                .push("nobody wrote `lesion none`: cows found sound are not in the record (Kofler 2022)".to_owned());
        }
        if self.routine.value().is_some_and(|share| share.part == 0) {
            warnings.push("only lame cows were trimmed: nothing is known of the feet of the others".to_owned());
        }
        if self.diagnoses > 0 && self.diagnoses < DIAGNOSES {
            warnings.push(format!(
                "only {} different codes were used, and {DIAGNOSES} are asked for (Kofler 2022): perhaps everything goes under one",
                self.diagnoses
            ));
        }
        warnings
    }
}
