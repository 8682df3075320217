//! Cows, groups, devices, people: the names in a line (`line.md` §4, §5, §14).

/// A cow's number in her herd: up to six digits without leading zero, then at most one capital.
///
/// Ordered by number, then by letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CowNumber(u32);

impl CowNumber {
    /// Reads the canonical spelling.
    ///
    /// ```
    /// use ledger_format::line::CowNumber;
    /// assert_eq!(CowNumber::read("417B").unwrap().to_string(), "417B");
    /// assert_eq!(CowNumber::read("0417"), None);
    /// ```
    #[inline]
    pub fn read(word: &str) -> Option<Self> {
        Self::read_bytes(word.as_bytes())
    }

    /// The same of bytes.
    #[inline]
    pub(crate) fn read_bytes(bytes: &[u8]) -> Option<Self> {
        let (digits, letter) = match bytes.split_last() {
            Some((last, rest)) if last.is_ascii_uppercase() => (rest, u32::from(last - b'A') + 1),
            _ => (bytes, 0),
        };
        if digits.is_empty() || digits.len() > 6 || digits[0] == b'0' {
            return None;
        }
        let mut number = 0u32;
        for digit in digits {
            if !digit.is_ascii_digit() {
                return None;
            }
            number = number * 10 + u32::from(digit - b'0');
        }
        Some(Self(number << 5 | letter))
    }
}

impl std::fmt::Display for CowNumber {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (number, letter) = (self.0 >> 5, (self.0 & 31) as u8);
        if letter == 0 { write!(f, "{number}") } else { write!(f, "{number}{}", char::from(b'A' + letter - 1)) }
    }
}

impl serde::Serialize for CowNumber {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// What a line is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject<'a> {
    /// One cow.
    Cow(CowNumber),
    /// A group of cows.
    Group(&'a str),
    /// The whole herd.
    Herd,
}

impl std::fmt::Display for Subject<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Cow(cow) => cow.fmt(f),
            Self::Group(name) => write!(f, "group {name}"),
            Self::Herd => f.write_str("herd"),
        }
    }
}

/// Whether this may name a group.
pub(crate) fn is_group(word: &str) -> bool {
    word.len() <= 32 && is_lower_word(word)
}

/// Whether this may name a device or a herd: a file name that exists on every system.
pub fn is_name(word: &str) -> bool {
    is_group(word) && !word.ends_with('-') && !is_reserved(word)
}

/// Whether this may name a person: initials are enough.
pub fn is_who(word: &str) -> bool {
    word.len() <= 16 && is_lower_word(word)
}

fn is_lower_word(word: &str) -> bool {
    word.bytes().all(is_of_name) && word.as_bytes().first().is_some_and(u8::is_ascii_lowercase)
}

/// Whether this byte may stand in a name.
#[inline]
pub(crate) const fn is_of_name(byte: u8) -> bool {
    byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-'
}

fn is_reserved(word: &str) -> bool {
    matches!(word, "con" | "prn" | "aux" | "nul")
        || matches!(word.as_bytes(), [b'c', b'o', b'm', b'1'..=b'9'] | [b'l', b'p', b't', b'1'..=b'9'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cow_numbers_sort_as_people_count() {
        let read = |word| CowNumber::read(word).unwrap();
        assert!(read("9") < read("10"));
        assert!(read("417") < read("417A") && read("417Z") < read("418"));
    }

    #[test]
    fn f41_names_that_cannot_be_files_everywhere_are_refused() {
        assert!(is_name("crush-laptop") && is_name("con1") && is_name("com10"));
        for wrong in ["con", "nul", "com1", "lpt9", "Crush", "a.", "a-", "-a", "", "a/b", "ä"] {
            assert!(!is_name(wrong), "{wrong}");
        }
        assert!(!is_name(&"a".repeat(33)));
    }
}
