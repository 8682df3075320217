//! What went wrong, for a person at a terminal; exit codes.

use std::io::Write;
use std::process::ExitCode;

use daemon::Trouble;

use crate::show;

/// Everything is fine.
pub(crate) const FINE: u8 = 0;
/// Something is to be mended.
pub(crate) const MEND: u8 = 1;
/// The command was used wrongly.
pub(crate) const USE: u8 = 2;

/// A command that could not be done.
#[derive(Debug)]
pub(crate) struct Fail {
    message: String,
    hint: String,
    code: u8,
}

/// What a command comes to.
pub(crate) type Outcome = Result<ExitCode, Fail>;

impl Fail {
    /// A command that was used wrongly.
    pub(crate) fn usage(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { message: message.into(), hint: hint.into(), code: USE }
    }

    /// Tells it on the error output.
    pub(crate) fn tell(&self) -> ExitCode {
        // With nobody listening there is nothing left to do.
        let _ = std::io::stderr().lock().write_all(self.text().as_bytes());
        ExitCode::from(self.code)
    }

    /// What is told.
    pub(crate) fn text(&self) -> String {
        if self.message.is_empty() {
            return String::new();
        }
        let message = format!("footfold: {}", show::lines(&self.message));
        let message: String = message.lines().map(|line| show::fitted(line) + "\n").collect();
        if self.hint.is_empty() {
            return message;
        }
        message + &show::wrapped("  to do: ", &show::lines(&self.hint)) + "\n"
    }

    /// What went wrong.
    pub(crate) fn message(&self) -> &str {
        &self.message
    }

    /// What to do.
    pub(crate) fn hint(&self) -> &str {
        &self.hint
    }

    /// The exit code.
    pub(crate) fn code(&self) -> u8 {
        self.code
    }
}

impl From<Trouble> for Fail {
    fn from(trouble: Trouble) -> Self {
        Self { message: trouble.to_string(), hint: trouble.remedy, code: MEND }
    }
}

impl From<std::io::Error> for Fail {
    /// Only output fails this way: a reader that has gone away, or a full disk under a redirection.
    fn from(error: std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            // Whoever read it has seen enough, as in `footfold check | head`.
            return Self { message: String::new(), hint: String::new(), code: FINE };
        }
        Self { message: format!("could not write the output: {error}"), hint: String::new(), code: MEND }
    }
}
