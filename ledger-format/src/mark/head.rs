//! The first line of a file (`mark.md` §2).

use super::FullMark;
use crate::line::{Problem, is_name};

/// What the first line says: whose ledger this is, and what came before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head<'a> {
    /// The herd.
    pub herd: &'a str,
    /// The device that writes this file.
    pub device: &'a str,
    /// Its Ed25519 public key, 64 hexadecimal digits.
    pub key: &'a str,
    /// The herd's time zone, by its tz database name.
    pub zone: &'a str,
    /// The public key of the device that began the herd, unless it is this one (`members.md` §1).
    pub founder: Option<&'a str>,
    /// The device's file before this one.
    pub follows: Option<Follows>,
}

/// The link to the year before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Follows {
    /// The name of that file.
    pub year: u16,
    /// The full mark of its last sealed line.
    pub mark: FullMark,
}

const EXPECTED: &str = "a head: footfold 1 herd NAME device NAME key (64 digits) zone NAME, and perhaps founder (64 digits), follows YEAR \
     (64 digits)";

impl<'a> Head<'a> {
    /// Reads a head's body.
    ///
    /// # Errors
    /// When it is no head, or one of another format version.
    pub fn read(body: &'a str) -> Result<Self, Problem> {
        if let Some(rest) = body.strip_prefix("footfold ")
            && !rest.starts_with("1 ")
        {
            let version = rest.split(' ').next().unwrap_or_default();
            return Err(Problem::new(9..9 + version.len(), "format version 1")
                .help(format!("this file is of version {version}: a newer footfold is needed to read it")));
        }
        Self::fields(body).ok_or_else(|| Problem::new(0..body.len(), EXPECTED))
    }

    fn fields(body: &'a str) -> Option<Self> {
        let mut words = body.split(' ');
        for literal in ["footfold", "1"] {
            (words.next()? == literal).then_some(())?;
        }
        let mut after = |lead: &str| (words.next()? == lead).then(|| words.next()).flatten();
        let herd = after("herd").filter(|name| is_name(name))?;
        let device = after("device").filter(|name| is_name(name))?;
        let key = after("key").filter(|key| FullMark::read(key).is_some())?;
        let zone = after("zone").filter(|zone| is_zone(zone))?;
        let mut next = words.next();
        let mut founder = None;
        if next == Some("founder") {
            founder = Some(words.next().filter(|key| FullMark::read(key).is_some())?);
            next = words.next();
        }
        let follows = match (next, words.next(), words.next(), words.next()) {
            (None, ..) => None,
            (Some("follows"), Some(year), Some(mark), None) => {
                Some(Follows { year: read_year(year)?, mark: FullMark::read(mark)? })
            }
            _ => return None,
        };
        Some(Self { herd, device, key, zone, founder, follows })
    }
}

impl std::fmt::Display for Head<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { herd, device, key, zone, founder, follows } = self;
        write!(f, "footfold 1 herd {herd} device {device} key {key} zone {zone}")?;
        if let Some(founder) = founder {
            write!(f, " founder {founder}")?;
        }
        match follows {
            Some(Follows { year, mark }) => write!(f, " follows {year:04} {mark}"),
            None => Ok(()),
        }
    }
}

fn is_zone(zone: &str) -> bool {
    zone.bytes().all(|b| b.is_ascii_alphanumeric() || b"/_+-".contains(&b)) && (1..=64).contains(&zone.len())
}

pub(super) fn read_year(word: &str) -> Option<u16> {
    (word.len() == 4 && word.bytes().all(|b| b.is_ascii_digit())).then(|| word.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn f43_a_newer_version_is_named() {
        let problem = Head::read("footfold 2 herd a device b").unwrap_err();
        assert!(problem.help.unwrap().contains("version 2"));
    }

    #[test]
    fn a_head_reads_and_writes_back() {
        let key = "8d".repeat(32);
        for text in [
            format!("footfold 1 herd quillmere device crush-laptop key {key} zone Europe/London"),
            format!("footfold 1 herd quillmere device crush-laptop key {key} zone UTC follows 2025 {key}"),
            format!("footfold 1 herd quillmere device vet-tablet key {key} zone UTC founder {key} follows 2025 {key}"),
        ] {
            assert_eq!(Head::read(&text).unwrap().to_string(), text);
        }
        assert!(Head::read(&format!("footfold 1 herd quillmere device con key {key} zone UTC")).is_err());
        assert!(Head::read(&format!("footfold 1 herd quillmere device a key {key} zone UTC ")).is_err());
    }
}
