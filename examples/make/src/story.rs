//! The story as it was typed: one text for each sitting.

use chrono::{NaiveDate, NaiveDateTime};

use crate::calendar::utc;
use crate::chance::Chance;
use crate::hand::page::{Page, write};
use crate::work::farm::{Desk, Farm};

/// The seed of the story that the documentation tells.
pub const SEED: u64 = 54;

/// How many cows the herd keeps in the whole story.
pub const COWS: u32 = 240;

/// How many months the whole story lasts.
pub const MONTHS: u32 = 14;

/// One sitting at one device: what was typed, and when the device kept it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sitting {
    /// The device.
    pub device: &'static str,
    /// The device's usual person.
    pub person: &'static str,
    /// When the device kept it, in UTC; strictly increasing for each device.
    pub sealed: NaiveDateTime,
    /// The herd's civil day of the sitting.
    pub today: NaiveDate,
    /// What was typed, with placeholders (see the crate's page).
    pub typed: String,
}

/// Herd, time zone and devices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cast {
    /// The herd's name.
    pub herd: &'static str,
    /// Its time zone.
    pub zone: &'static str,
    /// Each device with its usual person.
    pub devices: &'static [(&'static str, &'static str)],
}

/// Who is in the story: the trimmer, the staff (a second one, `tb`, types at the office too), the vet.
pub const CAST: Cast = Cast {
    herd: "quillmere",
    zone: "Europe/London",
    devices: &[
        (Desk::Crush.device(), Desk::Crush.person()),
        (Desk::Office.device(), Desk::Office.person()),
        (Desk::Vet.device(), Desk::Vet.person()),
    ],
};

/// The whole story, in order of sealed time.
pub fn story(seed: u64) -> Vec<Sitting> {
    story_of(seed, COWS, MONTHS)
}

/// A story of any size: 1 to 5,000 cows, from [`FIRST_DAY`](crate::FIRST_DAY) for so many months.
pub fn story_of(seed: u64, cows: u32, months: u32) -> Vec<Sitting> {
    told(seed, cows, months).into_iter().map(|(sitting, _)| sitting).collect()
}

/// Each sitting with the bodies that are meant by it.
pub(crate) fn told(seed: u64, cows: u32, months: u32) -> Vec<(Sitting, Vec<String>)> {
    let mut chance = Chance::new(seed, "hand");
    Farm::run(seed, cows, months)
        .iter()
        .map(|sheet| {
            let Page { typed, meant } = write(sheet, &mut chance);
            let (device, person) = (sheet.desk.device(), sheet.desk.person());
            let (sealed, today) = (utc(sheet.at), sheet.at.date());
            (Sitting { device, person, sealed, today, typed }, meant)
        })
        .collect()
}
