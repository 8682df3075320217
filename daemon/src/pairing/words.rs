//! What is said while pairing, one line each (`sync.md` §12, §14). Nothing but what is written here is read.

use ledger_format::line::{is_name, is_who};
use ledger_format::mark::{FullMark, Head};
use ledger_format::vocabulary::Capacity;

use super::MESSAGE_BYTES;

const HELLO: &str = "footfold 1 pair ";
const PROOF: &str = "footfold 1 proof ";
const JOIN: &str = "footfold 1 join ";
const WELCOME: &str = "footfold 1 welcome ";

/// The first message of either side.
pub fn hello(message: &[u8; MESSAGE_BYTES]) -> String {
    // One byte tells the side, 32 are a point.
    let (mut point, lead) = ([0; 32], message[0]);
    point.copy_from_slice(&message[1..]);
    format!("{HELLO}{lead:02x}{}\n", FullMark(point))
}

/// Reads it.
pub fn read_hello(text: &str) -> Option<[u8; MESSAGE_BYTES]> {
    let digits = one_line(text)?.strip_prefix(HELLO)?;
    let (first, rest) = digits.split_at_checked(2)?;
    let lead = FullMark::read(&first.repeat(32))?.0[0];
    let point = FullMark::read(rest)?.0;
    let mut message = [lead; MESSAGE_BYTES];
    message[1..].copy_from_slice(&point);
    Some(message)
}

/// What either side shows.
pub fn proof(shown: &blake3::Hash) -> String {
    format!("{PROOF}{}\n", shown.to_hex())
}

/// Reads it.
pub fn read_proof(text: &str) -> Option<[u8; 32]> {
    one_line(text)?.strip_prefix(PROOF).and_then(FullMark::read).map(|shown| shown.0)
}

/// What a newcomer that has shown the code asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Join {
    /// The device name it would like.
    pub device: String,
    /// Who asks, by initials, for a person to read.
    pub by: String,
}

impl Join {
    /// Reads it.
    pub fn read(text: &str) -> Option<Self> {
        let (device, by) = one_line(text)?.strip_prefix(JOIN)?.split_once(" by ")?;
        let is_fine = is_name(device) && is_who(by);
        is_fine.then(|| Self { device: device.to_owned(), by: by.to_owned() })
    }
}

impl std::fmt::Display for Join {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{JOIN}{} by {}", self.device, self.by)
    }
}

/// What the keeper answers: which herd it is, and as what the newcomer is let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Welcome {
    /// The herd's name.
    pub herd: String,
    /// The keeper's device.
    pub keeper: String,
    /// The founder's public key, 64 digits.
    pub founder: String,
    /// The herd's time zone.
    pub zone: String,
    /// The name under which the newcomer is admitted.
    pub device: String,
    /// What it may do.
    pub capacity: Capacity,
}

impl Welcome {
    /// Reads it.
    pub fn read(text: &str) -> Option<Self> {
        let words: Vec<&str> = one_line(text)?.strip_prefix(WELCOME)?.split(' ').collect();
        let ["herd", herd, "device", keeper, "founder", founder, "zone", zone, "admit", device, "as", capacity] =
            *words
        else {
            return None;
        };
        // What makes a head is what may stand in one.
        let head = Head { herd, device, key: founder, zone, founder: Some(founder), follows: None };
        Head::read(&head.to_string()).ok()?;
        let capacity = Capacity::ALL.iter().find(|known| known.word() == capacity)?;
        let own = |word: &str| word.to_owned();
        let (herd, keeper, founder, zone, device) = (own(herd), own(keeper), own(founder), own(zone), own(device));
        let welcome = Self { herd, keeper, founder, zone, device, capacity: *capacity };
        is_name(&welcome.keeper).then_some(welcome)
    }
}

impl std::fmt::Display for Welcome {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { herd, keeper, founder, zone, device, capacity } = self;
        write!(f, "{WELCOME}herd {herd} device {keeper} founder {founder} zone {zone} ")?;
        writeln!(f, "admit {device} as {}", capacity.word())
    }
}

fn one_line(text: &str) -> Option<&str> {
    text.strip_suffix('\n').filter(|line| !line.contains(['\n', '\r']))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_is_read_back_and_nothing_else_is() {
        let mut message = [0xab; MESSAGE_BYTES];
        message[0] = 0x53;
        assert_eq!(read_hello(&hello(&message)), Some(message));
        let shown = blake3::hash(b"key");
        assert_eq!(read_proof(&proof(&shown)), Some(*shown.as_bytes()));
        let join = Join { device: "vet-tablet".to_owned(), by: "ao".to_owned() };
        assert_eq!(Join::read(&join.to_string()), Some(join.clone()));
        for text in [
            hello(&message).to_uppercase(),
            hello(&message).replace("ab\n", "\n"),
            format!("{}\n", hello(&message)),
            hello(&message).trim_end().to_owned(),
            proof(&shown),
            hello(&message).replace("53", "é"),
        ] {
            assert_eq!(read_hello(&text), None, "{text:?}");
        }
        for text in ["footfold 1 join ../x by ao\n", "footfold 1 join vet by A O\n", "footfold 1 join vet\n", ""] {
            assert_eq!(Join::read(text), None, "{text:?}");
        }
    }

    #[test]
    fn a_welcome_names_only_what_may_stand_in_a_head() {
        let welcome = Welcome {
            herd: "quillmere".to_owned(),
            keeper: "crush-laptop".to_owned(),
            founder: "8d".repeat(32),
            zone: "Europe/London".to_owned(),
            device: "vet-tablet-2".to_owned(),
            capacity: Capacity::Reader,
        };
        let text = welcome.to_string();
        assert_eq!(Welcome::read(&text), Some(welcome));
        for (of, to) in [
            ("quillmere", "../quillmere"),
            ("crush-laptop", "CON"),
            ("8d8d", "8D8d"),
            ("Europe/London", "a|b"),
            ("vet-tablet-2", "nul"),
            ("reader", "owner"),
            ("reader", "reader and more"),
        ] {
            assert_eq!(Welcome::read(&text.replacen(of, to, 1)), None, "{to}");
        }
    }
}
