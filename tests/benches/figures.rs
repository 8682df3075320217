//! What herd figures need: all of one herd over five years, and many herds side by side.

use std::time::{Duration, Instant};

use chrono::{Months, NaiveDate};
use ledger_format::fold::{Herd, View};
use ledger_format::measures::herds::{OfHerd, herds};
use ledger_format::measures::method::agreement::{Weights, weighted_kappa};
use ledger_format::measures::method::survival::{Interval, kaplan_meier};
use ledger_format::measures::method::table::fisher_p;
use ledger_format::measures::method::{LEVEL, Limits, proportion, rate};
use ledger_format::measures::outcome::OutcomeQuestion;
use ledger_format::measures::{History, Period};
use ledger_format::measures::{agreement, blocks, care, cost, flow, lesions, outcome, pattern, round, trend};
use ledger_format::merge::{Ledger, Log};

const MONTHS: u32 = 60;
const HERDS: u64 = 60;

/// Goals: 200 ms for all figures of 250,000 lines after load, 2 s for 60 herds.
pub(crate) fn all_figures() {
    let to = NaiveDate::from_ymd_opt(2030, 1, 1).unwrap();
    let cows = 1_760;
    let herd = herd(1, cows, MONTHS, to);
    println!("{} lines of {cows} cows over {MONTHS} months, after load", herd.log().len());
    let period = Period::new(to.checked_sub_months(Months::new(MONTHS)).unwrap(), to).unwrap();
    let mut sum = Duration::ZERO;
    let mut tell = |what: &str, took: Duration| {
        sum += took;
        println!("  {what:<10} {took:>10.1?}");
    };
    tell("history", median(|| History::of(&herd, period)));
    let history = History::of(&herd, period);
    tell("round", median(|| round::round(&history, None)));
    tell("flow", median(|| flow::flow(&history, to)));
    tell("care", median(|| care::care(&history)));
    tell("outcome", median(|| outcome::outcome(&history, OutcomeQuestion::default())));
    tell("blocks", median(|| blocks::blocks(&history, blocks::EARLY_DAYS)));
    tell("lesions", median(|| lesions::lesions(&history, None)));
    let found = lesions::lesions(&history, None);
    tell("pattern", median(|| pattern::pattern(&history, &found)));
    tell("agreement", median(|| agreement::agreement(&history)));
    tell("trend", median(|| trend::trend(&history)));
    let prices = cost::Prices { lame_day: "2.20".parse().ok(), ..cost::Prices::default() };
    tell("cost", median(|| cost::cost(&history, &prices)));
    println!("  all        {sum:>10.1?} (goal: under 200 ms)\n");
    many(to);
    methods();
}

/// The same as `tests/measures/times.py` times of the libraries.
fn methods() {
    println!("\nmethods; beside them run `python tests/measures/times.py` in the environment of `tests/measures/run`");
    let tell = |what: &str, took: Duration| println!("  {what:<28} {:>9.2} ms", took.as_secs_f64() * 1000.0);
    let waits: Vec<(f64, bool)> = (0..5_000_u32).map(|n| (f64::from(n * 7_919 % 61), n % 5 > 0)).collect();
    tell("Kaplan-Meier, 5,000 waits", median(|| kaplan_meier(&waits, Interval::LogLog, LEVEL)));
    let each = |n: u64, of: &dyn Fn(u64) -> Option<Limits>| {
        median(|| (0..n).filter_map(|n| std::hint::black_box(of(n))).count())
    };
    tell("Wilson, 1,000 shares", each(1_000, &|n| proportion::wilson(n % 200, 200, LEVEL)));
    tell("Poisson, 1,000 counts", each(1_000, &|n| rate::poisson_count(n, LEVEL)));
    let table = [vec![34, 10, 2, 0], vec![6, 8, 8, 2], vec![2, 5, 4, 12], vec![0, 1, 2, 14]];
    let kappa = |_: u64| weighted_kappa(&table, Weights::Linear, LEVEL).map(|kappa| kappa.limits);
    tell("weighted kappa, 100 tables", each(100, &kappa));
    let fisher = || (0..100).filter_map(|n| std::hint::black_box(fisher_p(23, 18, 11, 34 + n % 2))).count();
    tell("Fisher, 100 tables", median(fisher));
}

fn many(to: NaiveDate) {
    let all: Vec<Herd> = (0..HERDS).map(|seed| herd(seed, 200, 14, to)).collect();
    let lines: usize = all.iter().map(|herd| herd.log().len()).sum();
    let took = median(|| {
        let of: Vec<OfHerd> = all.iter().map(|herd| OfHerd::of(&History::of(herd, Period::year_to(to)))).collect();
        herds(to, &of)
    });
    println!("{HERDS} herds, {lines} lines, after load: side by side {took:.1?} (goal: under 2 s)");
}

fn herd(seed: u64, cows: u32, months: u32, on: NaiveDate) -> Herd {
    let files = examples_make::herd_of(&examples_make::story_of(seed, cows, months));
    let ledgers = files.ledgers.into_iter().map(|(device, year, bytes)| Ledger::read(device, year, bytes).unwrap());
    Herd::fold(Log::union(ledgers.collect()), Vec::new(), View { on, known: None })
}

fn median<T>(what: impl Fn() -> T) -> Duration {
    let mut times: Vec<Duration> = (0..7)
        .map(|_| {
            let began = Instant::now();
            std::hint::black_box(what());
            began.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}
