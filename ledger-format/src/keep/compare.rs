//! Accepted lines, base and save: what the save says (`keep.md` §7 to §11).

use std::collections::{HashMap, HashSet};

use super::align::{Origin, is_same_subject, side_by_side};
use super::base::{Base, Facts, Fate, Remembered};
use super::sealed::{self, Found, Other};
use crate::line::{Mark, split_seal};
use crate::text;

/// What a save says beside the accepted lines. Accepted lines are counted from 0.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Saved {
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
}

impl Typed {
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
    /// An accepted line in other words.
    Corrects(Mark),
    /// It stands in another text of the same file that is taken in together with this one; here it only says its
    /// day and person to the lines under it.
    Elsewhere,
}

/// Compares a save with the accepted bytes of its file. `remembered` are earlier saves, the newest first.
pub fn compare(save: &[u8], accepted: &[u8], remembered: &[Remembered]) -> Saved {
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
    let carried = carried(remembered, base.filter(|_| knew_tail), &cleaned);
    let Found { others, missing, repeated, moved, damaged, guessed, irregular, lines, .. } = found;
    let mut saved = Saved {
        carried,
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
    let lines = Lines::of(accepted, lines, &missing, base.map_or(lines, Base::shown));
    let mut known = saved.take_typed(others, &cleaned, base, &lines);
    saved.recognise(remembered, &lines, &mut known);
    saved.sort_missing(missing, base, &known);
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
            _ => is_part || typed.what == What::Left,
        };
        if is_known && !matches!(typed.what, What::Again(_)) {
            typed.what = What::Elsewhere;
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

/// Accepted lines by their marks: those that are missing, and those that the base did not show.
struct Lines {
    at: HashMap<Mark, usize>,
    missing: Vec<usize>,
}

impl Lines {
    fn of(accepted: &[u8], count: usize, missing: &[usize], from: usize) -> Self {
        let first = missing.first().map_or(from, |first| from.min(*first));
        if first >= count {
            return Self { at: HashMap::new(), missing: Vec::new() };
        }
        let lines = accepted.split(|b| *b == b'\n').enumerate().skip(first);
        let at = lines.filter_map(|(at, line)| Some((Mark::read(split_seal(line)?.1.get(24..)?)?, at))).collect();
        Self { at, missing: missing.to_vec() }
    }

    fn missing(&self, mark: Mark) -> Option<usize> {
        self.at.get(&mark).copied().filter(|at| self.missing.binary_search(at).is_ok())
    }
}

impl Saved {
    /// Sorts the typed lines by what they are. Gives the accepted lines that these account for.
    fn take_typed(
        &mut self,
        others: Vec<Other>,
        cleaned: &[String],
        base: Option<Base<'_>>,
        lines: &Lines,
    ) -> HashSet<usize> {
        let of_base: Vec<String> =
            base.map(Base::lines).unwrap_or_default().into_iter().map(|line| text::clean(line).text).collect();
        let (origins, mut gone) = side_by_side(&of_base, cleaned);
        let there: HashSet<Origin> = origins.iter().copied().collect();
        let fate = |line: usize| base.and_then(|base| base.fate(line));
        let mut known = HashSet::new();
        for ((other, origin), clean) in others.into_iter().zip(origins).zip(cleaned) {
            let changed = match origin {
                Origin::InPlaceOf(line) => fate(line).filter(|_| is_same_subject(&of_base[line], clean)),
                _ => None,
            };
            let what = match (origin, changed) {
                (Origin::Same(line), _) => again(fate(line), lines),
                (_, Some(Fate::Kept(marks))) if marks.len() == 1 => match lines.at.get(&marks[0]) {
                    Some(_) => What::Corrects(marks[0]),
                    None => What::New,
                },
                _ => What::New,
            };
            // Another line at its place takes it out, where that is no correction of it.
            if let (What::New, Origin::InPlaceOf(line)) = (&what, origin)
                && !there.contains(&Origin::Same(line))
            {
                gone.push(line);
            }
            if let What::Again(marks) = &what {
                known.extend(marks.iter().filter_map(|mark| lines.at.get(mark)));
            }
            self.take_one(other, what, lines, &mut known);
        }
        self.deleted = gone.iter().filter_map(|line| fate(*line)).flat_map(|fate| kept_lines(fate, lines)).collect();
        known
    }

    /// A line that looks new, in a save that lacks the very lines which it became in another editor's hands.
    fn recognise(&mut self, remembered: &[Remembered], lines: &Lines, known: &mut HashSet<usize>) {
        let looks_new = |typed: &Typed| matches!(typed.what, What::New | What::Left);
        if lines.missing.is_empty() || !self.typed.iter().any(looks_new) {
            return;
        }
        let mut kept = HashMap::<String, Vec<&Vec<Mark>>>::new();
        for before in remembered.iter().flat_map(|save| save.typed.iter().chain(&save.carried)) {
            if let Fate::Kept(marks) = &before.fate {
                kept.entry(text::clean(&before.text).text).or_default().push(marks);
            }
        }
        for typed in self.typed.iter_mut().filter(|typed| looks_new(typed)) {
            let became = |marks: &&&Vec<Mark>| {
                marks.iter().all(|mark| lines.missing(*mark).is_some_and(|line| !known.contains(&line)))
            };
            let same = kept.get(&text::clean(typed.as_saved()).text).and_then(|all| all.iter().find(became));
            if let Some(marks) = same {
                known.extend(marks.iter().filter_map(|mark| lines.missing(*mark)));
                typed.what = What::Again((*marks).clone());
            }
        }
    }

    fn take_one(&mut self, other: Other, what: What, lines: &Lines, known: &mut HashSet<usize>) {
        let Other { number, text } = other;
        if let Some((body, mark)) = sealed::borne(&text)
            && let Some(at) = lines.missing(mark)
            && !known.contains(&at)
        {
            known.insert(at);
            if matches!(what, What::Again(_)) {
                // The correction that it became is sealed; its editor still shows the change.
                return self.typed.push(Typed { number, text: body, saved: Some(text), what });
            }
            if at == 0 {
                self.irregular = true;
                return self.aside.push(body);
            }
            return self.typed.push(Typed { number, text: body, saved: Some(text), what: What::Corrects(mark) });
        }
        if let What::Corrects(mark) = what {
            known.extend(lines.at.get(&mark));
        }
        self.typed.push(Typed { number, text, saved: None, what });
    }

    /// Accepted lines that are not there: taken out, or never seen (`keep.md` §10).
    fn sort_missing(&mut self, missing: Vec<usize>, base: Option<Base<'_>>, known: &HashSet<usize>) {
        let shown = self.shown;
        let was_shown = |line: usize| base.map_or(line < shown, |base| base.shows(line));
        let rest = missing.into_iter().filter(|line| !known.contains(line));
        let (deleted, unseen): (Vec<usize>, Vec<usize>) = rest.partition(|line| was_shown(*line));
        self.deleted.extend(deleted);
        self.deleted.sort_unstable();
        self.deleted.dedup();
        self.unseen = unseen.into_iter().filter(|line| self.deleted.binary_search(line).is_err()).collect();
    }
}

fn again(fate: Option<&Fate>, lines: &Lines) -> What {
    match fate {
        Some(Fate::Kept(marks)) if marks.iter().all(|mark| lines.at.contains_key(mark)) => What::Again(marks.clone()),
        Some(Fate::Kept(_)) => What::New,
        Some(Fate::Gone) => What::Again(Vec::new()),
        Some(Fate::Left(_)) | None => What::Left,
    }
}

fn kept_lines<'a>(fate: &'a Fate, lines: &'a Lines) -> impl Iterator<Item = usize> + 'a {
    let marks = match fate {
        Fate::Kept(marks) => marks.as_slice(),
        _ => &[],
    };
    marks.iter().filter_map(|mark| lines.at.get(mark).copied())
}

/// Lines of the newest tail that neither the save has nor its editor had (`keep.md` §11).
fn carried(remembered: &[Remembered], base: Option<Base<'_>>, save: &[String]) -> Vec<Typed> {
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
    let stays = |text: &String| Typed { number: 0, text: text.clone(), saved: None, what: What::Left };
    newest.left.iter().filter(is_elsewhere).map(stays).collect()
}
