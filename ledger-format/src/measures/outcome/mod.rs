//! Outcome after treatment, by what was done (`measures.md` §38 to §42).

mod compare;
mod done;
#[cfg(test)]
mod tests;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

pub use compare::{Comparison, NOT_A_TRIAL};

use super::care::{Days, days};
use super::figure::{Figure, Share};
use super::history::{About, History};
use super::method::LEVEL;
use super::method::survival::{End, Interval, aalen_johansen, kaplan_meier};
use super::rounds::Saw;
use super::sightings::Sighting;
use super::spells::{self, Spell};
use crate::line::Score;
use done::Done;

/// What recovered means, and when it is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutcomeQuestion {
    /// Days after the treatment.
    pub day: u16,
    /// Seen within so many days of that day.
    pub within: u16,
    /// What counts.
    pub recovered: Recovered,
}

/// What counts as recovered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Recovered {
    /// Scored the soundest score of the scale: Thomas 2015, at day 35.
    Soundest,
    /// Not lame: Thomas 2016, at day 42.
    NotLame,
}

impl Default for OutcomeQuestion {
    fn default() -> Self {
        Self { day: 42, within: 7, recovered: Recovered::NotLame }
    }
}

/// What became of the cows treated in the period.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OutcomeFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// Recovered: what it means and when, in words. It stands beside every share.
    pub recovered_is: String,
    /// All, then each group by what was done, the largest first.
    pub rows: Vec<OutcomeRow>,
    /// Each group beside those only trimmed.
    pub comparisons: Vec<Comparison>,
    /// Lame again within 90 days of being seen not lame, of those that were; leaving ends the chance (Aalen and
    /// Johansen).
    pub lame_again: Figure<Again>,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// Cows treated alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OutcomeRow {
    /// "all", "trim", "trim and block" …
    pub done: String,
    /// First treatments of a lame spell.
    pub treated: u64,
    /// Recovered, of those of whom it is known.
    pub recovered: Figure<Share>,
    /// Gone for their feet before the day: counted as not recovered.
    pub gone_for_feet: u64,
    /// Not seen around the day, or gone for another reason: in no share.
    pub not_known: u64,
    /// The day had not come at the end of the period: in no share.
    pub not_yet: u64,
    /// Days until first seen not lame.
    pub days: Figure<Days>,
}

/// How many were lame again.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Again {
    /// How many recovered and were followed.
    pub of: u64,
    /// How many of them were seen lame again, at any time.
    pub lame_again: u64,
    /// Percent lame again within 90 days.
    pub percent_90_days: f64,
}

/// What is known of a cow around the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Known {
    Recovered,
    Not,
    GoneForFeet,
    Unknown,
    NotYet,
}

/// One treated spell.
struct Treated {
    done: Done,
    known: Known,
    /// Days to the first time seen not lame, or followed.
    days: (f64, bool),
    /// Days from there to lame again.
    again: Option<(f64, End)>,
}

/// First treatments of lame spells in the period.
pub fn outcome(history: &History<'_>, question: OutcomeQuestion) -> OutcomeFigures {
    let (spells, sightings) = spells::of(history);
    let treated: Vec<Treated> = spells
        .iter()
        .filter_map(|spell| {
            let day = spell.lifted.map(|lift| lift.date).filter(|day| history.period().has(*day))?;
            Some(treated(history, question, spell, day, &sightings[spell.life]))
        })
        .collect();
    let groups = groups(&treated);
    let mut rows = vec![row("all".to_owned(), &treated.iter().collect::<Vec<_>>())];
    rows.extend(groups.iter().map(|(done, treated)| row(done.words(), treated)));
    let mut warnings = warnings(&rows[0]);
    let comparisons = compare::with_trim(&groups);
    if !comparisons.is_empty() {
        warnings.push(NOT_A_TRIAL.to_owned());
    }
    OutcomeFigures {
        about: history.about(),
        recovered_is: question.words(),
        comparisons,
        lame_again: lame_again(&treated),
        definitions: definitions(&question.words()),
        rows,
        warnings,
    }
}

impl OutcomeQuestion {
    fn words(self) -> String {
        let what = match self.recovered {
            Recovered::Soundest => "scored 0 (the soundest of the scale)",
            Recovered::NotLame => "not lame (0 or 1)",
        };
        format!("{what} {} days after treatment, give or take {}", self.day, self.within)
    }

    fn says(self, sighting: &Sighting) -> Option<bool> {
        match (self.recovered, sighting.score) {
            (Recovered::NotLame, _) => Some(!sighting.saw.is_lame()),
            (Recovered::Soundest, Some(score)) => Some(is_soundest(score)),
            (Recovered::Soundest, None) => None,
        }
    }
}

fn is_soundest(score: Score) -> bool {
    score.value == *score.scale.range().start()
}

fn definitions(recovered: &str) -> Vec<String> {
    vec![
        format!("recovered: {recovered}; of more sightings the one nearest the day counts"),
        "treated: the first lifting of a lame spell, and what was done that day or the next; a second treatment does not begin anew".to_owned(),
        "gone for feet before the day counts as not recovered; not seen around it, or gone for another reason, is not known and in no share".to_owned(),
        "days: to the first time seen not lame, Kaplan-Meier with log-log limits; cows gone for their feet stay lame, others are followed to the last time they were seen".to_owned(),
    ]
}

fn warnings(all: &OutcomeRow) -> Vec<String> {
    let mut warnings = Vec::new();
    let due = all.treated - all.not_yet;
    if all.not_known * 3 > due {
        warnings.push(format!(
            "of {} of {due} cows nobody wrote how they walked around the day: those seen may be the worse ones, or the better",
            all.not_known
        ));
    }
    warnings
}

fn treated(
    history: &History<'_>,
    question: OutcomeQuestion,
    spell: &Spell,
    day: NaiveDate,
    seen: &[Sighting],
) -> Treated {
    let life = &history.lives()[spell.life];
    let after: &[Sighting] = &seen[seen.partition_point(|sighting| sighting.day <= day)..];
    let left = life.animal.left;
    let sound = after.iter().find(|sighting| sighting.saw == Saw::NotLame).map(|sighting| sighting.day);
    let since = |from: NaiveDate, to: NaiveDate| (to - from).num_days().max(0) as f64;
    let end = history.period().to();
    let days = match (sound, left) {
        (Some(sound), _) => (since(day, sound), true),
        (None, Some(left)) if left.feet => (since(day, end), false),
        _ => (since(day, after.last().map_or(day, |sighting| sighting.day)), false),
    };
    let again = sound.map(|sound| {
        let lame = after.iter().find(|sighting| sighting.day > sound && sighting.saw.is_lame());
        match (lame, left) {
            (Some(lame), _) => (since(sound, lame.day), End::Event),
            (None, Some(left)) => (since(sound, left.day), End::Other),
            (None, None) => (since(sound, after.last().map_or(sound, |sighting| sighting.day)), End::Followed),
        }
    });
    Treated { done: Done::of(life, day), known: known(history, question, spell, day, after), days, again }
}

fn known(history: &History<'_>, question: OutcomeQuestion, spell: &Spell, day: NaiveDate, after: &[Sighting]) -> Known {
    let within = i64::from(question.within);
    let target = day + TimeDelta::days(question.day.into());
    let far = |sighting: &Sighting| (sighting.day - target).num_days().abs();
    let near = after.iter().filter(|sighting| far(sighting) <= within);
    let says = near.filter_map(|sighting| Some((far(sighting), question.says(sighting)?)));
    if let Some((_, recovered)) = says.min_by_key(|(far, _)| *far) {
        return if recovered { Known::Recovered } else { Known::Not };
    }
    let last = target + TimeDelta::days(within);
    match history.lives()[spell.life].animal.left.filter(|left| left.day <= last) {
        Some(left) if left.feet => Known::GoneForFeet,
        None if last > history.period().to() => Known::NotYet,
        _ => Known::Unknown,
    }
}

type Group<'t> = (Done, Vec<&'t Treated>);

/// By what was done, the largest first.
fn groups(treated: &[Treated]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for one in treated {
        match groups.iter_mut().find(|(done, _)| *done == one.done) {
            Some((_, group)) => group.push(one),
            None => groups.push((one.done, vec![one])),
        }
    }
    groups.sort_by_key(|(done, group)| (usize::MAX - group.len(), *done));
    groups
}

/// Recovered, and of whom it is known.
fn share(treated: &[&Treated]) -> (u64, u64) {
    let count = |of: &[Known]| treated.iter().filter(|one| of.contains(&one.known)).count() as u64;
    (count(&[Known::Recovered]), count(&[Known::Recovered, Known::Not, Known::GoneForFeet]))
}

fn row(done: String, treated: &[&Treated]) -> OutcomeRow {
    let count = |known: Known| treated.iter().filter(|one| one.known == known).count() as u64;
    let (recovered, of) = share(treated);
    let times: Vec<(f64, bool)> = treated.iter().map(|one| one.days).collect();
    let none = if treated.is_empty() {
        "no lame cow was lifted in these days"
    } else {
        "nobody wrote how one of them walked around the day"
    };
    OutcomeRow {
        done,
        treated: treated.len() as u64,
        recovered: Figure::of(Share::of(recovered, of), none),
        gone_for_feet: count(Known::GoneForFeet),
        not_known: count(Known::Unknown),
        not_yet: count(Known::NotYet),
        days: Figure::of(kaplan_meier(&times, Interval::LogLog, LEVEL).map(|curve| days(&curve)), none),
    }
}

fn lame_again(treated: &[Treated]) -> Figure<Again> {
    let followed: Vec<(f64, End)> = treated.iter().filter_map(|one| one.again).collect();
    let incidence = aalen_johansen(&followed).map(|steps| {
        let by = steps.iter().take_while(|(time, _)| *time <= 90.0).last();
        Again {
            of: followed.len() as u64,
            lame_again: followed.iter().filter(|(_, end)| *end == End::Event).count() as u64,
            percent_90_days: by.map_or(0.0, |(_, share)| 100.0 * share),
        }
    });
    Figure::of(incidence, "no treated cow was seen not lame")
}
