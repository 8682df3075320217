//! Reading the one spelling, strictly (`line.md`): the inverse of `write`.

use std::ops::Range;

use super::act::About;
use super::quantity::read_number;
use super::subject::is_group;
use super::when::{read_date, read_minute};
use super::{
    Act, Bath, CowNumber, Decimal, EarTag, Electronic, Finding, Hold, Line, Mark, Medicine, Observed, Problem,
    Reference, Score, Subject, Tally, Trim, is_name, is_who,
};
use crate::limits::{BODY_BYTES, QUOTED_BYTES};
use crate::swar::{Known, Word};
use crate::text::is_clean;
use crate::vocabulary::{
    ActWord, BathProduct, BlockKind, Capacity, Claw, Departure, DoseUnit, Feet, Foot, Half, Lesion, RecheckFinding,
    Route, Scale, Stage, TrimKind,
};

/// A word of the grammar, made ready when this is compiled.
macro_rules! word {
    ($word:literal) => {
        const { Known::word($word) }
    };
}

/// Reads a body in its canonical spelling. Nothing else is accepted, so writing it gives the same bytes.
///
/// # Errors
/// Says where the text leaves the canonical spelling and what was expected there.
pub fn read(body: &str) -> Result<Line<'_>, Problem> {
    read_line(body).map_err(|problem| *problem)
}

/// The same, with what is wrong behind a pointer.
#[inline]
pub(super) fn read_line(body: &str) -> Read<Line<'_>> {
    let mut cursor = Cursor::new(body);
    if body.len() > BODY_BYTES {
        return cursor.problem_at(BODY_BYTES..body.len(), format!("at most {BODY_BYTES} bytes"));
    }
    let observed = cursor.observed()?;
    let subject = cursor.subject()?;
    let act_at = cursor.word.at;
    let word = cursor.take("an act, as score, lesion, trim", ActWord::read)?;
    if !may_be_about(word, subject) {
        let span = act_at..act_at + word.word().len();
        return cursor.problem_at(span, format!("an act that can be about {subject}"));
    }
    let act = cursor.act(word)?;
    let replaces = cursor.reference(word)?;
    cursor.literal(word!("by"))?;
    let (by, words) = cursor.who_and_words()?;
    if act.needs_words() && words.is_none() {
        return cursor.problem_at(body.len()..body.len(), format!("`: ` and words saying why, after {word}"));
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
    /// The word at hand.
    word: Word<'a>,
}

/// What was read, or what is wrong: behind a pointer, so that the usual case is small.
type Read<T> = Result<T, Box<Problem>>;

impl<'a> Cursor<'a> {
    #[inline]
    fn new(text: &'a str) -> Self {
        Self { text, word: Word::first(text) }
    }

    #[inline]
    fn skip(&mut self) {
        self.word = self.word.next();
    }

    /// Where the word at hand begins, at most the end.
    fn at(&self) -> usize {
        self.word.at.min(self.text.len())
    }

    #[cold]
    fn problem<T>(&self, expected: impl Into<String>) -> Read<T> {
        self.problem_at(self.at()..self.at() + self.word.text().len(), expected)
    }

    #[cold]
    #[allow(clippy::unused_self, reason = "said of this text")]
    fn problem_at<T>(&self, span: Range<usize>, expected: impl Into<String>) -> Read<T> {
        Err(Box::new(Problem::new(span, expected)))
    }

    #[inline]
    fn take<T>(&mut self, expected: &str, read: impl FnOnce(Word<'a>) -> Option<T>) -> Read<T> {
        match self.maybe(read) {
            Some(value) => Ok(value),
            None => self.problem(expected),
        }
    }

    #[inline]
    fn maybe<T>(&mut self, read: impl FnOnce(Word<'a>) -> Option<T>) -> Option<T> {
        let value = read(self.word)?;
        self.skip();
        Some(value)
    }

    #[inline]
    fn literal(&mut self, known: Known) -> Read<()> {
        if self.has(known) { Ok(()) } else { self.problem(format!("`{}`", known.word)) }
    }

    #[inline]
    fn has(&mut self, known: Known) -> bool {
        let found = self.word.is(known);
        if found {
            self.skip();
        }
        found
    }

    /// A value announced by a word: `zone 3`.
    #[inline]
    fn after<T>(&mut self, lead: Known, expected: &str, read: impl FnOnce(Word<'a>) -> Option<T>) -> Read<Option<T>> {
        if self.has(lead) { self.take(expected, read).map(Some) } else { Ok(None) }
    }

    fn observed(&mut self) -> Read<Observed> {
        let date = self.take("a real date, as 2026-03-14", |word| read_date(word.bytes()))?;
        let minute = if self.word.rest().as_bytes().get(2) == Some(&b':') {
            Some(self.take("a time, as 09:12", |word| read_minute(word.bytes()))?)
        } else {
            None
        };
        Ok(Observed { date, minute })
    }

    fn subject(&mut self) -> Read<Subject<'a>> {
        if self.has(word!("herd")) {
            return Ok(Subject::Herd);
        }
        if self.has(word!("group")) {
            return self.group().map(Subject::Group);
        }
        self.take("a cow's number, `group NAME` or `herd`", |word| CowNumber::read(word.text()).map(Subject::Cow))
    }

    fn group(&mut self) -> Read<&'a str> {
        self.named("a group's name, in small letters", is_group)
    }

    /// A word taken as it is, if it has the right form.
    fn named(&mut self, expected: &str, is_right: impl FnOnce(&str) -> bool) -> Read<&'a str> {
        self.take(expected, |word| is_right(word.text()).then_some(word.text()))
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
            ActWord::Refer => Ok(Act::Refer { foot: self.maybe(Foot::read) }),
            ActWord::Seen => Ok(Act::Seen { foot: self.maybe(Foot::read), due: self.after(word!("due"), DATE, date)? }),
            ActWord::Medicine => self.medicine(),
            ActWord::Bath => self.bath(),
            ActWord::Calved => self.calved(),
            ActWord::Dried => Ok(self.after(word!("due"), DATE, date)?.map_or(Act::Dried, Act::DryingDue)),
            ActWord::Joined => {
                Ok(Act::Joined { lactation: self.lactation()?, calved: self.after(word!("calved"), DATE, date)? })
            }
            ActWord::Left => Ok(Act::Left {
                reason: self.take("sold, culled, died or moved", Departure::read)?,
                feet: self.has(word!("feet")),
            }),
            ActWord::Renumbered => {
                self.literal(word!("to"))?;
                Ok(Act::Renumbered(self.take("a cow's number", |word| CowNumber::read(word.text()))?))
            }
            ActWord::Tagged => self.tagged(),
            ActWord::Moved => {
                self.literal(word!("to"))?;
                Ok(Act::Moved(self.named("a group's name", is_group)?))
            }
            ActWord::Note => Ok(Act::Note),
            ActWord::Strike => Ok(Act::Strike(self.mark_of()?)),
            ActWord::Admit => self.admit(),
            ActWord::Revoke => {
                let device = self.device()?;
                self.literal(word!("after"))?;
                Ok(Act::Revoke { device, after: self.full_mark()? })
            }
            ActWord::Adopt => Ok(Act::Adopt(self.full_mark()?)),
            ActWord::Witness => self.witness(),
        }
    }

    fn score(&mut self) -> Read<Act<'a>> {
        let at = self.word.at;
        let (value, half) = self.take("a score, 0 to 3", read_score_value)?;
        let scale = self.scale()?;
        if !scale.range().contains(&value) || (half.is_some() && !(scale == Scale::Mobility && value >= 2)) {
            let range = scale.range();
            return self.problem_at(at..at + 1, format!("a score of {} to {}", range.start(), range.end()));
        }
        Ok(Act::Score(Score { value, half, scale, foot: self.maybe(Foot::read) }))
    }

    fn scale(&mut self) -> Read<Scale> {
        let scale = self.after(word!("scale"), "five, nz, wq or three", |word| {
            Scale::read(word).filter(|scale| *scale != Scale::Mobility)
        })?;
        Ok(scale.unwrap_or(Scale::Mobility))
    }

    fn tally(&mut self) -> Read<Act<'a>> {
        let at = self.word.at;
        self.literal(word!("walked"))?;
        let walked = self.take("how many walked past, 1 to 99999", number(1, 99_999))?;
        let zeros = self.after(word!("zeros"), "how many scored 0", number(0, 99_999))?;
        let ones = self.after(word!("ones"), "how many scored 1", number(0, 99_999))?;
        let scale = self.scale()?;
        if zeros.unwrap_or(0) + ones.unwrap_or(0) > walked {
            return self.problem_at(at..self.at(), "no more zeros and ones than walked past");
        }
        if (zeros.is_some() || ones.is_some()) && !matches!(scale, Scale::Mobility | Scale::Nz) {
            return self.problem_at(at..self.at(), "zeros and ones only on a scale of 0 to 3");
        }
        Ok(Act::Tally(Tally { walked, zeros, ones, scale }))
    }

    fn trim(&mut self) -> Read<Act<'a>> {
        let kind = self.take("routine, lame or check", TrimKind::read)?;
        let feet = self.feet()?;
        let claw = self.maybe(Claw::read);
        let wall_mm = self.after(word!("wall"), "50mm to 150mm", unit("mm", |text| within(text, 50, 150)))?;
        let sole_mm = self.after(word!("sole"), "1mm to 40mm", unit("mm", read_sole))?;
        let angle_deg = self.after(word!("angle"), "20deg to 80deg", unit("deg", |text| within(text, 20, 80)))?;
        Ok(Act::Trim(Trim { kind, feet, claw, wall_mm, sole_mm, angle_deg }))
    }

    /// Feet, each once, in the order LF RF LH RH.
    fn feet(&mut self) -> Read<Feet> {
        let mut last = self.foot()?;
        let mut feet = Feet::one(last);
        while let Some(foot) = self.maybe(|word| Foot::read(word).filter(|foot| *foot > last)) {
            feet = feet.and(Feet::one(foot));
            last = foot;
        }
        Ok(feet)
    }

    fn foot(&mut self) -> Read<Foot> {
        self.take("a foot: LF, RF, LH or RH", Foot::read)
    }

    fn lesion(&mut self) -> Read<Act<'a>> {
        if self.has(word!("none")) {
            return self.feet().map(Act::NoLesion);
        }
        let lesion = self.take("a lesion code, as SU, WLA, DD", Lesion::read)?;
        let stage = self.maybe(|word| Stage::read(word).filter(|_| lesion == Lesion::DD));
        let foot = self.foot()?;
        let claw = self.maybe(Claw::read);
        let zone = self.after(word!("zone"), "a zone, 0 to 12", number(0, 12))?;
        let grade = self.after(word!("grade"), "a grade, 1 to 3", number(1, 3))?;
        Ok(Act::Lesion(Finding { lesion, stage, foot, claw, zone, grade }))
    }

    fn block(&mut self) -> Read<Act<'a>> {
        let how = self.named("on, off or lost", |word| matches!(word, "on" | "off" | "lost"))?;
        let foot = self.foot()?;
        if how == "on" {
            let claw = self.take("inner or outer", Claw::read)?;
            return Ok(Act::BlockOn { foot, claw, kind: self.maybe(BlockKind::read) });
        }
        Ok(Act::BlockGone { lost: how == "lost", foot, claw: self.maybe(Claw::read) })
    }

    fn dressing(&mut self) -> Read<Act<'a>> {
        let on = self.named("on or off", |word| matches!(word, "on" | "off"))? == "on";
        let foot = self.foot()?;
        Ok(if on { Act::DressingOn(foot) } else { Act::DressingOff(foot) })
    }

    fn recheck(&mut self) -> Read<Act<'a>> {
        if let Some(due) = self.after(word!("due"), DATE, date)? {
            return Ok(Act::RecheckDue { due, foot: self.maybe(Foot::read) });
        }
        self.literal(word!("found"))?;
        let found = self.take("sound, better, same or worse", RecheckFinding::read)?;
        Ok(Act::RecheckFound { found, foot: self.maybe(Foot::read) })
    }

    fn medicine(&mut self) -> Read<Act<'a>> {
        let product = self.quoted("a product in quotation marks")?;
        let batch = if self.has(word!("batch")) { Some(self.quoted("a batch in quotation marks")?) } else { None };
        self.literal(word!("dose"))?;
        let dose = self.take("an amount, as 15 or 2.5", |word| Decimal::read(word.text()))?;
        let unit = self.take("a unit: ml, l, mg, g, iu or piece", DoseUnit::read)?;
        let route = self.after(word!("route"), "im, iv, sc, oral, topical or regional", Route::read)?;
        let reason = if self.has(word!("for")) { Some(self.quoted("a reason in quotation marks")?) } else { None };
        self.literal(word!("milk"))?;
        let milk = self.take(HOLD, |word| Hold::read(word.text()))?;
        self.literal(word!("meat"))?;
        let meat = self.take(HOLD, |word| Hold::read(word.text()))?;
        Ok(Act::Medicine(Medicine { product, batch, dose, unit, route, reason, milk, meat }))
    }

    fn bath(&mut self) -> Read<Act<'a>> {
        let product = self.take("a footbath product, as copper or formalin", BathProduct::read)?;
        let percent = self.maybe(|word| {
            let percent = word.text().strip_suffix('%').and_then(Decimal::read);
            percent.filter(|percent| percent.hundredths() <= 10_000)
        });
        let passes = self.after(word!("passes"), "how many passes, 1 to 20", number(1, 20))?;
        Ok(Act::Bath(Bath { product, percent, passes }))
    }

    fn calved(&mut self) -> Read<Act<'a>> {
        if let Some(due) = self.after(word!("due"), DATE, date)? {
            return Ok(Act::CalvingDue(due));
        }
        Ok(Act::Calved { lactation: self.lactation()? })
    }

    fn lactation(&mut self) -> Read<Option<u8>> {
        self.after(word!("lactation"), "a lactation number, 1 to 20", number(1, 20))
    }

    fn tagged(&mut self) -> Read<Act<'a>> {
        let ear = if self.has(word!("ear")) { Some(self.identity(EarTag::read)?) } else { None };
        let electronic = if self.has(word!("electronic")) { Some(self.identity(Electronic::read)?) } else { None };
        if ear.is_none() && electronic.is_none() {
            return self.problem("`ear` and a number, `electronic` and a number, or both");
        }
        Ok(Act::Tagged { ear, electronic })
    }

    fn identity<T>(&mut self, read: impl FnOnce(&'a str) -> Result<T, super::IdentityProblem>) -> Read<T> {
        match read(self.word.text()) {
            Ok(value) => {
                self.skip();
                Ok(value)
            }
            Err(why) => self.problem(why.to_string()),
        }
    }

    fn admit(&mut self) -> Read<Act<'a>> {
        let device = self.device()?;
        self.literal(word!("key"))?;
        let key = self.full_mark()?;
        self.literal(word!("as"))?;
        Ok(Act::Admit { device, key, capacity: self.take("keeper, writer or reader", Capacity::read)? })
    }

    fn witness(&mut self) -> Read<Act<'a>> {
        let device = self.device()?;
        let year = self.take("a year of four digits", |word| {
            let is_year = word.text().len() == 4 && word.text().bytes().all(|b| b.is_ascii_digit());
            is_year.then(|| word.text().parse().ok()).flatten()
        })?;
        self.literal(word!("length"))?;
        let length = self.take("a length in bytes", number(1, u32::MAX))?;
        self.literal(word!("mark"))?;
        Ok(Act::Witness { device, year, length, mark: self.full_mark()? })
    }

    fn device(&mut self) -> Read<&'a str> {
        self.named("a device's name, in small letters", is_name)
    }

    fn full_mark(&mut self) -> Read<&'a str> {
        self.named("64 hexadecimal digits, in small letters", is_full_mark)
    }

    fn mark_of(&mut self) -> Read<Reference<'a>> {
        let mark = self.take("a mark of 16 digits", |word| Mark::read(word.bytes()))?;
        let device = self.after(word!("of"), "a device's name", |word| is_name(word.text()).then_some(word.text()))?;
        Ok(Reference { mark, device })
    }

    fn reference(&mut self, word: ActWord) -> Read<Option<Reference<'a>>> {
        if word != ActWord::Strike && self.has(word!("replaces")) { self.mark_of().map(Some) } else { Ok(None) }
    }

    fn quoted(&mut self, expected: &str) -> Read<&'a str> {
        let Some(inner) = self.word.rest().strip_prefix('"') else { return self.problem(expected) };
        let Some(end) = inner.find('"') else { return self.problem("a closing quotation mark") };
        let (value, after) = (&inner[..end], &inner[end + 1..]);
        if value.is_empty()
            || value.len() > QUOTED_BYTES
            || !is_clean(value)
            || !(after.is_empty() || after.starts_with(' '))
        {
            return self.problem(format!("1 to {QUOTED_BYTES} bytes of clean text in quotation marks"));
        }
        self.word = self.word.ending(self.word.at + end + 2).next();
        Ok(value)
    }

    fn who_and_words(&mut self) -> Read<(&'a str, Option<&'a str>)> {
        let (who, has_words) = self.word.text().strip_suffix(':').map_or((self.word.text(), false), |who| (who, true));
        if !is_who(who) {
            return self.problem("initials in small letters, then the end or `: ` and words");
        }
        let end = self.word.end;
        let words = self.text.get(end + 1..).unwrap_or_default();
        match (has_words, end == self.text.len()) {
            (false, true) => Ok((who, None)),
            (true, _) if !words.is_empty() && is_clean(words) => Ok((who, Some(words))),
            (true, _) => {
                let at = (end + 1).min(self.text.len());
                self.problem_at(at..self.text.len(), "words: single spaces, no control or invisible characters")
            }
            (false, false) => {
                self.skip();
                self.problem("the end, or a colon before words")
            }
        }
    }
}

const DATE: &str = "a real date, as 2026-03-14";
const HOLD: &str = "a withdrawal time, as 0d, 7d or 36h (whole days as days)";

fn date(word: Word<'_>) -> Option<chrono::NaiveDate> {
    read_date(word.bytes())
}

fn number<T: TryFrom<u32>>(least: u32, most: u32) -> impl Fn(Word<'_>) -> Option<T> {
    move |word| within(word.text(), least, most)
}

#[inline]
fn within<T: TryFrom<u32>>(text: &str, least: u32, most: u32) -> Option<T> {
    read_number(text, most).filter(|n| *n >= least).and_then(|n| T::try_from(n).ok())
}

fn unit<T>(unit: &str, read: impl Fn(&str) -> Option<T>) -> impl Fn(Word<'_>) -> Option<T> {
    move |word| word.text().strip_suffix(unit).and_then(&read)
}

fn read_sole(word: &str) -> Option<Decimal> {
    Decimal::read(word).filter(|sole| (100..=4_000).contains(&sole.hundredths()))
}

fn read_score_value(word: Word<'_>) -> Option<(u8, Option<Half>)> {
    match *word.bytes() {
        [value @ b'0'..=b'9'] => Some((value - b'0', None)),
        [value @ b'0'..=b'9', _] => Some((value - b'0', Some(Half::from_word(&word.text()[1..])?))),
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
