//! What the forensics of a trace names against what was planted:
//! `forensics_confusion [TRACES] [SEED]` prints the tables of
//! `docs/forensics.md`. Not part of the product.

#![allow(clippy::print_stdout)] // Tables are printed.

#[path = "../tests/planted/mod.rs"]
mod planted;

use std::collections::BTreeMap;

use planted::{KINDS, Kind, planted};
use rayon::prelude::*;
use study::forensics::{Cause, LeakRate, Verdict, explain};

/// What came of one trace.
struct Outcome {
    kind: Kind,
    principal: Option<Cause>,
    named: Option<Cause>,
    among: bool,
    verdict: Option<Verdict>,
    leak_pa_per_s: f64,
    interval: Option<LeakRate>,
    falsely_excluded: bool,
    sized: Option<bool>,
}

fn outcome(kind: Kind, seed: u64, unit: u64) -> Outcome {
    let planted = planted(kind, seed, unit);
    let found = explain(&planted.trace, &planted.span, &planted.about).ok();
    let first = found.as_ref().and_then(|found| {
        found.terms.iter().find(|term| term.rise_pa.abs() > 3.0 * planted.noise_pa)
    });
    let among = match (first, planted.principal) {
        (Some(term), Some(truth)) => {
            let same = |cause: Cause| cause == truth || (cause.is_leak() && truth.is_leak());
            same(term.cause) || term.could_also_be.iter().copied().any(same)
        }
        (None, None) => true,
        _ => false,
    };
    let excludes = found.as_ref().and_then(|found| found.excludes);
    Outcome {
        kind,
        principal: planted.principal,
        named: first.map(|term| term.cause),
        among,
        verdict: found.as_ref().map(|found| found.verdict),
        // A headspace that has emptied may draw gas back: that is no leak.
        leak_pa_per_s: planted.leak_pa_per_s.max(0.0),
        interval: found.as_ref().and_then(|found| found.leak_rate),
        falsely_excluded: excludes.is_some_and(|two| {
            planted.leak_um > two.smallest_um
                && two.largest_um.is_some_and(|largest| planted.leak_um < largest)
        }),
        sized: found.and_then(|found| found.leak_size).map(|size| {
            planted.leak_um >= size.lower_um
                && size.upper_um.is_none_or(|upper| planted.leak_um <= upper)
        }),
    }
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|text| text.parse().ok());
    let n: u64 = arguments.next().unwrap_or(1300);
    let seed: u64 = arguments.next().unwrap_or(5);
    let each = n.div_ceil(KINDS.len() as u64);
    let outcomes: Vec<Outcome> = (0..each * KINDS.len() as u64)
        .into_par_iter()
        .map(|unit| outcome(KINDS[(unit % KINDS.len() as u64) as usize], seed, unit))
        .collect();
    println!("{} traces, seed {seed}\n", outcomes.len());
    confusion(&outcomes);
    verdicts(&outcomes);
    coverage(&outcomes);
}

fn word(cause: Option<Cause>) -> &'static str {
    match cause {
        None => "nothing",
        Some(cause) if cause.is_leak() => "leak",
        Some(cause) => cause.word(),
    }
}

fn confusion(outcomes: &[Outcome]) {
    let columns = [
        "nothing",
        "leak",
        "outgassing",
        "vapour",
        "thermal recovery",
        "creep",
        "step",
        "sensor drift",
    ];
    println!("| largest true part | n | {} | named or said possible |", columns.join(" | "));
    println!("|---|---|{}---|", "---|".repeat(columns.len()));
    let mut rows: BTreeMap<&str, Vec<&Outcome>> = BTreeMap::new();
    for outcome in outcomes.iter().filter(|o| o.kind != Kind::FullScale) {
        rows.entry(word(outcome.principal)).or_default().push(outcome);
    }
    for row in columns {
        let Some(group) = rows.get(row) else { continue };
        let counts: Vec<String> = columns
            .iter()
            .map(|column| group.iter().filter(|o| word(o.named) == *column).count().to_string())
            .collect();
        let among = group.iter().filter(|o| o.among).count();
        println!(
            "| {row} | {} | {} | {:.1} % |",
            group.len(),
            counts.join(" | "),
            100.0 * among as f64 / group.len() as f64
        );
    }
    println!();
}

fn verdicts(outcomes: &[Outcome]) {
    println!(
        "| planted | n | leak | leak or other | no leak seen | at full scale | cannot say | refused |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for kind in KINDS {
        let group: Vec<&Outcome> = outcomes.iter().filter(|o| o.kind == kind).collect();
        let of = |verdict| group.iter().filter(|o| o.verdict == verdict).count();
        println!(
            "| {kind:?} | {} | {} | {} | {} | {} | {} | {} |",
            group.len(),
            of(Some(Verdict::Leak)),
            of(Some(Verdict::LeakOrOther)),
            of(Some(Verdict::NoLeakSeen)),
            of(Some(Verdict::AtFullScale)),
            of(Some(Verdict::CannotSay)),
            of(None)
        );
    }
    let wrong = outcomes.iter().filter(|o| o.falsely_excluded).count();
    let leaking = outcomes.iter().filter(|o| o.leak_pa_per_s > 0.0).count();
    println!("\nleaks within a range said to be excluded: {wrong} of {leaking}\n");
}

/// Share of successes with its simulation error, percent.
fn percent(n: usize, of: usize) -> String {
    if of == 0 {
        return "-".to_owned();
    }
    let share = n as f64 / of as f64;
    let error = (share * (1.0 - share) / of as f64).sqrt();
    format!("{:.1} ± {:.1} %", 100.0 * share, 100.0 * error)
}

fn coverage(outcomes: &[Outcome]) {
    println!(
        "| planted | two-sided | holds | truth below | above | at most | holds | no rate said | sizes | hold |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for kind in KINDS {
        let group: Vec<&Outcome> = outcomes.iter().filter(|o| o.kind == kind).collect();
        let said = |one_sided: bool| -> Vec<(f64, LeakRate)> {
            group
                .iter()
                .filter_map(|o| Some((o.leak_pa_per_s, o.interval?)))
                .filter(|(_, rate)| rate.one_sided == one_sided)
                .collect()
        };
        let (two, most) = (said(false), said(true));
        let below = two.iter().filter(|(truth, rate)| *truth < rate.lower_pa_per_s).count();
        let above = two.iter().filter(|(truth, rate)| *truth > rate.upper_pa_per_s).count();
        let within = most.iter().filter(|(truth, rate)| *truth <= rate.upper_pa_per_s).count();
        let sized: Vec<bool> = group.iter().filter_map(|o| o.sized).collect();
        println!(
            "| {kind:?} | {} | {} | {below} | {above} | {} | {} | {} | {} | {} |",
            two.len(),
            percent(two.len() - below - above, two.len()),
            most.len(),
            percent(within, most.len()),
            group.len() - two.len() - most.len(),
            sized.len(),
            percent(sized.iter().filter(|ok| **ok).count(), sized.len())
        );
    }
}
