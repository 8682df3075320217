//! A life: one animal with every line that counted for her, for figures that ask what happened and not what is.

use super::animal::Animal;
use super::register::{Unit, UnitState};
use super::rules::Rules;
use crate::merge::{Entry, EntryId, Event, Standing, Whose};

/// One animal from joining to leaving.
#[derive(Clone, Debug)]
pub struct Life<'a> {
    /// Her state at the end of the day of the view.
    pub animal: &'a Animal,
    /// Her lines in order. What two devices said alike stands once, but scores as often as they were given.
    pub told: Vec<Told>,
}

/// A line that counted.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    /// The line.
    pub id: EntryId,
    /// What it says.
    pub entry: Entry,
}

impl Rules<'_> {
    /// The lives of one number, or of several that renumbering ties together. Which animal a line is about is told by
    /// folding it.
    pub(super) fn lives<'a>(&self, unit: &'a Unit) -> Vec<Life<'a>> {
        let mut lives: Vec<Life<'a>> =
            unit.state.animals.iter().map(|animal| Life { animal, told: Vec::new() }).collect();
        let mut state = UnitState::default();
        for id in &unit.lines {
            let entry = *self.log.entry(*id);
            if self.standings.get(*id) != Standing::Standing || entry.observed.date > self.on {
                continue;
            }
            let twice = state.twice.len();
            self.apply(&mut state, *id, &entry);
            let is_new = state.twice.len() == twice || matches!(entry.event, Event::Score(_));
            if let Some(life) = about(&state, &entry).filter(|_| is_new).and_then(|at| lives.get_mut(at)) {
                life.told.push(Told { id: *id, entry });
            }
        }
        lives
    }
}

/// Which animal of its unit a line was about, after it was applied.
fn about(state: &UnitState, entry: &Entry) -> Option<usize> {
    let Whose::Cow(number) = entry.whose else { return None };
    let now = match entry.event {
        Event::Renumbered(to) => to,
        _ => number,
    };
    state.meant(now, entry.observed.date)
}

#[cfg(test)]
mod tests {
    use crate::fold::sample::{herd, herd_of, ledger};

    fn told(herd: &crate::fold::Herd) -> Vec<(String, usize)> {
        herd.lives().iter().map(|life| (life.animal.number.to_string(), life.told.len())).collect()
    }

    #[test]
    fn a_number_given_again_is_two_lives() {
        let herd = herd(
            "2026-06-01",
            &[
                "2026-01-02 417 joined by kj",
                "2026-01-10 417 score 2 by kj",
                "2026-02-01 417 left sold by kj",
                "2026-03-01 417 joined by kj",
                "2026-03-04 417 score 1 by kj",
                "2026-03-05 417 score 0 by kj",
            ],
        );
        assert_eq!(told(&herd), [("417".to_owned(), 3), ("417".to_owned(), 3)]);
    }

    #[test]
    fn a_renumbered_animal_keeps_her_life() {
        let herd = herd(
            "2026-06-01",
            &[
                "2026-01-02 417 joined by kj",
                "2026-01-10 417 score 2 by kj",
                "2026-02-01 417 renumbered to 500 by kj",
                "2026-03-04 500 score 1 by kj",
            ],
        );
        assert_eq!(told(&herd), [("500".to_owned(), 4)]);
    }

    #[test]
    fn what_two_devices_said_stands_once_but_both_scores_stand() {
        let twice = ["2026-01-10 417 trim lame RH by kj", "2026-01-10 417 score 2 by kj"];
        let herd = herd_of("2026-06-01", vec![ledger("crush-laptop", &twice), ledger("vet-tablet", &twice)]);
        assert_eq!(told(&herd), [("417".to_owned(), 3)]);
    }

    #[test]
    fn struck_lines_and_lines_after_she_left_are_no_part_of_it() {
        let herd = herd(
            "2026-06-01",
            &["2026-01-10 417 score 2 by kj", "2026-02-01 417 left sold by kj", "2026-02-05 417 score 3 by kj"],
        );
        assert_eq!(told(&herd), [("417".to_owned(), 2)]);
    }
}
