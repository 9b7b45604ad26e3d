//! How the program ends: exit codes, and failures told to the person.

/// The codes the program ends with. The numbers above 63 are the BSD sysexits convention (from memory); 2 is clap's for usage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// Done, and the answer is no: problems were found, or nothing matched.
    No,
    /// The command line was wrong.
    Usage,
    /// A file or answer given is bad.
    BadData,
    /// A file or folder given is missing or cannot be read.
    NoInput,
    /// Output could not be written.
    NoOutput,
    /// Interrupted.
    Interrupted,
}

impl Exit {
    /// The number.
    pub fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::No => 1,
            Exit::Usage => 2,
            Exit::BadData => 65,
            Exit::NoInput => 66,
            Exit::NoOutput => 74,
            Exit::Interrupted => 130,
        }
    }
}

/// Why a command could not do its work: what to say, and how to end.
#[derive(Debug)]
pub(super) struct Failure {
    /// For the person: what, where, what to do.
    pub say: String,
    /// The exit.
    pub exit: Exit,
}

impl Failure {
    pub(super) fn new(exit: Exit, say: impl Into<String>) -> Failure {
        Failure { say: say.into(), exit }
    }
}

impl From<std::io::Error> for Failure {
    /// Output trouble. A pipe closed by its reader is no failure: it ends the program quietly.
    fn from(error: std::io::Error) -> Failure {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            Failure::new(Exit::Done, "")
        } else {
            Failure::new(Exit::NoOutput, format!("the output cannot be written: {error}"))
        }
    }
}
