//! Looking at eight bytes at once.

const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;
const LOW7: u64 = 0x7F7F_7F7F_7F7F_7F7F;

/// The high bit of each byte that equals `byte`. Exact, also next to each other.
#[inline]
const fn equal(word: u64, byte: u8) -> u64 {
    let x = word ^ (ONES * byte as u64);
    !(((x & LOW7) + LOW7) | x | LOW7)
}

/// The first eight bytes of a text, with spaces after its end.
#[inline]
fn first_eight(text: &[u8]) -> u64 {
    u64::from_le_bytes(text.first_chunk::<8>().copied().unwrap_or_else(|| last_few(text)))
}

#[cold]
fn last_few(text: &[u8]) -> [u8; 8] {
    let mut last = [b' '; 8];
    last[..text.len()].copy_from_slice(text);
    last
}

/// All bytes up to the first space, which is one of them; all eight if there is none.
#[inline]
fn up_to_space(eight: u64, spaces: u64) -> u64 {
    eight & (spaces ^ spaces.wrapping_sub(1))
}

/// A word of up to seven bytes and the space after it: its key, and what follows.
#[inline]
pub(crate) fn short_word(text: &[u8]) -> Option<(u64, &[u8])> {
    let first = u64::from_le_bytes(*text.first_chunk::<8>()?);
    let spaces = equal(first, b' ');
    let rest = text.get((spaces.trailing_zeros() / 8 + 1) as usize..)?;
    (spaces != 0).then_some((up_to_space(first, spaces), rest))
}

/// A word of a text, up to the next space or the end.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Word<'a> {
    line: &'a str,
    /// Where it begins; past the end of the text when there is none left.
    pub(crate) at: usize,
    /// Where it ends.
    pub(crate) end: usize,
    key: u64,
}

impl<'a> Word<'a> {
    /// The first word of a text.
    #[inline]
    pub(crate) fn first(line: &'a str) -> Self {
        Self::begins(line, 0)
    }

    /// The word after this one and one space.
    #[inline]
    pub(crate) fn next(self) -> Self {
        Self::begins(self.line, self.end + 1)
    }

    /// The same word, but it ends elsewhere, and may hold spaces.
    #[inline]
    pub(crate) fn ending(self, end: usize) -> Self {
        Self { end, ..self }
    }

    #[inline]
    fn begins(line: &'a str, at: usize) -> Self {
        let rest = line.as_bytes().get(at..).unwrap_or_default();
        let first = first_eight(rest);
        let spaces = equal(first, b' ');
        let length = if spaces == 0 { 8 + before_space(&rest[8..]) } else { (spaces.trailing_zeros() / 8) as usize };
        let key = up_to_space(first, spaces);
        Self { line, at, end: at + length, key }
    }

    /// What tells it apart from other words of up to seven bytes, and from all words that begin otherwise.
    #[inline]
    pub(crate) fn key(self) -> u64 {
        self.key
    }

    /// The word.
    #[inline]
    pub(crate) fn text(self) -> &'a str {
        self.line.get(self.at..self.end).unwrap_or_default()
    }

    /// The word and what follows it.
    #[inline]
    pub(crate) fn rest(self) -> &'a str {
        self.line.get(self.at..).unwrap_or_default()
    }

    /// The bytes of the word.
    #[inline]
    pub(crate) fn bytes(self) -> &'a [u8] {
        self.line.as_bytes().get(self.at..self.end).unwrap_or_default()
    }

    /// Whether it is this word.
    #[inline]
    pub(crate) fn is(self, known: Known) -> bool {
        self.key == known.key && (known.word.len() < 8 || self.text() == known.word)
    }
}

/// A word that is known when this is compiled, as `const { Known::word("zone") }`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Known {
    pub(crate) word: &'static str,
    key: u64,
}

impl Known {
    pub(crate) const fn word(word: &'static str) -> Self {
        Self { word, key: key(word) }
    }
}

/// What tells short words apart: the word itself and the space that ends it, or the first eight bytes of a longer one.
const fn key(word: &str) -> u64 {
    let word = word.as_bytes();
    let (mut key, mut at) = (0, 0);
    while at < word.len() && at < 8 {
        key |= (word[at] as u64) << (8 * at);
        at += 1;
    }
    if at < 8 { key | (b' ' as u64) << (8 * at) } else { key }
}

/// The words of a list, each in a place of its own that one multiplication gives.
#[derive(Debug)]
pub(crate) struct Places {
    factor: u64,
    keys: [u64; PLACES],
    words: [u8; PLACES],
}

/// Twice as many as the longest list of short words has, so that a factor is soon found.
const PLACES: usize = 64;

/// No key of a text: it is not UTF-8.
const NOTHING: u64 = u64::MAX;

impl Places {
    /// Tries factors until no two words meet: only when this is compiled.
    pub(crate) const fn of(words: &[&str]) -> Self {
        let mut factor: u64 = 0x9E37_79B9_7F4A_7C15;
        loop {
            if let Some(places) = Self::with(factor, words) {
                return places;
            }
            factor = factor.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        }
    }

    const fn with(factor: u64, words: &[&str]) -> Option<Self> {
        let mut places = Self { factor, keys: [NOTHING; PLACES], words: [0; PLACES] };
        let mut n = 0;
        while n < words.len() {
            let key = key(words[n]);
            let at = place(factor, key);
            if places.keys[at] != NOTHING {
                return None;
            }
            (places.keys[at], places.words[at]) = (key, n as u8);
            n += 1;
        }
        Some(places)
    }

    /// Which word of the list has this key, counted from 0.
    #[inline]
    pub(crate) fn find(&self, key: u64) -> Option<usize> {
        let at = place(self.factor, key);
        (self.keys[at] == key).then_some(usize::from(self.words[at]))
    }
}

#[inline]
const fn place(factor: u64, key: u64) -> usize {
    (key.wrapping_mul(factor) >> 58) as usize
}

/// Bytes before the next space, or the end.
#[inline(never)]
fn before_space(text: &[u8]) -> usize {
    let mut at = 0;
    while at < text.len() {
        let spaces = equal(first_eight(&text[at..]), b' ');
        if spaces != 0 {
            return at + (spaces.trailing_zeros() / 8) as usize;
        }
        at += 8;
    }
    at
}

/// Each number of two digits, in the byte of its first digit, of a text that has digits where `shape` has noughts,
/// and all else as it is there.
#[inline]
pub(crate) fn digit_pairs(text: [u8; 8], shape: [u8; 8]) -> Option<[u8; 8]> {
    let shape = u64::from_le_bytes(shape);
    let noughts = equal(shape, b'0') >> 7;
    let x = u64::from_le_bytes(text) ^ shape;
    // Adding this carries into the high bit of a byte from 10 on where a digit may be, else from 1 on.
    let limit = LOW7 - noughts * 9;
    let wrong = (((x & LOW7) + limit) | x) & HIGH;
    let tens = x & (noughts * 0xFF);
    (wrong == 0).then(|| (tens * 10 + (tens >> 8)).to_le_bytes())
}

/// The value of eight lower-case hexadecimal digits.
#[inline]
pub(crate) fn hexadecimal(digits: [u8; 8]) -> Option<u32> {
    let x = u64::from_le_bytes(digits);
    let values = (x & (ONES * 0x0F)) + (x >> 6 & ONES) * 9;
    // Written again, only right digits give what was read.
    let letters = (values + ONES * 0x76) >> 7 & ONES;
    let written = values + ONES * 0x30 + letters * 39;
    if written != x || values & (ONES * 0x10) != 0 {
        return None;
    }
    let bytes = (values << 4 | values >> 8) & 0x00FF_00FF_00FF_00FF;
    let [a, _, b, _, c, _, d, _] = bytes.to_le_bytes();
    Some(u32::from_be_bytes([a, b, c, d]))
}

/// Whether text is printable ASCII with no two spaces together.
#[inline]
pub(crate) fn is_single_spaced_ascii(text: &[u8]) -> bool {
    let (Some((first, rest)), Some(before_last)) = (text.split_first(), text.len().checked_sub(9)) else {
        return text.iter().all(|byte| is_printable(*byte)) && !text.windows(2).any(|pair| pair == b"  ");
    };
    let (eights, _) = rest.as_chunks::<8>();
    let (before, _) = text.as_chunks::<8>();
    // The last ones overlap those before and cover the rest.
    let (Some(bytes), Some(next)) = (text[before_last..].first_chunk(), text.last_chunk()) else { return false };
    let all = before
        .iter()
        .zip(eights)
        .fold(wrong_ones(*bytes, *next), |wrong, (bytes, next)| wrong | wrong_ones(*bytes, *next));
    is_printable(*first) && all & HIGH == 0
}

/// A high bit somewhere if any of these bytes is not printable, or two that stand together are both spaces.
///
/// Each sum and difference reaches the next byte only where a high bit is set already, so it does not matter which.
#[inline]
fn wrong_ones(bytes: [u8; 8], next: [u8; 8]) -> u64 {
    let (bytes, next) = (u64::from_le_bytes(bytes), u64::from_le_bytes(next));
    let spaces = ONES * b' ' as u64;
    let not_both_spaces = (bytes ^ spaces) | (next ^ spaces);
    next | next.wrapping_sub(spaces) | next.wrapping_add(ONES) | not_both_spaces.wrapping_sub(ONES)
}

#[inline]
const fn is_printable(byte: u8) -> bool {
    byte.wrapping_sub(b' ') <= b'~' - b' '
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_is_told_apart() {
        for byte in 0..=255u8 {
            for place in 0..24 {
                let mut bytes = *b"abcdefghijklmnopqrstuvwx";
                bytes[place] = byte;
                assert_eq!(is_single_spaced_ascii(&bytes), (b' '..=b'~').contains(&byte), "{byte} at {place}");
            }
        }
    }

    #[test]
    fn two_spaces_are_found_wherever_they_stand() {
        assert!(is_single_spaced_ascii(b"") && is_single_spaced_ascii(b"a b") && !is_single_spaced_ascii(b"a  b"));
        for at in 0..40 {
            for length in [at + 2, 42] {
                let mut text = vec![b'x'; length];
                text[at] = b' ';
                assert!(is_single_spaced_ascii(&text));
                text[at + 1] = b' ';
                assert!(!is_single_spaced_ascii(&text), "{at} of {length}");
            }
        }
    }

    #[test]
    fn a_word_ends_at_the_next_space_or_the_end() {
        for length in 0..40 {
            let word = "abcdefghijklmnopqrstuvwxyz0123456789-.:+é"[..length].to_owned();
            for text in [word.clone(), format!("{word} "), format!("{word} x"), format!("{word}  {word}")] {
                let behind = format!("lead {text}");
                for read in [Word::first(&text), Word::first(&behind).next()] {
                    assert_eq!((read.text(), read.key), (word.as_str(), key(&word)));
                }
            }
        }
        let last = Word::first("a");
        assert_eq!((last.next().text(), last.next().next().text(), Word::first("a ").next().rest()), ("", "", ""));
    }

    #[test]
    fn words_are_told_apart() {
        for (text, word) in [("LH", "LH"), ("lesion x", "lesion"), ("medicine", "medicine"), ("", "")] {
            assert!(Word::first(text).is(Known::word(word)));
        }
        for (text, word) in [("LH\0", "LH"), ("LF", "LH"), ("medicines", "medicine"), ("medicinf", "medicine")] {
            let is = |text: &str, word: &'static str| Word::first(text).is(Known::word(word));
            assert!(!is(text, word) && !is(word, text), "{text:?} {word:?}");
        }
    }

    #[test]
    fn digits_are_read_by_twos() {
        for byte in 0..=255u8 {
            for place in 0..8 {
                let (mut text, shape) = (*b"20-26:03", *b"00-00:00");
                text[place] = byte;
                let fits = if shape[place] == b'0' { byte.is_ascii_digit() } else { byte == shape[place] };
                let pairs = digit_pairs(text, shape);
                assert_eq!(pairs.is_some(), fits, "{byte} at {place}");
                let pair = |at: usize| (text[at] - b'0') * 10 + (text[at + 1] - b'0');
                assert!(
                    pairs.is_none_or(|pairs| [0, 3, 6].iter().all(|at| pairs[*at] == pair(*at))),
                    "{byte} at {place}"
                );
            }
        }
    }

    #[test]
    fn hexadecimal_digits_have_one_spelling() {
        for byte in 0..=255u8 {
            for place in 0..8 {
                let mut text = *b"0189af5c";
                text[place] = byte;
                let lower = matches!(byte, b'0'..=b'9' | b'a'..=b'f');
                let expected = std::str::from_utf8(&text).ok().and_then(|text| u32::from_str_radix(text, 16).ok());
                assert_eq!(hexadecimal(text), expected.filter(|_| lower), "{byte} at {place}");
            }
        }
    }
}
