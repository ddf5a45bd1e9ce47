//! Questions put to this library and, live, to independent programs.

#![allow(dead_code)]

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::process::{Command, Stdio};

/// Questions as text, and this library's answers with their tolerances.
#[derive(Default)]
pub struct Questions {
    pub text: String,
    number: usize,
    /// By case and quantity: kind, own value, relative tolerance.
    own: BTreeMap<(String, String), (String, f64, f64)>,
}

impl Questions {
    pub fn ask(&mut self, kind: &str, lists: &[&[f64]], own: &[(&str, f64, f64)]) {
        let words = |list: &&[f64]| -> String {
            list.iter().map(|value| format!("{value:e}")).collect::<Vec<_>>().join(" ")
        };
        self.ask_in_words(kind, lists.iter().map(words).collect(), own);
    }

    pub fn ask_in_words(&mut self, kind: &str, lists: Vec<String>, own: &[(&str, f64, f64)]) {
        self.number += 1;
        let case = self.number.to_string();
        self.text += &format!("{kind};{case};{}\n", lists.join("|"));
        for (quantity, value, tolerance) in own {
            assert!(value.is_finite(), "{kind} {quantity}");
            let key = (case.clone(), (*quantity).to_owned());
            self.own.insert(key, (kind.to_owned(), *value, *tolerance));
        }
    }

    /// Compares a referee's answers; gives the kinds and quantities compared.
    pub fn compare(&self, referee: &str, answers: &str) -> BTreeSet<(String, String)> {
        let mut compared = BTreeSet::new();
        let mut worst: BTreeMap<(String, String), f64> = BTreeMap::new();
        let mut wrong = Vec::new();
        for answer in answers.lines() {
            let cells: Vec<&str> = answer.split(';').collect();
            let [case, quantity, value] = cells[..] else { panic!("{referee}: {answer}") };
            let Some((kind, own, tolerance)) =
                self.own.get(&(case.to_owned(), quantity.to_owned()))
            else {
                continue;
            };
            let value: f64 = value.parse().unwrap();
            let error = (own - value).abs();
            let off = error / value.abs().max(1e-3);
            if !(off <= *tolerance) {
                wrong.push(format!("{kind} {case} {quantity}: own {own}, {referee} {value}"));
            }
            let place = (kind.clone(), quantity.to_owned());
            let seen = worst.entry(place.clone()).or_default();
            *seen = seen.max(off / tolerance);
            compared.insert(place);
        }
        for ((kind, quantity), share) in &worst {
            println!("{referee}: {kind}, {quantity}: {share:.1e} of the tolerance");
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
        compared
    }
}

/// What a referee answers; `None`, with a notice, where it is not installed.
pub fn answers(
    referee: &str,
    program: &str,
    probe: &[&str],
    script: &str,
    text: &str,
) -> Option<String> {
    let there = Command::new(program)
        .args(probe)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    if !there {
        assert!(
            std::env::var("ISOBAR_REFEREES").as_deref() != Ok("required"),
            "{referee} must be there and is not: {program} does not run"
        );
        println!("notice: {referee} is not installed, its live check is skipped");
        return None;
    }
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/referees");
    let mut child = Command::new(program)
        .arg(format!("{folder}/{script}"))
        .env("OMP_NUM_THREADS", "1")
        .env("OPENBLAS_NUM_THREADS", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The questions fit the pipe only together with a reader on the far side,
    // so they are written from a thread of their own.
    let mut stdin = child.stdin.take().unwrap();
    let text = text.to_owned();
    let writer = std::thread::spawn(move || stdin.write_all(text.as_bytes()));
    let output = child.wait_with_output().unwrap();
    let written = writer.join().unwrap();
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{referee} stopped: {errors}");
    written.unwrap();
    Some(String::from_utf8(output.stdout).unwrap())
}

pub fn python() -> String {
    std::env::var("ISOBAR_PYTHON").unwrap_or_else(|_| "python3".to_owned())
}
