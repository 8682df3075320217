//! The story sealed: the herd folder that three people's typing becomes.

use std::collections::{BTreeMap, HashMap};

use chrono::{Datelike, NaiveDateTime};
use ed25519_dalek::SigningKey;
use ledger_format::fold::protocol;
use ledger_format::line::{self, Act, Mark, Subject};
use ledger_format::mark::{Chain, Follows, FullMark, Head, Newest, YearFile, year_file};
use ledger_format::typing::{self, Context, Outcome};
use ledger_format::vocabulary::ActWord;

use crate::story::{CAST, Sitting};

/// What a herd folder holds.
#[derive(Clone, Debug, Default)]
pub struct HerdFiles {
    /// Each ledger file: device, year, bytes.
    pub ledgers: Vec<(&'static str, u16, Vec<u8>)>,
    /// The text of each protocol that was adopted.
    pub protocols: Vec<&'static str>,
    /// Typed lines that were not understood. A story has none.
    pub refused: Vec<String>,
}

/// Seals a story, sitting by sitting, as the three devices would.
pub fn herd_of(story: &[Sitting]) -> HerdFiles {
    let mut office = Office::new();
    for sitting in story {
        office.seal(sitting);
    }
    office.files()
}

/// The public key of an invented device, always the same.
pub fn key_of(device: &str) -> String {
    let seed = blake3::derive_key("footfold 2026 keys of the invented herd", device.as_bytes());
    FullMark(*SigningKey::from_bytes(&seed).verifying_key().as_bytes()).to_string()
}

/// One device's ledger as it grows.
#[derive(Default)]
struct Ledger {
    years: Vec<(u16, Vec<u8>)>,
    chain: Chain,
    last: Option<(NaiveDateTime, FullMark)>,
    newest_about: HashMap<(String, ActWord), Mark>,
}

struct Office {
    ledgers: BTreeMap<&'static str, Ledger>,
    refused: Vec<String>,
}

impl Office {
    fn new() -> Self {
        let ledgers = CAST.devices.iter().map(|(device, _)| (*device, Ledger::default())).collect();
        Self { ledgers, refused: Vec::new() }
    }

    fn seal(&mut self, sitting: &Sitting) {
        let text: Vec<String> =
            sitting.typed.split('\n').filter_map(|line| self.fill_in(line, sitting.device)).collect();
        let context = Context { today: sitting.today, by: sitting.person, device: sitting.device };
        for typed in typing::read(&text.join("\n"), &context) {
            match typed.outcome {
                Outcome::Kept(kept) => {
                    for line in kept {
                        self.append(sitting, &line.body);
                    }
                }
                Outcome::Refused(remarks) => {
                    let remarks: Vec<String> = remarks.iter().map(ToString::to_string).collect();
                    self.refused.push(format!("{}: {}", typed.text, remarks.join("; ")));
                }
                _ => {}
            }
        }
    }

    fn append(&mut self, sitting: &Sitting, body: &str) {
        if let Some(ledger) = self.ledgers.get_mut(sitting.device) {
            ledger.append(sitting.device, sitting.sealed, body);
        }
    }

    /// Replaces the placeholders of a typed line; none if it speaks of a ledger that is not there yet.
    fn fill_in(&self, line: &str, device: &str) -> Option<String> {
        let Some((before, rest)) = line.split_once('{') else { return Some(line.to_owned()) };
        let (placeholder, after) = rest.split_once('}')?;
        let value = match placeholder.split(':').collect::<Vec<_>>()[..] {
            ["KEY", device] => key_of(device),
            ["PROTOCOL"] => protocol::name_of(protocol::DEFAULT).to_string(),
            ["WITNESS", device] => self.ledgers.get(device)?.witnessed(device)?,
            ["LAST", cow, act] => self.ledgers.get(device)?.newest(cow, act)?.to_string(),
            ["LAST", cow, act, other] => format!("{} of {other}", self.ledgers.get(other)?.newest(cow, act)?),
            _ => return None,
        };
        self.fill_in(&format!("{before}{value}{after}"), device)
    }

    fn files(self) -> HerdFiles {
        let years = |(device, ledger): (&'static str, Ledger)| {
            ledger.years.into_iter().map(move |(year, bytes)| (device, year, bytes))
        };
        let ledgers = self.ledgers.into_iter().flat_map(years).collect();
        HerdFiles { ledgers, protocols: vec![protocol::DEFAULT], refused: self.refused }
    }
}

impl Ledger {
    fn append(&mut self, device: &str, sealed: NaiveDateTime, body: &str) {
        self.turn_year(device, sealed);
        let full = self.push(sealed, body);
        if let Ok(line) = line::read(body)
            && let Subject::Cow(cow) = line.subject
            && !matches!(line.act, Act::Strike(_))
        {
            self.newest_about.insert((cow.to_string(), line.act.word()), full.mark());
        }
    }

    fn push(&mut self, sealed: NaiveDateTime, body: &str) -> FullMark {
        let Some((_, bytes)) = self.years.last_mut() else { unreachable!("a year is begun before a line is pushed") };
        let full = self.chain.seal(body, sealed, bytes);
        self.last = Some((sealed, full));
        full
    }

    fn turn_year(&mut self, device: &str, sealed: NaiveDateTime) {
        let newest = self.years.last().zip(self.last).map(|((year, _), (last, _))| (*year, last));
        let newest = newest.map(|(year, last)| Newest { year, last_sealed_year: last.year() });
        if let YearFile::Begin(year) = year_file(sealed.year(), newest, None) {
            let follows = newest.zip(self.last).map(|(before, (_, mark))| Follows { year: before.year, mark });
            self.years.push((year, Vec::new()));
            self.chain = Chain::default();
            let (herd, zone, key) = (CAST.herd, CAST.zone, key_of(device));
            self.push(sealed, &Head { herd, device, key: &key, zone, founder: None, follows }.to_string());
        }
    }

    fn witnessed(&self, device: &str) -> Option<String> {
        let ((year, bytes), (_, mark)) = self.years.last().zip(self.last)?;
        Some(format!("{device} {year} length {} mark {mark}", bytes.len()))
    }

    fn newest(&self, cow: &str, act: &str) -> Option<Mark> {
        self.newest_about.get(&(cow.to_owned(), ActWord::from_word(act)?)).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ledger_format::mark::check;

    #[test]
    fn the_story_seals_without_a_word_lost() {
        let herd = herd_of(&crate::story(crate::SEED));
        assert!(herd.refused.is_empty(), "{:#?}", herd.refused);
        assert_eq!(herd.ledgers.len(), 6, "two years of three devices");
        for (device, year, bytes) in &herd.ledgers {
            let found = check(bytes);
            assert!(found.is_unbroken() && found.sealed_bytes == bytes.len(), "{device}/{year}");
        }
    }
}
