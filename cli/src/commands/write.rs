//! `footfold write`: typed lines, kept at once, all or none.

use std::io::{IsTerminal, Read, Write, stdin, stdout};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use daemon::Trouble;
use daemon::seal::{Sealed, seal_text};
use ledger_format::limits::{TYPED_LINE_BYTES, TYPED_LINES};

use crate::commands::seal::{tell_doubts, tell_refused};
use crate::fail::{Fail, MEND, Outcome};
use crate::place::{Common, Seat, Writer};
use crate::show;

/// Keep typed lines in this machine's ledger: all of them, or none
#[derive(clap::Args, Debug)]
#[command(after_help = "  footfold write \"417 WLA RH outer z3 g2, block on RH inner, recheck 28d\" \"418 3\"\n  \
footfold write --file visit.txt\n  footfold write < visit.txt")]
pub(super) struct Args {
    /// Typed lines, one in each argument; none: lines from the input; `-`: the same
    #[arg(value_name = "TEXT")]
    text: Vec<String>,
    /// A file of typed lines
    #[arg(long, value_name = "FILE", conflicts_with = "text")]
    file: Option<PathBuf>,
    #[command(flatten)]
    writer: Writer,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let seat = Seat::take(common, &args.writer)?;
    let text = typed(args)?;
    if text.iter().all(u8::is_ascii_whitespace) {
        return Err(Fail::usage("nothing was typed", "as in: footfold write \"417 score 3\""));
    }
    let sealed = seal_text(&seat.desk(), &text)?;
    let mut out = stdout().lock();
    if !sealed.refused.is_empty() {
        writeln!(out, "Nothing was kept. To mend:\n")?;
        tell_refused(&mut out, &sealed)?;
        return Ok(ExitCode::from(MEND));
    }
    tell_kept(&mut out, &sealed)?;
    tell_doubts(&mut out, common, &sealed)?;
    Ok(ExitCode::SUCCESS)
}

pub(super) fn tell_kept(out: &mut impl Write, sealed: &Sealed) -> std::io::Result<()> {
    for line in &sealed.kept {
        writeln!(out, "{}", show::text(&line.body))?;
    }
    if sealed.kept.is_empty() {
        writeln!(out, "There was nothing to keep: only blank lines, headings or comments.")?;
    }
    for notice in &sealed.notices {
        writeln!(out, "{}", show::wrapped("note: ", &show::text(notice)))?;
    }
    Ok(())
}

fn typed(args: &Args) -> Result<Vec<u8>, Fail> {
    match (&args.file, args.text.as_slice()) {
        (Some(file), _) if file.as_os_str() != "-" => from_file(file),
        (Some(_), _) => input(),
        (None, [dash]) if dash == "-" => input(),
        (None, []) => {
            if stdin().is_terminal() {
                eprintln!("Type lines; Ctrl-D on an empty line keeps them.");
            }
            input()
        }
        (None, lines) => Ok(lines.iter().flat_map(|line| [line.as_bytes(), b"\n"].concat()).collect()),
    }
}

/// More than can be typed in one go is not even read.
const MOST: u64 = (TYPED_LINE_BYTES * TYPED_LINES) as u64;

fn input() -> Result<Vec<u8>, Fail> {
    let mut bytes = Vec::new();
    stdin()
        .lock()
        .take(MOST + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| Trouble::io("read the input", Path::new("-"), &e))?;
    within(bytes, Path::new("-"))
}

fn from_file(path: &Path) -> Result<Vec<u8>, Fail> {
    let file = std::fs::File::open(path).map_err(|e| Trouble::io("open the file", path, &e))?;
    let mut bytes = Vec::new();
    file.take(MOST + 1).read_to_end(&mut bytes).map_err(|e| Trouble::io("read the file", path, &e))?;
    within(bytes, path)
}

fn within(bytes: Vec<u8>, path: &Path) -> Result<Vec<u8>, Fail> {
    if bytes.len() as u64 > MOST {
        let what = format!("more than {} bytes of typed lines in one go", show::number(MOST));
        return Err(Trouble::new(what, "write them in parts").at(path).into());
    }
    Ok(bytes)
}
