//! What tests through the binary share: where the repository is, how the program is started, what it said.

#![allow(dead_code, reason = "not every test needs all of it")]

use std::path::Path;
use std::process::{Command, Output, Stdio};

/// The repository.
pub(crate) fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// Runs the program from the repository's folder.
pub(crate) fn freshcharge(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_freshcharge"))
        .args(args)
        .current_dir(root())
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// Output as text.
pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// All that the program said.
pub(crate) fn said(out: &Output) -> String {
    text(&out.stdout) + &text(&out.stderr)
}
