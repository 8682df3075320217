//! The README's output is real: each command of its `console` blocks is run, in order, in the invented herd.
//!
//! A line that begins with `$ ` is a command for `sh`, lines under it that begin with `> ` go on with it, and what
//! follows, up to the next command, is what it prints on both outputs. The first `ron` block is the settings.
//! `cargo run --release --` stands for `footfold`, and `cd` holds for the commands after it. `[..]` stands for any
//! part of a line, a line `...` for any number of lines.
//!
//! `FOOTFOLD_WRITE=1 cargo test -p footfold --test runner readme` writes the real output into the README:
//! - A line that fits as it is stays as it is, so that a `[..]` put by hand stays.
//! - Others are written anew, with `[..]` for what the clock and the place decide and for what is beyond 80 columns.
//! - Output with a line `...` keeps as many lines before it, and after it, as it had. Where nothing was shown yet,
//!   the first twelve lines are, and `...` if there are more.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::{TempHerd, root};

const ANY: &str = "[..]";
const MORE: &str = "...";
const COLUMNS: usize = 80;
/// Lines shown at first of output that was not shown before.
const AT_FIRST: usize = 12;
/// The device that the README's reader writes as.
const DEVICE: &str = "laptop";
/// The device that is met in the copy on a stick.
const OTHER_DEVICE: &str = "farm-two";

#[test]
fn the_readme_shows_what_runs_print() {
    let path = root().join("README.md");
    let text = fs::read_to_string(&path).unwrap();
    let mut machine = Machine::new(&block_of(&text, "ron").expect("the README shows settings"));
    let (mut anew, mut wrong) = (String::new(), Vec::new());
    for part in parts(&text) {
        match part {
            Part::Words(line) => anew += &(line + "\n"),
            Part::Run { command, shown } => {
                let real = machine.run(&command);
                anew += &typed(&command);
                for line in fresh(&shown, &real, &|line| machine.without_chance(line)) {
                    anew += &(line + "\n");
                }
                if let Some(difference) = difference(&shown, &real) {
                    wrong.push(format!("$ {command}\n{difference}"));
                }
            }
        }
    }
    if std::env::var_os("FOOTFOLD_WRITE").is_some() {
        fs::write(&path, anew).unwrap();
    } else {
        assert!(wrong.is_empty(), "the README does not show what runs print:\n\n{}", wrong.join("\n\n"));
    }
    let text = fs::read_to_string(&path).unwrap();
    let long = too_wide(&text);
    assert!(long.is_empty(), "over {COLUMNS} columns: {long:#?}");
    assert!(machine.commands > 20, "{} commands", machine.commands);
}

#[test]
fn the_readme_names_every_command() {
    let text = fs::read_to_string(root().join("README.md")).unwrap();
    let help = Command::new(env!("CARGO_BIN_EXE_footfold")).arg("--help").output().unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let rows = help.lines().skip_while(|line| *line != "Commands:").skip(1).take_while(|line| !line.is_empty());
    // A name stands two columns in; deeper lines go on with what a command does.
    let names = rows.filter(|row| row.starts_with("  ") && !row.starts_with("   "));
    let names: Vec<&str> = names.filter_map(|row| row.split_whitespace().next()).collect();
    assert!(names.len() > 8, "{names:?}");
    let missing: Vec<_> =
        names.iter().filter(|name| !text.contains(&format!("`{name}")) && !shows(&text, name)).collect();
    assert!(missing.is_empty(), "not in the README: {missing:?}");
}

/// Whether some command of the README is of this name.
fn shows(text: &str, name: &str) -> bool {
    text.lines().any(|line| line.starts_with("$ ") && line.contains(&format!(" {name} ")))
}

/// Lines of blocks over the width; paragraphs wrap by themselves.
fn too_wide(text: &str) -> Vec<&str> {
    let mut inside = false;
    text.lines()
        .filter(|line| {
            inside ^= line.starts_with("```");
            inside && line.chars().count() > COLUMNS
        })
        .collect()
}

/// A piece of the README.
enum Part {
    Words(String),
    Run { command: String, shown: Vec<String> },
}

fn parts(text: &str) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut inside = false;
    for line in text.lines() {
        if line.starts_with("```") {
            inside = line == "```console";
            parts.push(Part::Words(line.to_owned()));
            continue;
        }
        match (inside, line.strip_prefix("$ "), parts.last_mut()) {
            (true, Some(command), _) => parts.push(Part::Run { command: command.to_owned(), shown: Vec::new() }),
            (true, None, Some(Part::Run { command, shown })) => match line.strip_prefix("> ") {
                Some(more) if shown.is_empty() => {
                    command.push('\n');
                    command.push_str(more);
                }
                _ => shown.push(line.to_owned()),
            },
            _ => parts.push(Part::Words(line.to_owned())),
        }
    }
    parts
}

/// A command as it stands in the README.
fn typed(command: &str) -> String {
    format!("$ {}\n", command.replace('\n', "\n> "))
}

/// The first block of this kind.
fn block_of(text: &str, kind: &str) -> Option<String> {
    let (_, rest) = text.split_once(&format!("\n```{kind}\n"))?;
    Some(rest.split_once("\n```")?.0.to_owned())
}

/// Whether a line is as shown; `[..]` stands for anything.
fn fits(shown: &str, real: &str) -> bool {
    let mut pieces = shown.split(ANY);
    let Some(mut rest) = real.strip_prefix(pieces.next().unwrap_or_default()) else { return false };
    let mut pieces: Vec<&str> = pieces.collect();
    let Some(last) = pieces.pop() else { return rest.is_empty() };
    for piece in pieces {
        let Some((_, after)) = rest.split_once(piece) else { return false };
        rest = after;
    }
    rest.ends_with(last)
}

/// Shown lines before and after `...`; none where everything is shown.
fn around_more(shown: &[String]) -> Option<(&[String], &[String])> {
    let at = shown.iter().position(|line| line == MORE)?;
    Some((&shown[..at], &shown[at + 1..]))
}

/// How what is shown differs from what was printed.
fn difference(shown: &[String], real: &[String]) -> Option<String> {
    let told = |shown: &str, real: &str| format!("  shown: {shown}\n  real:  {real}");
    let (first, last) = around_more(shown).unwrap_or((shown, &[]));
    let all = around_more(shown).is_none();
    if real.len() < first.len() + last.len() || (all && real.len() != shown.len()) {
        let lines = format!("{} lines shown, {} printed", shown.len(), real.len());
        return Some(format!("  {lines}:\n    {}", real.iter().take(40).cloned().collect::<Vec<_>>().join("\n    ")));
    }
    let pairs = first.iter().zip(real).chain(last.iter().zip(&real[real.len() - last.len()..]));
    pairs.into_iter().find(|(shown, real)| !fits(shown, real)).map(|(shown, real)| told(shown, real))
}

/// What is to be shown of this output.
fn fresh(shown: &[String], real: &[String], without_chance: &dyn Fn(&str) -> String) -> Vec<String> {
    let keep = |old: Option<&String>, real: &String| match old {
        Some(old) if fits(old, real) => old.clone(),
        _ => without_chance(real),
    };
    let lines = |old: &[String], real: &[String]| -> Vec<String> {
        real.iter().enumerate().map(|(at, real)| keep(old.get(at), real)).collect()
    };
    let (first, last): (&[String], &[String]) = match around_more(shown) {
        Some(around) => around,
        None if shown.is_empty() && real.len() > AT_FIRST => {
            let mut anew = lines(&[], &real[..AT_FIRST]);
            anew.push(MORE.to_owned());
            return anew;
        }
        None => return lines(shown, real),
    };
    let (before, after) = (first.len().min(real.len()), last.len().min(real.len().saturating_sub(first.len())));
    let mut anew = lines(first, &real[..before]);
    anew.push(MORE.to_owned());
    anew.extend(lines(last, &real[real.len() - after..]));
    anew
}

/// The machine of somebody who follows the README.
struct Machine {
    herd: TempHerd,
    here: PathBuf,
    today: String,
    commands: usize,
}

impl Machine {
    fn new(settings: &str) -> Self {
        let herd = TempHerd::empty();
        // `demo` makes this folder.
        fs::remove_dir(herd.path()).unwrap();
        fs::create_dir_all(herd.config()).unwrap();
        fs::write(herd.config().join("footfold.ron"), settings).unwrap();
        let here = herd.around().canonicalize().unwrap();
        let today = Command::new("date").arg("+%F").env("TZ", "Europe/London").output().unwrap();
        let today = String::from_utf8(today.stdout).unwrap().trim().to_owned();
        Self { herd, here, today, commands: 0 }
    }

    /// What a command prints, on both outputs.
    fn run(&mut self, command: &str) -> Vec<String> {
        self.commands += 1;
        if let Some(folder) = command.strip_prefix("cd ") {
            self.here = self.here.join(folder);
            assert!(self.here.is_dir(), "no folder {}", self.here.display());
            return Vec::new();
        }
        let command = match command.strip_prefix("cargo run --release -- ") {
            Some(rest) => format!("footfold {rest}"),
            None => command.to_owned(),
        };
        let mut path = Path::new(env!("CARGO_BIN_EXE_footfold")).parent().unwrap().as_os_str().to_owned();
        path.push(":");
        path.push(std::env::var_os("PATH").unwrap_or_default());
        let out = Command::new("sh")
            .args(["-c", &format!("exec 2>&1\n{command}")])
            .current_dir(&self.here)
            .env("PATH", path)
            .env("FOOTFOLD_CONFIG", self.herd.config())
            .env("FOOTFOLD_MACHINE", "one")
            .env("HOME", self.herd.around())
            // A daemon of whoever runs the tests is not asked.
            .env_remove("XDG_RUNTIME_DIR")
            .env_remove("FOOTFOLD_SOCKET")
            .env("TZ", "Europe/London")
            .env("LC_ALL", "C.UTF-8")
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let text = String::from_utf8(out.stdout).unwrap();
        text.lines().map(str::to_owned).collect()
    }

    /// A line with `[..]` for what the clock and the place decide, and for what is beyond the width.
    fn without_chance(&self, line: &str) -> String {
        let mut line = line.to_owned();
        if let Some(at) = line.find(&self.herd.around().display().to_string()) {
            line.replace_range(at.., ANY);
        }
        // From a sealed time of today on, all is of this run; it may stand at the begin of a wrapped line.
        if let Some(at) = line.find(&format!("{}T", self.today)) {
            line.replace_range(at.., ANY);
        }
        line = line.replace(&self.today, ANY);
        let year = &self.today[..4];
        for name in [format!("{DEVICE}/{year}"), format!("{OTHER_DEVICE}/{year}")] {
            let at = line.find(&name).filter(|at| !line[..*at].ends_with(|c: char| c == '-' || c.is_alphanumeric()));
            if let Some(at) = at {
                line.replace_range(at + name.len() - year.len()..at + name.len(), ANY);
            }
        }
        let words: Vec<&str> = line.split(' ').collect();
        line = words.iter().map(|word| if is_mark(word) { ANY } else { word }).collect::<Vec<_>>().join(" ");
        if let Some(at) = line.find("- kept ").filter(|_| line.ends_with(" days later")) {
            line.replace_range(at.., "- kept [..] days later");
        }
        if line.chars().count() > COLUMNS {
            line = line.chars().take(COLUMNS - ANY.len()).collect::<String>() + ANY;
        }
        line
    }
}

/// Whether a word is the mark of a line. That of a line that is written here is another in every run.
fn is_mark(word: &str) -> bool {
    word.len() == 16 && word.bytes().all(|byte| byte.is_ascii_hexdigit())
}

#[test]
fn lines_fit_with_any_part_left_open() {
    for (shown, real, fit) in [
        ("a b", "a b", true),
        ("a b", "a b c", false),
        ("a [..]", "a b c", true),
        ("[..] c", "a b c", true),
        ("a [..] c [..]", "a b c d", true),
        ("a [..] d [..] e", "a b c d", false),
        ("[..]", "", true),
    ] {
        assert_eq!(fits(shown, real), fit, "{shown} / {real}");
    }
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<String>>();
    assert!(difference(&lines("1\n...\n4"), &lines("1\n2\n3\n4")).is_none());
    assert!(difference(&lines("1\n...\n4"), &lines("1\n4")).is_none());
    assert!(difference(&lines("1\n...\n3"), &lines("1\n2\n3\n4")).is_some());
    assert!(difference(&lines("1\n2"), &lines("1\n2\n3")).is_some());
}

#[test]
fn what_is_written_anew_fits_and_keeps_its_size() {
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<String>>();
    let real = lines("a 1\nb 2\nc 3\nd 4\ne 5");
    for (shown, anew) in [
        ("a [..]\n?\n...\n?", "a [..]\nb 2\n...\ne 5"),
        ("?\n...", "a 1\n..."),
        ("?\n?", "a 1\nb 2\nc 3\nd 4\ne 5"),
        ("?\n?\n?\n?\n...\n?\n?\n?", "a 1\nb 2\nc 3\nd 4\n...\ne 5"),
        ("", "a 1\nb 2\nc 3\nd 4\ne 5"),
    ] {
        let fresh = fresh(&lines(shown), &real, &|line: &str| line.to_owned());
        assert_eq!(fresh, lines(anew), "{shown}");
        assert!(difference(&fresh, &real).is_none());
    }
    let long: Vec<String> = (0..30).map(|n| n.to_string()).collect();
    assert_eq!(fresh(&[], &long, &|line: &str| line.to_owned()).len(), AT_FIRST + 1);
}
