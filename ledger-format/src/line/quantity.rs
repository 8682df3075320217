//! Quantities: decimals and withdrawal times (`line.md` §9, §12).

/// A positive decimal with at most two places, kept in hundredths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Decimal(u32);

impl Decimal {
    /// From hundredths: 1 to 9,999,999.
    pub const fn from_hundredths(hundredths: u32) -> Option<Self> {
        if hundredths == 0 || hundredths >= 10_000_000 { None } else { Some(Self(hundredths)) }
    }

    /// In hundredths.
    pub const fn hundredths(self) -> u32 {
        self.0
    }

    /// Reads the canonical spelling: no leading zero, no trailing zero after the point.
    pub fn read(word: &str) -> Option<Self> {
        let (whole, part) = word.split_once('.').map_or((word, None), |(w, p)| (w, Some(p)));
        let hundredths = match part.map(str::as_bytes) {
            None => 0,
            Some(&[tenths @ b'1'..=b'9']) => u32::from(tenths - b'0') * 10,
            Some(&[tenths @ b'0'..=b'9', ones @ b'1'..=b'9']) => u32::from(tenths - b'0') * 10 + u32::from(ones - b'0'),
            Some(_) => return None,
        };
        Self::from_hundredths(read_number(whole, 99_999)? * 100 + hundredths)
    }
}

impl std::fmt::Display for Decimal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (whole, part) = (self.0 / 100, self.0 % 100);
        match (part, part % 10) {
            (0, _) => write!(f, "{whole}"),
            (_, 0) => write!(f, "{whole}.{}", part / 10),
            _ => write!(f, "{whole}.{part:02}"),
        }
    }
}

/// How long milk or meat is held back, in hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hold(u16);

impl Hold {
    /// From hours: 0 to 8,760.
    pub const fn from_hours(hours: u32) -> Option<Self> {
        if hours > 8_760 { None } else { Some(Self(hours as u16)) }
    }

    /// In hours.
    pub const fn hours(self) -> u16 {
        self.0
    }

    /// Reads the canonical spelling: whole days as days.
    pub fn read(word: &str) -> Option<Self> {
        let (number, unit) = word.split_at_checked(word.len().checked_sub(1)?)?;
        match unit {
            "d" => Self::from_hours(read_number(number, 365)? * 24),
            "h" => read_number(number, 8_760).filter(|hours| hours % 24 != 0).and_then(Self::from_hours),
            _ => None,
        }
    }
}

impl std::fmt::Display for Hold {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.0.is_multiple_of(24) { write!(f, "{}d", self.0 / 24) } else { write!(f, "{}h", self.0) }
    }
}

/// Reads digits without leading zero, up to `most`.
#[inline]
pub(crate) fn read_number(word: &str, most: u32) -> Option<u32> {
    let bytes = word.as_bytes();
    if bytes.is_empty() || bytes.len() > 10 || (bytes.len() > 1 && bytes[0] == b'0') {
        return None;
    }
    let mut number = 0u64;
    for digit in bytes {
        if !digit.is_ascii_digit() {
            return None;
        }
        number = number * 10 + u64::from(digit - b'0');
    }
    (number <= u64::from(most)).then_some(number as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_have_one_spelling() {
        for right in ["1", "0.5", "6.25", "15", "99999.99", "0.05"] {
            assert_eq!(Decimal::read(right).unwrap().to_string(), right);
        }
        for wrong in ["0", "0.0", "7.0", "7.", ".5", "07", "1.234", "1.50", "100000", "-1", "1e3"] {
            assert_eq!(Decimal::read(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn holds_have_one_spelling() {
        for right in ["0d", "3d", "108h", "365d", "1h"] {
            assert_eq!(Hold::read(right).unwrap().to_string(), right);
        }
        for wrong in ["72h", "0h", "366d", "3", "d", "", "3D", "é"] {
            assert_eq!(Hold::read(wrong), None, "{wrong}");
        }
    }
}
