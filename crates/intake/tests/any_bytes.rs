//! Whatever comes in, every reader answers: it reads or refuses with a code,
//! a reason and a next step, and never panics.

use intake::case_file::read_case;
use intake::delimited::Given;
use intake::plan_file::read_plan;
use intake::reading_plan::ReadingPlan;
use intake::result_table::read_table;
use intake::trace_file::{TraceStream, read_traces};
use intake::written_quantity::{read_any, read_flow, read_target_unit, read_temperature};
use proptest::prelude::*;

/// Pieces of which files are made, good and bad.
const PIECES: &[&str] = &[
    "time_s",
    "p [mbar]",
    "Datetime",
    ",",
    ";",
    "\t",
    "|",
    " ",
    "\n",
    "\r\n",
    "\"",
    "'",
    "0",
    "1.5",
    "1,5",
    "1.299",
    "-999",
    "1e400",
    "nan",
    "OVER",
    "2023-06-15 15:38:01",
    "15-Jun-2023",
    "03/04/2026",
    "12:30",
    "µ",
    "°C",
    "\u{feff}",
    "\u{2212}1",
    "=1+1",
    "#",
    "[",
    "]",
    "=",
    "sep=;",
    "unit",
    "\0",
    "10.5\n11,5",
    "0,1\n1,2\n2,3\n",
    "Max,5\n",
];

fn check(refusal: &intake::Refusal) {
    let first = refusal.first();
    assert!(first.is_refusal() && first.code.starts_with("INT-") && !first.what.is_empty());
    assert!(!first.next_step.is_empty(), "{first}");
}

fn read_everything(bytes: &[u8]) {
    let plans = [
        ReadingPlan::default(),
        read_plan("split_at_restart = true\nmissing = [\"OVER\"]\nover_range = [\"nan\"]\ntime = { rate = 10 }").expect("a plan"),
        read_plan("run = \"unit\"\npressure = [{ column = \"p [mbar]\", unit = \"mbar\", gauge = true }]\nbarometer = \"1013 mbar\"").expect("a plan"),
    ];
    for plan in &plans {
        match read_traces(bytes, plan) {
            Ok(file) => {
                for imported in &file.traces {
                    let trace = &imported.trace;
                    assert_eq!(trace.times_s.len(), trace.pressures_pa.len());
                    assert!(trace.times_s.windows(2).all(|pair| pair[0] <= pair[1]));
                    assert!(trace.pressures_pa.iter().all(|p| p.is_finite() && *p >= 0.0));
                    assert!(trace.temperatures_k.iter().all(|t| t.is_finite()));
                }
            }
            Err(refusal) => check(&refusal),
        }
        let mut stream = TraceStream::new(plan);
        let pushed: Result<Vec<_>, _> = bytes.chunks(7).map(|piece| stream.push(piece)).collect();
        if let Err(refusal) = pushed.map(|_| ()).and_then(|()| stream.finish().map(|_| ())) {
            check(&refusal);
        }
    }
    match read_table(bytes, &Given::default()) {
        Ok(table) => {
            assert!(table.rows.iter().all(|row| row.len() == table.columns.len()));
            for column in &table.columns {
                let numbers = table.numbers(column);
                assert!(
                    numbers.is_err()
                        || numbers.is_ok_and(|values| values.iter().all(|value| value.is_finite()))
                );
            }
        }
        Err(refusal) => check(&refusal),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        read_everything(&bytes);
    }

    #[test]
    fn any_mixture_of_what_files_hold_is_answered(picks in prop::collection::vec(0..PIECES.len(), 0..60)) {
        let text: String = picks.into_iter().map(|pick| PIECES[pick]).collect();
        read_everything(text.as_bytes());
    }

    #[test]
    fn any_text_is_answered_as_a_quantity(text in "\\PC{0,24}") {
        for refused in [read_any(&text).err(), read_flow(&text).err(), read_temperature(&text).err(), read_target_unit(&text).err()].into_iter().flatten() {
            prop_assert!(!refused.what.is_empty() && !refused.hint.is_empty());
        }
    }

    #[test]
    fn any_text_is_answered_as_toml(text in "[a-z_=\\[\\]{}\", 0-9.\n#é-]{0,120}") {
        if let Err(refusal) = read_case(&text) {
            check(&refusal);
        }
        if let Err(refusal) = read_plan(&text) {
            check(&refusal);
        }
    }

    /// A case file with any stretch cut out or doubled is read or refused.
    #[test]
    fn a_damaged_case_file_is_answered(from in 0..2500_usize, length in 0..60_usize, doubled in any::<bool>()) {
        let text = intake::case_file::write_case(&study::worked_cases::syringe());
        let characters: Vec<char> = text.chars().collect();
        let from = from.min(characters.len());
        let to = (from + length).min(characters.len());
        let middle: String = characters[from..to].iter().collect();
        let damaged: String = characters[..from].iter().collect::<String>()
            + &if doubled { middle.repeat(2) } else { String::new() }
            + &characters[to..].iter().collect::<String>();
        if let Err(refusal) = read_case(&damaged) {
            check(&refusal);
            prop_assert!(refusal.first().place.line.is_some());
        }
    }
}
