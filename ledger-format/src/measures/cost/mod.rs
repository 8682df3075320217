//! Cost: lame days and cases times a herd's own prices (`measures.md` §66 to §67).

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use rust_decimal::Decimal;
use serde::Serialize;

use super::figure::Figure;
use super::history::{About, History};
use super::lesions::cases_of;
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
    "lame day: from a lame sighting (a score, or a round that walked past her) to the next sighting, to leaving, or to the end of the period; days before the first score are not known and not counted",
    "case: as in the figures of lesions",
    "not counted: milk, fertility and culls beyond what the prices hold; cows that nobody scored",
];

/// Lame days and cases of the period times the prices.
pub fn cost(history: &History<'_>, prices: &Prices) -> CostFigures {
    let mut warnings = Vec::new();
    let days = days_bill(history, prices, &mut warnings);
    let cases = cases_bill(history, prices, &mut warnings);
    if days.value().is_some() && cases.value().is_some() {
        warnings.push("days and cases count much of the same loss: take one or the other, not the sum".to_owned());
    }
    if prices.currency.is_empty() && (days.value().is_some() || cases.value().is_some()) {
        warnings.push("no `currency` is set: the amounts are in whatever the prices are in".to_owned());
    }
    CostFigures {
        about: history.about(),
        currency: prices.currency.clone(),
        days,
        cases,
        published: PUBLISHED.to_vec(),
        definitions: DEFINITIONS.to_vec(),
        warnings,
    }
}

/// Lame days of the period.
#[derive(Default)]
struct LameDays {
    lame: u64,
    severe: u64,
    /// Of both, those longer after the sighting they rest on than rounds are apart.
    unseen: u64,
}

fn days_bill(history: &History<'_>, prices: &Prices, warnings: &mut Vec<String>) -> Figure<Bill> {
    if prices.lame_day.is_none() && prices.severe_day.is_none() {
        return Figure::cannot(
            "no price is set: write `costs: (lame_day: \"…\")`, with your own price, into footfold.ron",
        );
    }
    let round_days = history.herd().protocol().round_days;
    let days = lame_days(history, round_days.into());
    if days.unseen > 0 {
        warnings.push(format!(
            "{} of {} lame days lie more than {round_days} days after anyone saw how the cow walked: she may have been sound by then",
            days.unseen,
            days.lame + days.severe
        ));
    }
    if prices.lame_day.is_none() && days.lame > 0 {
        warnings.push(format!("{} lame days have no price and are not counted: set `lame_day`", days.lame));
    }
    let lame = prices.lame_day.map(|price| ("lame days".to_owned(), days.lame, price));
    let severe = prices.severe_day.or(prices.lame_day);
    let severe = severe.map(|price| ("severely lame days".to_owned(), days.severe, price));
    Bill::of(lame.into_iter().chain(severe))
}

fn lame_days(history: &History<'_>, round_days: u64) -> LameDays {
    let mut sum = LameDays::default();
    for (life, seen) in history.lives().iter().zip(&sightings::of(history)) {
        for (nth, sighting) in seen.iter().enumerate().filter(|(_, sighting)| sighting.saw.is_lame()) {
            let next = seen.get(nth + 1).map(|next| next.day);
            let days = until(history, life, sighting, next);
            let before = (history.period().from() - sighting.day).num_days().max(0) as u64;
            sum.unseen += days.min((before + days).saturating_sub(round_days));
            *(if sighting.saw == Saw::Severe { &mut sum.severe } else { &mut sum.lame }) += days;
        }
    }
    sum
}

/// Days of the period from a sighting to the next, to leaving, or to the period's end.
fn until(history: &History<'_>, life: &Life<'_>, sighting: &Sighting, next: Option<NaiveDate>) -> u64 {
    let after = history.period().to() + TimeDelta::days(1);
    let left = life.animal.left.map_or(after, |left| left.day);
    let end = next.unwrap_or(after).min(left).min(after);
    (end - sighting.day.max(history.period().from())).num_days().max(0) as u64
}

fn cases_bill(history: &History<'_>, prices: &Prices, warnings: &mut Vec<String>) -> Figure<Bill> {
    if prices.cases.is_empty() {
        return Figure::cannot(
            "no price is set: write `costs: (case: {\"any\": \"…\"})`, with your own price, into footfold.ron",
        );
    }
    let (mut counts, mut unpriced): (BTreeMap<&str, (u64, Decimal)>, u64) = (BTreeMap::new(), 0);
    for case in cases_of(history, history.herd().protocol().repeat_case_days) {
        let lesion = case.lesion;
        let names = [lesion.word(), lesion.rolled_up().word(), lesion.group().word(), "any"];
        match names.into_iter().find_map(|name| Some((name, *prices.cases.get(name)?))) {
            Some((name, price)) => counts.entry(name).or_insert((0, price)).0 += 1,
            None => unpriced += 1,
        }
    }
    if unpriced > 0 {
        warnings.push(format!("{unpriced} cases have no price and are not counted; `any` prices all others"));
    }
    Bill::of(counts.into_iter().map(|(name, (count, price))| (format!("cases, {name}"), count, price)))
}

impl Bill {
    /// What was counted at its price, and the sum; none where an amount has more digits than a decimal holds.
    fn of(items: impl IntoIterator<Item = (String, u64, Decimal)>) -> Figure<Self> {
        let item = |(what, count, price): (String, u64, Decimal)| {
            Some(Item { what, count, price, amount: price.checked_mul(Decimal::from(count))? })
        };
        let counted = items.into_iter().filter(|(_, count, _)| *count > 0);
        let bill = counted.map(item).collect::<Option<Vec<Item>>>().and_then(|items| {
            let total = items.iter().try_fold(Decimal::ZERO, |sum, item| sum.checked_add(item.amount))?;
            Some(Self { items, total })
        });
        Figure::of(bill, "the amounts are too large to add: look at the prices in `costs`")
    }
}
