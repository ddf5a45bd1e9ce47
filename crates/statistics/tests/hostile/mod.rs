//! The table of hostile samples: what is asked, and what came of it.

use std::collections::BTreeMap;
use std::fmt::{Debug, Display};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

/// Results of the table.
#[derive(Default)]
pub struct Table {
    answers: usize,
    refusals: usize,
    pub faults: Vec<String>,
    /// Time spent in each function, to see which one a hostile input holds up.
    time: BTreeMap<String, Duration>,
}

/// What came of one question.
enum Said {
    Panic,
    Answer(String),
    Refusal(String),
}

/// Whether the debug text of an answer holds NaN or an infinite number.
pub fn not_finite(text: &str) -> bool {
    text.split(|c: char| !c.is_alphanumeric()).any(|word| word == "NaN" || word == "inf")
}

impl Table {
    pub fn ask<T: Debug, E: Display>(
        &mut self,
        name: &str,
        input: &str,
        call: impl FnOnce() -> Result<T, E>,
    ) -> Option<T> {
        let started = Instant::now();
        let outcome = catch_unwind(AssertUnwindSafe(call));
        let spent = started.elapsed();
        let said = match &outcome {
            Err(_) => Said::Panic,
            Ok(Ok(value)) => Said::Answer(format!("{value:?}")),
            Ok(Err(refusal)) => Said::Refusal(refusal.to_string()),
        };
        self.note(name, input, spent, said);
        outcome.ok()?.ok()
    }

    /// Apart from [`Self::ask`], which is compiled for every function asked.
    #[inline(never)]
    fn note(&mut self, name: &str, input: &str, spent: Duration, said: Said) {
        *self.time.entry(name.to_owned()).or_default() += spent;
        match said {
            Said::Panic => self.faults.push(format!("{name} panics on {input}")),
            Said::Answer(text) => {
                self.answers += 1;
                // The one documented open bound: an uncertainty known exactly.
                let text = text.replace("degrees_of_freedom: inf", "");
                if not_finite(&text) {
                    let at = text.find("NaN").or_else(|| text.find("inf")).unwrap_or(0);
                    let start = text[..at].rfind(", ").unwrap_or(0);
                    let part: String = text[start..].chars().take(70).collect();
                    self.faults.push(format!("{name} on {input}: {part}"));
                }
            }
            Said::Refusal(text) => {
                self.refusals += 1;
                if !text.starts_with("cannot be said, because") {
                    self.faults.push(format!("{name} on {input} refuses with: {text}"));
                }
            }
        }
    }

    /// A method without a refusal: it gives an open bound as `None`.
    pub fn plain<T: Debug>(&mut self, name: &str, input: &str, call: impl FnOnce() -> T) {
        self.ask(name, input, || Ok::<T, statistics::CannotSay>(call()));
    }

    pub fn finish(self, least_answers: usize, least_refusals: usize) {
        println!("{} answers, {} refusals", self.answers, self.refusals);
        let mut slowest: Vec<(&String, &Duration)> = self.time.iter().collect();
        slowest.sort_by_key(|(_, spent)| core::cmp::Reverse(**spent));
        for (name, spent) in slowest.into_iter().take(3) {
            println!("{name}: {:.2} s", spent.as_secs_f64());
        }
        // The first fault of each function; the rest is mostly the same again.
        let mut shown: Vec<&String> = self.faults.iter().collect();
        shown.dedup_by_key(|fault| fault.split(" on ").next().unwrap_or("").to_owned());
        shown.sort();
        shown.dedup_by_key(|fault| fault.split(" on ").next().unwrap_or("").to_owned());
        assert!(self.faults.is_empty(), "{} faults\n{shown:#?}", self.faults.len());
        assert!(self.answers >= least_answers && self.refusals >= least_refusals);
    }
}

/// Samples that have broken programs before.
pub fn samples() -> Vec<(String, Vec<f64>)> {
    let base: Vec<f64> = (0..12).map(|i| f64::from(i % 5) + 0.25 * f64::from(i)).collect();
    let times = |factor: f64| base.iter().map(|v| v * factor).collect::<Vec<_>>();
    let mut all = vec![
        ("no values".to_owned(), vec![]),
        ("one value".to_owned(), vec![1.0]),
        ("two values".to_owned(), vec![1.0, 2.0]),
        ("three values".to_owned(), vec![1.0, 2.0, 4.0]),
        ("all tied".to_owned(), vec![3.0; 12]),
        ("all zero".to_owned(), vec![0.0; 12]),
        ("all tied, huge".to_owned(), vec![1.7e308; 12]),
        ("all tied, tiny".to_owned(), vec![5e-324; 12]),
        ("ordinary".to_owned(), base.clone()),
        ("rising".to_owned(), (0..12).map(f64::from).collect()),
        ("negative".to_owned(), times(-1.0)),
        ("huge".to_owned(), times(2e307)),
        ("very large".to_owned(), times(1e160)),
        ("very small".to_owned(), times(1e-160)),
        ("tiny".to_owned(), times(1e-308)),
        ("subnormal".to_owned(), times(5e-324)),
        ("on a high plateau".to_owned(), base.iter().map(|v| 1e15 + v).collect()),
        ("last digit".to_owned(), (0..12).map(|i| 1.0 + f64::from(i % 2) * f64::EPSILON).collect()),
        ("swinging".to_owned(), (0..12).map(|i| [1e308, -1e308][i % 2]).collect()),
        ("one of ten".to_owned(), [vec![0.0; 11], vec![1.0]].concat()),
        ("one of ten, huge".to_owned(), [vec![0.0; 11], vec![1e308]].concat()),
        ("two blocks".to_owned(), [vec![1.0; 6], vec![2.0; 6]].concat()),
    ];
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308, -1e308, 5e-324, -0.0] {
        let mut list = base.clone();
        list[4] = value;
        all.push((format!("ordinary with {value:e}"), list));
    }
    all
}
