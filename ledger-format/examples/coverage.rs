//! How often 95 % limits hold the truth: herds and animals made with known rates, a fixed seed.
//!
//! `cargo run --release -p ledger-format --example coverage`

#![allow(clippy::disallowed_macros, reason = "it prints a table; the crate itself prints nothing")]

use ledger_format::measures::method::agreement::{Weights, weighted_kappa};
use ledger_format::measures::method::survival::{Interval, kaplan_meier};
use ledger_format::measures::method::{LEVEL, Limits, difference, paired, proportion, rate, shrink};

/// How many times each is made.
const TIMES: u32 = 20_000;

/// Chance from a seed: `splitmix64`.
struct Chance(u64);

impl Chance {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn of(&mut self, n: u64, p: f64) -> u64 {
        (0..n).filter(|_| self.unit() < p).count() as u64
    }

    fn waits(&mut self, mean: f64) -> f64 {
        -(1.0 - self.unit()).ln() * mean
    }

    fn poisson(&mut self, mean: f64) -> u64 {
        let (mut sum, mut events) = (self.waits(1.0), 0);
        while sum < mean {
            sum += self.waits(1.0);
            events += 1;
        }
        events
    }
}

fn holds(limits: Option<Limits>, truth: f64) -> bool {
    limits.is_some_and(|limits| limits.lower <= truth + 1e-12 && truth <= limits.upper + 1e-12)
}

/// Prints how often something holds; times that say nothing are counted as not holding.
fn tell(what: &str, mut once: impl FnMut(&mut Chance) -> bool) {
    let mut chance = Chance(1);
    let held = (0..TIMES).filter(|_| once(&mut chance)).count();
    println!("{:>6.2} %  {what}", 100.0 * held as f64 / f64::from(TIMES));
}

fn main() {
    println!("95 % limits that hold the truth, of {TIMES} each\n");
    for (n, p) in [(50, 0.05), (50, 0.3), (200, 0.05), (200, 0.3)] {
        tell(&format!("Wilson, {n} cows, {p}"), |chance| holds(proportion::wilson(chance.of(n, p), n, LEVEL), p));
        tell(&format!("Clopper-Pearson, {n} cows, {p}"), |chance| {
            holds(proportion::clopper_pearson(chance.of(n, p), n, LEVEL), p)
        });
    }
    parts();
    differences();
    rates();
    curves();
    many();
}

fn parts() {
    for (herd, lame, n) in [(100_u64, 30_u64, 49_u64), (60, 3, 30), (200, 50, 65)] {
        let drawn = |chance: &mut Chance| {
            let (mut left, mut lame_left, mut seen) = (herd, lame, 0);
            for _ in 0..n {
                let is_lame = chance.unit() * (left as f64) < lame_left as f64;
                seen += u64::from(is_lame);
                lame_left -= u64::from(is_lame);
                left -= 1;
            }
            seen
        };
        tell(&format!("cows of a herd, {n} of {herd} seen, {lame} lame"), |chance| {
            let range = proportion::cows_of_part(drawn(chance), n, herd, LEVEL);
            range.is_some_and(|(lower, upper)| (lower..=upper).contains(&lame))
        });
        tell(&format!("Wilson of a part, {n} of {herd}, {lame} lame"), |chance| {
            let limits = proportion::wilson_of_part(drawn(chance), n, herd, LEVEL);
            holds(limits, lame as f64 / herd as f64)
        });
    }
}

fn differences() {
    for (n1, p1, n2, p2) in [(45, 0.25, 41, 0.55), (200, 0.3, 180, 0.25), (30, 0.1, 30, 0.1)] {
        tell(&format!("Newcombe, {n1} at {p1} and {n2} at {p2}"), |chance| {
            holds(difference::newcombe(chance.of(n1, p1), n1, chance.of(n2, p2), n2, LEVEL), p1 - p2)
        });
    }
    for (n, cells) in [(100, [0.2, 0.1, 0.05, 0.65]), (200, [0.15, 0.1, 0.1, 0.65])] {
        tell(&format!("Newcombe for pairs, {n} cows, {cells:?}"), |chance| {
            let mut counts = [0; 4];
            for _ in 0..n {
                let of = chance.unit();
                let at = cells
                    .iter()
                    .scan(0.0, |sum, cell| {
                        *sum += cell;
                        Some(*sum)
                    })
                    .position(|sum| of < sum);
                counts[at.unwrap_or(3)] += 1;
            }
            let [e, f, g, h] = counts;
            holds(paired::newcombe_paired(e, f, g, h, LEVEL), cells[1] - cells[2])
        });
    }
}

fn rates() {
    for mean in [0.5, 3.0, 10.0, 40.0] {
        tell(&format!("Poisson, {mean} cases expected"), |chance| {
            holds(rate::poisson_count(chance.poisson(mean), LEVEL), mean)
        });
    }
    for (a, b) in [(5.0, 8.0), (30.0, 20.0)] {
        tell(&format!("ratio of rates, {a} and {b} cases expected"), |chance| {
            let ratio = rate::ratio(chance.poisson(a), a, chance.poisson(b), b, LEVEL);
            // With no case at all every ratio may be.
            ratio.is_none_or(|ratio| ratio.lower <= 1.0 && ratio.upper.is_none_or(|upper| 1.0 <= upper))
        });
    }
}

fn curves() {
    for (n, mean, followed) in [(40_u32, 30.0, 60.0), (120, 30.0, 60.0)] {
        let truth = (-20.0_f64 / mean).exp();
        tell(&format!("Kaplan-Meier at day 20, {n} cows, some not followed"), |chance| {
            let times: Vec<(f64, bool)> = (0..n)
                .map(|_| {
                    let (event, end) = (chance.waits(mean), chance.unit() * followed);
                    (event.min(end), event <= end)
                })
                .collect();
            let curve = kaplan_meier(&times, Interval::LogLog, LEVEL);
            holds(curve.and_then(|curve| curve.at(20.0).and_then(|step| step.limits)), truth)
        });
    }
}

fn many() {
    // Herds whose shares spread as beta(6, 14): the share of the first, drawn to the others.
    tell("a drawn share, 20 herds of 100 cows", |chance| {
        let mut gamma = |shape: u32| (0..shape).map(|_| chance.waits(1.0)).sum::<f64>();
        let truths: Vec<f64> = (0..20)
            .map(|_| {
                let (a, b) = (gamma(6), gamma(14));
                a / (a + b)
            })
            .collect();
        let groups: Vec<(u64, u64)> = truths.iter().map(|p| (chance.of(100, *p), 100)).collect();
        let drawn = shrink::common(&groups)
            .and_then(|common| shrink::posterior(groups[0].0, 100, common.alpha, common.beta, LEVEL));
        holds(drawn.map(|drawn| drawn.limits), truths[0])
    });
    // Two who each see the true score, 0 to 3 alike often, three times of four, and else one at random.
    let truth = 0.75 * 0.75;
    tell("kappa, 150 cows, two scorers", |chance| {
        let mut table = vec![vec![0_u64; 4]; 4];
        for _ in 0..150 {
            let score = |chance: &mut Chance| (chance.unit() * 4.0) as usize;
            let of = score(chance);
            let seen = |chance: &mut Chance| if chance.unit() < 0.75 { of } else { score(chance) };
            let (first, second) = (seen(chance), seen(chance));
            table[first][second] += 1;
        }
        holds(weighted_kappa(&table, Weights::Linear, LEVEL).map(|kappa| kappa.limits), truth)
    });
}
