//! Where the texts come from: the copy the program carries, and a person's own folder laid over it.

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A file larger than this is refused, in bytes.
pub const LARGEST_FILE: u64 = 1 << 20;
/// A folder nested deeper than this is refused.
const DEEPEST: usize = 6;
/// At most this many files are read from a folder.
const MOST_FILES: usize = 2000;

/// Texts in layers; entries of a later layer replace those of an earlier one.
#[derive(Clone, Debug, Default)]
pub struct Files {
    /// Each layer's files.
    pub layers: Vec<Vec<TextFile>>,
}

/// A file's text, or why it could not be read.
#[derive(Clone, Debug)]
pub struct TextFile {
    /// The path to show.
    pub name: String,
    /// Path below the layer's folder, with forward slashes; its first part names the system.
    pub path: String,
    /// The text, or what went wrong.
    pub text: Result<String, String>,
}

/// A folder that cannot be used at all.
#[derive(Debug, thiserror::Error)]
pub enum NoFolder {
    /// It does not exist.
    #[error("there is no folder {}; check the path", .0.display())]
    Missing(PathBuf),
    /// It is not a folder.
    #[error("{} is not a folder; give the folder that holds the .toml files", .0.display())]
    NotAFolder(PathBuf),
    /// It cannot be read.
    #[error("the folder {} cannot be read: {}", .0.display(), .1)]
    Unreadable(PathBuf, #[source] std::io::Error),
    /// It has no `.toml` file.
    #[error("the folder {} holds no .toml file", .0.display())]
    Empty(PathBuf),
}

impl Files {
    /// One layer of texts by their path below the knowledge folder.
    pub fn texts<'t>(texts: impl IntoIterator<Item = (&'t str, &'t str)>) -> Files {
        let file = |(path, text): (&str, &str)| TextFile {
            name: format!("knowledge/{path}"),
            path: path.to_owned(),
            text: Ok(text.to_owned()),
        };
        Files { layers: vec![texts.into_iter().map(file).collect()] }
    }

    /// A folder alone.
    ///
    /// # Errors
    /// If it is missing, is no folder, cannot be read, or holds no `.toml` file.
    pub fn folder(folder: &Path) -> Result<Files, NoFolder> {
        Files::default().and_folder(folder)
    }

    /// These files with a folder laid over them.
    ///
    /// # Errors
    /// As [`Files::folder`].
    pub fn and_folder(mut self, folder: &Path) -> Result<Files, NoFolder> {
        let meta = fs::metadata(folder).map_err(|e| match e.kind() {
            std::io::ErrorKind::NotFound => NoFolder::Missing(folder.to_owned()),
            _ => NoFolder::Unreadable(folder.to_owned(), e),
        })?;
        if !meta.is_dir() {
            return Err(NoFolder::NotAFolder(folder.to_owned()));
        }
        let mut layer = Vec::new();
        walk(folder, "", 0, &mut layer).map_err(|e| NoFolder::Unreadable(folder.to_owned(), e))?;
        if layer.is_empty() {
            return Err(NoFolder::Empty(folder.to_owned()));
        }
        layer.sort_by(|a, b| a.path.cmp(&b.path));
        self.layers.push(layer);
        Ok(self)
    }

    /// Whether a folder holds a whole book of its own, so that it can stand without the built-in one.
    pub fn holds_whole_book(folder: &Path) -> bool {
        ["scale.toml", "places.toml", "traits.toml"].iter().all(|f| folder.join(f).is_file())
    }
}

/// Collects the `.toml` files below a folder. Links, pipes and devices are passed over, so that nothing outside is read and nothing waits.
fn walk(folder: &Path, prefix: &str, depth: usize, out: &mut Vec<TextFile>) -> std::io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let kind = entry.file_type()?;
        let file_name = entry.file_name().to_string_lossy().into_owned();
        let path = if prefix.is_empty() { file_name.clone() } else { format!("{prefix}/{file_name}") };
        if out.len() >= MOST_FILES || file_name.starts_with('.') {
            continue;
        }
        if kind.is_dir() {
            if depth < DEEPEST {
                match walk(&entry.path(), &path, depth + 1, out) {
                    Ok(()) => {}
                    Err(e) => out.push(TextFile {
                        name: entry.path().display().to_string(),
                        path,
                        text: Err(format!("the folder cannot be read: {e}")),
                    }),
                }
            }
        } else if kind.is_file() && file_name.ends_with(".toml") {
            let name = entry.path().display().to_string();
            out.push(TextFile { name, path, text: read_text(&entry.path()) });
        }
    }
    Ok(())
}

/// Reads one text file within the size limit.
///
/// # Errors
/// A sentence for the person: too large, not UTF-8 (with the line), or what the system said.
pub fn read_text(path: &Path) -> Result<String, String> {
    let mut bytes = Vec::new();
    // A device may have no end and no size: one byte more than allowed is enough to know.
    let read = fs::File::open(path).and_then(|file| file.take(LARGEST_FILE + 1).read_to_end(&mut bytes));
    read.map_err(|e| format!("it cannot be read: {e}"))?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(format!("it is longer than {LARGEST_FILE} bytes, the most that is read; split it"));
    }
    String::from_utf8(bytes).map_err(|e| {
        let good = &e.as_bytes()[..e.utf8_error().valid_up_to()];
        let line = good.iter().filter(|b| **b == b'\n').count() + 1;
        format!("line {line} holds bytes that are not UTF-8 text; save the file as UTF-8")
    })
}
