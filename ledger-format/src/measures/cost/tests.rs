use super::*;
use crate::fold::sample::{day, herd};
use crate::measures::Period;

fn money(text: &str) -> Decimal {
    text.parse().unwrap()
}

fn figures(lines: &[String], prices: &Prices) -> CostFigures {
    let herd = herd("2026-03-31", lines);
    cost(&History::of(&herd, Period::new(day("2026-03-01"), day("2026-03-31")).unwrap()), prices)
}

fn a_day(price: &str) -> Prices {
    Prices { currency: "GBP".to_owned(), lame_day: Some(money(price)), ..Prices::default() }
}

#[test]
fn a_published_rate_comes_out() {
    // AHDB 2020: GBP 2.20 a lame day; 60 cows lame for 30 days are 3,960.00.
    let mut lines: Vec<String> = (1..=60).map(|cow| format!("2026-03-01 {cow} score 2 by kj")).collect();
    lines.extend((1..=60).map(|cow| format!("2026-03-31 {cow} score 1 by kj")));
    let figures = figures(&lines, &a_day("2.20"));
    let bill = figures.days.value().unwrap();
    assert_eq!((bill.total, bill.items[0].count), (money("3960.00"), 1_800));
    assert_eq!(bill.total.to_string(), "3960.00");
}

#[test]
fn days_end_with_the_next_sighting_leaving_or_the_period() {
    let lines = [
        "2026-02-20 1 score 2 by kj",
        "2026-03-05 1 score 3 by kj",
        "2026-03-07 1 score 2 by kj",
        "2026-03-11 1 left culled feet by kj",
        "2026-03-30 2 score 2 by kj",
    ]
    .map(str::to_owned);
    let prices = Prices { severe_day: Some(money("5")), ..a_day("2") };
    let figures = figures(&lines, &prices);
    let counts: Vec<u64> = figures.days.value().unwrap().items.iter().map(|item| item.count).collect();
    // Lame 1 to 4 March, 7 to 10 March, 30 and 31 March; severely on the 5th and 6th.
    assert_eq!(counts, [4 + 4 + 2, 2]);
    assert_eq!(figures.days.value().unwrap().total, money("30"));
}

#[test]
fn cases_take_the_nearest_price() {
    let lines = [
        "2026-03-02 1 lesion WLA RH outer by kj",
        "2026-03-02 2 lesion WLF RH outer by kj",
        "2026-03-02 3 lesion SU RH outer by kj",
        "2026-03-02 4 lesion DD RH by kj",
        "2026-03-02 5 lesion CC RH inner by kj",
    ]
    .map(str::to_owned);
    let cases = [("WLA", "320"), ("WL", "300"), ("horn", "200"), ("DD", "75")];
    let cases = cases.into_iter().map(|(name, price)| (name.to_owned(), money(price))).collect();
    let figures = figures(&lines, &Prices { cases, ..Prices::default() });
    assert_eq!(figures.cases.value().unwrap().total, money("895"));
    assert!(figures.warnings[0].starts_with("1 cases have no price"), "{:?}", figures.warnings);
    assert!(figures.days.value().is_none());
}

#[test]
fn without_prices_nothing_is_computed() {
    let figures = figures(&["2026-03-02 1 score 3 by kj".to_owned()], &Prices::default());
    assert!(figures.days.value().is_none() && figures.cases.value().is_none());
    assert_eq!(figures.published.len(), PUBLISHED.len());
}

#[test]
fn a_price_of_severe_days_alone_counts_those_and_says_so() {
    let lines = ["2026-03-22 1 score 3 by kj", "2026-03-27 2 score 2 by kj"].map(str::to_owned);
    let prices = Prices { severe_day: Some(money("5")), currency: "GBP".to_owned(), ..Prices::default() };
    let figures = figures(&lines, &prices);
    assert_eq!(figures.days.value().unwrap().total, money("50"));
    assert_eq!(figures.warnings, ["5 lame days have no price and are not counted: set `lame_day`"]);
    assert!(figures.cases.because().unwrap().contains("costs: (case:"));
}

#[test]
fn days_that_nobody_saw_are_told() {
    // Scored once, before the period: her days of March that lie within `round_days` of it are believed.
    let lines = ["2026-02-20 1 score 2 by kj".to_owned()];
    let figures = figures(&lines, &a_day("2"));
    let bill = figures.days.value().unwrap();
    assert_eq!(bill.items[0].count, 31);
    let round_days = i64::from(herd("2026-03-31", &[""; 0]).protocol().round_days);
    let unseen = (day("2026-04-01") - day("2026-02-20")).num_days() - round_days;
    assert!((1..=31).contains(&unseen));
    assert!(figures.warnings[0].starts_with(&format!("{unseen} of 31 lame days lie more than {round_days} days")));
}

#[test]
fn amounts_beyond_all_digits_are_no_figure_and_no_panic() {
    let lines = ["2026-03-02 1 score 2 by kj", "2026-03-02 1 lesion SU RH outer by kj"].map(str::to_owned);
    let most = Decimal::MAX;
    let prices = Prices { cases: [("any".to_owned(), most)].into(), ..a_day(&most.to_string()) };
    let figures = figures(&lines, &prices);
    assert!(figures.days.because().unwrap().contains("too large"));
    assert_eq!(figures.cases.value().unwrap().total, most);
}

#[test]
fn amounts_without_a_currency_are_said_to_be() {
    let prices = Prices { currency: String::new(), ..a_day("2") };
    let figures = figures(&["2026-03-22 1 score 2 by kj".to_owned()], &prices);
    assert!(figures.warnings[0].starts_with("no `currency` is set"), "{:?}", figures.warnings);
}
