//! Where typed lines come from: an editor at a terminal (history, completion, hints, one-key answers), or any stream.

use std::io::{self, BufRead, Write};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use rustyline::completion::{Completer, Pair};
use rustyline::error::ReadlineError;
use rustyline::highlight::Highlighter;
use rustyline::hint::Hinter;
use rustyline::history::{DefaultHistory, History};
use rustyline::validate::Validator;
use rustyline::{
    Cmd, ConditionalEventHandler, Config, Context, Editor, Event, EventContext, EventHandler, Helper, KeyCode,
    KeyEvent, Modifiers, RepeatCount,
};

use crate::session::Ask;

/// A line longer than this is not kept whole; only its length is told.
const LONGEST: usize = 8192;
/// Keys that answer at once on an empty line while a check is asked.
const ONE_KEY: [char; 7] = ['y', 'n', 'd', 'c', 'w', 'u', '?'];

/// One typed line, or how the input ended.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Typed {
    /// A line.
    Line(String),
    /// A line of so many bytes, too long to keep.
    TooLong(usize),
    /// A line with bytes that are no text.
    NotText,
    /// The end of input.
    End,
    /// Ctrl-C.
    Interrupted,
}

/// A source of lines.
pub(super) trait Lines {
    /// The next line. `ask` says what is wanted.
    fn next(&mut self, ask: &Ask, out: &mut dyn Write) -> io::Result<Typed>;
}

/// Lines from a stream; they are echoed, so that the output reads as the conversation it was.
pub(super) struct Piped<R>(pub(super) R);

impl<R: BufRead> Lines for Piped<R> {
    fn next(&mut self, _ask: &Ask, out: &mut dyn Write) -> io::Result<Typed> {
        let typed = read_line(&mut self.0)?;
        match &typed {
            Typed::Line(line) => writeln!(out, "> {}", crate::report::visible(line))?,
            Typed::TooLong(_) | Typed::NotText => writeln!(out, "> …")?,
            Typed::End | Typed::Interrupted => {}
        }
        out.flush()?;
        Ok(typed)
    }
}

/// Reads one line, keeping at most [`LONGEST`] bytes of it in memory.
fn read_line(input: &mut impl BufRead) -> io::Result<Typed> {
    let mut kept: Vec<u8> = Vec::new();
    let mut length = 0;
    loop {
        let chunk = match input.fill_buf() {
            Ok(chunk) => chunk,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        if chunk.is_empty() {
            if length == 0 {
                return Ok(Typed::End);
            }
            break;
        }
        let end = chunk.iter().position(|b| *b == b'\n');
        let part = &chunk[..end.unwrap_or(chunk.len())];
        kept.extend(part.iter().take(LONGEST.saturating_sub(kept.len())));
        length += part.len();
        let used = end.map_or(chunk.len(), |e| e + 1);
        input.consume(used);
        if end.is_some() {
            break;
        }
    }
    if length > LONGEST {
        return Ok(Typed::TooLong(length));
    }
    if kept.last() == Some(&b'\r') {
        kept.pop();
    }
    Ok(String::from_utf8(kept).map_or(Typed::NotText, Typed::Line))
}

/// An editor at a terminal.
pub(super) struct Terminal {
    editor: Editor<Words, DefaultHistory>,
    keys: Arc<Keys>,
    history: Option<PathBuf>,
}

impl Terminal {
    /// Opens the editor with words to complete. `history` is where lines are remembered, if anywhere.
    pub(super) fn open(words: Vec<String>, history: Option<PathBuf>) -> Result<Terminal, ReadlineError> {
        let config = Config::builder().auto_add_history(false).max_history_size(500)?.build();
        let mut editor: Editor<Words, DefaultHistory> = Editor::with_history(config, DefaultHistory::new())?;
        editor.set_helper(Some(Words(words)));
        let keys = Arc::new(Keys::default());
        for key in ONE_KEY {
            let handler = OneKey { key, keys: Arc::clone(&keys) };
            let event = Event::from(KeyEvent(KeyCode::Char(key), Modifiers::NONE));
            editor.bind_sequence(event, EventHandler::Conditional(Box::new(handler)));
        }
        if let Some(path) = &history {
            // A lost history loses no answer.
            let _ = editor.load_history(path);
        }
        Ok(Terminal { editor, keys, history })
    }

    fn remember(&mut self, line: &str) {
        if line.len() > 3
            && !line.starts_with(' ')
            && self.editor.add_history_entry(line).unwrap_or(false)
            && let Some(path) = &self.history
        {
            if let Some(folder) = path.parent() {
                let _ = std::fs::create_dir_all(folder);
            }
            if self.editor.history_mut().append(path).is_err() {
                tracing::debug!("the history could not be kept");
            }
        }
    }
}

impl Lines for Terminal {
    fn next(&mut self, ask: &Ask, out: &mut dyn Write) -> io::Result<Typed> {
        let one_key = matches!(ask, Ask::Next(next) if next.unit.is_none() && next.kind != "specialist");
        self.keys.asking.store(one_key, Ordering::Relaxed);
        self.keys.pressed.store(0, Ordering::Relaxed);
        match self.editor.readline("> ") {
            Ok(line) if line.len() > LONGEST => Ok(Typed::TooLong(line.len())),
            Ok(line) => {
                // A pasted block comes as one text: its first line counts, the rest must be typed knowingly.
                let first = line.lines().next().unwrap_or("").to_owned();
                if let Some(key) =
                    char::from_u32(self.keys.pressed.load(Ordering::Relaxed)).filter(|k| first.is_empty() && *k != '\0')
                {
                    writeln!(out, "  {key}")?;
                    return Ok(Typed::Line(key.to_string()));
                }
                self.remember(&first);
                Ok(Typed::Line(first))
            }
            Err(ReadlineError::Eof) => Ok(Typed::End),
            Err(ReadlineError::Interrupted) => Ok(Typed::Interrupted),
            Err(ReadlineError::Io(e)) if e.kind() == io::ErrorKind::InvalidData => Ok(Typed::NotText),
            Err(ReadlineError::Io(e)) => Err(e),
            Err(e) => Err(io::Error::other(e)),
        }
    }
}

/// What the key bindings share with the prompt.
#[derive(Default)]
struct Keys {
    /// Whether a yes-or-no question is open.
    asking: AtomicBool,
    /// The key that answered, if one did.
    pressed: AtomicU32,
}

/// Takes a key as the whole answer when the line is empty and a yes-or-no question is open.
struct OneKey {
    key: char,
    keys: Arc<Keys>,
}

impl ConditionalEventHandler for OneKey {
    fn handle(&self, _event: &Event, _n: RepeatCount, _positive: bool, context: &EventContext<'_>) -> Option<Cmd> {
        if !self.keys.asking.load(Ordering::Relaxed) || !context.line().is_empty() {
            return None;
        }
        self.keys.pressed.store(self.key.into(), Ordering::Relaxed);
        Some(Cmd::AcceptLine)
    }
}

/// Words to complete and hint.
struct Words(Vec<String>);

impl Completer for Words {
    type Candidate = Pair;

    fn complete(&self, line: &str, pos: usize, _context: &Context<'_>) -> rustyline::Result<(usize, Vec<Pair>)> {
        let typed = line.get(..pos).unwrap_or("").to_lowercase();
        if typed.is_empty() {
            return Ok((0, Vec::new()));
        }
        let pair = |w: &String| Pair { display: w.clone(), replacement: w.clone() };
        let mut found: Vec<Pair> = self.0.iter().filter(|w| w.starts_with(&typed)).take(20).map(pair).collect();
        if found.is_empty() {
            found = self.0.iter().filter(|w| w.contains(&typed)).take(20).map(pair).collect();
        }
        Ok((0, found))
    }
}

impl Hinter for Words {
    type Hint = String;

    fn hint(&self, line: &str, pos: usize, _context: &Context<'_>) -> Option<String> {
        if pos < line.len() || line.len() < 4 {
            return None;
        }
        let typed = line.to_lowercase();
        self.0.iter().find(|w| w.len() > typed.len() && w.starts_with(&typed)).map(|w| w[typed.len()..].to_owned())
    }
}

impl Highlighter for Words {}
impl Validator for Words {}
impl Helper for Words {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_too_long_is_told_by_its_length_and_the_next_one_is_read() {
        let mut text = vec![b'a'; 1 << 20];
        text.extend_from_slice(b"\nyes\r\n\xff\xfe\nlast");
        let mut input = io::Cursor::new(text);
        assert_eq!(read_line(&mut input).ok(), Some(Typed::TooLong(1 << 20)));
        assert_eq!(read_line(&mut input).ok(), Some(Typed::Line("yes".into())));
        assert_eq!(read_line(&mut input).ok(), Some(Typed::NotText));
        assert_eq!(read_line(&mut input).ok(), Some(Typed::Line("last".into())));
        assert_eq!(read_line(&mut input).ok(), Some(Typed::End));
    }
}
