//! One part of a typed line: its words as units of sense, taken one by one by the act that reads it.

use std::ops::RangeInclusive;

use super::phrase::{Lead, Sense, senses};
use super::remark::{Remark, Span, Wrong};
use super::token::Source;
use super::units::{Unit, says_nothing};
use crate::line::Decimal;
use crate::vocabulary::{Claw, DoseUnit, Feet, Foot, Route};

/// What a doubt may be about, so that it can be shown at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Topic {
    Zone,
    Wall,
    Sole,
    Due,
}

/// The words of one act.
pub(super) struct Part<'l> {
    pub(super) source: &'l Source,
    pub(super) units: Vec<Unit>,
    /// The words that say which act it is.
    pub(super) said: Span,
    /// The feet that the acts before it have named.
    pub(super) named: Feet,
    /// The feet of the trim before it, where no lesion was found on the line.
    pub(super) trimmed: Feet,
    /// Whether a lesion was found before it on the line.
    pub(super) found: bool,
    pub(super) remarks: Vec<Remark>,
    /// What is missing: said only if every word was understood.
    pub(super) missing: Vec<Remark>,
    pub(super) places: Vec<(Topic, Span)>,
    /// The feet it is about, if it named or took over any.
    pub(super) stands_on: Feet,
}

impl<'l> Part<'l> {
    pub(super) fn new(source: &'l Source, units: Vec<Unit>, said: Span, named: Feet) -> Self {
        let (remarks, missing, places) = (Vec::new(), Vec::new(), Vec::new());
        let (trimmed, stands_on) = (Feet::NONE, Feet::NONE);
        Self { source, units, said, named, trimmed, found: false, remarks, missing, places, stands_on }
    }

    pub(super) fn wrong(&mut self, span: Span, wrong: Wrong) {
        self.remarks.push(self.source.remark(span, wrong));
    }

    /// Something the act needs is not there.
    pub(super) fn missing<T>(&mut self, found: &str, expected: &str) -> Option<T> {
        self.missing.push(self.source.remark(self.said, Wrong::new(found, expected)));
        None
    }

    pub(super) fn use_up(&mut self, range: std::ops::Range<usize>) {
        self.units[range].iter_mut().for_each(|unit| unit.used = true);
    }

    /// The word there, in small letters, if it is a single one that nothing has taken.
    pub(super) fn free(&self, at: usize) -> Option<&'l str> {
        let unit = self.units.get(at)?;
        (!unit.used && !unit.quoted).then(|| self.source.lower(unit.span))
    }

    /// Up to four words from there on, for dates and lengths.
    pub(super) fn words(&self, at: usize) -> Vec<&'l str> {
        (at..at + 4).map_while(|at| self.free(at)).collect()
    }

    /// The first word from there on that this can read.
    pub(super) fn first<T>(&mut self, from: usize, read: impl Fn(&'l str) -> Option<T>) -> Option<(T, Span)> {
        let (at, value) = (from..self.units.len()).find_map(|at| Some((at, read(self.free(at)?)?)))?;
        self.use_up(at..at + 1);
        Some((value, self.units[at].span))
    }

    /// Every phrase of this kind.
    pub(super) fn all<T>(&mut self, pick: impl Fn(Sense) -> Option<T>) -> Vec<(T, Span)> {
        let mut out = Vec::new();
        for unit in self.units.iter_mut().filter(|unit| !unit.used) {
            if let Some(value) = unit.sense.and_then(&pick) {
                unit.used = true;
                out.push((value, unit.span));
            }
        }
        out
    }

    /// At most one of a kind; a second one that says something else is wrong.
    pub(super) fn one<T: PartialEq + Copy>(&mut self, pick: impl Fn(Sense) -> Option<T>, what: &str) -> Option<T> {
        let found = self.all(pick);
        let (first, _) = *found.first()?;
        if let Some((_, span)) = found.iter().find(|(value, _)| *value != first) {
            self.wrong(*span, Wrong::new(format!("a second {what}"), "one in each part; put a comma between two acts"));
        }
        Some(first)
    }

    pub(super) fn feet(&mut self) -> Feet {
        let feet = |sense| if let Sense::Feet(feet) = sense { Some(feet) } else { None };
        self.stands_on = self.all(feet).into_iter().fold(Feet::NONE, |all, (feet, _)| all.and(feet));
        self.stands_on
    }

    /// The feet named, or the one carried over. Of several none is: which one would be a guess.
    pub(super) fn feet_or_carried(&mut self) -> Feet {
        if self.feet().is_empty() && self.named.count() == 1 {
            self.stands_on = self.named;
        }
        self.stands_on
    }

    /// No foot or one.
    pub(super) fn foot(&mut self, carry: bool) -> Option<Foot> {
        let feet = if carry { self.feet_or_carried() } else { self.feet() };
        if feet.count() > 1 {
            self.wrong(self.said, Wrong::new("more than one foot", "one foot; write the act once for each"));
        }
        feet.iter().next()
    }

    pub(super) fn needed_foot(&mut self) -> Option<Foot> {
        match self.foot(true) {
            Some(foot) => Some(foot),
            None => self.no_foot(),
        }
    }

    /// It needs a foot; where several were named before it, one of them.
    pub(super) fn no_foot<T>(&mut self) -> Option<T> {
        let feet: Vec<&str> = self.named.iter().map(Foot::word).collect();
        match feet.split_last() {
            Some((last, rest)) if !rest.is_empty() => {
                self.missing("which foot", &format!("{} or {last}", rest.join(", ")))
            }
            _ => self.missing("no foot", "LF, RF, LH or RH"),
        }
    }

    /// No foot or one, but not where it may be any of several.
    pub(super) fn foot_unless_unclear(&mut self) -> Option<Foot> {
        let foot = self.foot(true);
        if foot.is_none() && self.named.count() > 1 { self.no_foot() } else { foot }
    }

    pub(super) fn claw(&mut self) -> Option<Claw> {
        self.one(|sense| if let Sense::Claw(claw) = sense { Some(claw) } else { None }, "claw")
    }

    /// Where this word announces a value; it is taken, as are words passed over after it.
    pub(super) fn lead(&mut self, lead: Lead) -> Option<usize> {
        let at = self.units.iter().position(|unit| !unit.used && unit.sense == Some(Sense::Lead(lead)))?;
        self.use_up(at..at + 1);
        Some(at)
    }

    /// The single word after a lead, taken.
    pub(super) fn word_after(&mut self, lead: Lead, expected: &str) -> Option<(&'l str, Span)> {
        let at = self.lead(lead)?;
        self.word_at(at + 1, self.units[at].span, expected)
    }

    /// The single word there, taken; or a remark at `before`.
    pub(super) fn word_at(&mut self, at: usize, before: Span, expected: &str) -> Option<(&'l str, Span)> {
        let Some(word) = self.free(at) else {
            self.wrong(before, Wrong::new("nothing follows", expected));
            return None;
        };
        self.use_up(at..at + 1);
        Some((word, self.units[at].span))
    }

    /// A whole number with one of these letters or words before it: `zone 3`, `z3`.
    pub(super) fn number(
        &mut self,
        lead: Lead,
        short: &str,
        range: RangeInclusive<u32>,
        found: &str,
    ) -> Option<(u32, Span)> {
        let expected = format!("{} to {}", range.start(), range.end());
        let attached = |word: &'l str| {
            let rest = word.strip_prefix(lead.word()).or_else(|| word.strip_prefix(short));
            rest.filter(|rest| !short.is_empty() && is_number(rest))
        };
        let value = match self.word_after(lead, &expected) {
            Some(value) => Some(value),
            None => self.first(0, attached),
        };
        let (digits, span) = value?;
        let number = loose_number(digits).filter(|n| range.contains(n));
        if number.is_none() {
            self.wrong(span, Wrong::new(found, expected));
        }
        number.map(|number| (number, span))
    }

    /// A measure after its word, with or without unit: `wall 83`, `wall 83mm`, `wall 83 mm`.
    pub(super) fn measure(&mut self, lead: Lead, names: &[&str], expected: &str) -> Option<(&'l str, Span)> {
        let at = self.lead(lead)?;
        let (word, span) = self.word_at(at + 1, self.units[at].span, expected)?;
        if let Some(bare) = names.iter().find_map(|name| word.strip_suffix(name)).filter(|bare| !bare.is_empty()) {
            return Some((bare, span));
        }
        if self.free(at + 2).is_some_and(|next| names.contains(&next)) {
            self.use_up(at + 2..at + 3);
        }
        Some((word, span))
    }

    /// An amount: `15ml`, `15 ml`, at this place.
    pub(super) fn amount_at(&self, at: usize) -> Option<(&'l str, DoseUnit, usize)> {
        let word = self.free(at)?;
        let digits = word.bytes().take_while(|b| b.is_ascii_digit() || *b == b'.').count();
        let unit = |word: &str| {
            senses(word).iter().find_map(|sense| if let Sense::Unit(unit) = sense { Some(*unit) } else { None })
        };
        if digits == 0 {
            return None;
        }
        if digits == word.len() {
            return unit(self.free(at + 1)?).map(|unit| (word, unit, 2));
        }
        unit(&word[digits..]).map(|unit| (&word[..digits], unit, 1))
    }

    pub(super) fn route_at(&self, at: usize) -> Option<Route> {
        match self.units.get(at).filter(|unit| !unit.used)?.sense? {
            Sense::Route(route) => Some(route),
            _ => None,
        }
    }

    /// The words that no one took and that say something.
    pub(super) fn left_over(&self) -> Vec<Unit> {
        let silent = |unit: &Unit| {
            // After a remark the act may have left words untouched that it does know.
            let known = !self.remarks.is_empty() && unit.sense.is_some();
            !unit.quoted && (known || says_nothing(self.source.lower(unit.span)))
        };
        self.units.iter().filter(|unit| !unit.used && !silent(unit)).copied().collect()
    }
}

/// `z3`, `zone3`, `g2`, `grade2`.
pub(super) fn is_detail(word: &str) -> bool {
    ["zone", "grade", "z", "g"].iter().any(|lead| word.strip_prefix(lead).is_some_and(is_number))
}

/// `RH3`: a foot and a zone written together.
pub(super) fn foot_and_zone(word: &str) -> Option<(Foot, u32)> {
    let at = word.find(|c: char| c.is_ascii_digit())?;
    let (foot, zone) = word.split_at(at);
    let foot = senses(foot).iter().find_map(|sense| match sense {
        Sense::Feet(feet) if feet.count() == 1 => feet.iter().next(),
        _ => None,
    })?;
    loose_number(zone).filter(|zone| *zone <= 12).map(|zone| (foot, zone))
}

pub(super) fn is_number(word: &str) -> bool {
    !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit())
}

/// Reads digits; leading zeros are nothing.
pub(super) fn loose_number(word: &str) -> Option<u32> {
    if is_number(word) { word.parse().ok() } else { None }
}

/// Reads a decimal with zeros where people put them: `15.0`, `0.50`, `07`.
pub(super) fn loose_decimal(word: &str) -> Option<Decimal> {
    let (whole, part) = word.split_once('.').unwrap_or((word, ""));
    let part = part.trim_end_matches('0');
    if !is_number(whole) || part.len() > 2 || part.bytes().any(|b| !b.is_ascii_digit()) {
        return None;
    }
    let hundredths = format!("{part:0<2}").parse::<u32>().ok()?;
    Decimal::from_hundredths(whole.parse::<u32>().ok()?.checked_mul(100)?.checked_add(hundredths)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_understood_with_needless_zeros() {
        for (typed, value) in
            [("15", "15"), ("15.0", "15"), ("0.50", "0.5"), ("07", "7"), ("6.25", "6.25"), ("3.", "3")]
        {
            assert_eq!(loose_decimal(typed).unwrap().to_string(), value);
        }
        for wrong in ["0", "", ".", "1.234", "-1", "99999999999", "1.2.3"] {
            assert_eq!(loose_decimal(wrong), None, "{wrong}");
        }
    }
}
