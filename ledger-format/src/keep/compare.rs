//! Accepted lines, base and save: what the save says (`keep.md` §7 to §11).

use std::collections::{HashMap, HashSet};

use super::align::{Origin, is_same_subject, side_by_side};
use super::base::{Base, Changed, Facts, Fate, Remembered};
use super::correct;
use super::lines::{Lines, Was};
use super::sealed::{self, Found, Other};
use crate::line::Mark;
use crate::text;

/// What a save says beside the accepted lines. Accepted lines are counted from 0.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Saved {
    /// Whether it is the accepted lines, byte for byte, and typed lines behind them.
    pub is_plain: bool,
    /// Its typed lines, in order.
    pub typed: Vec<Typed>,
    /// Lines of the newest tail that were typed elsewhere meanwhile, and stay.
    pub carried: Vec<Typed>,
    /// Accepted lines that somebody took out.
    pub deleted: Vec<usize>,
    /// Accepted lines that its editor did not know, nor typed.
    pub unseen: Vec<usize>,
    /// Accepted lines that stand in it again.
    pub repeated: Vec<usize>,
    /// Whether accepted lines stand in another order.
    pub moved: bool,
    /// How many accepted lines stand in it with a damaged seal, or torn off.
    pub damaged: usize,
    /// Texts of heads that were changed: no correction, to be put aside.
    pub aside: Vec<String>,
    /// Typed lines that became lines of another file of the device.
    pub elsewhere: Vec<String>,
    /// Lines left in the tail that stand in it in other words at their place, or typed to their end.
    pub reworded: Vec<String>,
    /// Lines that were changed and stand there as before: what would change them back, to be offered.
    pub changed_back: Vec<String>,
    /// Whether the encoding was a guess, so that the raw bytes should be kept.
    pub guessed: bool,
    /// Whether it shows more than can be told from its typed lines (a line split, a seal damaged, a line again, a
    /// head changed), so that its bytes should be kept.
    pub irregular: bool,
    /// How many accepted lines it shows, up to the last of them.
    pub shown: usize,
    /// How many accepted lines there are.
    pub accepted: usize,
    /// Those among them that it lacks.
    pub lacking: Vec<usize>,
}

/// A line of a save that is no accepted one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Typed {
    /// Its number in the save, counted from 1.
    pub number: usize,
    /// What it says.
    pub text: String,
    /// As it was saved, where that is more: the seal that a correction bears.
    pub saved: Option<String>,
    /// What it is.
    pub what: What,
    /// It stood in front of an accepted line, on its line: it is offered, not read.
    pub in_front: bool,
}

impl Typed {
    /// What it changes, and in what words.
    pub fn changes(&self) -> Option<Changed> {
        let What::Corrects(correction) = &self.what else { return None };
        let marks = correction.was.iter().map(|was| was.mark).collect();
        Some(Changed { before: correction.before.clone(), marks })
    }

    /// Whether it is offered as a comment: it stood in front of a sealed line, and became nothing yet.
    pub fn is_offered(&self) -> bool {
        self.in_front && !matches!(self.what, What::Again(_) | What::Elsewhere)
    }

    /// Whether it was in the tail before.
    fn was_left(&self) -> bool {
        match &self.what {
            What::Left => true,
            What::Corrects(correction) => correction.waits,
            _ => false,
        }
    }

    /// As it was saved.
    pub fn as_saved(&self) -> &str {
        self.saved.as_deref().unwrap_or(&self.text)
    }
}

/// What a typed line is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Not seen before.
    New,
    /// Typed before and left in the tail: it is read again, and another text of the same save does not add it.
    Left,
    /// Typed before and sealed as these lines; it only says its day and person to the lines under it.
    Again(Vec<Mark>),
    /// Accepted lines in other words.
    Corrects(Correction),
    /// It stands in another text of the same file that is taken in together with this one; here it only says its
    /// day and person to the lines under it.
    Elsewhere,
}

/// A line in the place of accepted ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// In what words it stood there before.
    pub before: String,
    /// The lines that it was then.
    pub was: Vec<Was>,
    /// Whether it waits in the tail since an earlier save.
    pub waits: bool,
}

/// Compares a save with the accepted bytes of its file. `others` are those of the device's other files;
/// `remembered` are earlier saves, the newest first.
pub fn compare(save: &[u8], accepted: &[u8], others: &[&[u8]], remembered: &[Remembered]) -> Saved {
    let found = sealed::find(save, accepted);
    let shown =
        (0..found.lines).rev().find(|line| found.missing.binary_search(line).is_err()).map_or(0, |last| last + 1);
    let lacking: Vec<usize> = found.missing.iter().copied().filter(|line| *line < shown).collect();
    let cleaned: Vec<String> = found.others.iter().map(|other| text::clean(&other.text).text).collect();
    let facts = Facts { typed: &cleaned, shown, lacking: &lacking };
    let (difference, base) = Base::choose(remembered, &facts).unzip();
    // A file that was lost or emptied takes nothing back.
    let is_empty = found.lines > 0 && shown == 0 && cleaned.iter().all(String::is_empty);
    let knew_tail = !is_empty && !facts.may_be_older_than(difference);
    let Found { is_plain, others: typed, missing, repeated, moved, damaged, guessed, irregular, lines } = found;
    let from = base.map_or(lines, |base| if base.has_changes() { 0 } else { base.shown() });
    let by_mark = Lines::of(accepted, others, &missing, from);
    let mut saved = Saved {
        is_plain,
        carried: carried(remembered, base.filter(|_| knew_tail), &cleaned, &by_mark),
        repeated,
        moved,
        damaged,
        guessed,
        irregular,
        shown,
        accepted: lines,
        lacking,
        ..Saved::default()
    };
    let mut known = saved.take_typed(typed, &cleaned, base, &by_mark);
    saved.recognise(remembered, &by_mark, &mut known);
    saved.look_behind(remembered, &by_mark, &known);
    saved.sort_missing(&missing, base, &known.iter().filter_map(|mark| by_mark.place(*mark)).collect());
    saved
}

/// What a displaced save adds to texts that are taken in with it: a line that one of them has, it does not add. One
/// that was cut off may end in a part of a line.
pub fn without_known<'a>(saved: &mut Saved, before: impl Iterator<Item = &'a Saved>, torn: bool) {
    let mut known: Vec<String> =
        before.flat_map(|saved| &saved.typed).map(|typed| text::clean(&typed.text).text).collect();
    known.sort_unstable();
    let mut counts = HashMap::<&str, usize>::new();
    for line in &known {
        *counts.entry(line).or_default() += 1;
    }
    let last = saved.typed.len().wrapping_sub(1);
    for (at, typed) in saved.typed.iter_mut().enumerate() {
        let clean = text::clean(&typed.text).text;
        let is_part = torn && at == last && {
            let place = known.partition_point(|line| *line < clean);
            known.get(place).is_some_and(|line| line.starts_with(&clean))
        };
        let is_known = match counts.get_mut(clean.as_str()) {
            Some(count) if *count > 0 => {
                *count -= 1;
                true
            }
            _ => is_part || typed.was_left(),
        };
        if is_known && !matches!(typed.what, What::Again(_)) {
            typed.what = What::Elsewhere;
        }
    }
}

/// Takes from a text the lines left in its tail that a text taken in with it has in other words: they were changed
/// there (`keep.md` §11).
pub fn without_reworded(earlier: &mut Saved, later: &Saved) {
    for line in &later.reworded {
        let stands = |typed: &&mut Typed| typed.was_left() && text::clean(typed.as_saved()).text == *line;
        if let Some(typed) = earlier.typed.iter_mut().find(stands) {
            typed.what = What::Again(Vec::new());
        }
    }
}

/// Takes from typed lines those that are sealed in another file of the device. Gives their places there, from 0.
pub fn take_sealed(typed: &mut Vec<Typed>, accepted: &[u8]) -> Vec<usize> {
    let bears_seal = |typed: &Typed| typed.what == What::New && sealed::borne(&typed.text).is_some();
    if !typed.iter().any(bears_seal) {
        return Vec::new();
    }
    let places: HashMap<&[u8], usize> = accepted.split(|b| *b == b'\n').zip(0..).collect();
    let mut found = Vec::new();
    typed.retain(|typed| {
        let place = places.get(text::clean(&typed.text).text.as_bytes()).filter(|_| bears_seal(typed));
        found.extend(place);
        place.is_none()
    });
    found.sort_unstable();
    found.dedup();
    found
}

impl Saved {
    /// Sorts the typed lines by what they are. Gives the marks of the accepted lines that these account for.
    fn take_typed(
        &mut self,
        others: Vec<Other>,
        cleaned: &[String],
        base: Option<Base<'_>>,
        lines: &Lines<'_>,
    ) -> HashSet<Mark> {
        let of_base: Vec<String> =
            base.map(Base::lines).unwrap_or_default().into_iter().map(|line| text::clean(line).text).collect();
        let (origins, mut gone) = side_by_side(&of_base, cleaned);
        let there: HashSet<Origin> = origins.iter().copied().collect();
        let fate = |line: usize| base.and_then(|base| base.fate(line));
        let mut known = HashSet::new();
        for ((other, origin), clean) in others.into_iter().zip(origins).zip(cleaned) {
            let waiting = |line: usize| lines.waiting(base?.changes(line)?);
            let what = match origin {
                Origin::Same(line) => waiting(line).map_or_else(|| again(fate(line), lines), What::Corrects),
                Origin::InPlaceOf(line) if is_same_subject(&of_base[line], clean) => {
                    let kept = |marks: &[Mark]| lines.correction(base?.lines()[line], marks, false);
                    let changed = match fate(line) {
                        Some(Fate::Kept(marks)) => kept(marks),
                        _ => waiting(line),
                    };
                    changed.map_or(What::New, What::Corrects)
                }
                _ => What::New,
            };
            if let (Origin::InPlaceOf(line), Some(base)) = (origin, base)
                && !of_base[line].is_empty()
                && (is_same_subject(&of_base[line], clean) || clean.starts_with(&of_base[line]))
            {
                self.reworded.extend(base.left(line).iter().map(|left| text::clean(left).text));
            }
            // Another line at its place takes it out, where that is no correction of it.
            if let (What::New, Origin::InPlaceOf(line)) = (&what, origin)
                && !there.contains(&Origin::Same(line))
            {
                gone.push(line);
            }
            if let What::Again(marks) = &what {
                known.extend(marks);
            }
            self.take_one(other, what, lines, &mut known);
        }
        self.deleted = gone.iter().filter_map(|line| fate(*line)).flat_map(|fate| kept_lines(fate, lines)).collect();
        known
    }

    /// A line that looks new, in a save that lacks the very lines which it became in another editor's hands.
    fn recognise(&mut self, remembered: &[Remembered], lines: &Lines<'_>, known: &mut HashSet<Mark>) {
        let looks_new = |typed: &Typed| match &typed.what {
            What::New | What::Left => true,
            What::Corrects(correction) => !correction.waits,
            What::Again(_) | What::Elsewhere => false,
        };
        if lines.all_shown() || !self.typed.iter().any(looks_new) {
            return;
        }
        let mut kept = HashMap::<String, Vec<&Vec<Mark>>>::new();
        for before in remembered.iter().flat_map(|save| save.typed.iter().chain(&save.carried)) {
            if let Fate::Kept(marks) = &before.fate {
                kept.entry(text::clean(&before.text).text).or_default().push(marks);
            }
        }
        for typed in self.typed.iter_mut().filter(|typed| looks_new(typed)) {
            let became = |marks: &&&Vec<Mark>| marks.iter().all(|mark| lines.is_hidden(*mark) && !known.contains(mark));
            let same = kept.get(&text::clean(typed.as_saved()).text).and_then(|all| all.iter().find(became));
            if let Some(marks) = same {
                if let What::Corrects(correction) = &typed.what {
                    // It corrects nothing after all.
                    for was in &correction.was {
                        known.remove(&was.mark);
                    }
                }
                known.extend(marks.iter());
                typed.what = What::Again((*marks).clone());
            }
        }
    }

    /// Lines typed before that are kept in another file, and those that were changed since in their editor.
    fn look_behind(&mut self, remembered: &[Remembered], lines: &Lines<'_>, known: &HashSet<Mark>) {
        let again = self.typed.iter().filter_map(|typed| match &typed.what {
            What::Again(marks) => Some((typed, marks)),
            _ => None,
        });
        let is_elsewhere = |marks: &[Mark]| marks.iter().any(|mark| lines.is_elsewhere(*mark));
        let elsewhere = again.clone().filter(|(_, marks)| is_elsewhere(marks));
        self.elsewhere = elsewhere.map(|(typed, _)| text::clean(typed.as_saved()).text).collect();
        let marks: Vec<Mark> = again.flat_map(|(_, marks)| marks).copied().collect();
        if !marks.is_empty() {
            let back = correct::changed_back(&marks, remembered, lines).into_iter();
            self.changed_back = back.filter(|(_, newest)| !known.contains(newest)).map(|(text, _)| text).collect();
        }
    }

    fn take_one(&mut self, other: Other, what: What, lines: &Lines<'_>, known: &mut HashSet<Mark>) {
        let Other { number, text, in_front } = other;
        if let What::Corrects(correction) = &what {
            known.extend(correction.was.iter().map(|was| was.mark));
        }
        let seal = sealed::borne(&text).filter(|(_, mark)| lines.is_missing(*mark) && known.insert(*mark));
        let Some((body, mark)) = seal else {
            return self.typed.push(Typed { number, text, saved: None, what, in_front });
        };
        let what = match what {
            // The correction that it became is sealed; its editor still shows the change, or changed it again.
            What::Again(_) | What::Corrects(_) => what,
            _ if lines.place(mark) == Some(0) => {
                self.irregular = true;
                return self.aside.push(body);
            }
            What::New | What::Left | What::Elsewhere => {
                let was = lines.body(mark).unwrap_or_default();
                lines.correction(was, &[mark], false).map_or(What::New, What::Corrects)
            }
        };
        self.typed.push(Typed { number, text: body, saved: Some(text), what, in_front });
    }

    /// Accepted lines that are not there: taken out, or never seen (`keep.md` §10).
    fn sort_missing(&mut self, missing: &[usize], base: Option<Base<'_>>, known: &HashSet<usize>) {
        let shown = self.shown;
        let was_shown = |line: usize| base.map_or(line < shown, |base| base.shows(line));
        let rest = missing.iter().copied().filter(|line| !known.contains(line));
        let (deleted, unseen): (Vec<usize>, Vec<usize>) = rest.partition(|line| was_shown(*line));
        self.deleted.extend(deleted);
        self.deleted.sort_unstable();
        self.deleted.dedup();
        self.unseen = unseen.into_iter().filter(|line| self.deleted.binary_search(line).is_err()).collect();
    }
}

fn again(fate: Option<&Fate>, lines: &Lines<'_>) -> What {
    let is_accepted = |mark: &Mark| lines.place(*mark).is_some() || lines.is_elsewhere(*mark);
    match fate {
        Some(Fate::Kept(marks)) if marks.iter().all(is_accepted) => What::Again(marks.clone()),
        Some(Fate::Kept(_)) => What::New,
        Some(Fate::Gone) => What::Again(Vec::new()),
        Some(Fate::Left(_)) | None => What::Left,
    }
}

fn kept_lines<'a>(fate: &'a Fate, lines: &'a Lines<'_>) -> impl Iterator<Item = usize> + 'a {
    let marks = match fate {
        Fate::Kept(marks) => marks.as_slice(),
        _ => &[],
    };
    marks.iter().filter_map(|mark| lines.place(*mark))
}

/// Lines of the newest tail that neither the save has nor its editor had (`keep.md` §11).
fn carried(remembered: &[Remembered], base: Option<Base<'_>>, save: &[String], lines: &Lines<'_>) -> Vec<Typed> {
    let Some(newest) = remembered.first() else { return Vec::new() };
    let mut counts = HashMap::<String, usize>::new();
    let had = base.map(Base::had).unwrap_or_default();
    for line in save.iter().cloned().chain(had.iter().map(|line| text::clean(line).text)) {
        *counts.entry(line).or_default() += 1;
    }
    let is_elsewhere = |line: &&String| match counts.get_mut(&text::clean(line).text) {
        Some(count) if *count > 0 => {
            *count -= 1;
            false
        }
        _ => !line.starts_with(";!") && !line.trim().is_empty(),
    };
    let stays = |text: &String| {
        let what = newest.changed(text).and_then(|changed| lines.waiting(changed)).map_or(What::Left, What::Corrects);
        Typed { number: 0, text: text.clone(), saved: None, what, in_front: false }
    };
    newest.left.iter().filter(is_elsewhere).map(stays).collect()
}
