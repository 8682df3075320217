//! Agreement: two people who scored the same cows on the same day (`measures.md` §55 to §57).

mod pairs;
#[cfg(test)]
mod tests;

use serde::Serialize;

use super::figure::{Difference, Figure, Share};
use super::history::{About, History};
use super::method::agreement::{Weights, landis_koch, pabak, specific, weighted_kappa};
use super::method::{LEVEL, Limits, paired};
use pairs::Pair;

/// How far those who score agree.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AgreementFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// Each two people on each scale, the most cows first; or why none.
    pub pairs: Figure<Vec<AgreementRow>>,
    /// The definitions used.
    pub definitions: Vec<&'static str>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// Two people on one scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AgreementRow {
    /// The first, by initials.
    pub first: String,
    /// The second.
    pub second: String,
    /// The scale.
    pub scale: String,
    /// Cows that both scored on a day; a cow on two days counts twice.
    pub cows: u64,
    /// On how many days.
    pub days: u64,
    /// The lowest score of the scale.
    pub lowest: u8,
    /// Cows by score: a row for each score of the first, a column for each of the second.
    pub table: Vec<Vec<u64>>,
    /// The same score.
    pub exact: Figure<Share>,
    /// The same score or the next.
    pub within_one: Figure<Share>,
    /// Percent agreement on each score; null where neither gave it.
    pub by_score: Vec<Option<f64>>,
    /// Weighted kappa, linear weights.
    pub kappa: Figure<KappaRow>,
    /// At lame or not lame.
    pub lame: LameAgreement,
}

/// A kappa with its limits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct KappaRow {
    /// The value: 1 is full agreement, 0 what chance gives.
    pub value: f64,
    /// Its standard error (Fleiss, Cohen and Everitt 1969).
    pub se: f64,
    /// 95 % limits from it, cut at -1 and 1; null where that error is 0, which is no certainty: both agree on every
    /// cow, or one of them gave every cow the same score.
    pub limits: Option<Limits>,
    /// The word of Landis and Koch 1977; never without the number.
    pub word: &'static str,
    /// The weights: "linear" or "none".
    pub weights: &'static str,
}

/// Agreement at lame or not lame.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LameAgreement {
    /// Both say lame.
    pub both: u64,
    /// Only the first does.
    pub first_only: u64,
    /// Only the second does.
    pub second_only: u64,
    /// Neither does.
    pub neither: u64,
    /// Percent of the cows on which both say the same, of all.
    pub agree_percent: f64,
    /// Cohen's kappa; null where both put all cows into one class.
    pub kappa: Option<KappaRow>,
    /// Kappa with prevalence and bias taken out: 2 · agreement − 1.
    pub adjusted: f64,
    /// How unequal lame and not lame are, 0 to 1; near 1 kappa is low however well both agree.
    pub prevalence_index: f64,
    /// How unequal the two people are, 0 to 1.
    pub bias_index: f64,
    /// Share lame by the second less that by the first, for the same cows.
    pub difference: Difference,
    /// The chance of so uneven a difference: the mid-p of `McNemar`'s test.
    pub mid_p: f64,
}

/// Fewer cows than this say little about two people. Common practice.
const FEW_COWS: u64 = 30;

/// A standard error under this is 0 but for rounding.
const NO_ERROR: f64 = 1e-7;

const DEFINITIONS: [&str; 5] = [
    "two people scored one cow on one day and scale; of one person's scores of a day the last counts; a cow on two days counts twice",
    "kappa: agreement beyond what chance gives two people who give each score as often as these; linear weights, a score two off counts twice as much as one off",
    "work on lameness took a weighted kappa of 0.6 and 75 % agreement as acceptable (Schlageter-Tello 2014, abstract)",
    "where few cows are lame kappa is low although both agree: look at the share, and at kappa adjusted for it (Byrt 1993)",
    "words for kappa: Landis and Koch 1977",
];

/// Every two people with cows in common in the period.
pub fn agreement(history: &History<'_>) -> AgreementFigures {
    let mut pairs = pairs::of(history);
    pairs.sort_by_key(|pair| u64::MAX - pair.cows());
    let rows: Vec<AgreementRow> = pairs.iter().filter_map(row).collect();
    let mut warnings = Vec::new();
    for few in rows.iter().filter(|row| row.cows < FEW_COWS) {
        warnings.push(format!(
            "{} and {} have only {} cows in common: too few to tell how well they agree",
            few.first, few.second, few.cows
        ));
    }
    for bare in rows.iter().filter(|row| row.lame.neither * 10 < row.cows) {
        warnings.push(format!(
            "hardly any cow that {} and {} both found not lame has a line: where only lame cows are named, nothing is known of how they agree on the others",
            bare.first, bare.second
        ));
    }
    let because = "no two people scored the same cow on the same day: let two score one round without talking";
    AgreementFigures {
        about: history.about(),
        pairs: if rows.is_empty() { Figure::cannot(because) } else { Figure::Is(rows) },
        definitions: DEFINITIONS.to_vec(),
        warnings,
    }
}

fn row(pair: &Pair<'_>) -> Option<AgreementRow> {
    let table = pair.table();
    let count = |steps: usize| {
        let cells = table.iter().enumerate().flat_map(|(i, row)| row.iter().enumerate().map(move |(j, n)| (i, j, *n)));
        cells.filter(|(i, j, _)| i.abs_diff(*j) <= steps).map(|(.., n)| n).sum()
    };
    let share = |part| Figure::of(Share::of(part, pair.cows()), "no cow was scored by both");
    let one_class = "both gave every cow the same score: look at the share";
    Some(AgreementRow {
        first: pair.first.to_owned(),
        second: pair.second.to_owned(),
        scale: pair.scale.to_string(),
        cows: pair.cows(),
        days: pair.days(),
        lowest: *pair.scale.range().start(),
        exact: share(count(0)),
        within_one: share(count(1)),
        by_score: specific(&table)?.into_iter().map(|level| level.map(|level| 100.0 * level)).collect(),
        kappa: Figure::of(kappa(&table, Weights::Linear), one_class),
        lame: lame(pair)?,
        table,
    })
}

fn kappa(table: &[Vec<u64>], weights: Weights) -> Option<KappaRow> {
    let found = weighted_kappa(table, weights, LEVEL)?;
    let weights = if weights == Weights::None { "none" } else { "linear" };
    let Limits { lower, upper } = found.limits;
    let limits = (found.se > NO_ERROR).then(|| Limits { lower: lower.max(-1.0), upper: upper.min(1.0) });
    Some(KappaRow { value: found.kappa, se: found.se, limits, word: landis_koch(found.kappa), weights })
}

fn lame(pair: &Pair<'_>) -> Option<LameAgreement> {
    let (both, first_only, second_only, neither) = pair.at_lame();
    let n = pair.cows() as f64;
    Some(LameAgreement {
        both,
        first_only,
        second_only,
        neither,
        agree_percent: 100.0 * (both + neither) as f64 / n,
        kappa: kappa(&[vec![both, first_only], vec![second_only, neither]], Weights::None),
        adjusted: pabak(both, first_only, second_only, neither)?,
        prevalence_index: both.abs_diff(neither) as f64 / n,
        bias_index: first_only.abs_diff(second_only) as f64 / n,
        difference: Difference::of_same(both, first_only, second_only, neither)?,
        mid_p: paired::mcnemar_mid_p(first_only, second_only),
    })
}
