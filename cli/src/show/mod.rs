//! Text on a terminal: 80 columns, plain, nothing that a terminal would obey.

pub(crate) mod paper;
pub(crate) mod picture;

/// Columns of the narrowest terminal we write for.
pub(crate) const WIDTH: usize = 80;

/// One line of somebody's text: control and direction characters show as `\u{..}`.
pub(crate) fn text(text: &str) -> String {
    ledger_format::work::shown(text).into_owned()
}

/// The same for a text of several lines.
pub(crate) fn lines(several: &str) -> String {
    several.split('\n').map(text).collect::<Vec<_>>().join("\n")
}

/// A text wrapped at blanks, its later lines set in under the lead.
pub(crate) fn wrapped(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let (mut out, mut column) = (lead.to_owned(), lead.chars().count());
    for (i, word) in text.split_whitespace().enumerate() {
        let width = word.chars().count();
        if i > 0 && column + 1 + width > WIDTH {
            out.push('\n');
            out.push_str(&indent);
            column = indent.len();
        } else if i > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
    }
    out
}

/// A line as it is, or wrapped under its first word where it is too long.
pub(crate) fn fitted(line: &str) -> String {
    let text = line.trim_start();
    match line.chars().count() {
        0..=WIDTH => line.to_owned(),
        _ => wrapped(&line[..line.len() - text.len()], text),
    }
}

/// A number with commas between thousands.
pub(crate) fn number(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// `1 line`, `2 lines`.
pub(crate) fn count(n: u64, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{} {one}s", number(n)) }
}

/// A typed line with a caret under what a remark is about, and the remark.
pub(crate) fn pointed(line: &str, column: usize, width: usize, remark: &str) -> String {
    let shown = |c: char| text(&c.to_string()).chars().count();
    let before: usize = line.chars().take(column.saturating_sub(1)).map(shown).sum();
    let under: usize = line.chars().skip(column.saturating_sub(1)).take(width).map(shown).sum();
    // A long line is cut to what stands around the place.
    let from = if before + under.min(20) > WIDTH - 6 { before.saturating_sub(30) } else { 0 };
    let all: Vec<char> = text(line).chars().collect();
    let lead = if from > 0 { "…" } else { "" };
    let room = WIDTH - 4 - lead.chars().count();
    let cut: String = all.iter().skip(from).take(room).collect();
    let more = if all.len() > from + room { "…" } else { "" };
    let carets = under.clamp(1, room.saturating_sub(before - from).max(1));
    let indent = " ".repeat(before - from + lead.chars().count());
    format!("  {lead}{cut}{more}\n  {indent}{}\n{}", "^".repeat(carets), wrapped("    ", &text(remark)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn f12_nothing_reaches_the_terminal_that_it_would_obey() {
        assert_eq!(text("a\u{1b}[31mb\u{202e}c"), "a\\u{1b}[31mb\\u{202e}c");
        assert_eq!(lines("a\nb\rc"), "a\nb\\u{d}c");
    }

    #[test]
    fn carets_stand_under_what_is_wrong_and_lines_keep_to_the_width() {
        let shown = pointed("417 WLA RH outr z3", 12, 4, "not a claw");
        assert_eq!(shown, "  417 WLA RH outr z3\n             ^^^^\n    not a claw");
        let long = pointed(&"x".repeat(2000), 1500, 400, &"word ".repeat(40));
        assert!(long.lines().all(|line| line.chars().count() <= WIDTH), "{long}");
    }

    #[test]
    fn a_path_longer_than_a_line_stands_on_its_own() {
        let path = format!("/farm/{}/2026.txt", "x".repeat(90));
        assert_eq!(
            wrapped("  ", &format!("what stood there is kept in {path}")).lines().nth(1),
            Some(&*format!("  {path}"))
        );
        assert_eq!(fitted(&format!("  at {path}")), format!("  at\n  {path}"));
        assert_eq!(fitted("  a  b"), "  a  b");
    }

    #[test]
    fn numbers_read_as_people_write_them() {
        assert_eq!((number(7), number(1204), number(1_000_000)), ("7".into(), "1,204".into(), "1,000,000".into()));
        assert_eq!((count(1, "line"), count(0, "line")), ("1 line".into(), "0 lines".into()));
    }
}
