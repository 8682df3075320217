//! Animal-days by stage of lactation, lactation number and calendar month.

use chrono::{Datelike, NaiveDate, TimeDelta};

use super::{CaseFound, Slice};
use crate::fold::Life;
use crate::measures::lactation::{Band, Lactation, Turn};
use crate::measures::{Figure, History, Rate};
use crate::vocabulary::Group;

/// Lactation numbers from this one on stand together.
const LAST_LACTATION: u8 = 4;

const BANDS: [Band; 6] = [Band::Early, Band::Middle, Band::Late, Band::Beyond, Band::Dry, Band::Unknown];

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Animal-days of the period, sliced three ways.
#[derive(Clone, Debug, Default)]
pub(super) struct Risk {
    bands: [u64; 6],
    /// Not written, then lactation 1 to 4 and later.
    lactations: [u64; 5],
    months: [u64; 12],
}

/// Where a stage stands in [`BANDS`].
fn band_at(band: Band) -> usize {
    BANDS.iter().position(|other| *other == band).unwrap_or(BANDS.len() - 1)
}

fn lactation_at(number: Option<u8>) -> usize {
    usize::from(number.unwrap_or(0).min(LAST_LACTATION))
}

fn month_at(day: NaiveDate) -> usize {
    day.month0() as usize
}

pub(super) fn of(history: &History<'_>) -> Risk {
    let mut risk = Risk::default();
    for life in history.lives() {
        risk.add(history, life);
    }
    risk
}

impl Risk {
    /// Each day that she was in the herd; her turns are gone through beside the days.
    fn add(&mut self, history: &History<'_>, life: &Life<'_>) {
        let days = life.days_in(history.period());
        if days == 0 {
            return;
        }
        let turns = life.turns();
        let first = life.entered().max(history.period().from());
        let (mut next, mut now) = (0, Lactation { number: None, days: None, is_dry: false });
        let mut calved: Option<NaiveDate> = None;
        for day in first.iter_days().take(days as usize) {
            while let Some((_, turn)) = turns.get(next).filter(|(turn, _)| *turn <= day) {
                match turn {
                    Turn::Calved { number } => {
                        calved = Some(turns[next].0);
                        (now.number, now.is_dry) = (*number, false);
                    }
                    Turn::Dried => now.is_dry = true,
                }
                next += 1;
            }
            now.days = calved.map(|calved| (day - calved).num_days());
            self.bands[band_at(now.band())] += 1;
            self.lactations[lactation_at(now.number)] += 1;
            self.months[month_at(day)] += 1;
        }
        debug_assert!(first + TimeDelta::days(days as i64 - 1) <= history.period().to());
    }
}

fn slices(days: &[u64], names: &[String], cases: &[CaseFound], at: impl Fn(&CaseFound) -> usize) -> Vec<Slice> {
    let rate = |nth: usize, group: Group| {
        let cases = cases.iter().filter(|case| at(case) == nth && case.lesion.group() == group).count();
        Figure::of(Rate::per_100_cow_years(cases as u64, days[nth]), "no animal was at risk")
    };
    let slice = |(nth, name): (usize, &String)| Slice {
        of: name.clone(),
        horn: rate(nth, Group::Horn),
        infectious: rate(nth, Group::Infectious),
    };
    names.iter().enumerate().filter(|(nth, _)| days[*nth] > 0).map(slice).collect()
}

pub(super) fn stages(risk: &Risk, cases: &[CaseFound]) -> Vec<Slice> {
    let names = BANDS.map(|band| band.words().to_owned());
    slices(&risk.bands, &names, cases, |case| band_at(case.lactation.band()))
}

pub(super) fn lactations(risk: &Risk, cases: &[CaseFound]) -> Vec<Slice> {
    let name = |n: u8| match n {
        0 => "lactation not written".to_owned(),
        n if n == LAST_LACTATION => format!("lactation {n} and later"),
        n => format!("lactation {n}"),
    };
    let names = [0, 1, 2, 3, 4].map(name);
    slices(&risk.lactations, &names, cases, |case| lactation_at(case.lactation.number))
}

pub(super) fn months(risk: &Risk, cases: &[CaseFound]) -> Vec<Slice> {
    let names = MONTHS.map(str::to_owned);
    slices(&risk.months, &names, cases, |case| month_at(case.first))
}
