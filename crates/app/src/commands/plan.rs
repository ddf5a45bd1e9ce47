//! `isobar plan`: units, order, codes and criteria of a study.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use study::criteria::{Criterion, criteria};
use study::forecast::{Forecast, ForecastSettings};
use study::plan::{Plan, PlanSettings, blinding_codes, plan_runs};
use study::unit_class::RunClass;
use study::{CaseInput, Note};

use super::files;
use super::forecast::{forecast_with_bar, read_case};
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::table_text::{digits, table};

/// How many units of each kind, and over how many days.
#[derive(Args)]
pub struct Units {
    /// Days over which the runs are spread.
    #[arg(long, default_value_t = 3)]
    pub days: u32,
    /// Blanks on each day.
    #[arg(long, default_value_t = 3)]
    pub blanks_per_day: u32,
    /// Negative controls in all.
    #[arg(long, default_value_t = 60)]
    pub negative_controls: u32,
    /// Sizes of positive control over the transition.
    #[arg(long, default_value_t = 8)]
    pub sizes: u32,
    /// Units of each of these sizes.
    #[arg(long, default_value_t = 8)]
    pub units_per_size: u32,
    /// Units of each size above the transition.
    #[arg(long, default_value_t = 4)]
    pub units_per_large_size: u32,
    /// Flows of the flow calibration above zero; 0 leaves it out.
    #[arg(long, default_value_t = 4)]
    pub flow_levels: u32,
    /// Challenges at each flow, and with the standard shut.
    #[arg(long, default_value_t = 3)]
    pub challenges_per_flow: u32,
    /// Seed of the random order and of the codes.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

impl Units {
    /// As the settings of a plan.
    pub fn settings(&self) -> PlanSettings {
        PlanSettings {
            seed: self.seed,
            days: self.days,
            blanks_per_day: self.blanks_per_day,
            negative_controls: self.negative_controls,
            sizes: self.sizes,
            units_per_size: self.units_per_size,
            units_per_large_size: self.units_per_large_size,
            flow_levels: self.flow_levels,
            challenges_per_flow: self.challenges_per_flow,
        }
    }
}

/// Units, order, codes and criteria of a study.
#[derive(Args)]
#[command(after_help = "Example:
  isobar plan examples/lyophilised_vial.toml

Each day opens with blanks, then flow challenges (a known flow beside a unit without a leak, and the
standard shut): they calibrate the reading and set no limit.

With -o DIR it writes run_sheet.csv (for the analyst: order, day, code), key.csv (which unit each
code is; keep it away from the analyst) and criteria.txt (fixed before the first run).")]
pub struct PlanStudy {
    /// Case file (TOML).
    case: PathBuf,
    /// Folder for the run sheet, the key and the criteria.
    #[arg(long, short, value_name = "DIR")]
    output: Option<PathBuf>,
    #[command(flatten)]
    units: Units,
}

/// Forecasts a case and plans its study.
pub fn planned(
    path: &std::path::Path,
    units: &Units,
) -> Result<(CaseInput, Forecast, Plan), Fault> {
    let input = read_case(path)?;
    let settings = ForecastSettings { seed: units.seed, ..ForecastSettings::default() };
    let forecast = forecast_with_bar(&input, &settings)?;
    let plan = plan_runs(&input, &forecast, &units.settings());
    if plan.runs.is_empty() {
        return Err(Fault::users(
            format!("the plan of case `{}` has no runs", input.id),
            "ask for blanks, negative controls or positive controls",
        ));
    }
    Ok((input, forecast, plan))
}

/// Runs the command.
pub fn run(command: &PlanStudy) -> Result<Answer, Fault> {
    let (input, forecast, plan) = planned(&command.case, &command.units)?;
    let wanted = criteria(&input, &forecast, &plan);
    let codes = blinding_codes(&plan);
    let mut text = text(&input, &plan, &wanted);
    let mut written = Vec::new();
    if let Some(folder) = &command.output {
        std::fs::create_dir_all(folder).map_err(|error| Fault::cannot_write(folder, &error))?;
        for (name, content) in [
            ("run_sheet.csv", run_sheet(&plan, &codes)),
            ("key.csv", key(&plan, &codes)),
            ("criteria.txt", criteria_text(&input, &plan, &wanted)),
        ] {
            let path = folder.join(name);
            files::write_whole(&path, content.as_bytes())?;
            written.push(path.display().to_string());
        }
        text.push_str(&format!("\nWritten: {}\n", written.join(", ")));
    }
    let mut notes = plan.notes.clone();
    notes.push(Note::remark(
        "fix-before-first-run",
        "criteria count only if they are fixed, dated and signed before the first run",
        "sign the protocol; then open the key only after the last run",
    ));
    let runs: Value = plan
        .runs
        .iter()
        .zip(&codes)
        .map(|(run, code)| {
            json!({
                "number": run.number,
                "day": run.day,
                "code": code,
                "unit": run.unit,
                "class": run.class.word(),
                "size_flow_equivalent_um": optional(run.class.size_um()),
                "flow_pa_m3_per_s": optional(run.class.flow_pa_m3_per_s()),
            })
        })
        .collect();
    let answer = json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "seed": plan.seed,
        "criteria": wanted.iter().map(|criterion| json!({
            "code": criterion.code,
            "sentence": criterion.sentence,
        })).collect::<Value>(),
        "runs": runs,
        "files": written,
    });
    Ok(Answer::new(text, answer, notes))
}

/// Numbers of units by kind and size, in the order of a table.
pub fn counts(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows: Vec<(RunClass, usize)> = Vec::new();
    for run in &plan.runs {
        match rows.iter_mut().find(|row| row.0 == run.class) {
            Some(row) => row.1 += 1,
            None => rows.push((run.class, 1)),
        }
    }
    rows.sort_by(|a, b| {
        let order = |class: RunClass| {
            let size = class.size_um().or(class.flow_pa_m3_per_s());
            (class.word().len(), size.unwrap_or(0.0))
        };
        order(a.0).partial_cmp(&order(b.0)).unwrap_or(std::cmp::Ordering::Equal)
    });
    rows.into_iter()
        .map(|(class, count)| {
            let size = match (class.size_um(), class.flow_pa_m3_per_s()) {
                (Some(um), _) => format!("{} µm", digits(um, 3)),
                (None, Some(flow)) => format!("{} Pa·m³/s", digits(flow, 2)),
                (None, None) => "-".to_owned(),
            };
            vec![class.word().to_owned(), size, count.to_string()]
        })
        .collect()
}

fn text(input: &CaseInput, plan: &Plan, wanted: &[Criterion]) -> String {
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    let days = plan.runs.iter().map(|run| run.day).max().unwrap_or(0);
    text.push_str(&format!("{} runs over {days} days:\n", plan.runs.len()));
    text.push_str(&table(&["kind", "size, flow-equivalent", "runs"], &counts(plan)));
    text.push_str("\nAcceptance criteria:\n");
    for criterion in wanted {
        text.push_str(&format!("  {}: {}\n", criterion.code, criterion.sentence));
    }
    text
}

/// The sheet of the analyst: order, day and code, without what a unit is.
pub fn run_sheet(plan: &Plan, codes: &[String]) -> String {
    let mut text = "number,day,code,rig,operator,started,reading,remarks\n".to_owned();
    for (run, code) in plan.runs.iter().zip(codes) {
        text.push_str(&format!("{},{},{code},,,,,\n", run.number, run.day));
    }
    text
}

/// Which unit each code is.
pub fn key(plan: &Plan, codes: &[String]) -> String {
    let mut text = "code,unit,class,size_flow_equivalent_um,flow_pa_m3_per_s\n".to_owned();
    for (run, code) in plan.runs.iter().zip(codes) {
        let size = run.class.size_um().map_or_else(String::new, |um| um.to_string());
        let flow = run.class.flow_pa_m3_per_s().map_or_else(String::new, |flow| flow.to_string());
        text.push_str(&format!("{code},{},{},{size},{flow}\n", run.unit, run.class.word()));
    }
    text
}

/// The criteria as a text to be dated before the first run.
pub fn criteria_text(input: &CaseInput, plan: &Plan, wanted: &[Criterion]) -> String {
    let mut text = format!(
        "Acceptance criteria of the study of case {}\n{}\n\nSeed of order and codes: {}\nRuns: {}\n\n",
        input.id,
        input.title,
        plan.seed,
        plan.runs.len()
    );
    for (index, criterion) in wanted.iter().enumerate() {
        text.push_str(&format!("{}. {} [{}]\n", index + 1, criterion.sentence, criterion.code));
    }
    text.push_str("\nFixed before the first run, by:                          date:\n");
    text
}
