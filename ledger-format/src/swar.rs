//! Looking at eight bytes at once.

const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;
const LOW7: u64 = 0x7F7F_7F7F_7F7F_7F7F;

/// The high bit of each byte that equals `byte`. Exact, also next to each other.
#[inline]
pub(crate) const fn equal(word: u64, byte: u8) -> u64 {
    let x = word ^ (ONES * byte as u64);
    !(((x & LOW7) + LOW7) | x | LOW7)
}

/// The high bit of each byte that is no printable ASCII character or space.
#[inline]
pub(crate) const fn not_printable(word: u64) -> u64 {
    // A byte below 0x20 lacks a carry into its high bit when 0x60 is added; 0x7F is found by itself.
    let below = !((word & LOW7) + ONES * 0x60) & HIGH;
    below | (word & HIGH) | equal(word, 0x7F)
}

/// Where the spaces of a text are, one after the other.
#[derive(Debug)]
pub(crate) struct Spaces<'a> {
    text: &'a [u8],
    /// Where the eight bytes at hand begin.
    base: usize,
    /// The spaces among them that were not told yet.
    found: u64,
}

impl<'a> Spaces<'a> {
    #[inline]
    pub(crate) fn new(text: &'a [u8]) -> Self {
        Self { text, base: 0, found: spaces_at(text, 0) }
    }

    /// The next space, or the end of the text.
    #[inline]
    pub(crate) fn next_or_end(&mut self) -> usize {
        while self.found == 0 {
            self.base += 8;
            if self.base >= self.text.len() {
                return self.text.len();
            }
            self.found = spaces_at(self.text, self.base);
        }
        let at = self.base + (self.found.trailing_zeros() / 8) as usize;
        self.found &= self.found - 1;
        at
    }
}

#[inline]
fn spaces_at(text: &[u8], base: usize) -> u64 {
    let rest = &text[base..];
    let word = rest.first_chunk::<8>().copied().unwrap_or_else(|| {
        let mut last = [0; 8];
        last[..rest.len()].copy_from_slice(rest);
        last
    });
    equal(u64::from_le_bytes(word), b' ')
}

/// Whether text is printable ASCII with no two spaces together.
#[inline]
pub(crate) fn is_single_spaced_ascii(text: &[u8]) -> bool {
    let Some(last) = text.last_chunk::<8>() else { return is_single_spaced_ascii_short(text) };
    let (words, _) = text.as_chunks::<8>();
    let (mut wrong, mut space_before) = (0, 0);
    for word in words {
        let word = u64::from_le_bytes(*word);
        let spaces = equal(word, b' ');
        wrong |= not_printable(word) | (spaces & (spaces << 8 | space_before));
        space_before = spaces >> 56;
    }
    // The last eight bytes overlap those before and cover the rest.
    let last = u64::from_le_bytes(*last);
    let spaces = equal(last, b' ');
    (wrong | not_printable(last) | (spaces & (spaces << 8 | space_before_last(text)))) == 0
}

/// The bit that says whether the byte before the last eight is a space.
#[inline]
fn space_before_last(text: &[u8]) -> u64 {
    let before = text.len().checked_sub(9).map_or(b'x', |at| text[at]);
    if before == b' ' { 0x80 } else { 0 }
}

fn is_single_spaced_ascii_short(text: &[u8]) -> bool {
    let printable = text.iter().all(|byte| (b' '..=b'~').contains(byte));
    printable && !text.windows(2).any(|pair| pair == b"  ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_is_told_apart() {
        for byte in 0..=255u8 {
            for place in 0..8 {
                let mut bytes = *b"abcdefgh";
                bytes[place] = byte;
                let word = u64::from_le_bytes(bytes);
                let bit = 0x80u64 << (8 * place);
                assert_eq!(
                    not_printable(word),
                    if (b' '..=b'~').contains(&byte) { 0 } else { bit },
                    "{byte} at {place}"
                );
                assert_eq!(equal(word, b' '), if byte == b' ' { bit } else { 0 });
            }
        }
    }

    #[test]
    fn two_spaces_are_found_wherever_they_stand() {
        assert!(is_single_spaced_ascii(b"") && is_single_spaced_ascii(b"a b") && !is_single_spaced_ascii(b"a  b"));
        for at in 0..40 {
            let mut text = vec![b'x'; 42];
            text[at] = b' ';
            assert!(is_single_spaced_ascii(&text));
            assert_eq!(Spaces::new(&text).next_or_end(), at);
            text[at + 1] = b' ';
            assert!(!is_single_spaced_ascii(&text), "{at}");
            let mut spaces = Spaces::new(&text);
            assert_eq!([(); 4].map(|()| spaces.next_or_end()), [at, at + 1, 42, 42]);
        }
    }
}
