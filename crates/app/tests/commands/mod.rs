//! One file per promise.

mod assess_compare;
mod assess_detection;
mod assess_experiments;
mod assess_figures;
mod assess_keys;
mod assess_qualified;
mod assess_reference;
mod assess_refusals;
mod assess_routine;
mod assess_uncertainty;
mod bad_input;
#[cfg(unix)]
mod database;
#[cfg(unix)]
#[path = "../../../benchbook/tests/database_server/mod.rs"]
mod database_server;
mod demo_story;
mod dirty_families;
mod documents;
mod examined_trace;
mod help_examples;
mod imports;
mod json_keys;
mod begin;
mod leak_paths;
mod long_files;
mod published;
mod real_logs;
mod records;
mod tiers;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// The folder of the whole project: commands run there.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// Runs `isobar` in the folder of the project.
pub fn isobar(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_isobar")).args(arguments).current_dir(root()).output().unwrap()
}

/// A copy of the demo, which is made once for all stories.
pub fn demo_into(folder: &Path) {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("demo of the stories");
        let _ = std::fs::remove_dir_all(&folder);
        json(&["demo", "--into", folder.to_str().unwrap(), "--no-serve"]);
        folder
    });
    std::fs::create_dir_all(folder).unwrap();
    for file in std::fs::read_dir(made).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), folder.join(file.file_name())).unwrap();
    }
}

/// Runs `isobar` with lines on standard input and a folder for log keys.
pub fn isobar_with(arguments: &[&str], lines: &str, keys: &Path) -> Output {
    use std::io::Write;
    let mut child = Command::new(env!("CARGO_BIN_EXE_isobar"))
        .args(arguments)
        .current_dir(root())
        .env("ISOBAR_KEYS", keys)
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    // A command that needs no line may have ended already.
    let _ = child.stdin.take().unwrap().write_all(lines.as_bytes());
    child.wait_with_output().unwrap()
}

/// The JSON answer of a command that must succeed.
pub fn json(arguments: &[&str]) -> serde_json::Value {
    let mut with_json = arguments.to_vec();
    with_json.push("--json");
    let output = isobar(&with_json);
    assert!(
        output.status.success(),
        "isobar {arguments:?} failed: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Number at a pointer of an answer.
pub fn number(value: &serde_json::Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(serde_json::Value::as_f64)
        .unwrap_or_else(|| panic!("no number at {pointer} in {value:#}"))
}

/// Exit code and standard error of a command.
pub fn fault(arguments: &[&str]) -> (i32, String) {
    let output = isobar(arguments);
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().unwrap_or(-1), text)
}
