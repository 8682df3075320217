//! Text: any bytes to clean lines (`spec/text.md`). Reading never fails.

use crate::limits::TYPED_LINE_BYTES;
use crate::swar::is_single_spaced_ascii;

/// How the bytes of a file were read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with or without byte order mark.
    Utf8,
    /// UTF-16, little end first.
    Utf16Le,
    /// UTF-16, big end first.
    Utf16Be,
    /// Windows-1252, the usual single-byte encoding of Western Europe.
    Windows1252,
}

/// Decoded text, and whether its encoding was guessed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decoded {
    /// The text.
    pub text: String,
    /// How it was read.
    pub encoding: Encoding,
    /// Whether the encoding is a guess, so that the raw bytes should be kept aside.
    pub guessed: bool,
}

/// One line, cleaned.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CleanLine {
    /// The text.
    pub text: String,
    /// Invisible characters were taken out.
    pub invisible: bool,
    /// Control characters were taken out.
    pub control: bool,
    /// Longer than a typed line may be.
    pub too_long: bool,
}

/// Decodes any bytes (`text.md` §1).
pub fn decode(bytes: &[u8]) -> Decoded {
    let decoded = |text, encoding, guessed| Decoded { text, encoding, guessed };
    match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => decoded(String::from_utf8_lossy(rest).into_owned(), Encoding::Utf8, false),
        [0xFF, 0xFE, rest @ ..] => decoded(utf16(rest, u16::from_le_bytes), Encoding::Utf16Le, false),
        [0xFE, 0xFF, rest @ ..] => decoded(utf16(rest, u16::from_be_bytes), Encoding::Utf16Be, false),
        _ => match (std::str::from_utf8(bytes), guess_utf16(bytes)) {
            (_, Some(Encoding::Utf16Le)) => decoded(utf16(bytes, u16::from_le_bytes), Encoding::Utf16Le, true),
            (_, Some(_)) => decoded(utf16(bytes, u16::from_be_bytes), Encoding::Utf16Be, true),
            (Ok(text), None) => decoded(text.to_owned(), Encoding::Utf8, false),
            (Err(_), None) => decoded(bytes.iter().copied().map(windows_1252).collect(), Encoding::Windows1252, true),
        },
    }
}

/// Splits at LF, CRLF and lone CR, and at nothing else (`text.md` §2).
///
/// ```
/// let lines: Vec<&str> = ledger_format::text::split("a\r\nb\rc\u{2028}d\n").collect();
/// assert_eq!(lines, ["a", "b", "c\u{2028}d"]);
/// ```
pub fn split(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = Some(text).filter(|text| !text.is_empty());
    std::iter::from_fn(move || {
        let text = rest?;
        let Some(end) = text.bytes().position(|b| b == b'\n' || b == b'\r') else {
            rest = None;
            return Some(text);
        };
        let skip = if text[end..].starts_with("\r\n") { 2 } else { 1 };
        rest = Some(&text[end + skip..]).filter(|rest| !rest.is_empty());
        Some(&text[..end])
    })
}

/// Cleans one line (`text.md` §3, §5).
///
/// ```
/// assert_eq!(ledger_format::text::clean("417\tWLA RH – under\u{2019}run ").text, "417 WLA RH - under'run");
/// ```
pub fn clean(line: &str) -> CleanLine {
    let mut out = CleanLine { text: String::with_capacity(line.len()), ..CleanLine::default() };
    for character in line.chars() {
        match replacement(character) {
            Replacement::Keep if character == ' ' => push_space(&mut out.text),
            Replacement::Space => push_space(&mut out.text),
            Replacement::Keep => out.text.push(character),
            Replacement::By(text) => out.text.push_str(text),
            Replacement::Invisible => out.invisible = true,
            Replacement::Control => out.control = true,
        }
    }
    out.text.truncate(out.text.trim_end_matches(' ').len());
    out.too_long = out.text.len() > TYPED_LINE_BYTES;
    out
}

/// No space begins a line, and none follows another.
fn push_space(text: &mut String) {
    if !text.is_empty() && !text.ends_with(' ') {
        text.push(' ');
    }
}

/// Whether cleaning would change nothing, and no character was lost in decoding (`text.md` §6).
#[inline]
pub fn is_clean(text: &str) -> bool {
    if text.starts_with(' ') || text.ends_with(' ') {
        return false;
    }
    is_single_spaced_ascii(text.as_bytes()) || (!text.is_ascii() && is_clean_beyond_ascii(text))
}

fn is_clean_beyond_ascii(text: &str) -> bool {
    let kept = |c| c != char::REPLACEMENT_CHARACTER && matches!(replacement(c), Replacement::Keep);
    text.chars().all(kept) && !text.contains("  ")
}

enum Replacement {
    Keep,
    Space,
    By(&'static str),
    Invisible,
    Control,
}

fn replacement(character: char) -> Replacement {
    match character {
        '\t'
        | '\u{0B}'
        | '\u{0C}'
        | '\u{85}'
        | '\u{A0}'
        | '\u{1680}'
        | '\u{2000}'..='\u{200A}'
        | '\u{2028}'
        | '\u{2029}'
        | '\u{202F}'
        | '\u{205F}'
        | '\u{3000}' => Replacement::Space,
        '\u{2018}'..='\u{201B}' | '\u{2032}' => Replacement::By("'"),
        '\u{201C}'..='\u{201F}' | '\u{2033}' => Replacement::By("\""),
        '\u{2010}'..='\u{2015}' | '\u{2212}' => Replacement::By("-"),
        '\u{2026}' => Replacement::By("..."),
        '\u{AD}'
        | '\u{200B}'..='\u{200F}'
        | '\u{202A}'..='\u{202E}'
        | '\u{2060}'..='\u{2069}'
        | '\u{FEFF}'
        | '\u{061C}'
        | '\u{180E}' => Replacement::Invisible,
        '\u{00}'..='\u{1F}' | '\u{7F}'..='\u{9F}' => Replacement::Control,
        _ => Replacement::Keep,
    }
}

/// Text of a Western European keyboard in UTF-16 has a NUL in every other place.
fn guess_utf16(bytes: &[u8]) -> Option<Encoding> {
    let nuls = |offset: usize| bytes.iter().skip(offset).step_by(2).filter(|b| **b == 0).count();
    let (even, odd) = (nuls(0), nuls(1));
    let many = |nuls: usize, of: usize| nuls > 0 && nuls * 4 >= of;
    let few = |nuls: usize, of: usize| nuls * 50 <= of;
    let (evens, odds) = (bytes.len().div_ceil(2), bytes.len() / 2);
    if many(odd, odds) && few(even, evens) {
        Some(Encoding::Utf16Le)
    } else if many(even, evens) && few(odd, odds) {
        Some(Encoding::Utf16Be)
    } else {
        None
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> String {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let mut text = String::from_utf16_lossy(&pairs.iter().map(|pair| unit(*pair)).collect::<Vec<_>>());
    if !rest.is_empty() {
        text.push(char::REPLACEMENT_CHARACTER);
    }
    text
}

fn windows_1252(byte: u8) -> char {
    const HIGH: [u16; 32] = [
        0x20AC, 0xFFFD, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0xFFFD,
        0x017D, 0xFFFD, 0xFFFD, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A,
        0x0153, 0xFFFD, 0x017E, 0x0178,
    ];
    match byte {
        0x80..=0x9F => char::from_u32(u32::from(HIGH[usize::from(byte - 0x80)])).unwrap_or(char::REPLACEMENT_CHARACTER),
        _ => char::from(byte),
    }
}

/// Pieces of a text that fit in so many columns, cut at blanks; a longer word is a piece of its own.
pub fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= columns => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn f08_any_editors_bytes_are_understood() {
        let typed = "417 score 2\n";
        let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(typed.encode_utf16().flat_map(u16::to_le_bytes)).collect();
        let bare: Vec<u8> = typed.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for bytes in [typed.as_bytes(), b"\xEF\xBB\xBF417 score 2\n", &utf16, &bare] {
            assert_eq!(decode(bytes).text, typed);
        }
        let latin = decode(b"417 note: Gr\xFC\xDFe");
        assert_eq!((latin.text.as_str(), latin.guessed), ("417 note: Grüße", true));
    }

    #[test]
    fn f09_only_line_ends_end_lines() {
        let text = "a\u{2028}b\u{85}c\u{0C}d\u{2029}e\rf\r\ng";
        assert_eq!(split(text).count(), 3);
        assert_eq!(clean(split(text).next().unwrap()).text, "a b c d e");
    }

    #[test]
    fn f12_invisible_characters_are_taken_out_and_told() {
        let line = clean("417 note: a\u{202E}b\u{200B}c é 🐄");
        assert_eq!((line.text.as_str(), line.invisible), ("417 note: abc é 🐄", true));
    }

    #[test]
    fn runs_of_blanks_become_one() {
        assert_eq!(clean(" \t a \u{A0}  b\t\t").text, "a b");
        assert!(is_clean("a b") && !is_clean("a  b") && !is_clean(" a") && !is_clean("a\u{A0}b"));
    }

    #[test]
    fn clean_text_is_clean() {
        for line in ["  x\u{2026}  y ", "\u{0}\u{200B} \t", "a \u{200B} b", "„x“"] {
            let cleaned = clean(line);
            assert!(is_clean(&cleaned.text), "{:?}", cleaned.text);
            assert_eq!(clean(&cleaned.text).text, cleaned.text);
        }
    }
}
