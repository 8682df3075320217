//! Typed lines of base and save put side by side (`keep.md` §9).

use std::collections::{HashMap, HashSet};

use similar::{Algorithm, DiffOp, capture_diff_slices};

/// Beyond this many lines on both sides no person typed them, and finding the best alignment would take long.
const LINES: usize = 20_000;

/// Where a line of the save comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Origin {
    /// It is this line of the base.
    Same(usize),
    /// It stands where this line of the base stood.
    InPlaceOf(usize),
    /// It is new.
    New,
}

impl Origin {
    fn same(&self) -> Option<usize> {
        match self {
            Self::Same(line) => Some(*line),
            _ => None,
        }
    }
}

/// Where each line of the save comes from; and the lines of the base that are not in it.
pub(super) fn side_by_side(base: &[String], save: &[String]) -> (Vec<Origin>, Vec<usize>) {
    let (mut origins, mut gone) = (vec![Origin::New; save.len()], Vec::new());
    let algorithm = if base.len() + save.len() > LINES { Algorithm::Patience } else { Algorithm::Myers };
    for op in capture_diff_slices(algorithm, base, save) {
        match op {
            DiffOp::Equal { old_index, new_index, len } => {
                for n in 0..len {
                    origins[new_index + n] = Origin::Same(old_index + n);
                }
            }
            DiffOp::Replace { old_index, old_len, new_index, new_len } => {
                let places = in_place(&base[old_index..old_index + old_len], &save[new_index..new_index + new_len]);
                for (n, place) in places.iter().enumerate() {
                    origins[new_index + n] = place.map_or(Origin::New, |place| Origin::InPlaceOf(old_index + place));
                }
                gone.extend(
                    (0..old_len).filter(|place| !places.contains(&Some(*place))).map(|place| old_index + place),
                );
            }
            DiffOp::Delete { old_index, old_len, .. } => gone.extend(old_index..old_index + old_len),
            DiffOp::Insert { .. } => {}
        }
    }
    find_moved(base, save, &mut origins);
    let moved: HashSet<usize> = origins.iter().filter_map(Origin::same).collect();
    gone.retain(|line| !moved.contains(line));
    (origins, gone)
}

/// Which line of one text stands where a line of the other stood: first of the same cow, then in order.
fn in_place(base: &[String], save: &[String]) -> Vec<Option<usize>> {
    let mut of_subject = HashMap::<String, Vec<usize>>::new();
    for (place, line) in base.iter().enumerate().rev() {
        of_subject.entry(subject(line)).or_default().push(place);
    }
    let mut places: Vec<Option<usize>> =
        save.iter().map(|line| of_subject.get_mut(&subject(line)).and_then(Vec::pop)).collect();
    let taken: HashSet<usize> = places.iter().copied().flatten().collect();
    let mut free = (0..base.len()).filter(|place| !taken.contains(place));
    for place in &mut places {
        *place = place.or_else(|| free.next());
    }
    places
}

/// A line that stands elsewhere in the save than in the base was moved.
fn find_moved(base: &[String], save: &[String], origins: &mut [Origin]) {
    let mut unmatched = HashMap::<&str, Vec<usize>>::new();
    let mut matched = vec![false; base.len()];
    for origin in origins.iter() {
        if let Origin::Same(line) = origin {
            matched[*line] = true;
        }
    }
    for (at, line) in base.iter().enumerate().rev().filter(|(at, _)| !matched[*at]) {
        unmatched.entry(line).or_default().push(at);
    }
    if unmatched.is_empty() {
        return;
    }
    for (origin, line) in origins.iter_mut().zip(save).filter(|(origin, _)| !matches!(origin, Origin::Same(_))) {
        if let Some(at) = unmatched.get_mut(line.as_str()).and_then(Vec::pop) {
            *origin = Origin::Same(at);
        }
    }
}

/// How far one text is from another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Apart {
    /// How many changes lead from the one to the other; a line that was changed at its place is one.
    pub(super) changes: usize,
    /// How many lines of the other come from the one, as they were or with most of their words.
    pub(super) shared: usize,
}

/// How far a save is from a base.
pub(super) fn apart(base: &[String], save: &[String]) -> Apart {
    if base.len() + save.len() > FEW {
        return Apart { changes: lines_apart(base, save), shared: 0 };
    }
    let (origins, gone) = side_by_side(base, save);
    let mut apart = Apart { changes: gone.len(), shared: 0 };
    for (origin, line) in origins.into_iter().zip(save) {
        let (cost, shared) = match origin {
            Origin::Same(_) => (0, 1),
            Origin::InPlaceOf(before) if is_same_subject(&base[before], line) => {
                (1, usize::from(shares_most_words(&base[before], line)))
            }
            Origin::InPlaceOf(_) => (2, 0),
            Origin::New => (1, 0),
        };
        apart.changes += cost;
        apart.shared += shared;
    }
    apart
}

/// Beyond this many lines bases are not told apart by single changes.
const FEW: usize = 2_000;

/// How many lines one text has and the other lacks, each counted as often as it stands.
fn lines_apart(base: &[String], save: &[String]) -> usize {
    let mut counts = HashMap::<&str, isize>::new();
    for line in base {
        *counts.entry(line).or_default() += 1;
    }
    for line in save {
        *counts.entry(line).or_default() -= 1;
    }
    counts.values().map(|count| count.unsigned_abs()).sum()
}

/// Whether two typed lines say the same up to the cow: day and time, then a number, a group or the herd.
pub(super) fn is_same_subject(before: &str, now: &str) -> bool {
    subject(before) == subject(now)
}

/// Whether more than half of the words after the first are in both lines, at any place.
fn shares_most_words(before: &str, now: &str) -> bool {
    let words = |line: &str| line.split(' ').skip(1).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    let (mut of_before, of_now): (Vec<String>, Vec<String>) = (words(before), words(now));
    let longer = of_before.len().max(of_now.len());
    let mut shared = 0;
    for word in &of_now {
        if let Some(at) = of_before.iter().position(|other| other == word) {
            of_before.swap_remove(at);
            shared += 1;
        }
    }
    2 * shared > longer
}

fn subject(line: &str) -> String {
    let mut words = Vec::new();
    for word in line.split(' ') {
        words.push(word.to_lowercase());
        let is_day_or_time = word.contains(['-', ':', '/', '.']) || matches!(words[0].as_str(), "group" | "cow" | "#");
        if !is_day_or_time || words.len() == 4 {
            break;
        }
    }
    words.join(" ")
}
