//! Several herds side by side, for the one who trims them all (`measures.md` §62 to §65).

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;

use super::figure::{Figure, Share, percent};
use super::history::History;
use super::method::cluster::ratio_estimator;
use super::method::proportion::wilson_of_share;
use super::method::shrink::{Common, common, posterior};
use super::method::{LEVEL, Limits};
use super::rounds::{Basis, Round};
use crate::line::date_text;

/// What a herd brings: its newest round.
#[derive(Clone, Debug, PartialEq)]
pub struct OfHerd {
    name: String,
    round: Result<Newest, String>,
    doubts: Vec<String>,
}

/// The newest round of a herd.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Newest {
    day: NaiveDate,
    seen: u64,
    lame: u64,
    severe: u64,
    is_whole: bool,
    is_old: bool,
}

/// Herds beside each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HerdsFigures {
    /// Up to which day.
    pub on: String,
    /// Herds with a round, the worst first by the drawn share.
    pub rows: Vec<HerdRow>,
    /// Herds that have no place, since chance alone could order them otherwise; the worst first.
    pub not_told_apart: Vec<String>,
    /// Herds without, and why.
    pub without: Vec<Without>,
    /// All cows of all herds together; the limits allow for cows of one herd being alike.
    pub pooled: Figure<Share>,
    /// Mean of the herds' shares, percent: each herd counts the same. It is another figure than the pooled one.
    pub mean_of_herds: Figure<f64>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// One herd.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HerdRow {
    /// The herd.
    pub herd: String,
    /// Last day of its newest round.
    pub on: String,
    /// Lame of those seen, as counted, with Wilson's limits.
    pub lame: Share,
    /// Severely lame of those seen, as counted.
    pub severe: Share,
    /// Share lame drawn towards what the herds have in common, percent; or why not.
    pub drawn: Figure<Drawn>,
    /// Its place from the worst, from 1; null where the herds cannot be told apart.
    pub place: Option<u64>,
    /// Whether the round is older than agreed.
    pub old: bool,
    /// Whether only a part of the herd was seen.
    pub part: bool,
}

/// A share drawn towards the other herds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Drawn {
    /// Percent.
    pub percent: f64,
    /// 95 % limits.
    pub limits: Limits,
}

/// A herd that has no place here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Without {
    /// The herd.
    pub herd: String,
    /// Why.
    pub because: String,
}

/// What herds have in common is known badly from fewer. Common practice.
const ENOUGH_HERDS: usize = 10;

/// A share of fewer cows says too little to tell how herds spread. Common practice.
const FEW_COWS: u64 = 20;

impl OfHerd {
    /// A herd of which nothing can be said, and why.
    pub fn none(name: impl Into<String>, because: impl Into<String>) -> Self {
        Self { name: name.into(), round: Err(because.into()), doubts: Vec::new() }
    }

    /// The newest round of a herd's history; of the whole herd if there is one, else the newest of any.
    pub fn of(history: &History<'_>) -> Self {
        let name = history.about().seen.herd;
        let rounds = || history.rounds().iter().rev().filter(|round| round.adds_up() && round.seen > 0);
        let newest = rounds().find(|round| round.groups.is_empty()).or_else(|| rounds().next());
        let Some(round) = newest else {
            let because =
                format!("no scoring round that adds up is written up to {}", date_text(history.period().to()));
            let doubts = history.rounds().iter().filter_map(left_out).map(|doubt| format!("{name}: {doubt}")).collect();
            return Self { doubts, ..Self::none(name, because) };
        };
        let (day, age) = (round.last, (history.period().to() - round.last).num_days());
        let newest = Newest {
            day,
            seen: round.seen,
            lame: round.lame,
            severe: round.severe,
            is_whole: round.basis == Basis::Whole && round.groups.is_empty(),
            is_old: age > i64::from(history.herd().protocol().round_days),
        };
        let left_out = history.rounds().iter().filter(|other| other.last > day).filter_map(left_out);
        let doubts = round.doubts.iter().cloned().chain(left_out).map(|doubt| format!("{name}: {doubt}")).collect();
        Self { name, round: Ok(newest), doubts }
    }
}

/// Why a round that is newer is not the one that counts.
fn left_out(round: &Round) -> Option<String> {
    let day = date_text(round.last);
    (!round.adds_up())
        .then(|| format!("the round of {day} is left out: {} lame of {} seen do not add up", round.lame, round.seen))
}

/// Herds side by side, each with its newest round.
pub fn herds(on: NaiveDate, herds: &[OfHerd]) -> HerdsFigures {
    let with: Vec<(&OfHerd, Newest)> = herds.iter().filter_map(|of| Some((of, *of.round.as_ref().ok()?))).collect();
    let without = herds.iter().filter_map(|of| {
        let because = of.round.as_ref().err()?.clone();
        Some(Without { herd: of.name.clone(), because })
    });
    let groups: Vec<(u64, u64)> = with
        .iter()
        .filter(|(_, newest)| newest.seen >= FEW_COWS)
        .map(|(_, newest)| (newest.lame, newest.seen))
        .collect();
    let common = common(&groups);
    let mut rows: Vec<HerdRow> = with.iter().filter_map(|(of, newest)| row(of, *newest, common)).collect();
    rows.sort_by(|a, b| sorted_by(b).total_cmp(&sorted_by(a)).then_with(|| a.herd.cmp(&b.herd)));
    give_places(&mut rows);
    let mean = rows.iter().map(|row| row.lame.percent).sum::<f64>() / rows.len() as f64;
    let mut warnings: Vec<String> = herds.iter().flat_map(|of| of.doubts.clone()).collect();
    warnings.extend(few(rows.len(), common));
    warnings.extend(twice(herds));
    let counts: Vec<(u64, u64)> = with.iter().map(|(_, newest)| (newest.lame, newest.seen)).collect();
    let no_place = rows.iter().filter(|row| row.place.is_none()).map(|row| row.herd.clone());
    HerdsFigures {
        on: date_text(on),
        not_told_apart: if rows.len() > 1 { no_place.collect() } else { Vec::new() },
        pooled: Figure::of(pooled(&counts), "no herd has a scoring round"),
        mean_of_herds: Figure::of((!rows.is_empty()).then_some(mean), "no herd has a scoring round"),
        rows,
        without: without.collect(),
        definitions: definitions(),
        warnings,
    }
}

/// All cows of all herds: limits with the herds as clusters, never narrower than Wilson's for cows that are not alike.
fn pooled(counts: &[(u64, u64)]) -> Option<Share> {
    let (lame, seen) = counts.iter().fold((0, 0), |sum, (lame, seen)| (sum.0 + lame, sum.1 + seen));
    let share = Share::of(lame, seen)?;
    let herds = ratio_estimator(counts).and_then(|of| Some((of.share, of.scores / of.design_effect()?.max(1.0))));
    let limits = herds.and_then(|(share, n)| wilson_of_share(share, n, LEVEL));
    Some(Share { limits: limits.map(percent).or(share.limits), ..share })
}

/// Names that more than one herd has.
fn twice(herds: &[OfHerd]) -> Vec<String> {
    let mut names: Vec<&str> = herds.iter().map(|of| of.name.as_str()).collect();
    names.sort_unstable();
    let names = names.chunk_by(|a, b| a == b).filter(|same| same.len() > 1);
    names
        .map(|same| format!("{} folders are of a herd called {}: copies of one herd count twice", same.len(), same[0]))
        .collect()
}

fn definitions() -> Vec<String> {
    vec![
        "counted: lame of the cows seen in each herd's newest round; Wilson's 95 % limits".to_owned(),
        "drawn: a small herd shows more by chance, so its share is drawn towards what all herds have in common (beta-binomial, by moments), the more the fewer cows were seen".to_owned(),
        "all cows: the pooled share, in which a large herd counts more; its limits allow for cows of one herd being alike".to_owned(),
        "a place is given only where a herd's limits leave out the share of all other herds before or behind it".to_owned(),
        "a share shows who scores, and how, as much as how cows walk; these figures are the trimmer's own, and no herd is shown another's".to_owned(),
    ]
}

fn few(n: usize, common: Option<Common>) -> Option<String> {
    match common {
        None if n > 1 => Some(
            "the herds are too few, or too much alike or unlike, to say what they have in common: only the counts are shown".to_owned(),
        ),
        Some(_) if n < ENOUGH_HERDS => {
            Some(format!("what {n} herds have in common is known badly: it takes about {ENOUGH_HERDS}"))
        }
        _ => None,
    }
}

fn row(of: &OfHerd, newest: Newest, common: Option<Common>) -> Option<HerdRow> {
    let drawn = common.and_then(|common| posterior(newest.lame, newest.seen, common.alpha, common.beta, LEVEL));
    let drawn = drawn.map(|drawn| Drawn { percent: 100.0 * drawn.mean, limits: percent(drawn.limits) });
    Some(HerdRow {
        herd: of.name.clone(),
        on: date_text(newest.day),
        lame: Share::of(newest.lame, newest.seen)?,
        severe: Share::of(newest.severe, newest.seen)?,
        drawn: Figure::of(drawn, "what the herds have in common is not known"),
        place: None,
        old: newest.is_old,
        part: !newest.is_whole,
    })
}

fn sorted_by(row: &HerdRow) -> f64 {
    row.drawn.value().map_or(row.lame.percent, |drawn| drawn.percent)
}

/// A herd has a place if its limits hold the share of no herd before it and of none behind it.
fn give_places(rows: &mut [HerdRow]) {
    let drawn: Vec<Option<Drawn>> = rows.iter().map(|row| row.drawn.value().copied()).collect();
    for (nth, row) in rows.iter_mut().enumerate() {
        let Some(own) = drawn[nth] else { continue };
        let holds = |other: &Option<Drawn>| {
            other.is_none_or(|other| (own.limits.lower..=own.limits.upper).contains(&other.percent))
        };
        let is_apart = !drawn[..nth].iter().any(holds) && !drawn[nth + 1..].iter().any(holds);
        row.place = (is_apart && drawn.len() > 1).then_some(nth as u64 + 1);
    }
}
