//! From tables back to runs.

use std::collections::BTreeMap;

use study::Run;
use study::run_factors::{LeakSide, RunFactors};
use study::runs::{Ended, RunClass, RunOrigin};
use study::trace::{PressureTrace, Stage, StageSpan};
use study::trace_features::TraceFeatures;

use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::result_table::Table;

/// Runs from the three tables that [`grids_of_runs`](super::grids_of_runs)
/// gave, in whatever format they were written between; samples and stages may
/// be absent.
///
/// # Errors
/// Refuses missing columns, cells that are not what they should be, and
/// samples or stages of a run that the first table does not have.
pub fn runs_from_tables(
    runs: &Table,
    samples: Option<&Table>,
    stages: Option<&Table>,
) -> Result<Vec<Run>, Refusal> {
    let mut traces = samples.map(traces).transpose()?.unwrap_or_default();
    if let Some(table) = stages {
        add_stages(table, &mut traces)?;
    }
    let columns = Columns::of(runs)?;
    let mut found = Vec::with_capacity(runs.rows.len());
    for row in 0..runs.rows.len() {
        let number = columns.whole(runs, "run", row)?;
        found.push(Run {
            number,
            unit: columns.word("unit", row).to_owned(),
            class: columns.class(runs, row)?,
            day: columns.whole(runs, "day", row)?,
            factors: columns.factors(runs, row)?,
            ended: columns.ended(runs, row)?,
            features: columns.features(runs, row)?,
            trace: traces.remove(&number).unwrap_or_default(),
            origin: columns.origin(runs, row)?,
        });
    }
    match traces.keys().next() {
        None => Ok(found),
        Some(number) => Err(Message::refused(
            codes::TABLE_CELL,
            format!("There are samples of run {number}, which the table of runs does not have"),
        )
        .done("Nothing was read.")
        .next("Take the three tables from one export.")
        .into()),
    }
}

/// Columns of the table of runs.
struct Columns<'a> {
    words: BTreeMap<&'static str, Vec<&'a str>>,
    numbers: BTreeMap<&'static str, Vec<Option<f64>>>,
}

/// Flow of a flow challenge.
const FLOW: &str = "flow_pa_m3_per_s";
const AGE: &str = "age_days";
/// Rise up to the end of the range of the gauge, where it was full.
const AT_LEAST: &str = "rise_at_least_pa";
/// Columns that tables written before did not have.
const FACTORS: [&str; 6] = ["operator", "rig", "lot", "side", "defect", "standard"];
const WORDS: [&str; 7] =
    ["unit", "class", "ended", "abort_cause", "origin_file", "origin_sha256", "origin_seed"];
const NUMBERS: [&str; 14] = [
    "run",
    "nominal_um",
    "verified_um",
    "day",
    "ended_in_tier",
    "tier",
    "reach_pa",
    "level_start_pa",
    "level_end_pa",
    "rise_pa",
    "slope_pa_per_s",
    "slope_standard_error_pa_per_s",
    "noise_pa",
    "n_samples",
];

impl<'a> Columns<'a> {
    fn of(table: &'a Table) -> Result<Self, Refusal> {
        let mut columns = Self { words: BTreeMap::new(), numbers: BTreeMap::new() };
        for name in WORDS {
            columns.words.insert(name, table.words(name)?);
        }
        for name in NUMBERS {
            columns.numbers.insert(name, table.optional_numbers(name)?);
        }
        // Tables written before there were flow challenges do not have it; a
        // Parquet file carries its unit beside the name.
        let flow = table.columns.iter().find(|name| name.split(' ').next() == Some(FLOW));
        if let Some(name) = flow {
            columns.numbers.insert(FLOW, table.optional_numbers(name)?);
        }
        for name in [AGE, AT_LEAST] {
            if table.columns.iter().any(|column| column == name) {
                columns.numbers.insert(name, table.optional_numbers(name)?);
            }
        }
        for name in FACTORS {
            if table.columns.iter().any(|column| column == name) {
                columns.words.insert(name, table.words(name)?);
            }
        }
        Ok(columns)
    }

    fn factors(&self, table: &Table, row: usize) -> Result<RunFactors, Refusal> {
        let word = |name: &str| self.word(name, row).to_owned();
        let side = match self.word("side", row) {
            "" => None,
            word => Some(
                LeakSide::from_word(word)
                    .ok_or_else(|| wrong(table, row, "side", "is neither gas nor liquid"))?,
            ),
        };
        Ok(RunFactors {
            operator: word("operator"),
            rig: word("rig"),
            lot: word("lot"),
            side,
            defect: word("defect"),
            standard: word("standard"),
        })
    }

    fn word(&self, name: &str, row: usize) -> &'a str {
        self.words.get(name).map_or("", |words| words[row])
    }

    fn number(&self, name: &str, row: usize) -> Option<f64> {
        self.numbers.get(name).and_then(|numbers| numbers[row])
    }

    fn needed(&self, table: &Table, name: &str, row: usize) -> Result<f64, Refusal> {
        self.number(name, row).ok_or_else(|| wrong(table, row, name, "is empty"))
    }

    fn whole<T: TryFrom<u64>>(&self, table: &Table, name: &str, row: usize) -> Result<T, Refusal> {
        let value = self.needed(table, name, row)?;
        let is_whole = (0.0..=9.0e15).contains(&value) && value.fract() == 0.0;
        let whole = is_whole.then_some(value as u64).and_then(|value| T::try_from(value).ok());
        whole.ok_or_else(|| wrong(table, row, name, "is no whole number that fits here"))
    }

    fn class(&self, table: &Table, row: usize) -> Result<RunClass, Refusal> {
        match self.word("class", row) {
            "blank" => Ok(RunClass::Blank),
            "negative control" => Ok(RunClass::NegativeControl),
            "positive control" => Ok(RunClass::PositiveControl {
                nominal_um: self.needed(table, "nominal_um", row)?,
                verified_um: self.number("verified_um", row),
            }),
            "flow challenge" => {
                Ok(RunClass::FlowChallenge { flow_pa_m3_per_s: self.needed(table, FLOW, row)? })
            }
            "aged control" => Ok(RunClass::AgedControl {
                nominal_um: self.number("nominal_um", row),
                age_days: self.whole(table, AGE, row)?,
            }),
            _ => Err(wrong(
                table,
                row,
                "class",
                "is none of blank, negative control, positive control, flow challenge or aged \
                 control",
            )),
        }
    }

    fn ended(&self, table: &Table, row: usize) -> Result<Ended, Refusal> {
        match self.word("ended", row) {
            "completed" => Ok(Ended::Completed),
            "reach limit" => {
                Ok(Ended::ReachLimit { tier: self.whole(table, "ended_in_tier", row)? })
            }
            "rise limit" => Ok(Ended::RiseLimit { tier: self.whole(table, "ended_in_tier", row)? }),
            "gauge full" => {
                Ok(Ended::GaugeFull { at_least_pa: self.needed(table, AT_LEAST, row)? })
            }
            "aborted" => Ok(Ended::Aborted { cause: self.word("abort_cause", row).to_owned() }),
            _ => Err(wrong(
                table,
                row,
                "ended",
                "is none of completed, reach limit, rise limit, gauge full or aborted",
            )),
        }
    }

    fn features(&self, table: &Table, row: usize) -> Result<Option<TraceFeatures>, Refusal> {
        if self.number("tier", row).is_none() {
            return Ok(None);
        }
        Ok(Some(TraceFeatures {
            tier: self.whole(table, "tier", row)?,
            reach_pa: self.number("reach_pa", row),
            level_start_pa: self.needed(table, "level_start_pa", row)?,
            level_end_pa: self.needed(table, "level_end_pa", row)?,
            rise_pa: self.needed(table, "rise_pa", row)?,
            slope_pa_per_s: self.number("slope_pa_per_s", row),
            slope_standard_error: self.number("slope_standard_error_pa_per_s", row),
            noise_pa: self.number("noise_pa", row),
            n_samples: self.whole::<u64>(table, "n_samples", row)? as usize,
        }))
    }

    fn origin(&self, table: &Table, row: usize) -> Result<RunOrigin, Refusal> {
        let seed = self.word("origin_seed", row);
        if seed.is_empty() {
            return Ok(RunOrigin::Imported {
                file: self.word("origin_file", row).to_owned(),
                sha256: self.word("origin_sha256", row).to_owned(),
            });
        }
        seed.strip_prefix("seed ")
            .and_then(|digits| digits.parse().ok())
            .map(|seed| RunOrigin::Simulated { seed })
            .ok_or_else(|| wrong(table, row, "origin_seed", "is no seed"))
    }
}

fn wrong(table: &Table, row: usize, name: &str, what: &str) -> Refusal {
    let column = table.columns.iter().position(|column| column == name);
    let shown = column.map_or_else(String::new, |column| quoted(&table.rows[row][column]));
    let mut message = Message::refused(codes::TABLE_CELL, format!("{shown} {what}"))
        .at_line(table.lines[row])
        .done("Nothing was read.")
        .next("Take the table from an export without changes.");
    message.place.column = column.map(|column| column as u64 + 1);
    message.place.column_name = Some(name.to_owned());
    message.into()
}

fn traces(table: &Table) -> Result<BTreeMap<u32, PressureTrace>, Refusal> {
    let runs = table.numbers("run")?;
    let times = table.numbers("time_s")?;
    let pressures = table.optional_numbers("pressure_pa")?;
    let temperatures = table.optional_numbers("temperature_k")?;
    let mut traces: BTreeMap<u32, PressureTrace> = BTreeMap::new();
    for row in 0..runs.len() {
        let number = runs[row];
        if !(0.0..=f64::from(u32::MAX)).contains(&number) || number.fract() != 0.0 {
            return Err(wrong(table, row, "run", "is no number of a run"));
        }
        let trace = traces.entry(number as u32).or_default();
        trace.times_s.push(times[row]);
        trace.pressures_pa.extend(pressures[row]);
        trace.temperatures_k.extend(temperatures[row]);
        // A hole would move every later value to an earlier time.
        let n = trace.times_s.len();
        if trace.pressures_pa.len() != n {
            return Err(wrong(table, row, "pressure_pa", "is no pressure"));
        }
        if !trace.temperatures_k.is_empty() && trace.temperatures_k.len() != n {
            return Err(wrong(table, row, "temperature_k", "is a temperature among none"));
        }
    }
    Ok(traces)
}

fn add_stages(table: &Table, traces: &mut BTreeMap<u32, PressureTrace>) -> Result<(), Refusal> {
    let runs = table.numbers("run")?;
    let words = table.words("stage")?;
    let tiers = table.numbers("tier")?;
    let (starts, ends) = (table.numbers("start_s")?, table.numbers("end_s")?);
    for row in 0..runs.len() {
        let stage = [Stage::Evacuate, Stage::Settle, Stage::Measure, Stage::Vent]
            .into_iter()
            .find(|stage| stage.word() == words[row])
            .ok_or_else(|| wrong(table, row, "stage", "is no stage"))?;
        if !(0.0..=65_535.0).contains(&tiers[row]) {
            return Err(wrong(table, row, "tier", "is no tier"));
        }
        traces.entry(runs[row] as u32).or_default().stages.push(StageSpan {
            stage,
            tier: tiers[row] as u16,
            start_s: starts[row],
            end_s: ends[row],
        });
    }
    Ok(())
}
