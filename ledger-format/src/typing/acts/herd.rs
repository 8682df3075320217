//! What is said of the whole herd or of the ledger itself: rounds, lines withdrawn, devices.

use super::{MARK, Setting, of_device};
use crate::line::{Act, Mark, Reference, Tally, is_full_mark, is_name, read_number};
use crate::typing::part::{Part, is_number, loose_number};
use crate::typing::phrase::{Lead, Sense};
use crate::typing::remark::Wrong;
use crate::typing::units::Unit;
use crate::vocabulary::Scale;

pub(super) fn tally<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    numbers_after_their_words(part);
    let zeros = count(part, Lead::Zeros, 0);
    let ones = count(part, Lead::Ones, 0);
    part.lead(Lead::Scale);
    let scale = part.one(|sense| if let Sense::Scale(scale) = sense { Some(scale) } else { None }, "scale");
    let scale = scale.unwrap_or(Scale::Mobility);
    let walked = count(part, Lead::Walked, 1).or_else(|| {
        let most = |word: &str| loose_number(word).filter(|n| (1..=99_999).contains(n));
        part.first(0, most).map(|(walked, _)| walked)
    });
    let Some(walked) = walked else { return part.missing("no number of cows", "how many walked past, 1 to 99999") };
    if zeros.unwrap_or(0) + ones.unwrap_or(0) > walked {
        part.wrong(part.said, Wrong::new("more zeros and ones than cows", "at most as many as walked past"));
        return None;
    }
    if (zeros.is_some() || ones.is_some()) && !matches!(scale, Scale::Mobility | Scale::Nz) {
        part.wrong(part.said, Wrong::new("zeros and ones", "them only on a scale of 0 to 3"));
        return None;
    }
    Some(Act::Tally(Tally { walked, zeros, ones, scale }))
}

/// `80, 70 0s, 8 1s`: where the last of it is a word, numbers stand before their words; they are put after them.
fn numbers_after_their_words(part: &mut Part<'_>) {
    let says = |unit: &Unit| matches!(unit.sense, Some(Sense::Lead(Lead::Zeros | Lead::Ones | Lead::Walked)));
    let counts = |part: &Part<'_>, at: usize| part.free(at).is_some_and(is_number);
    let of_it: Vec<usize> = (0..part.units.len()).filter(|at| says(&part.units[*at]) || counts(part, *at)).collect();
    let (Some(first), Some(last)) = (of_it.first(), of_it.last()) else { return };
    if says(&part.units[*first]) || !says(&part.units[*last]) {
        return;
    }
    for at in (1..part.units.len()).filter(|at| says(&part.units[*at])).collect::<Vec<_>>() {
        if counts(part, at - 1) {
            part.units.swap(at - 1, at);
        }
    }
}

fn count(part: &mut Part<'_>, lead: Lead, least: u32) -> Option<u32> {
    part.number(lead, "", least..=99_999, "not a number of cows").map(|(number, _)| number)
}

pub(super) fn strike<'l>(part: &mut Part<'l>, setting: &Setting<'_>) -> Option<Act<'l>> {
    let Some(at) = (0..part.units.len()).find(|at| part.free(*at).is_some_and(|word| word.len() == 16)) else {
        return part.missing("no mark", MARK);
    };
    let (word, span) = part.word_at(at, part.said, MARK)?;
    let Some(mark) = Mark::read(word.as_bytes()) else {
        part.wrong(span, Wrong::new("not a mark", MARK));
        return None;
    };
    Some(Act::Strike(Reference { mark, device: of_device(part, at + 1, setting) }))
}

const FULL: &str = "64 hexadecimal digits";

pub(super) fn admit<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let key = full_after(part, Lead::Key)?;
    part.lead(Lead::As);
    let capacity = part.one(|sense| if let Sense::Capacity(what) = sense { Some(what) } else { None }, "capacity");
    let Some(capacity) = capacity else { return part.missing("no capacity", "`as` and keeper, writer or reader") };
    Some(Act::Admit { device: device(part)?, key, capacity })
}

pub(super) fn revoke<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let after = full_after(part, Lead::After)?;
    Some(Act::Revoke { device: device(part)?, after })
}

pub(super) fn adopt<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    match part.first(0, |word| is_full_mark(word).then_some(word)) {
        Some((full, _)) => Some(Act::Adopt(full)),
        None => part.missing("no protocol", FULL),
    }
}

pub(super) fn witness<'l>(part: &mut Part<'l>) -> Option<Act<'l>> {
    let mark = full_after(part, Lead::Mark)?;
    let (length, span) = part.word_after(Lead::Length, "a length in bytes")?;
    let Some(length) = read_number(length, u32::MAX).filter(|length| *length > 0) else {
        part.wrong(span, Wrong::new("not a length", "a length in bytes"));
        return None;
    };
    let year = |word: &str| (word.len() == 4).then(|| loose_number(word)).flatten();
    let Some((year, _)) = part.first(0, year) else { return part.missing("no year", "a year of four digits") };
    Some(Act::Witness { device: device(part)?, year: year as u16, length, mark })
}

fn device<'l>(part: &mut Part<'l>) -> Option<&'l str> {
    match part.first(0, |word| is_name(word).then_some(word)) {
        Some((device, _)) => Some(device),
        None => part.missing("no device", "a device's name: small letters, digits, hyphens"),
    }
}

fn full_after<'l>(part: &mut Part<'l>, lead: Lead) -> Option<&'l str> {
    let Some(at) = part.lead(lead) else { return part.missing("no full mark or key", FULL) };
    let (word, span) = part.word_at(at + 1, part.units[at].span, FULL)?;
    if is_full_mark(word) {
        return Some(word);
    }
    part.wrong(span, Wrong::new("not a full mark or key", FULL));
    None
}
