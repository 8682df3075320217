//! Cost: lame days and cases times a herd's own prices (`measures.md` §66 to §67).

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use rust_decimal::Decimal;
use serde::Serialize;

use super::figure::Figure;
use super::history::{About, History};
use super::lesions::lesions;
use super::rounds::Saw;
use super::sightings::{self, Sighting};
use crate::fold::Life;

/// A herd's own prices.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prices {
    /// Of all of them.
    pub currency: String,
    /// A day that a cow is lame.
    pub lame_day: Option<Decimal>,
    /// A day that a cow is severely lame; without it, as a lame day.
    pub severe_day: Option<Decimal>,
    /// A case, by code, by the code it is counted under, by group ("horn", "infectious", "shape", "other") or "any".
    pub cases: BTreeMap<String, Decimal>,
}

/// What lameness cost, by these prices.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CostFigures {
    /// Which herd, which days, as known when.
    pub about: About,
    /// Of all amounts.
    pub currency: String,
    /// By lame days.
    pub days: Figure<Bill>,
    /// By cases. Another way to count much of the same loss: the two are not added.
    pub cases: Figure<Bill>,
    /// Published figures, to set one's own beside.
    pub published: Vec<&'static str>,
    /// The definitions used.
    pub definitions: Vec<&'static str>,
    /// What is to be kept in mind.
    pub warnings: Vec<String>,
}

/// Items and their sum.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Bill {
    /// The items.
    pub items: Vec<Item>,
    /// Their sum, in the currency.
    pub total: Decimal,
}

/// So many times a price.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Item {
    /// What.
    pub what: String,
    /// How many.
    pub count: u64,
    /// The price of one.
    pub price: Decimal,
    /// Count times price.
    pub amount: Decimal,
}

/// Ranges from published work; none is this herd's.
pub const PUBLISHED: [&str; 4] = [
    "a lame day: GBP 2.20 at score 2, up to 5.00 at score 3 (AHDB 2020)",
    "a case, all lesions: GBP 178 (NADIS) to about 330 (Willshire & Bell 2009, as quoted); USD 337 and 13 a week more (extension figure, 2024)",
    "by lesion, GBP, Willshire & Bell 2009 as quoted: digital dermatitis 75 to 76, interdigital 154, white line 300, sole ulcer 514 to 520",
    "estimates differ and count different things: there is no single figure (Dolecheck & Bewley 2018)",
];

const DEFINITIONS: [&str; 3] = [
    "lame day: from a lame sighting to the next sighting, to leaving, or to the end of the period; days before the first score are not known and not counted",
    "case: as in the figures of lesions",
    "not counted: milk, fertility and culls beyond what the prices hold; cows that nobody scored",
];

/// Lame days and cases of the period times the prices.
pub fn cost(history: &History<'_>, prices: &Prices) -> CostFigures {
    let unset = "no price is set: put `costs` into your settings";
    let mut warnings = Vec::new();
    let days = days_bill(history, prices);
    let cases = cases_bill(history, prices, &mut warnings);
    if days.is_some() && cases.is_some() {
        warnings.push("days and cases count much of the same loss: take one or the other, not the sum".to_owned());
    }
    CostFigures {
        about: history.about(),
        currency: prices.currency.clone(),
        days: Figure::of(days, unset),
        cases: Figure::of(cases, unset),
        published: PUBLISHED.to_vec(),
        definitions: DEFINITIONS.to_vec(),
        warnings,
    }
}

fn days_bill(history: &History<'_>, prices: &Prices) -> Option<Bill> {
    let lame = prices.lame_day?;
    let severe = prices.severe_day.unwrap_or(lame);
    let sightings = sightings::of(history);
    let (mut lame_days, mut severe_days) = (0, 0);
    for (life, seen) in history.lives().iter().zip(&sightings) {
        for (nth, sighting) in seen.iter().enumerate() {
            let days = until(history, life, sighting, seen.get(nth + 1).map(|next| next.day));
            match sighting.saw {
                Saw::NotLame => {}
                Saw::Lame => lame_days += days,
                Saw::Severe => severe_days += days,
            }
        }
    }
    Some(Bill::of([("lame days".to_owned(), lame_days, lame), ("severely lame days".to_owned(), severe_days, severe)]))
}

/// Days of the period from a sighting to the next, to leaving, or to the period's end.
fn until(history: &History<'_>, life: &Life<'_>, sighting: &Sighting, next: Option<NaiveDate>) -> u64 {
    let after = history.period().to() + TimeDelta::days(1);
    let left = life.animal.left.map_or(after, |left| left.day);
    let end = next.unwrap_or(after).min(left).min(after);
    (end - sighting.day.max(history.period().from())).num_days().max(0) as u64
}

fn cases_bill(history: &History<'_>, prices: &Prices, warnings: &mut Vec<String>) -> Option<Bill> {
    if prices.cases.is_empty() {
        return None;
    }
    let (mut counts, mut unpriced): (BTreeMap<String, (u64, Decimal)>, u64) = (BTreeMap::new(), 0);
    for case in &lesions(history, None).cases {
        let group = format!("{:?}", case.lesion.group()).to_lowercase();
        let names = [case.lesion.to_string(), case.lesion.rolled_up().to_string(), group, "any".to_owned()];
        match names.into_iter().find_map(|name| Some((name.clone(), *prices.cases.get(&name)?))) {
            Some((name, price)) => counts.entry(name).or_insert((0, price)).0 += 1,
            None => unpriced += 1,
        }
    }
    if unpriced > 0 {
        warnings.push(format!("{unpriced} cases have no price and are not counted; `any` prices all others"));
    }
    Some(Bill::of(counts.into_iter().map(|(name, (count, price))| (format!("cases, {name}"), count, price))))
}

impl Bill {
    fn of(items: impl IntoIterator<Item = (String, u64, Decimal)>) -> Self {
        let items: Vec<Item> = items
            .into_iter()
            .filter(|(_, count, _)| *count > 0)
            .map(|(what, count, price)| Item { what, count, price, amount: price * Decimal::from(count) })
            .collect();
        Self { total: items.iter().map(|item| item.amount).sum(), items }
    }
}
