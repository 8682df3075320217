//! A page of text: wrapped to 80 columns, plain when piped, bold headings on a terminal. Whatever is put on it passes
//! through [`super::text`], so nothing that was typed is obeyed.

use std::io::IsTerminal;

use super::WIDTH;

/// Text being put together.
pub(crate) struct Paper {
    out: String,
    is_bold: bool,
}

impl Paper {
    /// Bold headings, or none.
    pub(crate) fn new(is_bold: bool) -> Self {
        Self { out: String::new(), is_bold }
    }

    /// A heading; bold only says again what its words and place say.
    pub(crate) fn head(&mut self, text: &str) {
        self.strong("", text, "");
    }

    /// A strong line with a lead before and a tail at the right margin, where there is room for it.
    pub(crate) fn strong(&mut self, lead: &str, text: &str, tail: &str) {
        let start = self.out.len();
        let (lead, tail) = (super::text(lead), super::text(tail));
        let room = WIDTH.saturating_sub(width(&lead));
        let mut lines = wrap(&super::text(text), room);
        let used = width(&lead) + lines.last().map_or(0, |line| width(line));
        if !tail.is_empty() && used + 2 + width(&tail) > WIDTH {
            lines.push(String::new());
        }
        let last = lines.len() - 1;
        for (i, line) in lines.iter().enumerate() {
            let before = if i == 0 { lead.clone() } else { " ".repeat(width(&lead)) };
            let mut whole = format!("{before}{line}");
            if i == last && !tail.is_empty() {
                let gap = WIDTH.saturating_sub(width(&whole) + width(&tail));
                whole += &" ".repeat(gap);
                whole += &wrap(&tail, WIDTH)[0];
            }
            self.out.push_str(whole.trim_end());
            self.out.push('\n');
        }
        if self.is_bold {
            let bold = format!("\u{1b}[1m{}\u{1b}[0m\n", self.out[start..].trim_end_matches('\n'));
            self.out.replace_range(start.., &bold);
        }
    }

    /// A text after a lead, wrapped; later lines are set in under it.
    pub(crate) fn put(&mut self, lead: &str, text: &str) {
        let lead = super::text(lead);
        let indent = " ".repeat(width(&lead));
        for (i, line) in wrap(&super::text(text), WIDTH.saturating_sub(width(&lead))).iter().enumerate() {
            let whole = format!("{}{line}", if i == 0 { &lead } else { &indent });
            self.out.push_str(whole.trim_end());
            self.out.push('\n');
        }
    }

    /// A line of a table: its blanks stay as they are. One that is too long is wrapped after all.
    pub(crate) fn line(&mut self, text: &str) {
        let line = super::text(text);
        if width(&line) > WIDTH {
            return self.put("  ", text);
        }
        self.out.push_str(line.trim_end());
        self.out.push('\n');
    }

    /// Texts one under the other after a label that stands before the first.
    pub(crate) fn list<T: AsRef<str>>(&mut self, label: &str, texts: impl IntoIterator<Item = T>) {
        let mut lead = label.to_owned();
        for text in texts {
            self.put(&lead, text.as_ref());
            lead = " ".repeat(width(label));
        }
    }

    /// An empty line.
    pub(crate) fn gap(&mut self) {
        self.out.push('\n');
    }

    /// The whole text.
    pub(crate) fn finish(self) -> String {
        self.out
    }
}

/// Whether headings on the standard output are bold.
pub(crate) fn bold_on_stdout() -> bool {
    let wants = std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    let is_dumb = std::env::var_os("TERM").is_none_or(|term| term == "dumb");
    wants && !is_dumb && std::io::stdout().is_terminal()
}

/// Columns that a text takes. From the Hangul letters on, characters are counted as wide: too many columns are counted
/// for some, too few for none.
fn width(text: &str) -> usize {
    text.chars().map(char_width).sum()
}

fn char_width(c: char) -> usize {
    if c >= '\u{1100}' { 2 } else { 1 }
}

/// Wraps at blanks; a word longer than a line is cut.
fn wrap(text: &str, room: usize) -> Vec<String> {
    let room = room.max(10);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let needed = width(word);
        if used > 0 && used + 1 + needed > room {
            lines.push(String::new());
            used = 0;
        } else if used > 0 {
            push(&mut lines, " ");
            used += 1;
        }
        for c in word.chars() {
            if used + char_width(c) > room {
                lines.push(String::new());
                used = 0;
            }
            push(&mut lines, c.encode_utf8(&mut [0; 4]));
            used += char_width(c);
        }
    }
    lines
}

fn push(lines: &mut [String], text: &str) {
    if let Some(last) = lines.last_mut() {
        last.push_str(text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paper() -> Paper {
        Paper { out: String::new(), is_bold: false }
    }

    #[test]
    fn long_words_and_wide_letters_keep_to_the_width() {
        let mut page = paper();
        page.put("    ", &"x".repeat(500));
        page.put("  lead ", &"牛 ".repeat(100));
        page.strong(" 1  417   ", &"SEVERELY LAME ".repeat(9), "group far-away-and-high");
        page.strong("", "a", &"t".repeat(120));
        assert!(page.finish().lines().all(|line| width(line) <= WIDTH));
    }

    #[test]
    fn later_lines_are_set_in_under_the_first() {
        let mut page = paper();
        page.put("  - ", &"word ".repeat(20));
        let out = page.finish();
        assert!(out.lines().skip(1).all(|line| line.starts_with("    word")), "{out}");
        assert!(out.lines().all(|line| !line.ends_with(' ')));
    }

    #[test]
    fn tails_stand_at_the_right_margin() {
        let mut page = paper();
        page.strong(" 1  417  ", "LAME", "high");
        let out = page.finish();
        assert_eq!(out.trim_end().chars().count(), WIDTH);
        assert!(out.trim_end().ends_with(" high"));
    }
}
