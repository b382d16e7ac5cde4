//! The command, run as a user runs it in the folder of the project.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub(crate) fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

pub(crate) fn kerfwise(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .current_dir(top())
        .output()
        .expect("the command starts")
}

pub(crate) fn printed(words: &[&str]) -> String {
    let output = kerfwise(words);
    assert!(
        output.status.success(),
        "{words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("the output is UTF-8")
}

pub(crate) fn complaint(words: &[&str]) -> String {
    let output = kerfwise(words);
    assert_eq!(output.status.code(), Some(2), "{words:?} must end with 2");
    assert!(output.stdout.is_empty(), "{words:?} must print no answer");
    String::from_utf8(output.stderr).expect("the complaint is UTF-8")
}
