//! Where the project lies on this machine, and the files that are its own.

use std::path::{Path, PathBuf};

/// Directories that hold what was made or fetched, never what was written.
const MADE: &[&str] = &[
    "target",
    "node_modules",
    "dist",
    ".git",
    "corpus",
    "artifacts",
    "test-results",
];

/// The top of the project.
///
/// Asked when run, not when built: one build cache may serve several clones.
pub fn root() -> PathBuf {
    let here = std::env::var_os("CARGO_MANIFEST_DIR")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")), PathBuf::from);
    match here.parent() {
        Some(top) => top.to_path_buf(),
        None => here,
    }
}

/// Where cargo puts what it builds.
pub fn target() -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(dir) => root().join(dir),
        None => root().join("target"),
    }
}

/// One text file of the project.
#[derive(Debug, Clone)]
pub struct TextFile {
    /// Path from the top of the project, with `/`.
    pub path: String,
    /// All of it.
    pub text: String,
}

impl TextFile {
    /// The ending after the last dot, or nothing.
    pub fn ending(&self) -> &str {
        let name = self.path.rsplit('/').next().unwrap_or_default();
        name.rsplit_once('.').map_or("", |(_, ending)| ending)
    }
}

/// All text files under `top` that people wrote, sorted by path.
pub fn text_files(top: &Path) -> Vec<TextFile> {
    let mut found = Vec::new();
    walk(top, top, &mut found);
    found.sort_by(|a, b| a.path.cmp(&b.path));
    found
}

fn walk(top: &Path, dir: &Path, found: &mut Vec<TextFile>) {
    let Ok(entries) = std::fs::read_dir(dir) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        let name = entry.file_name().to_string_lossy().into_owned();
        let is_dir = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if is_dir {
            if !MADE.contains(&name.as_str()) {
                walk(top, &path, found);
            }
        } else if let Ok(text) = std::fs::read_to_string(&path) {
            let path = path.strip_prefix(top).unwrap_or(&path);
            let path = path.to_string_lossy().replace('\\', "/");
            found.push(TextFile { path, text });
        }
    }
}
