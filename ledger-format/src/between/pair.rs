//! Which animal of one state is which of the other.

use std::collections::HashSet;

use crate::fold::{Animal, Herd};
use crate::line::CowNumber;
use crate::merge::{Event, Standing, Whose};

/// An animal in both states, or in one only.
pub(super) enum Pair<'a> {
    Both(&'a Animal, &'a Animal),
    Gone(&'a Animal),
    New(&'a Animal),
}

impl Pair<'_> {
    pub(super) fn number(&self) -> CowNumber {
        match self {
            Self::Both(_, animal) | Self::Gone(animal) | Self::New(animal) => animal.number,
        }
    }
}

/// Every animal of either state, once.
pub(super) fn pairs<'a>(a: &'a Herd, b: &'a Herd) -> Vec<Pair<'a>> {
    let after = b.animals();
    let mut taken: HashSet<(CowNumber, u32)> = HashSet::new();
    let mut pairs = Vec::new();
    for animal in a.animals() {
        let free = |other: &&&'a Animal| !taken.contains(&(other.number, other.use_of_number));
        match same_animal(a, b, animal, after.iter().filter(free).copied()) {
            Some(same) => {
                taken.insert((same.number, same.use_of_number));
                pairs.push(Pair::Both(animal, same));
            }
            None => pairs.push(Pair::Gone(animal)),
        }
    }
    let new = after.into_iter().filter(|animal| !taken.contains(&(animal.number, animal.use_of_number)));
    pairs.extend(new.map(Pair::New));
    pairs
}

/// The animal with the number she has by then. Numbers are used again, so her first day tells her from another one;
/// a late line may have moved it, so the use of the number is the second guess.
fn same_animal<'a>(
    a: &Herd,
    b: &Herd,
    animal: &Animal,
    candidates: impl Iterator<Item = &'a Animal>,
) -> Option<&'a Animal> {
    let number = number_by_then(a, b, animal);
    let named: Vec<&Animal> = candidates.filter(|other| other.number == number).collect();
    let by_day = named.iter().find(|other| other.first_seen == animal.first_seen);
    by_day.or_else(|| named.iter().find(|other| other.use_of_number == animal.use_of_number)).copied()
}

/// Follows the renumberings that the second state has and the first had not.
fn number_by_then(a: &Herd, b: &Herd, animal: &Animal) -> CowNumber {
    let mut number = animal.number;
    for id in b.lines_of(number) {
        let entry = b.log().entry(*id);
        let (Whose::Cow(from), Event::Renumbered(to)) = (entry.whose, entry.event) else { continue };
        let counts = b.standings().get(*id) == Standing::Standing
            && (a.view().on < entry.observed.date && entry.observed.date <= b.view().on || is_new_to(a, entry.sealed));
        if from == number && counts && b.find(to).is_some() {
            number = to;
        }
    }
    number
}

/// Whether a line was kept after what the first state knew.
fn is_new_to(a: &Herd, sealed: i64) -> bool {
    a.view().known.is_some_and(|known| sealed > known.and_utc().timestamp())
}
