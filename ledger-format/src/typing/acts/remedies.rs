//! Medicines and footbaths.

use crate::limits::QUOTED_BYTES;
use crate::line::{Act, Bath, Decimal, Hold, Medicine};
use crate::text::is_clean;
use crate::typing::part::{Part, is_number, loose_decimal, loose_number};
use crate::typing::phrase::{Lead, Sense};
use crate::typing::remark::{Span, Wrong};
use crate::typing::units::says_nothing;
use crate::vocabulary::{ActWord, DoseUnit, Route};

/// What has been said of a medicine so far.
#[derive(Default)]
struct Told<'l> {
    batch: Option<&'l str>,
    dose: Option<(Decimal, DoseUnit)>,
    route: Option<Route>,
    reason: Option<&'l str>,
    milk: Option<Hold>,
    meat: Option<Hold>,
}

/// The product comes first; the other parts in any order, each announced by its word.
pub(super) fn medicine<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let act = part.units.iter().position(|unit| unit.sense == Some(Sense::Act(ActWord::Medicine)))?;
    let mut from = act + 1;
    while part.free(from).is_some_and(says_nothing) {
        part.use_up(from..from + 1);
        from += 1;
    }
    let (product, mut at) = value(part, from, "a product; put it in quotation marks if need be");
    let mut told = Told::default();
    let before = part.remarks.len();
    while at < part.units.len() {
        at = tell(part, at, &mut told);
    }
    if product.is_none() || part.remarks.len() > before {
        return None;
    }
    let Some((dose, unit)) = told.dose else { return part.missing("no dose", "an amount, as 15ml") };
    let Some(milk) = told.milk else { return part.missing("no milk withdrawal", "milk 0, or days, as milk 4d") };
    let Some(meat) = told.meat else { return part.missing("no meat withdrawal", "meat 0, or days, as meat 4d") };
    let Told { batch, route, reason, .. } = told;
    Some(Act::Medicine(Medicine { product: product?, batch, dose, unit, route, reason, milk, meat }))
}

/// Reads what is said there; gives the place after it.
fn tell<'l>(part: &mut Part<'l>, at: usize, told: &mut Told<'l>) -> usize {
    let Some(Sense::Lead(lead)) = part.units[at].sense else {
        if let Some(route) = part.route_at(at) {
            told.route = Some(route);
            part.use_up(at..at + 1);
            return at + 1;
        }
        return amount(part, at, told).unwrap_or(at + 1);
    };
    let span = part.units[at].span;
    part.use_up(at..at + 1);
    match lead {
        Lead::Batch => {
            let (batch, next) = value(part, at + 1, "a batch");
            told.batch = batch;
            next
        }
        Lead::For => {
            let (reason, next) = value(part, at + 1, "a reason");
            told.reason = reason;
            next
        }
        Lead::Dose => amount(part, at + 1, told).unwrap_or_else(|| {
            part.wrong(span, Wrong::new("no dose", "an amount and a unit, as 15ml"));
            at + 1
        }),
        Lead::Milk => hold(part, at + 1, span, &mut told.milk),
        Lead::Meat => hold(part, at + 1, span, &mut told.meat),
        _ => at + 1,
    }
}

fn amount(part: &mut Part<'_>, at: usize, told: &mut Told<'_>) -> Option<usize> {
    let (number, unit, count) = part.amount_at(at)?;
    let span = part.units[at].span.to(part.units[at + count - 1].span);
    part.use_up(at..at + count);
    match loose_decimal(number) {
        Some(_) if told.dose.is_some() => part.wrong(span, Wrong::new("a second dose", "one dose")),
        Some(dose) => told.dose = Some((dose, unit)),
        None => part.wrong(span, Wrong::new("not a dose", "an amount above 0 with at most two places, as 15 or 2.5")),
    }
    Some(at + count)
}

/// A quoted value, or the words up to the one that begins another part.
fn value<'l>(part: &mut Part<'l>, at: usize, expected: &str) -> (Option<&'l str>, usize) {
    let quoted = part.units.get(at).is_some_and(|unit| unit.quoted);
    let end = if quoted {
        at + 1
    } else {
        (at..part.units.len()).find(|at| begins_another(part, *at)).unwrap_or(part.units.len())
    };
    if end == at {
        let before = part.units[at - 1].span;
        part.wrong(before, Wrong::new("nothing follows", expected));
        return (None, end);
    }
    part.use_up(at..end);
    let span = part.units[at].span.to(part.units[end - 1].span);
    let text = part.source.text(span);
    let fits = !text.is_empty() && text.len() <= QUOTED_BYTES && is_clean(text) && !text.contains('"');
    if !fits {
        part.wrong(
            span,
            Wrong::new("not a name", format!("1 to {QUOTED_BYTES} bytes without \" and without spaces at its ends")),
        );
    }
    (Some(text).filter(|_| fits), end)
}

fn begins_another(part: &Part<'_>, at: usize) -> bool {
    let unit = &part.units[at];
    let other_part = matches!(unit.sense, Some(Sense::Lead(_) | Sense::Route(_)));
    unit.quoted || other_part || part.amount_at(at).is_some()
}

/// `0`, `4d`, `36h`, `4 days`, `36 hours`.
fn hold(part: &mut Part<'_>, at: usize, lead: Span, told: &mut Option<Hold>) -> usize {
    const EXPECTED: &str = "0, or days or hours, as 4d or 36h";
    let Some((word, span)) = part.word_at(at, lead, EXPECTED) else { return at };
    let digits = word.bytes().take_while(u8::is_ascii_digit).count();
    let (number, mut unit) = word.split_at(digits);
    let mut next = at + 1;
    if let Some(apart) = part.free(next).filter(|next| unit.is_empty() && hours_in(next).is_some()) {
        unit = apart;
        part.use_up(next..next + 1);
        next += 1;
    }
    let hours = match (loose_number(number), hours_in(unit)) {
        (Some(0), _) if unit.is_empty() => Some(0),
        (Some(number), Some(hours)) => number.checked_mul(hours),
        _ => None,
    };
    *told = hours.and_then(Hold::from_hours);
    if told.is_none() {
        let bare = is_number(word) && unit.is_empty() && word.len() < 4;
        let wrong = Wrong::new(if bare { "a number without a unit" } else { "not a withdrawal time" }, EXPECTED);
        part.wrong(span, if bare { wrong.suggest(format!("{word}d")) } else { wrong });
    }
    next
}

fn hours_in(unit: &str) -> Option<u32> {
    match unit {
        "d" | "day" | "days" => Some(24),
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(1),
        _ => None,
    }
}

pub(super) fn bath<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let product = part.one(|sense| if let Sense::Bath(product) = sense { Some(product) } else { None }, "product");
    let percent = strength(part);
    let passes = passes(part);
    match product {
        Some(product) => Some(Act::Bath(Bath { product, percent, passes })),
        None => part
            .missing("no footbath product", "copper, zinc, formalin, peracetic, iodophor, hypochlorite, salt or other"),
    }
}

/// `5%`, `5 %`.
fn strength(part: &mut Part<'_>) -> Option<Decimal> {
    let at = (0..part.units.len()).find(|at| part.free(*at).is_some_and(|word| word.ends_with('%')))?;
    let word = part.free(at)?.trim_end_matches('%');
    let (word, from) = if word.is_empty() { (part.free(at.checked_sub(1)?)?, at - 1) } else { (word, at) };
    part.use_up(from..at + 1);
    let percent = loose_decimal(word).filter(|percent| percent.hundredths() <= 10_000);
    if percent.is_none() {
        part.wrong(part.units[from].span, Wrong::new("not a strength", "above 0% to 100%"));
    }
    percent
}

/// `passes 2`, `2 passes`.
fn passes(part: &mut Part<'_>) -> Option<u8> {
    let lead = part.units.iter().position(|unit| unit.sense == Some(Sense::Lead(Lead::Passes)))?;
    if part.free(lead + 1).is_none_or(|next| !is_number(next))
        && let Some(before) = lead.checked_sub(1)
        && let Some(number) = part.free(before).and_then(loose_number).filter(|n| (1..=20).contains(n))
    {
        part.use_up(before..lead + 1);
        return Some(number as u8);
    }
    part.number(Lead::Passes, "", 1..=20, "no such number of passes").map(|(number, _)| number as u8)
}
