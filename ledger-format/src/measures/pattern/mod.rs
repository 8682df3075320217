//! What the pattern of lesions points to: questions to walk the farm with, never a diagnosis (`measures.md` §53 to §54).

mod questions;
#[cfg(test)]
mod tests;

use serde::Serialize;

use super::figure::Figure;
use super::history::{About, History};
use super::lactation::Band;
use super::lesions::{CaseFound, LesionFigures};
use super::method::{multiple, proportion, rate};
use crate::vocabulary::{Group, Lesion};
use questions::{Asked, QUESTIONS};

/// What stands out, and what to ask on the farm about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pattern {
    /// Which herd, which days, as known when.
    pub about: About,
    /// What stands out beyond chance, the surest first; or why nothing can be said.
    pub points: Figure<Vec<Point>>,
    /// How many patterns were looked for with enough cases to tell.
    pub looked_for: u64,
    /// The definitions used.
    pub definitions: Vec<String>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// One thing that stands out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Point {
    /// What stands out.
    pub what: &'static str,
    /// Its numbers: "31 of 44 horn lesions, 70.5 %, where one third would be usual".
    pub numbers: String,
    /// The chance of it if there were nothing, adjusted for all that were looked for (Benjamini and Hochberg).
    pub p: f64,
    /// What to look at and to ask on the farm.
    pub questions: &'static [&'static str],
    /// Where the link is from.
    pub source: &'static str,
}

/// Fewer cases than this point to nothing. Common practice.
const LEAST_CASES: u64 = 20;

/// The share of false alarms among all that is shown.
const FALSE_ALARMS: f64 = 0.05;

/// Something looked for: its numbers, and their chance if there were nothing.
struct Sought {
    of: &'static Asked,
    numbers: String,
    /// Whether the numbers lean the way that is asked about.
    leans: bool,
    p: f64,
}

/// What stands out in the lesions of the period.
pub fn pattern(history: &History<'_>, figures: &LesionFigures) -> Pattern {
    let sought: Vec<Sought> = QUESTIONS.iter().filter_map(|of| look_for(of, figures)).collect();
    let cases = figures.cases.len();
    let points = match sought.as_slice() {
        [] => Figure::cannot(format!("{cases} cases are too few: a pattern is looked for among {LEAST_CASES} or more")),
        sought => Figure::Is(points(sought)),
    };
    Pattern {
        about: history.about(),
        points,
        looked_for: sought.len() as u64,
        definitions: definitions(),
        warnings: figures.warnings.clone(),
    }
}

fn definitions() -> Vec<String> {
    vec![
        format!(
            "a pattern is looked for among {LEAST_CASES} cases or more, and shown if chance alone would not give it (exact test, Benjamini-Hochberg over all looked for, 5 %)"
        ),
        "a pattern says where to look and what to ask; what is wrong is for farm, trimmer and vet to find out together"
            .to_owned(),
        "deep, swollen or non-healing feet, and lame cows that do not improve, go to the vet whatever the pattern"
            .to_owned(),
    ]
}

fn points(sought: &[Sought]) -> Vec<Point> {
    let adjusted = multiple::benjamini_hochberg(&sought.iter().map(|one| one.p).collect::<Vec<_>>());
    let mut points: Vec<Point> = sought
        .iter()
        .zip(adjusted)
        .filter(|(one, p)| one.leans && *p < FALSE_ALARMS)
        .map(|(one, p)| {
            let Asked { what, questions, source, .. } = *one.of;
            Point { what, numbers: one.numbers.clone(), p, questions, source }
        })
        .collect();
    points.sort_by(|a, b| a.p.total_cmp(&b.p));
    points
}

fn look_for(of: &'static Asked, figures: &LesionFigures) -> Option<Sought> {
    match of.how {
        questions::How::Share { among, part, usual, words } => {
            let all: Vec<&CaseFound> = figures.cases.iter().filter(|case| among(case)).collect();
            let n = all.len() as u64;
            let x = all.iter().filter(|case| part(case)).count() as u64;
            let p = proportion::binomial_p(x, n, usual).filter(|_| n >= LEAST_CASES)?;
            let percent = 100.0 * x as f64 / n as f64;
            let numbers =
                format!("{x} of {n} {words}, {percent:.0} %; more than {:.0} % is asked about", 100.0 * usual);
            Some(Sought { of, numbers, leans: percent > 100.0 * usual, p })
        }
        questions::How::Rates { group, slices, inside, words } => {
            let (mut a, mut time1, mut b, mut time0) = (0, 0, 0, 0);
            for slice in slices(figures) {
                let figure = if group == Group::Horn { &slice.horn } else { &slice.infectious };
                let Some(rate) = figure.value() else { continue };
                let (cases, time) = if inside(&slice.of) { (&mut a, &mut time1) } else { (&mut b, &mut time0) };
                *cases += rate.cases;
                *time += rate.cow_days;
            }
            let ratio = rate::ratio(a, time1 as f64, b, time0 as f64, super::LEVEL).filter(|_| a + b >= LEAST_CASES)?;
            let estimate = ratio.estimate?;
            let upper = ratio.upper.map_or("no upper limit".to_owned(), |upper| format!("{upper:.1}"));
            let numbers =
                format!("{words}: {a} cases beside {b}, {estimate:.1} times the rate ({:.1} to {upper})", ratio.lower);
            Some(Sought { of, numbers, leans: estimate > 1.0, p: ratio.p })
        }
    }
}

/// Whether a case is of a horn lesion.
fn is_horn(case: &CaseFound) -> bool {
    case.lesion.group() == Group::Horn
}

fn is_infectious(case: &CaseFound) -> bool {
    case.lesion.group() == Group::Infectious
}

fn is_under(case: &CaseFound, lesion: Lesion) -> bool {
    case.lesion == lesion || case.lesion.rolled_up() == lesion
}

fn is_early(of: &str) -> bool {
    of == Band::Early.words()
}
