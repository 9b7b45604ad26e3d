//! Build script: lists every knowledge file and every demo vehicle as text the program carries.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    let mut text = String::new();
    list(&mut text, "EMBEDDED", "Path and text of every knowledge file.", &root.join("knowledge"))?;
    list(&mut text, "DEMO_VEHICLES", "File name and text of every demo vehicle.", &root.join("src/vehicle/demo"))?;
    let (knowledge, vehicles) = text.split_once("/// File name").unwrap_or((&text, ""));
    fs::write(out.join("embedded.rs"), knowledge)?;
    fs::write(out.join("vehicles.rs"), format!("/// File name{vehicles}"))
}

fn list(text: &mut String, name: &str, doc: &str, folder: &Path) -> io::Result<()> {
    println!("cargo:rerun-if-changed={}", folder.display());
    let mut files = Vec::new();
    collect(folder, &mut files)?;
    files.sort();
    let _ = writeln!(text, "/// {doc}\npub static {name}: &[(&str, &str)] = &[");
    for file in files {
        let path = file.strip_prefix(folder).map_err(io::Error::other)?.to_string_lossy().replace('\\', "/");
        let _ = writeln!(text, "    ({path:?}, include_str!({:?})),", file.to_string_lossy());
    }
    text.push_str("];\n");
    Ok(())
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            println!("cargo:rerun-if-changed={}", path.display());
            collect(&path, files)?;
        } else if path.extension().is_some_and(|e| e == "toml") {
            println!("cargo:rerun-if-changed={}", path.display());
            files.push(path);
        }
    }
    Ok(())
}
