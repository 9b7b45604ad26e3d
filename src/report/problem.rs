//! The parts of a report: where, how bad, what, and what to do. Plain data.

use std::ops::Range;

use serde::{Deserialize, Serialize};

/// A file among the [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct FileId(pub u32);

/// A stretch of one file, in bytes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct At {
    /// The file.
    pub file: FileId,
    /// The bytes meant, `start..end`.
    pub span: Range<usize>,
}

/// How bad a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The entry cannot be used.
    Error,
    /// The entry works, and somebody should look at it.
    Warning,
}

/// One complaint about a file, for the person who must mend it.
#[derive(Clone, Debug)]
pub struct Problem {
    /// Stable code, such as `K101`.
    pub code: &'static str,
    /// Whether the entry can be used all the same.
    pub severity: Severity,
    /// What is wrong: lower case, no full stop.
    pub message: String,
    /// Where, if it has a place.
    pub at: Option<At>,
    /// A word under the underlined text.
    pub label: String,
    /// What to do, one line each.
    pub help: Vec<String>,
    /// Further places that belong to it (the other definition, the steps of a loop), each with its word.
    pub also: Vec<(At, String)>,
}

impl Problem {
    /// Makes an error at a place.
    pub fn error(code: &'static str, message: impl Into<String>, at: impl Into<Option<At>>) -> Self {
        Problem {
            code,
            severity: Severity::Error,
            message: message.into(),
            at: at.into(),
            label: String::new(),
            help: Vec::new(),
            also: Vec::new(),
        }
    }

    /// Makes a warning at a place.
    pub fn warning(code: &'static str, message: impl Into<String>, at: impl Into<Option<At>>) -> Self {
        Problem { severity: Severity::Warning, ..Problem::error(code, message, at) }
    }

    /// Adds a line that says what to do.
    #[must_use]
    pub fn help(mut self, line: impl Into<String>) -> Self {
        self.help.push(line.into());
        self
    }

    /// Sets the word under the underlined text.
    #[must_use]
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// Adds another place that belongs to the problem.
    #[must_use]
    pub fn also(mut self, at: At, label: impl Into<String>) -> Self {
        self.also.push((at, label.into()));
        self
    }
}

/// The texts that problems point into.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<(String, String)>,
}

impl Sources {
    /// Adds a file by the name to show and its text.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        self.files.push((name.into(), text.into()));
        FileId(self.files.len() as u32 - 1)
    }

    /// The name and text of a file.
    pub fn get(&self, file: FileId) -> Option<(&str, &str)> {
        self.files.get(file.0 as usize).map(|(n, t)| (n.as_str(), t.as_str()))
    }

    /// Line number (from 1) of a place.
    pub fn line(&self, at: &At) -> Option<usize> {
        let (_, text) = self.get(at.file)?;
        let end = at.span.start.min(text.len());
        Some(text.as_bytes()[..end].iter().filter(|b| **b == b'\n').count() + 1)
    }

    /// Number of files.
    pub fn len(&self) -> usize {
        self.files.len()
    }

    /// Whether there is no file.
    pub fn is_empty(&self) -> bool {
        self.files.is_empty()
    }
}
