//! Dirty and hostile files: every family of the catalogue with generated
//! files, the message that is expected, and its place. What is read must be
//! the truth to the last bit; what is not read must say why and where.

mod dirty_files {
    pub mod catalogue;
    pub mod channels;
    pub mod content;
    pub mod sampling;
    mod side_by_side;
    pub mod truth;
    pub mod writing;
}

use std::collections::BTreeSet;

use dirty_files::catalogue::{Expected, NOT_HERE, catalogue};
use dirty_files::truth::{N, dialects, pressures_pa, times_s};
use intake::plan_file::read_plan;
use intake::reading_plan::ReadingPlan;
use intake::trace_file::read_traces;
use intake::{Message, Refusal};

#[test]
fn one_truth_in_every_dialect_is_read_to_the_same_bits() {
    let all = dialects();
    assert!(all.len() >= 20);
    for dialect in all {
        let file = read_traces(&dialect.file(&dialect.rows()), &ReadingPlan::default())
            .unwrap_or_else(|refusal| panic!("{}: {refusal}", dialect.name));
        assert_eq!(file.traces.len(), 1, "{}", dialect.name);
        let trace = &file.traces[0].trace;
        assert_eq!(trace.n_samples(), N, "{}", dialect.name);
        assert_eq!(trace.times_s, times_s(), "{}", dialect.name);
        assert_eq!(trace.pressures_pa, pressures_pa(), "{}", dialect.name);
    }
}

#[test]
fn the_agreed_plan_reads_every_dialect_again_and_the_same() {
    for dialect in dialects() {
        let bytes = dialect.file(&dialect.rows());
        let first = read_traces(&bytes, &ReadingPlan::default()).unwrap();
        let plan = read_plan(&intake::plan_file::write_plan(&first.plan)).unwrap();
        let again = read_traces(&bytes, &plan)
            .unwrap_or_else(|refusal| panic!("{}: {refusal}", dialect.name));
        assert_eq!(again.traces[0].trace, first.traces[0].trace, "{}", dialect.name);
        assert_eq!(again.plan, first.plan, "{}", dialect.name);
    }
}

fn codes(messages: &[Message]) -> BTreeSet<&'static str> {
    messages.iter().map(|message| message.code).collect()
}

#[test]
fn every_family_gives_its_message() {
    let mut wrong = Vec::new();
    let mut families = BTreeSet::new();
    let all = catalogue();
    for case in &all {
        families.insert(case.family);
        let plan =
            read_plan(case.plan).unwrap_or_else(|refusal| panic!("{}: {refusal}", case.name));
        let found = read_traces(&case.bytes, &plan);
        if let Err(fault) = check(&case.expected, found) {
            wrong.push(format!("family {} {}: {fault}", case.family, case.name));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), all.len(), wrong.join("\n"));
    for family in 1..=58 {
        let elsewhere = NOT_HERE.iter().any(|&(number, _)| number == family);
        assert!(families.contains(&family) != elsewhere, "family {family}");
    }
    assert!(all.len() >= 300, "{} files", all.len());
}

fn check(
    expected: &Expected,
    found: Result<intake::trace_file::TraceFile, Refusal>,
) -> Result<(), String> {
    match (expected, found) {
        (Expected::Refused { code, line, column }, Err(refusal)) => {
            let first = refusal.first();
            let place = (first.place.line, first.place.column);
            let fits = first.code == *code
                && (line.is_none() || place.0 == *line)
                && (column.is_none() || place.1 == *column);
            if !fits {
                return Err(format!("expected {code} at {line:?} {column:?}: {refusal}"));
            }
            if first.next_step.is_empty() {
                return Err(format!("no next step: {refusal}"));
            }
            Ok(())
        }
        (Expected::Refused { code, .. }, Ok(file)) => {
            Err(format!("expected {code}, was read: {:?}", file.messages))
        }
        (Expected::Said { code, line, column, is_truth }, Ok(file)) => {
            let place = (Some(*line), Some(*column));
            let said = file.messages.iter().chain(file.traces.iter().flat_map(|t| &t.messages));
            let at_place = |message: &&Message| {
                message.code == *code && (message.place.line, message.place.column) == place
            };
            if said.clone().find(at_place).is_none() {
                let all: Vec<String> = said.map(ToString::to_string).collect();
                return Err(format!("{code} at {line}, {column} is missing: {all:?}"));
            }
            let trace = &file.traces[0].trace;
            let same = trace.pressures_pa == pressures_pa() && trace.times_s == times_s();
            if *is_truth && !same { Err("not the truth".to_owned()) } else { Ok(()) }
        }
        (Expected::Read { .. } | Expected::Said { .. } | Expected::Runs { .. }, Err(refusal)) => {
            Err(format!("was refused: {refusal}"))
        }
        (Expected::Read { code, is_truth }, Ok(file)) => {
            let mut messages = file.messages.clone();
            messages.extend(file.traces.iter().flat_map(|trace| trace.messages.iter().cloned()));
            if !code.is_empty() && !codes(&messages).contains(code) {
                return Err(format!("{code} is missing: {:?}", codes(&messages)));
            }
            let trace = &file.traces[0].trace;
            if *is_truth && (trace.pressures_pa != pressures_pa() || trace.times_s != times_s()) {
                return Err(format!("not the truth: {:?} {:?}", trace.times_s, trace.pressures_pa));
            }
            Ok(())
        }
        (Expected::Runs { names }, Ok(file)) => {
            let found: Vec<&str> = file.traces.iter().map(|trace| trace.run.as_str()).collect();
            if found != *names {
                return Err(format!("runs {found:?}"));
            }
            let truth = (times_s(), pressures_pa());
            let same = file
                .traces
                .iter()
                .all(|run| (run.trace.times_s.clone(), run.trace.pressures_pa.clone()) == truth);
            if same { Ok(()) } else { Err("a run is not the truth".to_owned()) }
        }
    }
}

/// A file cut anywhere is refused, or its samples are the first of the truth
/// and, unless it was cut at a line end, something is said.
#[test]
fn a_file_cut_anywhere_never_gives_a_wrong_number() {
    let (times, pressures) = (times_s(), pressures_pa());
    for dialect in dialects() {
        let bytes = dialect.file(&dialect.rows());
        for length in 0..bytes.len() {
            let cut = &bytes[..length];
            let Ok(file) = read_traces(cut, &ReadingPlan::default()) else { continue };
            let trace = &file.traces[0].trace;
            let n = trace.n_samples();
            // The last sample may be cut short, which is then said.
            let whole = n - 1;
            assert_eq!(trace.times_s[..whole], times[..whole], "{} cut at {length}", dialect.name);
            assert_eq!(
                trace.pressures_pa[..whole],
                pressures[..whole],
                "{} cut at {length}",
                dialect.name
            );
            let same = trace.times_s[whole] == times[whole]
                && trace.pressures_pa[whole] == pressures[whole];
            let is_said = file.messages.iter().any(|message| message.code == "INT-045");
            assert!(same || is_said, "{} cut at {length}: {:?}", dialect.name, file.messages);
        }
    }
}

/// Every single bit of some files turned: never a panic, never a value that is
/// not a number, never time that runs backward.
#[test]
fn a_turned_bit_never_gives_what_is_no_trace() {
    for dialect in dialects().into_iter().step_by(4) {
        let bytes = dialect.file(&dialect.rows()[..12]);
        for index in 0..bytes.len() * 8 {
            let mut turned = bytes.clone();
            turned[index / 8] ^= 1 << (index % 8);
            let Ok(file) = read_traces(&turned, &ReadingPlan::default()) else { continue };
            for imported in &file.traces {
                let trace = &imported.trace;
                assert_eq!(trace.times_s.len(), trace.pressures_pa.len());
                assert!(trace.times_s.windows(2).all(|pair| pair[0] <= pair[1]));
                assert!(
                    trace
                        .pressures_pa
                        .iter()
                        .all(|pressure| pressure.is_finite() && *pressure >= 0.0)
                );
            }
        }
    }
}
