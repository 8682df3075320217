//! Where in her lactation a cow was on a day.

use chrono::NaiveDate;

use crate::fold::Life;
use crate::merge::Event;

/// A cow's lactation on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lactation {
    /// Its number, if it was written.
    pub number: Option<u8>,
    /// Days since she calved; calving day is day 0.
    pub days: Option<i64>,
    /// Whether she was dry.
    pub is_dry: bool,
}

/// Stages of lactation: 1 to 100, 101 to 200, 201 to 305 days in milk (Ettema 2007), later, and dry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Band {
    /// Up to day 100; calving day is with them.
    Early,
    /// Days 101 to 200.
    Middle,
    /// Days 201 to 305.
    Late,
    /// From day 306 until she dries.
    Beyond,
    /// Dry.
    Dry,
    /// Not written.
    Unknown,
}

impl Band {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Early => "days 0 to 100",
            Self::Middle => "days 101 to 200",
            Self::Late => "days 201 to 305",
            Self::Beyond => "day 306 and later",
            Self::Dry => "dry",
            Self::Unknown => "not written",
        }
    }
}

impl Lactation {
    /// The stage.
    pub const fn band(self) -> Band {
        match (self.is_dry, self.days) {
            (true, _) => Band::Dry,
            (false, Some(..=100)) => Band::Early,
            (false, Some(101..=200)) => Band::Middle,
            (false, Some(201..=305)) => Band::Late,
            (false, Some(306..)) => Band::Beyond,
            (false, None) => Band::Unknown,
        }
    }
}

/// When a lactation began, and its number; or when she dried.
#[derive(Clone, Copy, Debug)]
pub(super) enum Turn {
    Calved { number: Option<u8> },
    Dried,
}

impl Life<'_> {
    /// Her calvings and dryings, by day.
    pub(super) fn turns(&self) -> Vec<(NaiveDate, Turn)> {
        let (mut turns, mut number) = (Vec::new(), None);
        for told in &self.told {
            let day = told.entry.observed.date;
            match told.entry.event {
                Event::Joined { lactation, calved } => {
                    number = number.or(lactation);
                    turns.extend(calved.map(|calved| (calved, Turn::Calved { number: lactation })));
                }
                Event::Calved(lactation) => {
                    number = lactation.or(number.map(|before: u8| before.saturating_add(1)));
                    turns.push((day, Turn::Calved { number }));
                }
                Event::Dried => turns.push((day, Turn::Dried)),
                _ => {}
            }
        }
        turns.sort_by_key(|(day, _)| *day);
        turns
    }
}

/// The lactation on a day, of turns in order.
pub(super) fn lactation_on(turns: &[(NaiveDate, Turn)], day: NaiveDate) -> Lactation {
    let before = &turns[..turns.partition_point(|(turn, _)| *turn <= day)];
    let calved = before.iter().rev().find_map(|(turn, what)| match what {
        Turn::Calved { number } => Some((*turn, *number)),
        Turn::Dried => None,
    });
    Lactation {
        number: calved.and_then(|(_, number)| number),
        days: calved.map(|(turn, _)| (day - turn).num_days()),
        is_dry: matches!(before.last(), Some((_, Turn::Dried))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::sample::{day, herd};

    #[test]
    fn lactations_are_counted_from_what_was_written() {
        let herd = herd(
            "2026-12-01",
            &[
                "2026-01-02 417 joined lactation 2 calved 2025-12-01 by kj",
                "2026-08-01 417 dried by kj",
                "2026-10-01 417 calved by kj",
            ],
        );
        let turns = herd.lives()[0].turns();
        let on = |text| lactation_on(&turns, day(text));
        assert_eq!(on("2025-12-01"), Lactation { number: Some(2), days: Some(0), is_dry: false });
        assert_eq!((on("2026-03-11").days, on("2026-03-11").band()), (Some(100), Band::Early));
        assert_eq!(on("2026-03-12").band(), Band::Middle);
        assert_eq!(on("2026-08-01").band(), Band::Dry);
        assert_eq!(on("2026-10-02"), Lactation { number: Some(3), days: Some(1), is_dry: false });
        assert_eq!(on("2025-11-30").band(), Band::Unknown);
    }

    #[test]
    fn stages_end_where_the_source_says() {
        // Ettema 2007: 1-100, 101-200, 201-305 days in milk.
        let band = |days| Lactation { number: None, days: Some(days), is_dry: false }.band();
        let bands = [100, 101, 200, 201, 305, 306].map(band);
        assert_eq!(bands, [Band::Early, Band::Middle, Band::Middle, Band::Late, Band::Late, Band::Beyond]);
    }
}
