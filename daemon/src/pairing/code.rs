//! The code that one machine shows and a person types on the other.

use std::fmt;

/// Eight digits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Code([u8; 8]);

impl Code {
    /// A code from random bytes: so many that no code comes up noticeably more often than another.
    pub fn draw(chance: [u8; 16]) -> Self {
        let mut rest = u128::from_le_bytes(chance);
        Self(std::array::from_fn(|_| {
            let digit = b'0' + (rest % 10) as u8;
            rest /= 10;
            digit
        }))
    }

    /// A code as typed: with blanks or without.
    pub fn read(typed: &str) -> Option<Self> {
        let digits: Vec<u8> = typed.bytes().filter(|b| *b != b' ').collect();
        let digits: [u8; 8] = digits.try_into().ok()?;
        digits.iter().all(u8::is_ascii_digit).then_some(Self(digits))
    }

    pub(super) fn digits(self) -> [u8; 8] {
        self.0
    }
}

impl fmt::Display for Code {
    /// In two halves, as one reads it out.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digit = |at: usize| char::from(self.0[at]);
        (0..4).try_for_each(|at| write!(f, "{}", digit(at)))?;
        write!(f, " ")?;
        (4..8).try_for_each(|at| write!(f, "{}", digit(at)))
    }
}

impl fmt::Debug for Code {
    /// Never the digits: a log is read by others.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Code(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_typed_with_or_without_blanks() {
        let code = Code::read("48217730").unwrap();
        assert_eq!(code.to_string(), "4821 7730");
        for typed in ["4821 7730", " 48 21 77 30 ", "4821  7730"] {
            assert!(Code::read(typed) == Some(code), "{typed}");
        }
        for typed in ["", "4821 773", "4821 77301", "4821 773o", "4821-7730", "４821 7730"] {
            assert!(Code::read(typed).is_none(), "{typed}");
        }
        assert_eq!(format!("{code:?}"), "Code(…)");
    }

    #[test]
    fn every_digit_is_drawn_from_the_chance_given() {
        assert_eq!(Code::draw([0; 16]).to_string(), "0000 0000");
        assert_eq!(Code::draw(12_345_678_u128.to_le_bytes()).to_string(), "8765 4321");
        assert_eq!(Code::draw(912_345_678_u128.to_le_bytes()).to_string(), "8765 4321");
        assert!(Code::read(&Code::draw([0xff; 16]).to_string()).is_some());
    }
}
