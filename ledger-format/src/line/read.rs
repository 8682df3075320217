//! Reading the one spelling, strictly (`line.md`): the inverse of `write`.

use super::act::About;
use super::quantity::read_number;
use super::subject::is_group;
use super::when::{read_date, read_minute};
use super::{
    Act, Bath, CowNumber, Decimal, EarTag, Electronic, Finding, Hold, Line, Mark, Medicine, Observed, Problem,
    Reference, Score, Subject, Tally, Trim, is_name, is_who,
};
use crate::limits::{BODY_BYTES, QUOTED_BYTES};
use crate::swar::Spaces;
use crate::text::is_clean;
use crate::vocabulary::{
    ActWord, BathProduct, BlockKind, Capacity, Claw, Departure, DoseUnit, Feet, Foot, Half, Lesion, RecheckFinding,
    Route, Scale, Stage, TrimKind,
};

/// Reads a body in its canonical spelling. Nothing else is accepted, so writing it gives the same bytes.
///
/// # Errors
/// Says where the text leaves the canonical spelling and what was expected there.
pub fn read(body: &str) -> Result<Line<'_>, Problem> {
    if body.len() > BODY_BYTES {
        return Err(Problem::new(BODY_BYTES..body.len(), format!("at most {BODY_BYTES} bytes")));
    }
    let mut cursor = Cursor::new(body);
    let observed = cursor.observed()?;
    let subject = cursor.subject()?;
    let act_at = cursor.at;
    let word = cursor.take("an act, as score, lesion, trim", ActWord::from_word)?;
    if !may_be_about(word, subject) {
        return Err(Problem::new(act_at..act_at + word.word().len(), format!("an act that can be about {subject}")));
    }
    let act = cursor.act(word)?;
    let replaces = cursor.reference(word)?;
    cursor.literal(b"by")?;
    let (by, words) = cursor.who_and_words()?;
    if act.needs_words() && words.is_none() {
        return Err(Problem::new(body.len()..body.len(), format!("`: ` and words saying why, after {word}")));
    }
    Ok(Line { observed, subject, act, replaces, by, words })
}

/// Whether this act can be about this subject.
pub(crate) fn may_be_about(word: ActWord, subject: Subject<'_>) -> bool {
    match word.about() {
        About::Cow => matches!(subject, Subject::Cow(_)),
        About::Many => !matches!(subject, Subject::Cow(_)),
        About::Herd => subject == Subject::Herd,
        About::Any => true,
    }
}

/// Words of a body, one after the other, separated by exactly one space.
struct Cursor<'a> {
    text: &'a str,
    spaces: Spaces<'a>,
    /// Where the word at hand begins; one past the end when there is none left.
    at: usize,
    /// Where it ends.
    end: usize,
}

type Read<T> = Result<T, Problem>;

impl<'a> Cursor<'a> {
    #[inline]
    fn new(text: &'a str) -> Self {
        let mut spaces = Spaces::new(text.as_bytes());
        let end = spaces.next_or_end();
        Self { text, spaces, at: 0, end }
    }

    #[inline]
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or_default()
    }

    #[inline]
    fn peek(&self) -> &'a str {
        self.text.get(self.at..self.end).unwrap_or_default()
    }

    #[inline]
    fn skip(&mut self) {
        self.at = self.end + 1;
        self.end = self.spaces.next_or_end();
    }

    #[cold]
    fn problem<T>(&self, expected: impl Into<String>) -> Read<T> {
        let at = self.at.min(self.text.len());
        Err(Problem::new(at..at + self.peek().len(), expected))
    }

    #[inline]
    fn take<T>(&mut self, expected: &str, read: impl FnOnce(&'a str) -> Option<T>) -> Read<T> {
        let word = self.peek();
        match read(word) {
            Some(value) => {
                self.skip();
                Ok(value)
            }
            None => self.problem(expected),
        }
    }

    #[inline]
    fn maybe<T>(&mut self, read: impl FnOnce(&'a str) -> Option<T>) -> Option<T> {
        let word = self.peek();
        let value = read(word)?;
        self.skip();
        Some(value)
    }

    #[inline]
    fn literal<const N: usize>(&mut self, word: &'static [u8; N]) -> Read<()> {
        if self.has(word) { Ok(()) } else { self.problem(format!("`{}`", String::from_utf8_lossy(word))) }
    }

    #[inline]
    fn has<const N: usize>(&mut self, word: &[u8; N]) -> bool {
        let found = self.peek().as_bytes() == word;
        if found {
            self.skip();
        }
        found
    }

    /// A value announced by a word: `zone 3`.
    #[inline]
    fn after<T, const N: usize>(
        &mut self,
        lead: &[u8; N],
        expected: &str,
        read: impl FnOnce(&'a str) -> Option<T>,
    ) -> Read<Option<T>> {
        if self.has(lead) { self.take(expected, read).map(Some) } else { Ok(None) }
    }

    fn observed(&mut self) -> Read<Observed> {
        let date = self.take("a real date, as 2026-03-14", |word| read_date(word.as_bytes()))?;
        let minute = if self.rest().as_bytes().get(2) == Some(&b':') {
            Some(self.take("a time, as 09:12", |word| read_minute(word.as_bytes()))?)
        } else {
            None
        };
        Ok(Observed { date, minute })
    }

    fn subject(&mut self) -> Read<Subject<'a>> {
        match self.peek() {
            "herd" => {
                self.skip();
                Ok(Subject::Herd)
            }
            "group" => {
                self.skip();
                self.take("a group's name, in small letters", |word| is_group(word).then_some(Subject::Group(word)))
            }
            _ => self.take("a cow's number, `group NAME` or `herd`", |word| CowNumber::read(word).map(Subject::Cow)),
        }
    }

    fn act(&mut self, word: ActWord) -> Read<Act<'a>> {
        match word {
            ActWord::Score => self.score(),
            ActWord::Tally => self.tally(),
            ActWord::Trim => self.trim(),
            ActWord::Lesion => self.lesion(),
            ActWord::Block => self.block(),
            ActWord::Dressing => self.dressing(),
            ActWord::Recheck => self.recheck(),
            ActWord::Refer => Ok(Act::Refer { foot: self.maybe(Foot::from_word) }),
            ActWord::Seen => Ok(Act::Seen { foot: self.maybe(Foot::from_word), due: self.after(b"due", DATE, date)? }),
            ActWord::Medicine => self.medicine(),
            ActWord::Bath => self.bath(),
            ActWord::Calved => self.calved(),
            ActWord::Dried => Ok(self.after(b"due", DATE, date)?.map_or(Act::Dried, Act::DryingDue)),
            ActWord::Joined => {
                Ok(Act::Joined { lactation: self.lactation()?, calved: self.after(b"calved", DATE, date)? })
            }
            ActWord::Left => Ok(Act::Left {
                reason: self.take("sold, culled, died or moved", Departure::from_word)?,
                feet: self.has(b"feet"),
            }),
            ActWord::Renumbered => {
                self.literal(b"to")?;
                Ok(Act::Renumbered(self.take("a cow's number", CowNumber::read)?))
            }
            ActWord::Tagged => self.tagged(),
            ActWord::Moved => {
                self.literal(b"to")?;
                Ok(Act::Moved(self.take("a group's name", |word| is_group(word).then_some(word))?))
            }
            ActWord::Note => Ok(Act::Note),
            ActWord::Strike => Ok(Act::Strike(self.mark_of()?)),
            ActWord::Admit => self.admit(),
            ActWord::Revoke => {
                let device = self.device()?;
                self.literal(b"after")?;
                Ok(Act::Revoke { device, after: self.full_mark()? })
            }
            ActWord::Adopt => Ok(Act::Adopt(self.full_mark()?)),
            ActWord::Witness => self.witness(),
        }
    }

    fn score(&mut self) -> Read<Act<'a>> {
        let at = self.at;
        let (value, half) = self.take("a score, 0 to 3", read_score_value)?;
        let scale = self.scale()?;
        if !scale.range().contains(&value) || (half.is_some() && !(scale == Scale::Mobility && value >= 2)) {
            let range = scale.range();
            return Err(Problem::new(at..at + 1, format!("a score of {} to {}", range.start(), range.end())));
        }
        Ok(Act::Score(Score { value, half, scale, foot: self.maybe(Foot::from_word) }))
    }

    fn scale(&mut self) -> Read<Scale> {
        let scale = self.after(b"scale", "five, nz, wq or three", |word| {
            Scale::from_word(word).filter(|scale| *scale != Scale::Mobility)
        })?;
        Ok(scale.unwrap_or(Scale::Mobility))
    }

    fn tally(&mut self) -> Read<Act<'a>> {
        let at = self.at;
        self.literal(b"walked")?;
        let walked = self.take("how many walked past, 1 to 99999", number(1, 99_999))?;
        let zeros = self.after(b"zeros", "how many scored 0", number(0, 99_999))?;
        let ones = self.after(b"ones", "how many scored 1", number(0, 99_999))?;
        let scale = self.scale()?;
        if zeros.unwrap_or(0) + ones.unwrap_or(0) > walked {
            return Err(Problem::new(at..self.at.min(self.text.len()), "no more zeros and ones than walked past"));
        }
        if (zeros.is_some() || ones.is_some()) && !matches!(scale, Scale::Mobility | Scale::Nz) {
            return Err(Problem::new(at..self.at.min(self.text.len()), "zeros and ones only on a scale of 0 to 3"));
        }
        Ok(Act::Tally(Tally { walked, zeros, ones, scale }))
    }

    fn trim(&mut self) -> Read<Act<'a>> {
        let kind = self.take("routine, lame or check", TrimKind::from_word)?;
        let feet = self.feet()?;
        let claw = self.maybe(Claw::from_word);
        let wall_mm = self.after(b"wall", "50mm to 150mm", unit("mm", |n| number(50, 150)(n)))?;
        let sole_mm = self.after(b"sole", "1mm to 40mm", unit("mm", read_sole))?;
        let angle_deg = self.after(b"angle", "20deg to 80deg", unit("deg", |n| number(20, 80)(n)))?;
        Ok(Act::Trim(Trim { kind, feet, claw, wall_mm, sole_mm, angle_deg }))
    }

    /// Feet, each once, in the order LF RF LH RH.
    fn feet(&mut self) -> Read<Feet> {
        let mut last = self.foot()?;
        let mut feet = Feet::one(last);
        while let Some(foot) = self.maybe(|word| Foot::from_word(word).filter(|foot| *foot > last)) {
            feet = feet.and(Feet::one(foot));
            last = foot;
        }
        Ok(feet)
    }

    fn foot(&mut self) -> Read<Foot> {
        self.take("a foot: LF, RF, LH or RH", Foot::from_word)
    }

    fn lesion(&mut self) -> Read<Act<'a>> {
        if self.has(b"none") {
            return self.feet().map(Act::NoLesion);
        }
        let lesion = self.take("a lesion code, as SU, WLA, DD", Lesion::from_word)?;
        let stage = self.maybe(|word| Stage::from_word(word).filter(|_| lesion == Lesion::DD));
        let foot = self.foot()?;
        let claw = self.maybe(Claw::from_word);
        let zone = self.after(b"zone", "a zone, 0 to 12", number(0, 12))?;
        let grade = self.after(b"grade", "a grade, 1 to 3", number(1, 3))?;
        Ok(Act::Lesion(Finding { lesion, stage, foot, claw, zone, grade }))
    }

    fn block(&mut self) -> Read<Act<'a>> {
        let how = self.take("on, off or lost", |word| matches!(word, "on" | "off" | "lost").then_some(word))?;
        let foot = self.foot()?;
        if how == "on" {
            let claw = self.take("inner or outer", Claw::from_word)?;
            return Ok(Act::BlockOn { foot, claw, kind: self.maybe(BlockKind::from_word) });
        }
        Ok(Act::BlockGone { lost: how == "lost", foot, claw: self.maybe(Claw::from_word) })
    }

    fn dressing(&mut self) -> Read<Act<'a>> {
        let on = self.take("on or off", |word| match word {
            "on" => Some(true),
            "off" => Some(false),
            _ => None,
        })?;
        let foot = self.foot()?;
        Ok(if on { Act::DressingOn(foot) } else { Act::DressingOff(foot) })
    }

    fn recheck(&mut self) -> Read<Act<'a>> {
        if let Some(due) = self.after(b"due", DATE, date)? {
            return Ok(Act::RecheckDue { due, foot: self.maybe(Foot::from_word) });
        }
        self.literal(b"found")?;
        let found = self.take("sound, better, same or worse", RecheckFinding::from_word)?;
        Ok(Act::RecheckFound { found, foot: self.maybe(Foot::from_word) })
    }

    fn medicine(&mut self) -> Read<Act<'a>> {
        let product = self.quoted("a product in quotation marks")?;
        let batch = if self.has(b"batch") { Some(self.quoted("a batch in quotation marks")?) } else { None };
        self.literal(b"dose")?;
        let dose = self.take("an amount, as 15 or 2.5", Decimal::read)?;
        let unit = self.take("a unit: ml, l, mg, g, iu or piece", DoseUnit::from_word)?;
        let route = self.after(b"route", "im, iv, sc, oral, topical or regional", Route::from_word)?;
        let reason = if self.has(b"for") { Some(self.quoted("a reason in quotation marks")?) } else { None };
        self.literal(b"milk")?;
        let milk = self.take(HOLD, Hold::read)?;
        self.literal(b"meat")?;
        let meat = self.take(HOLD, Hold::read)?;
        Ok(Act::Medicine(Medicine { product, batch, dose, unit, route, reason, milk, meat }))
    }

    fn bath(&mut self) -> Read<Act<'a>> {
        let product = self.take("a footbath product, as copper or formalin", BathProduct::from_word)?;
        let percent = self.maybe(|word| {
            word.strip_suffix('%').and_then(Decimal::read).filter(|percent| percent.hundredths() <= 10_000)
        });
        let passes = self.after(b"passes", "how many passes, 1 to 20", number(1, 20))?;
        Ok(Act::Bath(Bath { product, percent, passes }))
    }

    fn calved(&mut self) -> Read<Act<'a>> {
        if let Some(due) = self.after(b"due", DATE, date)? {
            return Ok(Act::CalvingDue(due));
        }
        Ok(Act::Calved { lactation: self.lactation()? })
    }

    fn lactation(&mut self) -> Read<Option<u8>> {
        self.after(b"lactation", "a lactation number, 1 to 20", number(1, 20))
    }

    fn tagged(&mut self) -> Read<Act<'a>> {
        let ear = if self.has(b"ear") { Some(self.identity(EarTag::read)?) } else { None };
        let electronic = if self.has(b"electronic") { Some(self.identity(Electronic::read)?) } else { None };
        if ear.is_none() && electronic.is_none() {
            return self.problem("`ear` and a number, `electronic` and a number, or both");
        }
        Ok(Act::Tagged { ear, electronic })
    }

    fn identity<T>(&mut self, read: impl FnOnce(&'a str) -> Result<T, super::IdentityProblem>) -> Read<T> {
        let word = self.peek();
        match read(word) {
            Ok(value) => {
                self.skip();
                Ok(value)
            }
            Err(why) => self.problem(why.to_string()),
        }
    }

    fn admit(&mut self) -> Read<Act<'a>> {
        let device = self.device()?;
        self.literal(b"key")?;
        let key = self.full_mark()?;
        self.literal(b"as")?;
        Ok(Act::Admit { device, key, capacity: self.take("keeper, writer or reader", Capacity::from_word)? })
    }

    fn witness(&mut self) -> Read<Act<'a>> {
        let device = self.device()?;
        let year = self.take("a year of four digits", |word| {
            (word.len() == 4).then(|| word.parse().ok()).flatten().filter(|_| word.bytes().all(|b| b.is_ascii_digit()))
        })?;
        self.literal(b"length")?;
        let length = self.take("a length in bytes", number(1, u32::MAX))?;
        self.literal(b"mark")?;
        Ok(Act::Witness { device, year, length, mark: self.full_mark()? })
    }

    fn device(&mut self) -> Read<&'a str> {
        self.take("a device's name, in small letters", |word| is_name(word).then_some(word))
    }

    fn full_mark(&mut self) -> Read<&'a str> {
        self.take("64 hexadecimal digits, in small letters", |word| is_full_mark(word).then_some(word))
    }

    fn mark_of(&mut self) -> Read<Reference<'a>> {
        let mark = self.take("a mark of 16 digits", |word| Mark::read(word.as_bytes()))?;
        let device = self.after(b"of", "a device's name", |word| is_name(word).then_some(word))?;
        Ok(Reference { mark, device })
    }

    fn reference(&mut self, word: ActWord) -> Read<Option<Reference<'a>>> {
        if word != ActWord::Strike && self.has(b"replaces") { self.mark_of().map(Some) } else { Ok(None) }
    }

    fn quoted(&mut self, expected: &str) -> Read<&'a str> {
        let Some(inner) = self.rest().strip_prefix('"') else { return self.problem(expected) };
        let Some(end) = inner.find('"') else { return self.problem("a closing quotation mark") };
        let (value, after) = (&inner[..end], &inner[end + 1..]);
        if value.is_empty()
            || value.len() > QUOTED_BYTES
            || !is_clean(value)
            || !(after.is_empty() || after.starts_with(' '))
        {
            return self.problem(format!("1 to {QUOTED_BYTES} bytes of clean text in quotation marks"));
        }
        let close = self.at + end + 2;
        while self.end < close {
            self.end = self.spaces.next_or_end();
        }
        self.skip();
        Ok(value)
    }

    fn who_and_words(&mut self) -> Read<(&'a str, Option<&'a str>)> {
        let word = self.peek();
        let (who, has_words) = word.strip_suffix(':').map_or((word, false), |who| (who, true));
        if !is_who(who) {
            return self.problem("initials in small letters, then the end or `: ` and words");
        }
        self.skip();
        let words = self.rest();
        match (has_words, self.at > self.text.len()) {
            (false, true) => Ok((who, None)),
            (true, _) if !words.is_empty() && is_clean(words) => Ok((who, Some(words))),
            (true, _) => {
                let at = self.at.min(self.text.len());
                Err(Problem::new(at..self.text.len(), "words: single spaces, no control or invisible characters"))
            }
            (false, false) => self.problem("the end, or a colon before words"),
        }
    }
}

const DATE: &str = "a real date, as 2026-03-14";
const HOLD: &str = "a withdrawal time, as 0d, 7d or 36h (whole days as days)";

fn date(word: &str) -> Option<chrono::NaiveDate> {
    read_date(word.as_bytes())
}

fn number<T: TryFrom<u32>>(least: u32, most: u32) -> impl Fn(&str) -> Option<T> {
    move |word| read_number(word, most).filter(|n| *n >= least).and_then(|n| T::try_from(n).ok())
}

fn unit<T>(unit: &str, read: impl Fn(&str) -> Option<T>) -> impl Fn(&str) -> Option<T> {
    move |word| word.strip_suffix(unit).and_then(&read)
}

fn read_sole(word: &str) -> Option<Decimal> {
    Decimal::read(word).filter(|sole| (100..=4_000).contains(&sole.hundredths()))
}

fn read_score_value(word: &str) -> Option<(u8, Option<Half>)> {
    match *word.as_bytes() {
        [value @ b'0'..=b'9'] => Some((value - b'0', None)),
        [value @ b'0'..=b'9', _] => Some((value - b'0', Some(Half::from_word(&word[1..])?))),
        _ => None,
    }
}

/// Whether this is a full mark, a key or a protocol's name: 64 hexadecimal digits in small letters.
pub(crate) fn is_full_mark(word: &str) -> bool {
    word.len() == 64 && word.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn same(body: &str) {
        assert_eq!(read(body).map(|line| line.to_string()).as_deref(), Ok(body));
    }

    #[test]
    fn every_act_reads_and_writes_back() {
        let full = "ab".repeat(32);
        for act in [
            "417 score 2b LH",
            "417 score 3 scale five",
            "417 trim lame RH outer wall 83mm sole 6.5mm angle 48deg",
            "417 lesion DD M4.1 LH zone 10",
            "417 lesion none LH RH",
            "417 block on RH inner wood",
            "417 block lost RH",
            "417 dressing off LF",
            "417 recheck due 2026-04-11 RH",
            "417 recheck found better",
            "417 seen RH due 2026-04-01",
            "417 medicine \"Pedirel 10%\" batch \"B44\" dose 15 ml route im for \"WLA RH\" milk 0d meat 4d",
            "417 calved lactation 3",
            "417 calved due 2026-09-01",
            "417 dried",
            "417 dried due 2026-07-01",
            "417 joined lactation 2 calved 2026-01-01",
            "417 left culled feet",
            "417 renumbered to 1417",
            "417 tagged ear UK123450600001 electronic 276000312312345",
            "417 moved to high-yield",
            "herd tally walked 193 zeros 100 ones 43",
            "group dry bath formalin 4.5% passes 2",
        ] {
            same(&format!("2026-03-14 {act} by kj"));
            same(&format!("2026-03-14 09:12 {act} replaces 3f9c2a7d51be4c08 of farm-office by kj: as said"));
        }
        for act in ["417 refer RH", "herd note", "417 strike 3f9c2a7d51be4c08 of vet-tablet"] {
            same(&format!("2026-03-14 {act} by kj: why: so | and so"));
            assert!(read(&format!("2026-03-14 {act} by kj")).is_err());
        }
        for act in [
            format!("admit vet-tablet key {full} as writer"),
            format!("revoke vet-tablet after {full}"),
            format!("adopt {full}"),
            format!("witness farm-office 2026 length 18344 mark {full}"),
        ] {
            same(&format!("2026-03-14 herd {act} by kj"));
        }
    }

    #[test]
    fn only_one_spelling_is_accepted() {
        for wrong in [
            "2026-3-14 417 score 2 by kj",
            "2026-03-14  417 score 2 by kj",
            "2026-03-14 417 score 2 by kj ",
            " 2026-03-14 417 score 2 by kj",
            "2026-03-14 417 score 4 by kj",
            "2026-03-14 417 score 1a by kj",
            "2026-03-14 417 score 2 scale mobility by kj",
            "2026-03-14 417 trim routine RH LH by kj",
            "2026-03-14 417 lesion SU M2 RH outer by kj",
            "2026-03-14 417 lesion SU RH outer grade 2 zone 4 by kj",
            "2026-03-14 417 lesion SU RH outer zone 13 by kj",
            "2026-03-14 417 tally walked 3 by kj",
            "2026-03-14 herd score 3 by kj",
            "2026-03-14 417 score 2 by KJ",
            "2026-03-14 417 score 2 by kj:",
            "2026-03-14 417 score 2 by kj: ",
            "2026-03-14 417 note by kj: two  spaces",
            "2026-02-30 417 score 2 by kj",
            "2026-03-14 417 tagged by kj",
            "2026-03-14 417 tagged ear UK123456600001 by kj",
        ] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }
}
