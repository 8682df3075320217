//! Canonical bodies without a story, for benchmarks: the mix of a busy ledger over ten years.

use chrono::{Days, NaiveDate};
use ledger_format::vocabulary::{BlockKind, Claw, Feet, Foot, RecheckFinding, Scale, TrimKind};

use crate::chance::Chance;
use crate::deed::Deed;
use crate::life::case::{Case, minor};
use crate::work::remedy::{Dose, OVELMAR, PEDIREL};

/// Lines of a ledger of so many cows over ten years from 2016: bodies only, in order of typing.
///
/// Observed times go up; one line in a hundred is late by up to 30 days.
///
/// ```
/// let body = examples_make::ledger_lines(1, 200, 1).next().unwrap();
/// assert!(ledger_format::line::read(&body).is_ok());
/// ```
pub fn ledger_lines(seed: u64, cows: u32, lines: u64) -> impl Iterator<Item = String> {
    // Minutes worked in ten years, twelve hours a day from six in the morning.
    const TEN_YEARS: u128 = 3_652 * DAY;
    const DAY: u128 = 12 * 60;
    let first = NaiveDate::from_ymd_opt(2016, 1, 1).unwrap_or_default();
    let mut chance = Chance::new(seed, "bench");
    (0..lines).map(move |nth| {
        let worked = u128::from(nth) * TEN_YEARS / u128::from(lines.max(1));
        let day = first + Days::new((worked / DAY) as u64);
        let minutes = 6 * 60 + worked % DAY;
        let day = if chance.permille(10) { day - chance.days(1, 30) } else { day };
        let cow = 1_000 + chance.below(cows.clamp(1, 998_000));
        let deed = deed(day, &mut chance);
        let by = chance.pick(&["kj", "kj", "kj", "ao", "tb", "mw"]);
        let words = if chance.permille(950) { format!(": {}", chance.pick(WORDS)) } else { String::new() };
        format!("{day} {:02}:{:02} {cow} {deed} by {by}{words}", minutes / 60, minutes % 60)
    })
}

/// One act, as often as a trimmer's ledger has it.
fn deed(day: NaiveDate, chance: &mut Chance) -> Deed {
    let foot = chance.weighted(&[(1, Foot::LF), (1, Foot::RF), (4, Foot::LH), (4, Foot::RH)]);
    let claw = chance.pick(&[Claw::Inner, Claw::Outer]);
    match chance.below(1_000) {
        0..330 => Deed::Lesion(Case::begin(day, chance).finding),
        330..420 => Deed::Lesion(minor(foot, chance)),
        420..450 => Deed::NoLesion(Feet::one(foot)),
        450..700 => {
            Deed::Score { value: chance.pick(&[2, 2, 2, 3]), half: None, scale: Scale::Mobility, foot: Some(foot) }
        }
        700..800 => Deed::Trim {
            kind: chance.pick(&[TrimKind::Routine, TrimKind::Lame]),
            feet: Feet::one(foot),
            measured: None,
        },
        800..850 => {
            Deed::BlockOn { foot, claw, kind: chance.pick(&[None, Some(BlockKind::Wood), Some(BlockKind::Shoe)]) }
        }
        850..880 => Deed::BlockGone { lost: chance.permille(300), foot },
        880..910 => Deed::Dressing { on: chance.permille(600), foot },
        910..945 => Deed::RecheckDue { due: day + chance.days(7, 42), foot },
        945..975 => {
            use RecheckFinding::{Better, Same, Sound, Worse};
            Deed::RecheckFound { found: chance.pick(&[Sound, Sound, Better, Same, Worse]), foot }
        }
        _ => {
            let remedy = chance.pick(&[&PEDIREL, &OVELMAR]);
            let batch = Some(format!("{}{}", remedy.batch, chance.between(1_000, 9_999)));
            Deed::Medicine(Dose { remedy, batch, amount: chance.pick(remedy.doses), reason: "lame".to_owned() })
        }
    }
}

const WORDS: &[&str] = &[
    "runs toward the heel, pared back until it was dry again",
    "same claw as in spring, looks shallower this time",
    "walked off better than she came",
    "kicks, mind the left side",
    "horn soft, feet wet for weeks; asked about the scrapers",
    "pus under pressure, opened and left open",
    "last in at both milkings, found on the straw this morning",
    "stone in the white line, taken out with the small knife",
    "second trimmer held the foot; brand hard to read in the rain",
    "to be looked at before she is dried off",
];
