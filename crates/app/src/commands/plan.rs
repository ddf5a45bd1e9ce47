//! `isobar plan`: units, order, codes and criteria of a study.

use std::path::PathBuf;

use benchbook::Benchbook;
use clap::Args;
use serde_json::{Value, json};
use study::forecast::{Forecast, ForecastSettings};
use study::plan::{Plan, PlanProblem, PlanSettings, blinding_codes, plan_runs};
use study::run_factors::{LeakSide, RunFactors};
use study::unit_class::RunClass;
use study::{Case, CaseInput, Note};

use super::case_source::{CaseSource, Found};
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
    /// Operators among whom the runs are spread.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=20))]
    pub operators: u32,
    /// Rigs among which the runs are spread.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=20))]
    pub rigs: u32,
    /// Lots from which the units come.
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=50))]
    pub lots: u32,
    /// Blanks on each rig on each day.
    #[arg(long, default_value_t = 3)]
    pub blanks_per_day: u32,
    /// Negative controls in all; without it as many as the error rates of the profile ask for.
    #[arg(long)]
    pub negative_controls: Option<u32>,
    /// Sizes of positive control over the transition.
    #[arg(long, default_value_t = 8)]
    pub sizes: u32,
    /// Units of each of these sizes.
    #[arg(long, default_value_t = 8)]
    pub units_per_size: u32,
    /// Units of each size above the transition.
    #[arg(long, default_value_t = 4)]
    pub units_per_large_size: u32,
    /// Units of each size whose leak the liquid covers, where the container holds liquid.
    #[arg(long, default_value_t = 4)]
    pub units_per_liquid_size: u32,
    /// Types of defect among which the positive controls are spread.
    #[arg(long, value_name = "TYPES", value_delimiter = ',')]
    pub defects: Vec<String>,
    /// Flows of the flow calibration above zero; 0 leaves it out.
    #[arg(long, default_value_t = 4)]
    pub flow_levels: u32,
    /// Challenges at each flow, and with the standard shut, on each rig.
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
    /// As the settings of a plan for a case; those that show nothing are refused.
    pub fn settings(&self, input: &CaseInput) -> Result<PlanSettings, Fault> {
        let usual = PlanSettings::for_profile(&input.profile);
        let settings = PlanSettings {
            seed: self.seed,
            days: self.days,
            operators: self.operators,
            rigs: self.rigs,
            lots: self.lots,
            blanks_per_day: self.blanks_per_day,
            negative_controls: self.negative_controls.unwrap_or(usual.negative_controls),
            sizes: self.sizes,
            units_per_size: self.units_per_size,
            units_per_large_size: self.units_per_large_size,
            units_per_liquid_size: self.units_per_liquid_size,
            defects: kinds(&self.defects),
            flow_levels: self.flow_levels,
            challenges_per_flow: self.challenges_per_flow,
            ages_days: self.ages_days.clone(),
            aged_units: self.aged_units,
        };
        settings
            .check(&input.profile)
            .map_err(|problem| Fault::users(problem.to_string(), next(&problem)))?;
        Ok(settings)
    }
}

/// What to do about a plan that was refused.
pub fn next(problem: &PlanProblem) -> &'static str {
    match problem {
        PlanProblem::NoDays => "give at least one day (--days)",
        PlanProblem::NegativeControls { .. } => {
            "leave --negative-controls out for the number that the profile asks for"
        }
        PlanProblem::NoPositiveControls => "give --sizes and --units-per-size",
        PlanProblem::NoChallenges { .. } => {
            "give --challenges-per-flow, or --flow-levels 0 to leave the flow calibration out"
        }
        PlanProblem::TooMany { .. } => "ask for fewer units, or part the study",
    }
}

/// Types as they were written, without blanks at the ends, each once.
pub fn kinds(texts: &[String]) -> Vec<String> {
    let mut kinds: Vec<String> = Vec::new();
    for text in texts.iter().map(|text| text.trim()).filter(|text| !text.is_empty()) {
        if !kinds.iter().any(|kind| kind == text) {
            kinds.push(text.to_owned());
        }
    }
    kinds
}

/// Units, order, codes and criteria of a study.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar plan examples/lyophilised_vial.toml
  isobar plan --benchbook demo/demo.benchbook --case lyo-2r -o lyo-sheets
  isobar plan examples/lyophilised_vial.toml --operators 2 --rigs 2 --lots 3
  isobar plan examples/lyophilised_vial.toml --defects \"laser hole,capillary\"

Each day opens with blanks, then flow challenges (a known flow beside a unit without a leak, and the
standard shut): they calibrate the reading and set no limit. --ages-days adds units that are tested
again as they age: whether leaks close. Operators, rigs and lots (marked O1, R1, L1) are spread so
that none goes with a day or a size; what cannot be told apart is said. A container that holds liquid
gets positive controls whose leak the liquid covers beside those that the gas reaches.

With -o DIR it writes run_sheet.csv (for the analyst: order, day, code, and the
flow where a flow challenge is due), labels.html (to be printed:
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
    let plan_settings = units.settings(input)?;
    let settings = ForecastSettings { seed: units.seed, ..ForecastSettings::default() };
    let forecast = match source.stored().and_then(|stored| stored.case.forecast.clone()) {
        Some(forecast) => forecast,
        None => forecast_with_bar(input, &settings)?,
    };
    let plan = plan_runs(input, &forecast, &plan_settings);
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
        refuse_after_the_first_run(&stored.case)?;
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
        let of_case = stored.case.forecast.is_none().then_some(&forecast);
        stored.wait(fix(&stored.book, &input.id, of_case, &plan, &papers))?;
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
                "operator": run.factors.operator,
                "rig": run.factors.rig,
                "lot": run.factors.lot,
                "side": run.factors.side.map(LeakSide::word),
                "defect": run.factors.defect,
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
pub fn refuse_after_the_first_run(case: &Case) -> Result<(), Fault> {
    let n = case.runs.len();
    if n == 0 {
        return Ok(());
    }
    Err(Fault::users(
        format!(
            "case `{}` has {n} runs already, so a plan fixed now would not be fixed beforehand",
            case.input.id
        ),
        "plan a new study as a case of its own; leave out --fix to look at a plan",
    ))
}

/// Every paper of the plan by the name of its file.
pub fn papers(
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

/// Records the plan, and a forecast that the case does not have yet, and
/// attaches what the analyst gets: never the key.
pub async fn fix(
    book: &Benchbook,
    id: &str,
    forecast: Option<&Forecast>,
    plan: &Plan,
    papers: &[(&'static str, String)],
) -> Result<(), benchbook::BenchbookError> {
    if let Some(forecast) = forecast {
        book.record_forecast(id, forecast, &clock::moment()).await?;
    }
    book.record_plan(id, plan, &clock::moment()).await?;
    for (name, content) in papers.iter().filter(|(name, _)| *name != "key.csv") {
        let note = "fixed with the plan, before the first run";
        book.attach(id, name, note, content.as_bytes(), &clock::moment()).await?;
    }
    Ok(())
}

/// Numbers of units by kind, leak and size, in the order of a table.
pub fn counts(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows: Vec<(RunClass, String, usize)> = Vec::new();
    for run in &plan.runs {
        let leak = run.factors.leak_words();
        match rows.iter_mut().find(|row| row.0 == run.class && row.1 == leak) {
            Some(row) => row.2 += 1,
            None => rows.push((run.class, leak, 1)),
        }
    }
    rows.sort_by(|a, b| a.1.cmp(&b.1).then(a.0.table_order(&b.0)));
    rows.sort_by_key(|row| row.0.kind_order());
    rows.into_iter()
        .map(|(class, leak, count)| {
            let size = match (class.size_um(), class.flow_pa_m3_per_s()) {
                (Some(um), _) => format!("{} µm", digits(um, 3)),
                (None, Some(flow)) => format!("{} Pa·m³/s", digits(flow, 2)),
                (None, None) => "-".to_owned(),
            };
            let leak = if leak.is_empty() { "-".to_owned() } else { leak };
            vec![class.words(), leak, size, count.to_string()]
        })
        .collect()
}

/// Marks of each factor that has more than one, with how many units each has:
/// what it is, mark, units. Blanks and flow challenges are no units.
pub fn spread(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for (name, mark) in RunFactors::SPREAD {
        let mut counts: std::collections::BTreeMap<&str, usize> = Default::default();
        let units = plan.runs.iter().filter(|run| !run.class.is_of_rig());
        for run in units.filter(|run| !mark(&run.factors).is_empty()) {
            *counts.entry(mark(&run.factors)).or_insert(0) += 1;
        }
        if counts.len() > 1 {
            rows.extend(
                counts
                    .into_iter()
                    .map(|(mark, n)| vec![name.to_owned(), mark.to_owned(), n.to_string()]),
            );
        }
    }
    rows
}

fn text(input: &CaseInput, plan: &Plan) -> String {
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    let days =
        plan.runs.iter().map(|run| run.day).collect::<std::collections::BTreeSet<u32>>().len();
    text.push_str(&format!("{} runs over {days} days:\n", plan.runs.len()));
    text.push_str(&table(&["kind", "leak", "size, flow-equivalent", "runs"], &counts(plan)));
    let spread = spread(plan);
    if !spread.is_empty() {
        text.push_str("\nSpread over the units:\n");
        text.push_str(&table(&["factor", "mark", "runs"], &spread));
    }
    text.push_str("\nAcceptance criteria:\n");
    for criterion in &plan.criteria {
        text.push_str(&format!("  {}: {}\n", criterion.code, criterion.sentence));
    }
    text
}

/// The sheet of the analyst: order, day, code, rig, operator and lot, without
/// what a unit is.
pub fn run_sheet(plan: &Plan, codes: &[String]) -> String {
    let mut text = "number,day,code,what,rig,operator,lot,started,reading,remarks\n".to_owned();
    for (run, code) in plan.runs.iter().zip(codes) {
        let RunFactors { rig, operator, lot, .. } = &run.factors;
        // What is in the chamber must be known where no unit is: units stay blind.
        let what = match run.class {
            RunClass::Blank => "blank: no unit".to_owned(),
            RunClass::FlowChallenge { flow_pa_m3_per_s: 0.0 } => "flow standard shut".to_owned(),
            RunClass::FlowChallenge { flow_pa_m3_per_s } => {
                format!("flow {flow_pa_m3_per_s:e} Pa·m³/s at 20 °C")
            }
            _ => "unit".to_owned(),
        };
        text.push_str(&format!(
            "{},{},{code},{what},{rig},{operator},{lot},,,\n",
            run.number, run.day
        ));
    }
    text
}

/// A cell of CSV: types of defect are free text.
fn cell(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

pub fn key(plan: &Plan, codes: &[String]) -> String {
    let mut text = "code,unit,class,size_flow_equivalent_um,flow_pa_m3_per_s,age_days,side,defect,\
                    operator,rig,lot\n"
        .to_owned();
    for (run, code) in plan.runs.iter().zip(codes) {
        let size = run.class.size_um().map_or_else(String::new, |um| um.to_string());
        let flow = run.class.flow_pa_m3_per_s().map_or_else(String::new, |flow| flow.to_string());
        let age = run.class.age_days().map_or_else(String::new, |days| days.to_string());
        // Which standard gives a flow is not planned.
        let RunFactors { operator, rig, lot, side, defect, standard: _ } = &run.factors;
        text.push_str(&format!(
            "{code},{},{},{size},{flow},{age},{},{},{operator},{rig},{lot}\n",
            run.unit,
            run.class.word(),
            side.map_or("", LeakSide::word),
            cell(defect)
        ));
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

#[cfg(test)]
mod tests {
    use super::*;
    use study::plan::PlannedRun;

    #[test]
    fn the_run_sheet_says_what_is_due_and_nothing_of_the_units() {
        let run = |number, class| PlannedRun {
            number,
            unit: format!("U{number}"),
            class,
            day: 1,
            factors: RunFactors::default(),
        };
        let classes = [
            RunClass::Blank,
            RunClass::FlowChallenge { flow_pa_m3_per_s: 0.0 },
            RunClass::FlowChallenge { flow_pa_m3_per_s: 1.1e-4 },
            RunClass::NegativeControl,
        ];
        let plan = Plan {
            seed: 1,
            runs: classes.into_iter().zip(1..).map(|(class, n)| run(n, class)).collect(),
            criteria: Vec::new(),
            notes: Vec::new(),
        };
        let sheet = run_sheet(&plan, &blinding_codes(&plan));
        let what: Vec<&str> =
            sheet.lines().skip(1).filter_map(|line| line.split(',').nth(3)).collect();
        let flow = "flow 1.1e-4 Pa·m³/s at 20 °C";
        assert_eq!(what, ["blank: no unit", "flow standard shut", flow, "unit"]);
        assert!(!sheet.contains("U4") && !sheet.contains("negative"));
    }
}
