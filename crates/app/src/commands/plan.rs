//! `isobar plan`: units, order, codes and criteria of a study.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use study::forecast::{Forecast, ForecastSettings};
use study::plan::{Plan, PlanSettings, blinding_codes, plan_runs};
use study::unit_class::RunClass;
use study::{CaseInput, Note};

use super::case_source::{CaseSource, Found, Stored};
use super::forecast::forecast_with_bar;
use super::records::acting::Acting;
use super::{files, labels};
use crate::answer::{Answer, optional};
use crate::clock;
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
    /// Ages at which aged controls are tested, days since filling, such as 0,30,90.
    #[arg(long, value_name = "DAYS", value_delimiter = ',')]
    pub ages_days: Vec<u32>,
    /// Aged controls with a leak; half as many without one go with them.
    #[arg(long, default_value_t = 10)]
    pub aged_units: u32,
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
            ages_days: self.ages_days.clone(),
            aged_units: self.aged_units,
        }
    }
}

/// Units, order, codes and criteria of a study.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar plan examples/lyophilised_vial.toml
  isobar plan --benchbook demo/demo.benchbook --case lyo-2r -o lyo-sheets

Each day opens with blanks, then flow challenges (a known flow beside a unit without a leak, and the
standard shut): they calibrate the reading and set no limit. --ages-days adds units that are tested
again as they age: whether leaks close.

With -o DIR it writes run_sheet.csv (for the analyst: order, day, code), labels.html (to be printed:
a code for every unit and nothing of what it is), key.csv (which unit each code is; keep it away from
the analyst) and criteria.txt. With --fix the plan and its criteria go into the benchbook with the
moment at which they were fixed, and run sheet, labels and criteria are attached; a case that has
runs already is refused.")]
pub struct PlanStudy {
    #[command(flatten)]
    source: CaseSource,
    /// Folder for the run sheet, the labels, the key and the criteria.
    #[arg(long, short, value_name = "DIR")]
    output: Option<PathBuf>,
    /// Fix the plan and its criteria in the benchbook, before the first run.
    #[arg(long, requires = "benchbook")]
    fix: bool,
    #[command(flatten)]
    units: Units,
    #[command(flatten)]
    acting: Acting,
}

/// Forecasts a case and plans its study; a forecast that the case has stays.
pub fn planned(source: &Found, units: &Units) -> Result<(Forecast, Plan), Fault> {
    let input = source.input();
    let settings = ForecastSettings { seed: units.seed, ..ForecastSettings::default() };
    let forecast = match source.stored().and_then(|stored| stored.case.forecast.clone()) {
        Some(forecast) => forecast,
        None => forecast_with_bar(input, &settings)?,
    };
    let plan = plan_runs(input, &forecast, &units.settings());
    if plan.runs.is_empty() {
        return Err(Fault::users(
            format!("the plan of case `{}` has no runs", input.id),
            "ask for blanks, negative controls or positive controls",
        ));
    }
    Ok((forecast, plan))
}

/// Runs the command.
pub fn run(command: &PlanStudy) -> Result<Answer, Fault> {
    let source = command.source.find(command.fix.then_some(&command.acting))?;
    if let Some(stored) = source.stored().filter(|_| command.fix) {
        refuse_after_the_first_run(stored)?;
    }
    let (forecast, plan) = planned(&source, &command.units)?;
    let input = source.input();
    let codes = blinding_codes(&plan);
    let moment = clock::moment();
    let fixed_at = command.fix.then_some(moment.utc.as_str());
    let mut text = text(input, &plan);
    let papers = papers(input, &plan, &codes, &moment.utc, command.fix);
    let mut written = Vec::new();
    if let Some(folder) = &command.output {
        std::fs::create_dir_all(folder).map_err(|error| Fault::cannot_write(folder, &error))?;
        for (name, content) in &papers {
            let path = folder.join(name);
            files::write_whole(&path, content.as_bytes())?;
            written.push(path.display().to_string());
        }
        text.push_str(&format!("\nWritten: {}\n", written.join(", ")));
    }
    if let Some(stored) = source.stored().filter(|_| command.fix) {
        stored.wait(fix(stored, &forecast, &plan, &papers))?;
        text.push_str(&format!(
            "\nPlan and criteria are fixed in the benchbook since {}.\n",
            moment.utc
        ));
    }
    let mut notes = plan.notes.clone();
    if !command.fix {
        notes.push(Note::remark(
            "fix-before-first-run",
            "criteria count only if they are fixed, dated and signed before the first run",
            "sign the protocol, or fix the plan in a benchbook with --fix; then open the key only \
             after the last run",
        ));
    }
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
                "age_days": run.class.age_days(),
            })
        })
        .collect();
    let answer = json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "seed": plan.seed,
        "criteria": plan.criteria.iter().map(|criterion| json!({
            "code": criterion.code,
            "sentence": criterion.sentence,
        })).collect::<Value>(),
        "runs": runs,
        "files": written,
        "fixed_at": fixed_at,
    });
    source.close();
    Ok(Answer::new(text, answer, notes))
}

/// Criteria that are written after a run are no criteria.
fn refuse_after_the_first_run(stored: &Stored) -> Result<(), Fault> {
    let n = stored.case.runs.len();
    if n == 0 {
        return Ok(());
    }
    Err(Fault::users(
        format!(
            "case `{}` has {n} runs already, so a plan fixed now would not be fixed beforehand",
            stored.case.input.id
        ),
        "plan a new study as a case of its own; leave out --fix to look at a plan",
    ))
}

/// Every paper of the plan by the name of its file.
fn papers(
    input: &CaseInput,
    plan: &Plan,
    codes: &[String],
    moment: &str,
    fixed: bool,
) -> [(&'static str, String); 4] {
    [
        ("run_sheet.csv", run_sheet(plan, codes)),
        ("labels.html", labels::page(&input.id, input.invented, plan, codes)),
        ("key.csv", key(plan, codes)),
        ("criteria.txt", criteria_text(input, plan, moment, fixed)),
    ]
}

/// Records forecast and plan and attaches what the analyst gets: never the key.
async fn fix(
    stored: &Stored,
    forecast: &Forecast,
    plan: &Plan,
    papers: &[(&'static str, String)],
) -> Result<(), benchbook::BenchbookError> {
    let (book, id) = (&stored.book, &stored.case.input.id);
    if stored.case.forecast.is_none() {
        book.record_forecast(id, forecast, &clock::moment()).await?;
    }
    book.record_plan(id, plan, &clock::moment()).await?;
    for (name, content) in papers.iter().filter(|(name, _)| *name != "key.csv") {
        let note = "fixed with the plan, before the first run";
        book.attach(id, name, note, content.as_bytes(), &clock::moment()).await?;
    }
    Ok(())
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
    rows.sort_by(|a, b| a.0.table_order(&b.0));
    rows.into_iter()
        .map(|(class, count)| {
            let size = match (class.size_um(), class.flow_pa_m3_per_s()) {
                (Some(um), _) => format!("{} µm", digits(um, 3)),
                (None, Some(flow)) => format!("{} Pa·m³/s", digits(flow, 2)),
                (None, None) => "-".to_owned(),
            };
            vec![class.words(), size, count.to_string()]
        })
        .collect()
}

fn text(input: &CaseInput, plan: &Plan) -> String {
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    let days =
        plan.runs.iter().map(|run| run.day).collect::<std::collections::BTreeSet<u32>>().len();
    text.push_str(&format!("{} runs over {days} days:\n", plan.runs.len()));
    text.push_str(&table(&["kind", "size, flow-equivalent", "runs"], &counts(plan)));
    text.push_str("\nAcceptance criteria:\n");
    for criterion in &plan.criteria {
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

pub fn key(plan: &Plan, codes: &[String]) -> String {
    let mut text = "code,unit,class,size_flow_equivalent_um,flow_pa_m3_per_s,age_days\n".to_owned();
    for (run, code) in plan.runs.iter().zip(codes) {
        let size = run.class.size_um().map_or_else(String::new, |um| um.to_string());
        let flow = run.class.flow_pa_m3_per_s().map_or_else(String::new, |flow| flow.to_string());
        let age = run.class.age_days().map_or_else(String::new, |days| days.to_string());
        text.push_str(&format!("{code},{},{},{size},{flow},{age}\n", run.unit, run.class.word()));
    }
    text
}

pub fn criteria_text(input: &CaseInput, plan: &Plan, moment: &str, fixed: bool) -> String {
    let mut text = format!(
        "Acceptance criteria of the study of case {}\n{}\n\nSeed of order and codes: {}\nRuns: {}\n\n",
        input.id,
        input.title,
        plan.seed,
        plan.runs.len()
    );
    for (index, criterion) in plan.criteria.iter().enumerate() {
        text.push_str(&format!("{}. {} [{}]\n", index + 1, criterion.sentence, criterion.code));
    }
    text.push_str(&format!(
        "\n{} {moment} by the clock of this computer.\n",
        if fixed { "Fixed in the benchbook" } else { "Written" }
    ));
    text.push_str("\nFixed before the first run, by:                          date:\n");
    text
}
