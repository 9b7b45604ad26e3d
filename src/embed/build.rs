//! Build script: reads the knowledge folder, refuses it if it has errors, and packs texts and book for the program to carry; lists the
//! demo vehicles.
#![allow(dead_code, unused_imports, reason = "the script uses the knowledge modules only in part")]

#[path = "../knowledge/mod.rs"]
mod knowledge;
#[path = "../report/mod.rs"]
mod report;
#[path = "../units/mod.rs"]
mod units;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

use report::Severity;

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    for sources in ["knowledge", "report", "units", "embed"] {
        println!("cargo:rerun-if-changed={}", root.join("src").join(sources).display());
    }
    let folder = root.join("knowledge");
    let files = files_below(&folder)?;
    fs::write(out.join("embedded.rs"), list("EMBEDDED", "Path and text of every knowledge file.", &folder, &files)?)?;
    let mut texts = Vec::new();
    for file in &files {
        texts.push((relative(&folder, file)?, fs::read_to_string(file)?));
    }
    let loaded = knowledge::load(&knowledge::Files::texts(texts.iter().map(|(p, t)| (p.as_str(), t.as_str()))));
    if loaded.has_errors() {
        let errors: Vec<_> = loaded.problems.iter().filter(|p| p.severity == Severity::Error).cloned().collect();
        eprintln!("{}", report::render_all(&errors, &loaded.sources, false));
        return Err(io::Error::other("the knowledge has errors"));
    }
    fs::write(out.join("book.bin"), postcard::to_allocvec(&loaded.book).map_err(io::Error::other)?)?;
    let folder = root.join("src/vehicle/demo");
    let files = files_below(&folder)?;
    fs::write(
        out.join("vehicles.rs"),
        list("DEMO_VEHICLES", "File name and text of every demo vehicle.", &folder, &files)?,
    )
}

/// A list of paths and texts as source.
fn list(name: &str, doc: &str, folder: &Path, files: &[PathBuf]) -> io::Result<String> {
    let mut text = format!("/// {doc}\npub static {name}: &[(&str, &str)] = &[\n");
    for file in files {
        let _ = writeln!(text, "    ({:?}, include_str!({:?})),", relative(folder, file)?, file.to_string_lossy());
    }
    text.push_str("];\n");
    Ok(text)
}

fn relative(folder: &Path, file: &Path) -> io::Result<String> {
    Ok(file.strip_prefix(folder).map_err(io::Error::other)?.to_string_lossy().replace('\\', "/"))
}

/// Every `.toml` file below a folder, in order; tells the build to run again when one changes.
fn files_below(folder: &Path) -> io::Result<Vec<PathBuf>> {
    println!("cargo:rerun-if-changed={}", folder.display());
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            files.extend(files_below(&path)?);
        } else if path.extension().is_some_and(|e| e == "toml") {
            println!("cargo:rerun-if-changed={}", path.display());
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}
