//! Charges: what a visit costs by the trimmer's price list, to the penny, without a float (`spec/work.md` §6).

pub use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use serde::{Deserialize, Serialize};

use super::sheet::{Sheet, Totals};

/// A trimmer's price list. What is left out is not charged. Prices are without VAT.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Prices {
    /// Shown with every sum: `GBP`.
    pub currency: String,
    /// Once a visit.
    pub call_out: Option<Decimal>,
    /// For each hour.
    pub hour: Option<Decimal>,
    /// For each cow lifted and not trimmed.
    pub lift: Option<Decimal>,
    /// For each cow trimmed as planned.
    pub trim_routine: Option<Decimal>,
    /// For each cow trimmed for lameness.
    pub trim_lame: Option<Decimal>,
    /// For each cow trimmed to check.
    pub trim_check: Option<Decimal>,
    /// For each wooden block.
    pub block_wood: Option<Decimal>,
    /// For each rubber block.
    pub block_rubber: Option<Decimal>,
    /// For each block that wears away.
    pub block_bio: Option<Decimal>,
    /// For each plastic shoe.
    pub block_shoe: Option<Decimal>,
    /// For each block whose kind was not written.
    pub block_not_said: Option<Decimal>,
    /// For each dressing.
    pub dressing: Option<Decimal>,
    /// VAT in percent.
    pub vat_percent: Option<Decimal>,
}

/// What a visit costs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Charges {
    /// The currency of every sum.
    pub currency: String,
    /// What is charged, line by line.
    pub lines: Vec<ChargeLine>,
    /// What was done and has no price, in words.
    pub without_price: Vec<String>,
    /// Sum before VAT.
    pub net: Decimal,
    /// VAT in percent.
    pub vat_percent: Decimal,
    /// Sum of the lines' VAT.
    pub vat: Decimal,
    /// To pay.
    pub total: Decimal,
    /// How sums were rounded.
    pub rounding: &'static str,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChargeLine {
    /// What for.
    pub what: String,
    /// How many.
    pub count: Decimal,
    /// The price of one.
    pub each: Decimal,
    /// Count times price.
    pub net: Decimal,
    /// VAT on it.
    pub vat: Decimal,
}

/// Said under every account.
pub const ROUNDING: &str = "each line and its VAT are rounded half up to the penny, then added";

/// What a visit costs. `hours` are those worked, if they are charged.
pub fn charges(sheet: &Sheet, prices: &Prices, hours: Option<Decimal>) -> Charges {
    let vat_percent = prices.vat_percent.unwrap_or_default();
    let (mut lines, mut without_price) = (Vec::new(), Vec::new());
    for (what, count, price) in items(&sheet.totals, prices, hours) {
        match price {
            Some(each) if !count.is_zero() => lines.push(line(what, count, each, vat_percent)),
            None if !count.is_zero() && is_listed_where_unpriced(&what) => {
                without_price.push(format!("{what}: {count}"));
            }
            _ => {}
        }
    }
    let net: Decimal = lines.iter().map(|line| line.net).sum();
    let vat: Decimal = lines.iter().map(|line| line.vat).sum();
    Charges {
        currency: prices.currency.clone(),
        lines,
        without_price,
        net,
        vat_percent,
        vat,
        total: net + vat,
        rounding: ROUNDING,
    }
}

type Item = (String, Decimal, Option<Decimal>);

fn items(totals: &Totals, prices: &Prices, hours: Option<Decimal>) -> Vec<Item> {
    let item = |what: &str, count: usize, price| (what.to_owned(), Decimal::from(count), price);
    let mut items = vec![
        item("call-out", usize::from(prices.call_out.is_some()), prices.call_out),
        ("hours".to_owned(), hours.unwrap_or_default(), prices.hour),
        item("cows lifted, no trim", totals.lifted_only, prices.lift),
        item("routine trims", totals.trimmed_routine, prices.trim_routine),
        item("lame trims", totals.trimmed_lame, prices.trim_lame),
        item("check trims", totals.trimmed_check, prices.trim_check),
    ];
    for blocks in &totals.blocks {
        let (what, price) = match blocks.what {
            "wood" => ("wood blocks", prices.block_wood),
            "rubber" => ("rubber blocks", prices.block_rubber),
            "bio" => ("bio blocks", prices.block_bio),
            "shoe" => ("shoes", prices.block_shoe),
            _ => ("blocks, kind not said", prices.block_not_said),
        };
        items.push(item(what, blocks.count, price));
    }
    items.push(item("dressings", totals.dressings, prices.dressing));
    items
}

/// A trimmer charges by cow, by kind of trim or by hour: only what was put on is missed where it has no price.
fn is_listed_where_unpriced(what: &str) -> bool {
    what.contains("blocks") || what == "shoes" || what == "dressings"
}

fn line(what: String, count: Decimal, each: Decimal, vat_percent: Decimal) -> ChargeLine {
    let net = penny(count * each);
    let vat = penny(net * vat_percent / Decimal::ONE_HUNDRED);
    ChargeLine { what, count, each, net, vat }
}

/// Half up, with two places.
fn penny(sum: Decimal) -> Decimal {
    let mut rounded = sum.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(2);
    rounded
}

#[cfg(test)]
mod tests {
    use super::super::sheet::{Visit, sheet};
    use super::*;
    use crate::fold::sample::{day, herd};

    fn pounds(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn a_visit() -> Sheet {
        let herd = herd(
            "2026-03-14",
            &[
                "2026-03-14 417 lesion WLA RH outer by kj",
                "2026-03-14 417 trim lame RH by kj",
                "2026-03-14 417 block on RH inner wood by kj",
                "2026-03-14 418 trim routine LF RF LH RH by kj",
                "2026-03-14 419 trim routine LF RF LH RH by kj",
                "2026-03-14 419 dressing on LH by kj",
            ],
        );
        sheet(&herd, &Visit { day: day("2026-03-14"), by: None, device: None })
    }

    fn a_list() -> Prices {
        Prices {
            currency: "GBP".to_owned(),
            call_out: Some(pounds("25")),
            trim_routine: Some(pounds("13.335")),
            trim_lame: Some(pounds("18.50")),
            block_wood: Some(pounds("9.95")),
            vat_percent: Some(pounds("20")),
            ..Prices::default()
        }
    }

    #[test]
    fn sums_are_exact_to_the_penny_and_half_goes_up() {
        let charges = charges(&a_visit(), &a_list(), None);
        let nets: Vec<(&str, String)> =
            charges.lines.iter().map(|line| (line.what.as_str(), line.net.to_string())).collect();
        let expected =
            [("call-out", "25.00"), ("routine trims", "26.67"), ("lame trims", "18.50"), ("wood blocks", "9.95")];
        assert_eq!(nets, expected.map(|(what, net)| (what, net.to_owned())));
        assert_eq!(charges.lines[1].vat.to_string(), "5.33");
        assert_eq!((charges.net, charges.vat, charges.total), (pounds("80.12"), pounds("16.02"), pounds("96.14")));
    }

    #[test]
    fn half_a_penny_goes_up() {
        assert_eq!(penny(pounds("0.005")).to_string(), "0.01");
        assert_eq!(penny(pounds("2.345")).to_string(), "2.35");
        assert_eq!(penny(pounds("2.3449")).to_string(), "2.34");
    }

    #[test]
    fn what_was_put_on_and_has_no_price_is_named() {
        let charges = charges(&a_visit(), &a_list(), None);
        assert_eq!(charges.without_price, ["dressings: 1"]);
    }

    #[test]
    fn hours_are_charged_where_they_have_a_price() {
        let prices = Prices { hour: Some(pounds("45")), ..Prices::default() };
        let charges = charges(&a_visit(), &prices, Some(pounds("2.5")));
        assert_eq!((charges.lines.len(), charges.total), (1, pounds("112.50")));
    }
}
