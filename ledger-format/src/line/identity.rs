//! Official ear numbers and electronic numbers (`line.md` §15 to §17).
//!
//! The two are kept as a pair and never derived from each other: a GB tag's twelve digits may not fit
//! the 38 bits of an electronic number.

/// Why an official number cannot be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum IdentityProblem {
    /// Not of any known form.
    #[error("not an official ear number: UK and 12 digits, or a country code and up to 12 digits")]
    Form,
    /// Greece writes EL.
    #[error("Greek ear numbers begin with EL, not GR (Impl. Reg. (EU) 2021/520)")]
    Greece,
    /// The check digit is not what the rule gives.
    #[error("check digit {found} should be {expected}")]
    CheckDigit {
        /// What stands there.
        found: u8,
        /// What the rule gives.
        expected: u8,
    },
    /// Not 15 digits.
    #[error("an electronic number has 15 digits (ISO 11784)")]
    Length,
    /// The last 12 digits exceed 38 bits.
    #[error("the last 12 digits are larger than 274877906943, so no chip can hold them (ISO 11784)")]
    TooLarge,
}

/// An official ear number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct EarTag<'a>(&'a str);

/// EU member states, with EL for Greece, and the neighbours that use the same form.
const COUNTRIES: &[&str] = &[
    "AT", "BE", "BG", "CH", "CY", "CZ", "DE", "DK", "EE", "EL", "ES", "FI", "FR", "GB", "HR", "HU", "IE", "IS", "IT",
    "LI", "LT", "LU", "LV", "MT", "NL", "NO", "PL", "PT", "RO", "SE", "SI", "SK", "XI",
];

impl<'a> EarTag<'a> {
    /// Reads an ear number in capitals and digits.
    ///
    /// ```
    /// use ledger_format::line::{EarTag, IdentityProblem};
    /// assert!(EarTag::read("UK230011200123").is_ok());
    /// assert_eq!(EarTag::read("UK123456600001"), Err(IdentityProblem::CheckDigit { found: 6, expected: 1 }));
    /// ```
    pub fn read(word: &'a str) -> Result<Self, IdentityProblem> {
        if word.starts_with("GR") {
            return Err(IdentityProblem::Greece);
        }
        if let Some(digits) = word.strip_prefix("UK") {
            return check_gb_digits(digits).map(|()| Self(word));
        }
        let rest = word.strip_prefix("899").or_else(|| {
            let (country, rest) = word.split_at_checked(2)?;
            COUNTRIES.contains(&country).then_some(rest)
        });
        match rest {
            Some(rest) if (1..=12).contains(&rest.len()) && rest.bytes().all(|b| b.is_ascii_digit()) => Ok(Self(word)),
            _ => Err(IdentityProblem::Form),
        }
    }

    /// As it is written.
    pub const fn as_str(self) -> &'a str {
        self.0
    }
}

/// GB numbers since 2000: herd 6 digits, check digit 1 to 7, animal 5 digits;
/// check = ((herd and animal) mod 7) + 1, which matches seven published examples.
fn check_gb_digits(digits: &str) -> Result<(), IdentityProblem> {
    if digits.len() != 12 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(IdentityProblem::Form);
    }
    let number = |range: std::ops::Range<usize>| digits[range].bytes().fold(0u64, |n, b| n * 10 + u64::from(b - b'0'));
    let expected = ((number(0..6) * 100_000 + number(7..12)) % 7) as u8 + 1;
    let found = number(6..7) as u8;
    if found == expected { Ok(()) } else { Err(IdentityProblem::CheckDigit { found, expected }) }
}

/// An electronic number: country or maker, then identity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Electronic<'a>(&'a str);

impl<'a> Electronic<'a> {
    /// Reads 15 digits.
    pub fn read(word: &'a str) -> Result<Self, IdentityProblem> {
        const MOST: u64 = (1 << 38) - 1;
        if word.len() != 15 || !word.bytes().all(|b| b.is_ascii_digit()) {
            return Err(IdentityProblem::Length);
        }
        match word[3..].parse::<u64>() {
            Ok(identity) if identity <= MOST => Ok(Self(word)),
            _ => Err(IdentityProblem::TooLarge),
        }
    }

    /// As it is written.
    pub const fn as_str(self) -> &'a str {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published examples: tag encyclopaedia entry (herd 123450), smallholder page (284205), ADE list (230011).
    #[test]
    fn published_ear_numbers_hold() {
        for tag in [
            "UK123450600001",
            "UK123450700002",
            "UK123450100003",
            "UK284205600015",
            "UK284205700016",
            "UK284205100017",
            "UK230011200123",
        ] {
            assert!(EarTag::read(tag).is_ok(), "{tag}");
        }
    }

    #[test]
    fn every_wrong_check_digit_is_found() {
        for digit in 0..10u8 {
            let tag = format!("UK123450{digit}00001");
            assert_eq!(EarTag::read(&tag).is_ok(), digit == 6, "{tag}");
        }
    }

    #[test]
    fn a_gb_tag_may_not_fit_a_chip() {
        assert_eq!(Electronic::read("826284205700016"), Err(IdentityProblem::TooLarge));
        assert!(Electronic::read("276000312312345").is_ok());
        assert!(Electronic::read("826230011200123").is_ok());
        assert_eq!(Electronic::read("27600031231234"), Err(IdentityProblem::Length));
    }

    #[test]
    fn countries_are_those_of_the_regulation() {
        assert!(EarTag::read("EL123456789012").is_ok());
        assert_eq!(EarTag::read("GR123456789012"), Err(IdentityProblem::Greece));
        assert!(EarTag::read("XI12").is_ok() && EarTag::read("899123").is_ok());
        assert_eq!(EarTag::read("DE1234567890123"), Err(IdentityProblem::Form));
    }
}
