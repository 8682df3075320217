//! The usual lines, read in one go: what was seen or done at the feet of one cow, in printable ASCII.
//!
//! It reads straight what the merge keeps, without a [`Line`](crate::line::Line) in between, and declines all else:
//! then [`read_sealed`](crate::line::read_sealed) says what the line is, or what is wrong with it.

use chrono::{NaiveDate, NaiveTime};

use super::{Event, Whose};
use crate::limits::{LINE_BYTES, SEAL_BYTES};
use crate::line::{CowNumber, Finding, Mark, Observed, Score, is_of_name, read_date, read_minute, read_time};
use crate::swar::{is_single_spaced_ascii, short_word};
use crate::vocabulary::{BlockKind, Claw, Feet, Foot, Half, Lesion, RecheckFinding, Scale, Stage, TrimKind};

/// What the merge keeps of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kept {
    pub(super) observed: Observed,
    /// Seconds since 1970, UTC.
    pub(super) sealed: i64,
    pub(super) sealed_on: NaiveDate,
    pub(super) mark: Mark,
    pub(super) whose: Whose,
    pub(super) event: Event,
}

/// Reads usual lines, one after the other.
#[derive(Debug, Default)]
pub(super) struct Usual {
    seen: LastDate,
    sealed: LastDate,
}

impl Usual {
    /// Reads a sealed line, without its line feed, if it is a usual one.
    #[inline]
    pub(super) fn read(&mut self, line: &[u8]) -> Option<Kept> {
        if line.len() > LINE_BYTES || !is_single_spaced_ascii(line) {
            return None;
        }
        let (body, seal) = line.split_last_chunk::<SEAL_BYTES>()?;
        let (sealed_on, sealed, mark) = self.seal(seal)?;
        let mut rest = Rest(body);
        let observed = self.observed(&mut rest)?;
        let whose = Whose::Cow(rest.number()?);
        let event = rest.event()?;
        rest.ends_with_who_and_words().then_some(Kept { observed, sealed, sealed_on, mark, whose, event })
    }

    #[inline]
    fn seal(&mut self, seal: &[u8; SEAL_BYTES]) -> Option<(NaiveDate, i64, Mark)> {
        let (date, rest) = seal.strip_prefix(b" | ")?.split_first_chunk()?;
        let (time, rest) = rest.split_first_chunk()?;
        let (date, midnight) = self.sealed.read(date)?;
        Some((date, midnight + i64::from(read_time(time)?), Mark::read(rest.strip_prefix(b" ")?)?))
    }

    #[inline]
    fn observed(&mut self, rest: &mut Rest<'_>) -> Option<Observed> {
        let (date, after) = rest.0.split_first_chunk()?;
        let (date, _) = self.seen.read(date)?;
        rest.0 = after.strip_prefix(b" ")?;
        let minute = match rest.0 {
            [h1, h2, b':', m1, m2, b' ', after @ ..] => {
                rest.0 = after;
                Some(read_minute(&[*h1, *h2, b':', *m1, *m2])?)
            }
            _ => None,
        };
        Some(Observed { date, minute })
    }
}

/// The date that was read last: most lines have the date of the line before.
#[derive(Debug)]
struct LastDate {
    text: [u8; 10],
    date: NaiveDate,
    /// Seconds since 1970.
    midnight: i64,
}

impl Default for LastDate {
    fn default() -> Self {
        Self { text: *b"1970-01-01", date: NaiveDate::default(), midnight: 0 }
    }
}

impl LastDate {
    #[inline]
    fn read(&mut self, text: &[u8; 10]) -> Option<(NaiveDate, i64)> {
        if *text != self.text {
            let date = read_date(text)?;
            *self = Self { text: *text, date, midnight: date.and_time(NaiveTime::MIN).and_utc().timestamp() };
        }
        Some((self.date, self.midnight))
    }
}

/// What is left of a body.
struct Rest<'a>(&'a [u8]);

impl Rest<'_> {
    /// Whether these words, with a space at their end, come next; then they are passed.
    #[inline]
    fn has<const N: usize>(&mut self, words: &[u8; N]) -> bool {
        match self.0.strip_prefix(words) {
            Some(rest) => {
                self.0 = rest;
                true
            }
            None => false,
        }
    }

    /// A word of a list, passed if it is one.
    #[inline]
    fn word<T>(&mut self, read: impl Fn(u64) -> Option<T>) -> Option<T> {
        let (key, rest) = short_word(self.0)?;
        let value = read(key)?;
        self.0 = rest;
        Some(value)
    }

    #[inline]
    fn number(&mut self) -> Option<CowNumber> {
        let end = self.0.iter().take(8).position(|byte| *byte == b' ')?;
        let number = CowNumber::read_bytes(&self.0[..end])?;
        self.0 = &self.0[end + 1..];
        Some(number)
    }

    #[inline]
    fn event(&mut self) -> Option<Event> {
        let is = match self.0.first()? {
            b's' => self.has(b"score ").then(|| self.score()),
            b'l' => self.has(b"lesion ").then(|| self.lesion()),
            b't' => self.has(b"trim ").then(|| self.trim()),
            b'b' => self.has(b"block ").then(|| self.block()),
            b'd' => self.has(b"dressing ").then(|| self.dressing()),
            b'r' => self.has(b"recheck ").then(|| self.recheck()),
            _ => None,
        };
        is.flatten()
    }

    /// On the scale that is not named.
    #[inline]
    fn score(&mut self) -> Option<Event> {
        let (value, half) = match *self.0 {
            [value @ b'0'..=b'3', b' ', ..] => (value, None),
            [value @ b'2'..=b'3', b'a', b' ', ..] => (value, Some(Half::A)),
            [value @ b'2'..=b'3', b'b', b' ', ..] => (value, Some(Half::B)),
            _ => return None,
        };
        self.0 = &self.0[if half.is_some() { 3 } else { 2 }..];
        Some(Event::Score(Score { value: value - b'0', half, scale: Scale::Mobility, foot: self.maybe_foot() }))
    }

    #[inline]
    fn lesion(&mut self) -> Option<Event> {
        if self.has(b"none ") {
            return Some(Event::NoLesion(self.feet()?));
        }
        let lesion = self.word(Lesion::begun)?;
        let stage = if lesion == Lesion::DD { self.word(Stage::begun) } else { None };
        let foot = self.maybe_foot()?;
        let claw = self.maybe_claw();
        let zone = if self.has(b"zone ") { Some(self.zone()?) } else { None };
        let grade = match *self.0 {
            [b'g', b'r', b'a', b'd', b'e', b' ', grade @ b'1'..=b'3', b' ', ref rest @ ..] => {
                self.0 = rest;
                Some(grade - b'0')
            }
            _ => None,
        };
        Some(Event::Lesion(Finding { lesion, stage, foot, claw, zone, grade }))
    }

    /// 0 to 12.
    #[inline]
    fn zone(&mut self) -> Option<u8> {
        let (zone, rest) = match *self.0 {
            [ones @ b'0'..=b'9', b' ', ref rest @ ..] => (ones - b'0', rest),
            [b'1', ones @ b'0'..=b'2', b' ', ref rest @ ..] => (10 + ones - b'0', rest),
            _ => return None,
        };
        self.0 = rest;
        Some(zone)
    }

    /// Without measures.
    #[inline]
    fn trim(&mut self) -> Option<Event> {
        let kind = self.word(TrimKind::begun)?;
        Some(Event::Trim { kind, feet: self.feet()? })
    }

    #[inline]
    fn block(&mut self) -> Option<Event> {
        if self.has(b"on ") {
            let (foot, claw) = (self.maybe_foot()?, self.maybe_claw()?);
            return Some(Event::BlockOn { foot, claw, kind: self.word(BlockKind::begun) });
        }
        let lost = self.has(b"lost ");
        let gone = lost || self.has(b"off ");
        let foot = self.maybe_foot().filter(|_| gone)?;
        Some(Event::BlockGone { lost, foot, claw: self.maybe_claw() })
    }

    #[inline]
    fn dressing(&mut self) -> Option<Event> {
        if self.has(b"on ") {
            return self.maybe_foot().map(Event::DressingOn);
        }
        if self.has(b"off ") { self.maybe_foot().map(Event::DressingOff) } else { None }
    }

    #[inline]
    fn recheck(&mut self) -> Option<Event> {
        if self.has(b"due ") {
            let (due, rest) = self.0.split_first_chunk::<10>()?;
            let due = read_date(due)?;
            self.0 = rest.strip_prefix(b" ")?;
            return Some(Event::RecheckDue { due, foot: self.maybe_foot() });
        }
        if !self.has(b"found ") {
            return None;
        }
        let found = self.word(RecheckFinding::begun)?;
        Some(Event::RecheckFound { found, foot: self.maybe_foot() })
    }

    /// Feet, each once, in the order LF RF LH RH.
    #[inline]
    fn feet(&mut self) -> Option<Feet> {
        let mut last = self.maybe_foot()?;
        let mut feet = Feet::one(last);
        while let Some(foot) = self.maybe_foot() {
            if foot <= last {
                return None;
            }
            (feet, last) = (feet.and(Feet::one(foot)), foot);
        }
        Some(feet)
    }

    #[inline]
    fn maybe_foot(&mut self) -> Option<Foot> {
        let [side @ (b'L' | b'R'), end @ (b'F' | b'H'), b' ', ref rest @ ..] = *self.0 else { return None };
        self.0 = rest;
        // Reckoned, since which foot it is cannot be foreseen.
        Some(Foot::ALL[usize::from(side == b'R') + 2 * usize::from(end == b'H')])
    }

    #[inline]
    fn maybe_claw(&mut self) -> Option<Claw> {
        if self.has(b"inner ") {
            return Some(Claw::Inner);
        }
        self.has(b"outer ").then_some(Claw::Outer)
    }

    /// What ends every line. That the words are clean is known by now, and that a space follows them and none goes
    /// before it, so that there are some after a colon and a space.
    #[inline]
    fn ends_with_who_and_words(&mut self) -> bool {
        let is_by = self.has(b"by ");
        let who = self.0.iter().take(17).take_while(|byte| is_of_name(**byte)).count();
        let begins = self.0.first().is_some_and(u8::is_ascii_lowercase);
        is_by && begins && who <= 16 && matches!(self.0[who..], [] | [b':', b' ', _, ..])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(body: &str) -> Option<Kept> {
        Usual::default().read(format!("{body} | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08").as_bytes())
    }

    #[test]
    fn usual_lines_are_read() {
        for body in [
            "2026-03-14 09:12 1417 lesion WLA RH outer zone 3 grade 2 by kj: runs toward the heel",
            "2026-03-14 417 lesion none LH RH by kj",
            "2026-03-14 417 score 2b LH by kj",
            "2026-03-14 417 trim lame RH by kj: why: so | and so",
            "2026-03-14 417 block on RH inner wood by kj",
            "2026-03-14 417 dressing off LF by kj",
            "2026-03-14 417 recheck due 2026-04-11 RH by kj",
            "2026-03-14 417 recheck found better by kj",
        ] {
            assert!(read(body).is_some(), "{body}");
        }
    }

    #[test]
    fn what_is_not_usual_is_left_to_the_reader_of_all_lines() {
        for body in [
            "2026-03-14 herd note by kj: so",
            "2026-03-14 417 score 3 scale five by kj",
            "2026-03-14 417 score 2 replaces 3f9c2a7d51be4c08 by kj",
            "2026-03-14 417 score 2 by kj: naïve",
            "2026-03-14 417 trim lame RH LH by kj",
            "2026-03-14 417 score 2 by kj: ",
            "2026-03-14 417 score 2 by kj:",
            "2026-03-14 417 score 1a by kj",
        ] {
            assert_eq!(read(body), None, "{body}");
        }
    }
}
