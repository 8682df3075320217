//! What a saved text holds beside the accepted lines, whatever an editor did to its bytes.

use ledger_format::line::split_seal;
use ledger_format::mark;
use ledger_format::text::{self, Encoding};

/// A saved text, compared with the accepted bytes of its file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Saved {
    /// Lines that are not accepted ones, as typed, in order, each with its number in the saved text.
    pub typed: Vec<Numbered>,
    /// Whether the encoding was a guess, so that the raw bytes should be kept.
    pub guessed: bool,
    /// Accepted lines at the end that the text does not show.
    pub missing: usize,
}

/// A line of a text, with its number, counted from 1.
pub type Numbered = (usize, String);

/// A sealed line was changed, moved or taken out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edited {
    /// The line of the saved text.
    pub line: usize,
    /// What was accepted there.
    pub stood: String,
    /// What stands there now.
    pub stands: String,
}

/// Reads a saved text. Accepted lines must all be there and in order, but for some at the end
/// that a stopped program may not have shown yet; lines put between them count as typed.
pub fn read(saved: &[u8], accepted: &[u8]) -> Result<Saved, Edited> {
    if let Some(tail) = saved.strip_prefix(accepted) {
        let decoded = text::decode(tail);
        let before = memchr_lines(accepted);
        let typed = (before + 1..).zip(text::split(&decoded.text).map(str::to_owned)).collect();
        return Ok(Saved { typed, guessed: decoded.guessed, missing: 0 });
    }
    let whole = text::decode(saved);
    match whole.encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => compare(whole.text.as_bytes(), accepted, whole.guessed),
        // Bytes of an old encoding may stand in the tail alone: accepted lines are compared as bytes first.
        _ => compare(saved.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(saved), accepted, false),
    }
}

/// A saved text as an editor should have left it: UTF-8, LF, no byte order mark.
pub fn plain(saved: &[u8]) -> Vec<u8> {
    let whole = text::decode(saved);
    let bytes = match whole.encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => whole.text.as_bytes(),
        _ => saved.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(saved),
    };
    let lines = split(bytes);
    let mut plain = lines.join(&b'\n');
    if bytes.ends_with(b"\n") || bytes.ends_with(b"\r") {
        plain.push(b'\n');
    }
    plain
}

/// A saved text as it was before an editor changed blanks, line ends or encoding, if that makes its marks hold
/// (`mark.md` §12). The typed tail keeps its blanks.
pub fn seen_through(saved: &[u8]) -> Option<Vec<u8>> {
    let plain = plain(saved);
    if mark::check(&plain).is_unbroken() {
        return Some(plain);
    }
    let lines: Vec<&[u8]> = plain.split_inclusive(|b| *b == b'\n').collect();
    let mut sealed = Vec::with_capacity(plain.len());
    for line in &lines {
        match cleaned(line.strip_suffix(b"\n").unwrap_or(line)) {
            Some(cleaned) => sealed.extend_from_slice(cleaned.as_bytes()),
            None => sealed.extend_from_slice(line.strip_suffix(b"\n").unwrap_or(line)),
        }
        sealed.push(b'\n');
    }
    let check = mark::check(&sealed);
    if !check.is_unbroken() {
        return None;
    }
    sealed.truncate(check.sealed_bytes);
    lines[check.lines..].iter().for_each(|line| sealed.extend_from_slice(line));
    Some(sealed)
}

/// Takes from `lines` those that are already in `known`, each as often as it is there.
pub fn without<'a>(lines: Vec<Numbered>, known: impl IntoIterator<Item = &'a String>) -> Vec<Numbered> {
    let mut counts = std::collections::HashMap::<&str, usize>::new();
    for line in known {
        *counts.entry(line.as_str()).or_default() += 1;
    }
    let is_new = |(_, line): &Numbered| match counts.get_mut(line.as_str()) {
        Some(count) if *count > 0 => {
            *count -= 1;
            false
        }
        _ => true,
    };
    lines.into_iter().filter(is_new).collect()
}

/// Takes from `lines` those that are accepted ones, seal and all: nobody typed them, so a doubled file or a pasted
/// line is not sealed twice. Gives the numbers of the accepted lines.
pub fn take_repeated(lines: &mut Vec<Numbered>, accepted: &[u8]) -> Vec<usize> {
    if !lines.iter().any(|(_, line)| bears_seal(line.as_bytes())) {
        return Vec::new();
    }
    let numbered = split(accepted).into_iter().zip(1..).filter_map(|(line, number)| Some((cleaned(line)?, number)));
    let known: std::collections::HashMap<String, usize> = numbered.collect();
    let mut repeated = Vec::new();
    lines.retain(|(_, line)| match known.get(&text::clean(line).text) {
        Some(number) if bears_seal(line.as_bytes()) => {
            repeated.push(*number);
            false
        }
        _ => true,
    });
    repeated.sort_unstable();
    repeated.dedup();
    repeated
}

/// Numbers of lines as people say them: `line 4`, `lines 1 to 5, 9`.
pub fn line_numbers(numbers: &[usize]) -> String {
    let runs: Vec<String> = numbers
        .chunk_by(|one, next| one + 1 == *next)
        .filter_map(|run| match run {
            [] => None,
            [one] => Some(one.to_string()),
            [first, .., last] => Some(format!("{first} to {last}")),
        })
        .collect();
    format!("{} {}", if numbers.len() == 1 { "line" } else { "lines" }, runs.join(", "))
}

fn compare(saved: &[u8], accepted: &[u8], guessed: bool) -> Result<Saved, Edited> {
    let mut expected = split(accepted).into_iter().peekable();
    let mut others: Vec<(usize, &[u8])> = Vec::new();
    let mut after_last_accepted = 0;
    for (i, line) in split(saved).into_iter().enumerate() {
        if expected.next_if(|accepted| is_same(accepted, line)).is_some() {
            after_last_accepted = others.len();
        } else {
            others.push((i + 1, line));
        }
    }
    if let Some(next) = expected.peek() {
        if others.last().is_some_and(|(_, line)| next.starts_with(line)) && !saved.ends_with(b"\n") {
            // The torn end of a line that is restored whole.
            others.pop();
        }
        let rest = &others[after_last_accepted.min(others.len())..];
        if rest.iter().any(|(_, line)| bears_seal(line))
            && let Some((line, stands)) = rest.iter().find(|(_, line)| !line.is_empty())
        {
            return Err(Edited { line: *line, stood: lossy(next), stands: lossy(stands) });
        }
    }
    Ok(typed(&others, guessed, expected.count()))
}

/// Whether a line is an accepted one. Editors pad lines, and turn blanks into tabs and quotes into curly ones:
/// what cleaning undoes says nothing else, and a line that only looks changed must not be sealed again.
fn is_same(accepted: &[u8], line: &[u8]) -> bool {
    accepted == line || cleaned(line).is_some_and(|line| cleaned(accepted) == Some(line))
}

/// A padded line bears a seal as much as a bare one.
fn bears_seal(line: &[u8]) -> bool {
    split_seal(line).is_some() || cleaned(line).is_some_and(|line| split_seal(line.as_bytes()).is_some())
}

/// A line as cleaning leaves it, if it is text.
fn cleaned(line: &[u8]) -> Option<String> {
    std::str::from_utf8(line).ok().map(|line| text::clean(line).text)
}

fn typed(others: &[(usize, &[u8])], guessed: bool, missing: usize) -> Saved {
    let mut bytes = Vec::new();
    for (_, line) in others {
        bytes.extend_from_slice(line);
        bytes.push(b'\n');
    }
    let decoded = text::decode(&bytes);
    Saved {
        typed: others.iter().map(|(number, _)| *number).zip(text::split(&decoded.text).map(str::to_owned)).collect(),
        guessed: guessed || decoded.guessed,
        missing,
    }
}

/// Lines at LF, CRLF and lone CR, as `text.md` §2 has it, of bytes.
fn split(bytes: &[u8]) -> Vec<&[u8]> {
    let mut lines = Vec::new();
    let mut start = 0;
    while start < bytes.len() {
        let rest = &bytes[start..];
        let end = rest.iter().position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(rest.len());
        lines.push(&rest[..end]);
        start += end + if rest[end..].starts_with(b"\r\n") { 2 } else { 1 };
    }
    lines
}

fn memchr_lines(bytes: &[u8]) -> usize {
    bytes.iter().filter(|b| **b == b'\n').count()
}

fn lossy(line: &[u8]) -> String {
    String::from_utf8_lossy(line).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: &str = "one | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08";
    const B: &str = "two | 2026-03-14T09:20:11Z 4f9c2a7d51be4c08";

    fn accepted() -> String {
        format!("{A}\n{B}\n")
    }

    #[test]
    fn f08_crlf_bom_and_utf16_are_seen_through() {
        let text = format!("{}417 score 3\n", accepted());
        let crlf = format!("\u{FEFF}{}", text.replace('\n', "\r\n"));
        let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
        for saved in [text.as_bytes(), crlf.as_bytes(), &utf16] {
            let found = read(saved, accepted().as_bytes()).unwrap();
            assert_eq!((found.missing, found.typed), (0, vec![(3, "417 score 3".to_owned())]));
            assert_eq!(plain(saved), text.as_bytes());
        }
        let latin = [accepted().as_bytes(), b"417 note: Gr\xFC\xDFe"].concat();
        let found = read(&latin, accepted().as_bytes()).unwrap();
        assert_eq!((found.typed[0].1.as_str(), found.guessed), ("417 note: Grüße", true));
    }

    #[test]
    fn padded_and_tabbed_lines_are_the_accepted_ones() {
        for saved in [
            format!("{A}  \n{B}  \n418 3  \n"),
            format!("{A}\n{B} \n418 3\n"),
            format!("{}418 3\n", accepted()).replace(' ', "\t"),
        ] {
            let found = read(saved.as_bytes(), accepted().as_bytes()).unwrap();
            let typed: Vec<String> = found.typed.iter().map(|(_, line)| text::clean(line).text).collect();
            assert_eq!((found.missing, typed), (0, vec!["418 3".to_owned()]), "{saved:?}");
        }
        let edited = format!("{}  \n{B}  \n", A.replace("one", "three"));
        assert_eq!(seen_through(edited.as_bytes()), None);
        assert_eq!(read(edited.as_bytes(), accepted().as_bytes()).unwrap_err().line, 1);
    }

    #[test]
    fn lines_put_between_are_typed_and_a_torn_end_is_nothing() {
        let found = read(format!("{A}\n418 3\n{B}\n").as_bytes(), accepted().as_bytes()).unwrap();
        assert_eq!(found.typed, [(2, "418 3".to_owned())]);
        let found = read(format!("{A}\n{}", &B[..9]).as_bytes(), accepted().as_bytes()).unwrap();
        assert_eq!((found.typed.len(), found.missing), (0, 1));
    }

    #[test]
    fn f06_a_copied_seal_is_typed_text_and_an_edited_line_is_told() {
        let copied = format!("{}{}\n", accepted(), A.replace("one", "three"));
        assert_eq!(read(copied.as_bytes(), accepted().as_bytes()).unwrap().typed.len(), 1);
        let edited = accepted().replace("one", "three");
        let found = read(edited.as_bytes(), accepted().as_bytes()).unwrap_err();
        assert_eq!((found.line, found.stood.as_str()), (1, A));
        assert!(found.stands.starts_with("three"));
    }
}
