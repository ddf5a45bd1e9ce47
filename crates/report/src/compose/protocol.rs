//! The study protocol: fixed before the first run, from profile, forecast,
//! method and plan alone. It must not tell the analyst what a unit is, so it
//! prints neither the key nor the seed from which order and codes come.

use study::criteria::Criterion;
use study::plan::blinding_codes;
use study::run_factors::RunFactors;
use study::runs::RunClass;
use study::{Case, Plan};

use super::signing::lines;
use super::wording::sentence;
use super::{method, note, profile};
use crate::document::{Block, Column, DataTable, KeyValue, NoteBlock, NoteWeight, Section, Words};
use crate::number::{shortest_percent, significant};

/// The case as it stood before its first run.
pub(super) fn before_the_first_run(case: &Case) -> Case {
    Case { runs: Vec::new(), results: None, ..case.clone() }
}

/// The criteria of the plan; none where there is no plan or no forecast.
pub(super) fn planned_criteria(case: &Case) -> Vec<Criterion> {
    match (&case.forecast, &case.plan) {
        (Some(forecast), Some(plan)) => plan.criteria_of(&case.input, forecast),
        _ => Vec::new(),
    }
}

/// `case`: as it stood before the first run; `done`: runs that are in the case
/// now.
pub(super) fn sections(case: &Case, done: usize) -> Vec<Section> {
    let mut sections = vec![purpose(case, done), profile::section(case)];
    if let Some(mut scope) = sections.pop() {
        scope.heading = "Scope: container, product, rig".to_string();
        sections.push(scope);
    }
    match method::section(case) {
        Some(mut method) => {
            method.heading = "Method parameters, locked for this study".to_string();
            sections.push(method);
        }
        None => sections.push(missing("method", "Method", "design the method of the case")),
    }
    match &case.plan {
        Some(plan) => {
            sections.push(design(plan));
            sections.push(criteria_section(case));
            sections.push(basis(case));
            sections.push(handling());
            sections.push(run_sheet(plan));
        }
        None => {
            sections.push(missing("design", "Design", "plan the runs of the case"));
            sections.push(handling());
        }
    }
    sections.push(Section::new("signatures", "Sign-off before the first run").with(lines([
        ("Author", "wrote this protocol"),
        ("Reviewer", "checked design, criteria and statistics"),
        ("Quality unit", "approves it before the first run"),
    ])));
    sections
}

fn missing(id: &str, heading: &str, next: &str) -> Section {
    Section::new(id, heading).with(Block::Notes(vec![NoteBlock {
        weight: NoteWeight::Refusal,
        text: format!("{heading}: missing in this case."),
        next_step: sentence(next),
    }]))
}

fn purpose(case: &Case, done: usize) -> Section {
    let purpose = &case.input.profile.purpose;
    let mut section = Section::new("purpose", "Purpose")
        .paragraph(Words::default().strong(case.input.question.clone()))
        .with(Block::KeyValues(vec![
            KeyValue::new("Decision that hangs on a result", sentence(&purpose.decision)),
            KeyValue::new("Population", sentence(&purpose.population)),
            KeyValue::new(
                "To be shown",
                format!(
                    "at most {} of good units rejected; the leak that matters found with \
                     probability of at least {}; both at {} confidence",
                    shortest_percent(purpose.tolerable_false_reject.fraction()),
                    shortest_percent(purpose.required_detection.fraction()),
                    shortest_percent(purpose.confidence.fraction())
                ),
            ),
        ]));
    section = section.paragraph(
        "This protocol is composed from profile, forecast, method and plan alone: runs and results \
         are not read for it. It counts as fixed beforehand only where its signatures are older \
         than the first run.",
    );
    if done > 0 {
        section = section.with(Block::Notes(vec![NoteBlock {
            weight: NoteWeight::Caution,
            text: format!("{done} runs were already in the case when this copy was printed."),
            next_step: "Compare the dates of the signatures with the history of the case."
                .to_string(),
        }]));
    }
    section
}

fn design(plan: &Plan) -> Section {
    // Days on which nothing is done have no column: an ageing arm spans months.
    let days: Vec<u32> = {
        let all: std::collections::BTreeSet<u32> = plan.runs.iter().map(|run| run.day).collect();
        all.into_iter().collect()
    };
    let mut classes: Vec<(RunClass, String, Vec<usize>)> = Vec::new();
    for run in &plan.runs {
        let leak = run.factors.leak_words();
        let place = match classes.iter().position(|row| row.0 == run.class && row.1 == leak) {
            Some(place) => place,
            None => {
                classes.push((run.class, leak, vec![0; days.len()]));
                classes.len() - 1
            }
        };
        if let Some(day) = days.iter().position(|day| *day == run.day) {
            classes[place].2[day] += 1;
        }
    }
    classes.sort_by(|a, b| a.1.cmp(&b.1).then(a.0.table_order(&b.0)));
    classes.sort_by_key(|row| row.0.kind_order());
    let with_leak = classes.iter().any(|row| !row.1.is_empty());
    let mut columns = vec![Column::words("Class", 1.0)];
    if with_leak {
        columns.push(Column::words("Leak", 0.6));
    }
    columns.push(Column::number("Size (µm)"));
    columns.extend(days.iter().map(|day| Column::number(format!("Day {day}"))));
    columns.push(Column::number("Runs"));
    let mut table = DataTable::new("design-table", "Units by class, size and day", columns)
        .with_footnote(
            "Sizes: nominal flow-equivalent diameter. One run for each unit; aged controls come \
             back at every age.",
        );
    for (class, leak, by_day) in classes {
        let mut row = vec![class_words(class)];
        if with_leak {
            row.push(leak);
        }
        row.push(class.size_um().map_or(String::new(), |um| significant(um, 3)));
        row.extend(by_day.iter().map(usize::to_string));
        row.push(by_day.iter().sum::<usize>().to_string());
        table.push(row);
    }
    let mut section = Section::new("design", "Design")
        .paragraph(format!(
            "{} runs on {} days{}. Blanks open each day on each rig, then flow challenges beside a unit \
             without a leak: they show that the rig is fit and set no limit. All other units follow in random order within the day, under codes that say \
             nothing of the unit. The key and the seed of order and codes stay with somebody who \
             does not run or read the tests, until the last run is done.",
            plan.runs.len(),
            days.len(),
            spread_words(plan)
        ))
        .with(Block::Table(table));
    if !plan.notes.is_empty() {
        section = section.with(Block::Notes(plan.notes.iter().map(note).collect()));
    }
    section
}

/// Operators, rigs and lots of the plan, as a part of a sentence; nothing for
/// plans of versions that did not have them.
fn spread_words(plan: &Plan) -> String {
    let parts: Vec<String> = RunFactors::SPREAD
        .iter()
        .filter_map(|(name, mark)| {
            let marks: std::collections::BTreeSet<&str> = plan
                .runs
                .iter()
                .map(|run| mark(&run.factors))
                .filter(|mark| !mark.is_empty())
                .collect();
            match marks.len() {
                0 => None,
                1 => Some(format!("1 {name}")),
                n => Some(format!("{n} {name}s")),
            }
        })
        .collect();
    match parts.split_last() {
        None => String::new(),
        Some((last, [])) => format!(", with {last}"),
        Some((last, before)) => format!(
            ", with {} and {last}, spread so that none goes with a day or a size",
            before.join(", ")
        ),
    }
}

/// The class with its flow or its age.
fn class_words(class: RunClass) -> String {
    match class.flow_pa_m3_per_s() {
        Some(flow) => format!("{} {} Pa·m³/s", class.word(), significant(flow, 2)),
        None => class.words(),
    }
}

fn criteria_section(case: &Case) -> Section {
    let mut table = DataTable::new(
        "criteria-table",
        "Acceptance criteria, fixed before the first run",
        vec![Column::number("No."), Column::short("Name"), Column::words("Criterion", 1.0)],
    );
    for (index, criterion) in planned_criteria(case).into_iter().enumerate() {
        table.push([(index + 1).to_string(), criterion.code, criterion.sentence]);
    }
    let section = Section::new("criteria", "Acceptance criteria");
    if table.rows.is_empty() {
        return section.paragraph("No criterion can be said without a forecast.");
    }
    section.with(Block::Table(table)).paragraph(
        "The study has shown what it set out to show only where every criterion is met. A criterion \
         that is not met is reported as such; it is not changed after the first run.",
    )
}

fn basis(case: &Case) -> Section {
    let purpose = &case.input.profile.purpose;
    Section::new("basis", "Statistical basis")
        .paragraph(format!(
            "Reject limit: one-sided tolerance limit of the rises of product-filled negative \
             controls, with content {} and confidence {}. The unit is the container, not the \
             reading: replicates of a unit are not further units. Shape, order and days are checked, \
             and the outcome of the checks is reported.",
            shortest_percent(1.0 - purpose.tolerable_false_reject.fraction()),
            shortest_percent(purpose.confidence.fraction())
        ))
        .paragraph(format!(
            "Detection: the readings of the positive controls against size, as a line on logarithmic \
             axes, with the upper bound at {0} confidence on the size found with probability 90 %, \
             where no check speaks against the line; otherwise found or missed for each positive \
             control against the limit, as a logistic curve on the logarithm of size with the same \
             bound; exact one-sided bounds for each size beside them. The criterion on the detection \
             bound is judged by the first of these that carries a bound. No size outside those \
             tested is claimed.{1}",
            shortest_percent(purpose.confidence.fraction()),
            study::criteria::other_share_asked(purpose)
                .map_or_else(String::new, |asked| format!(" Of that 90 %: {asked}."))
        ))
        .paragraph(
            "A run that a limit ends early is a rejection with a censored rise. It enters detection \
             as found and never enters a mean.",
        )
}

fn handling() -> Section {
    Section::new("handling", "Aborted, repeated and failed runs").with(Block::KeyValues(vec![
        KeyValue::new(
            "Aborted",
            "recorded with its cause; missing, not passed; the unit is repeated once only where the \
             cause lies outside the unit (power, operator, rig) and is written down",
        ),
        KeyValue::new(
            "Repeated",
            "both runs stay in the record; the later one never replaces the earlier; a positive \
             control is verified again before its repeat, because a leak may close",
        ),
        KeyValue::new(
            "Negative control above the limit",
            "kept; held and examined by another method; it stays in the evaluation unless a leak is \
             shown by that other method",
        ),
        KeyValue::new(
            "Positive control below the limit",
            "kept as a miss; verified again; a leak found closed is reported as closed, beside the \
             evaluation with and without it",
        ),
        KeyValue::new("Blank out of its usual band", "stop the day, find the cause, begin it again"),
        KeyValue::new(
            "Deviation from this protocol",
            "written down before the key is opened, with its effect on each criterion",
        ),
    ]))
}

fn run_sheet(plan: &Plan) -> Section {
    let mut table = DataTable::new(
        "run-sheet",
        "Run sheet in random order",
        vec![
            Column::number("No."),
            Column::number("Day"),
            Column::short("Code"),
            Column::short("Rig"),
            Column::short("Operator"),
            Column::short("Lot"),
            Column::words("Started (time)", 1.0),
            Column::words("Reading (Pa)", 1.0),
            Column::words("Ended by", 1.0),
            Column::words("Initials", 0.8),
            Column::words("Remarks", 1.8),
        ],
    )
    .with_footnote("The key of the codes is a file of its own and is not part of this document.");
    for (run, code) in plan.runs.iter().zip(blinding_codes(plan)) {
        let factors = &run.factors;
        table.push([
            run.number.to_string(),
            run.day.to_string(),
            code,
            factors.rig.clone(),
            factors.operator.clone(),
            factors.lot.clone(),
        ]);
    }
    Section::new("run-sheet-section", "Run sheet").with(Block::Table(table))
}
