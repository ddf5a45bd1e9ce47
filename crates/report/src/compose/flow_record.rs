//! Flow calibration record: what the reading says of a known flow. It is never
//! called a certificate: the flows are as good as those of their standards.

use study::Case;
use study::results::{FlowCalibration, Interval};

use super::note;
use super::records::RegisteredItem;
use super::signing::lines;
use super::{Edition, control_register, flow_figure, residual_figures};
use crate::document::{
    Block, Column, DataTable, FigureBlock, KeyValue, Section, Verdict, VerdictKind, Words,
};
use crate::figure::FigureError;
use crate::number::{interval, quantity, shortest_percent, significant};

/// Unit of a flow in this record.
const FLOW: &str = "Pa·m³/s";

/// Codes of notes that belong to the calibration.
const NOTES: [&str; 7] = [
    "flow-challenge-without-rise",
    "no-flow-calibration",
    "flow-line-bent",
    "limit-beyond-flows",
    "free-volume-differs",
    "confirm-near-limit",
    "below-lowest-standard",
];

pub(super) fn sections(case: &Case, edition: &Edition) -> Result<Vec<Section>, FigureError> {
    let found = case.results.as_ref().and_then(|results| results.flow_calibration.as_ref());
    let mut sections = vec![opening(case, found)?];
    if let Some(found) = found {
        let mut line = line(found);
        if let Some(figure) = residual_figures::of_flows(case, found) {
            line = line.with(Block::Figure(FigureBlock::of(&figure)?));
        }
        sections.push(line);
        sections.push(volume(case, found));
    }
    if case.runs.iter().any(|run| run.class.flow_pa_m3_per_s().is_some()) {
        sections.push(challenges(case));
    }
    sections.push(standards(case, edition));
    let notes: Vec<_> = case
        .results
        .iter()
        .flat_map(|results| &results.notes)
        .filter(|one| NOTES.contains(&one.code.as_str()))
        .map(note)
        .collect();
    if !notes.is_empty() {
        sections.push(Section::new("notes", "Notes").with(Block::Notes(notes)));
    }
    sections.push(Section::new("signatures", "Signatures").with(lines([
        ("Analyst", "ran the challenges with the standards named"),
        ("Metrology", "confirms standards, conditions of use and uncertainties"),
        ("Reviewer", "checked runs, line and numbers"),
    ])));
    Ok(sections)
}

fn opening(case: &Case, found: Option<&FlowCalibration>) -> Result<Section, FigureError> {
    let section = Section::new("answer", "");
    let question = "Which flow does a reading stand for, and which can it tell from none?";
    let Some(found) = found else {
        return Ok(section.with(Block::Verdict(Verdict {
            kind: VerdictKind::Open,
            word: "open".to_string(),
            question: question.to_string(),
            answer: "No flow calibration is in this case.".into(),
            details: vec![
                "Run the flow challenges of the plan, with the standard shut among them, and \
                 evaluate them."
                    .into(),
            ],
        })));
    };
    let limit = match (found.detection_limit, found.flow_at_limit) {
        (Some(limit), _) => format!(
            "A flow of {} into the chamber is told from none in 19 of 20 readings.",
            quantity(limit, 3, FLOW)
        ),
        (None, _) => "No detection limit can be said.".to_string(),
    };
    let section = section.with(Block::Verdict(Verdict {
        kind: VerdictKind::Expected,
        word: "calibrated".to_string(),
        question: question.to_string(),
        answer: limit.into(),
        details: vec![
            "A constant flow into the chamber is not a leak: a leak feeds on the headspace, and \
             may be plugged or wetted."
                .into(),
            "This record is no certificate. It carries the flows of the standards on; traceability \
             and uncertainty are those of their certificates."
                .into(),
        ],
    }));
    Ok(match flow_figure::figure(case, found) {
        Some(figure) => section.with(Block::Figure(FigureBlock::of(&figure)?)),
        None => section,
    })
}

/// A value with its interval, in words.
fn with_interval(found: Interval, factor: f64, unit: &str) -> String {
    format!(
        "{} ({})",
        quantity(factor * found.value, 3, unit),
        interval(factor * found.lower, factor * found.upper, 3, unit)
    )
}

/// The figures of the line, for this record and for the study report.
pub(super) fn figures(found: &FlowCalibration) -> Vec<KeyValue> {
    let or_none = |flow: Option<f64>| {
        flow.map_or_else(|| "cannot be said".to_string(), |flow| quantity(flow, 3, FLOW))
    };
    vec![
        KeyValue::new("Method", found.method.clone()),
        KeyValue::new("Challenges that count", found.n.to_string()),
        KeyValue::new("Rise per flow", with_interval(found.slope, 1.0, "s/m³")),
        KeyValue::new("Rise without a flow", quantity(found.intercept_pa, 3, "Pa")),
        KeyValue::new("Scatter about the line", quantity(found.residual_sd_pa, 3, "Pa")),
        KeyValue::new(
            "Lack of fit",
            found.lack_of_fit_p.map_or_else(
                || "not checked: it needs repeats at three flows".to_string(),
                |p| format!("p = {}", significant(p, 2)),
            ),
        ),
        KeyValue::new("Called a flow from", or_none(found.critical_flow)),
        KeyValue::new("So called in 19 of 20 readings from", or_none(found.detection_limit)),
        KeyValue::new(
            "Flow behind the reject limit",
            found.flow_at_limit.map_or_else(
                || "no reject limit".to_string(),
                |flow| with_interval(flow, 1.0, FLOW),
            ),
        ),
    ]
}

fn line(found: &FlowCalibration) -> Section {
    let mut table = DataTable::new(
        "flow-levels",
        "Challenges by flow",
        vec![
            Column::number("Flow (Pa·m³/s)"),
            Column::number("Challenges"),
            Column::number("Mean rise (Pa)"),
            Column::number("s (Pa)"),
            Column::number("Off the line (Pa)"),
        ],
    )
    .with_footnote("Flows are at 20 °C. Zero is the standard in place and shut.");
    for level in &found.levels {
        let line = found.intercept_pa + found.slope.value * level.flow_pa_m3_per_s;
        table.push([
            significant(level.flow_pa_m3_per_s, 3),
            level.n.to_string(),
            significant(level.mean_pa, 4),
            level.standard_deviation_pa.map_or(String::new(), |sd| significant(sd, 3)),
            significant(level.mean_pa - line, 2),
        ]);
    }
    Section::new("line", "The line")
        .with(Block::KeyValues(figures(found)))
        .with(Block::Table(table))
        .paragraph(format!(
            "Intervals hold {} confidence. They hold the scatter of these challenges; the \
             uncertainty of the standards comes on top.",
            shortest_percent(found.confidence)
        ))
}

fn volume(case: &Case, found: &FlowCalibration) -> Section {
    let stated = &case.input.rig.free_volume;
    Section::new("volume", "Free volume that the flows see")
        .with(Block::KeyValues(vec![
            KeyValue::new(
                "From the rate of the pressure per flow",
                found.free_volume_m3.map_or_else(
                    || "cannot be said".to_string(),
                    |volume| with_interval(volume, 1e6, "mL"),
                ),
            ),
            KeyValue::new(
                "Stated for the rig",
                match stated.standard_uncertainty_si {
                    Some(uncertainty) => format!(
                        "{} ± {} (1 s)",
                        quantity(stated.value.m3() * 1e6, 4, "mL"),
                        quantity(uncertainty * 1e6, 2, "mL")
                    ),
                    None => format!(
                        "{}, without uncertainty",
                        quantity(stated.value.m3() * 1e6, 4, "mL")
                    ),
                },
            ),
        ]))
        .paragraph(
            "V = (T / 293.15 K) / b, where b is the slope of the pressure's rate on the flow.",
        )
}

fn challenges(case: &Case) -> Section {
    let mut table = DataTable::new(
        "flow-challenges",
        "Every flow challenge in the order in which it was done",
        vec![
            Column::number("Run"),
            Column::number("Day"),
            Column::short("Mark"),
            Column::short("Standard"),
            Column::number("Flow (Pa·m³/s)"),
            Column::number("Rise (Pa)"),
            Column::number("Rate (Pa/s)"),
            Column::words("Ended", 1.0),
        ],
    );
    for run in &case.runs {
        let Some(flow) = run.class.flow_pa_m3_per_s() else { continue };
        let features = run.features.as_ref();
        table.push([
            run.number.to_string(),
            run.day.to_string(),
            run.unit.clone(),
            run.factors.standard.clone(),
            significant(flow, 3),
            features.map_or(String::new(), |features| significant(features.rise_pa, 4)),
            features
                .and_then(|features| features.slope_pa_per_s)
                .map_or(String::new(), |rate| significant(rate, 4)),
            run.ended.words(),
        ]);
    }
    Section::new("challenges", "The challenges").with(Block::Table(table))
}

/// The challenges that a standard gave.
struct Use {
    standard: String,
    challenges: usize,
    lowest: f64,
    highest: f64,
}

/// How the challenges of a case name their standards, in the order of the first
/// use; those that name none come under an empty name. A standard that is shut
/// counts as used.
fn uses(case: &Case) -> Vec<Use> {
    let mut uses: Vec<Use> = Vec::new();
    for run in &case.runs {
        let Some(flow) = run.class.flow_pa_m3_per_s() else { continue };
        let standard = &run.factors.standard;
        match uses.iter_mut().find(|one| one.standard == *standard) {
            Some(one) => {
                one.challenges += 1;
                one.lowest = one.lowest.min(flow);
                one.highest = one.highest.max(flow);
            }
            None => uses.push(Use {
                standard: standard.clone(),
                challenges: 1,
                lowest: flow,
                highest: flow,
            }),
        }
    }
    uses
}

fn standards(case: &Case, edition: &Edition) -> Section {
    let mut section = Section::new("standards", "Flow standards");
    let registered: Vec<&RegisteredItem> =
        edition.records.register.iter().filter(|item| item.is_flow_standard).collect();
    let uses = uses(case);
    let unnamed: usize =
        uses.iter().filter(|one| one.standard.is_empty()).map(|one| one.challenges).sum();
    if unnamed > 0 {
        section = section.paragraph(Words::default().strong("Missing: ").plain(format!(
            "{unnamed} of the challenges name no flow standard, so nothing shows where their flow \
             comes from. Import them with a column “flow standard” that holds its name in the \
             register."
        )));
    }
    let mut table = DataTable::new(
        "standards-used",
        "Standards that gave the flows of this case",
        vec![
            Column::short("Standard"),
            Column::number("Challenges"),
            Column::number("Flows (Pa·m³/s)"),
            Column::words("In the register, and may be used", 1.4),
        ],
    );
    for one in uses.iter().filter(|one| !one.standard.is_empty()) {
        let standing = match registered.iter().find(|item| item.id == one.standard) {
            None => "no: the register has no flow standard of this name".to_string(),
            Some(item) => {
                item.hindrance.clone().map_or_else(|| "yes".to_string(), |why| format!("no: {why}"))
            }
        };
        table.push([
            one.standard.clone(),
            one.challenges.to_string(),
            if one.lowest == one.highest {
                significant(one.lowest, 3)
            } else {
                format!("{} to {}", significant(one.lowest, 3), significant(one.highest, 3))
            },
            standing,
        ]);
    }
    if uses.iter().any(|one| !one.standard.is_empty()) {
        section = section.with(Block::Table(table));
    }
    if registered.is_empty() {
        return section.paragraph(Words::default().strong("Missing: ").plain(
            "the benchbook registers no flow standard, so nothing shows where these flows come \
             from (“isobar register add”).",
        ));
    }
    let table =
        control_register::table("flow-standards", "Flow standards of the register", registered);
    section.with(Block::Table(table))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::tests::{edition, forecast_only};
    use study::run_factors::RunFactors;
    use study::runs::{Ended, Run, RunOrigin};
    use study::unit_class::RunClass;

    /// Invented: three challenges with two standards, and one that names none.
    fn case() -> Case {
        let mut case = forecast_only(study::worked_cases::liquid_vial());
        case.runs = [("FS-1", 1e-6), ("FS-2", 4e-6), ("FS-1", 0.0), ("", 2e-6)]
            .map(|(standard, flow_pa_m3_per_s)| Run {
                number: 1,
                unit: "F".to_owned(),
                class: RunClass::FlowChallenge { flow_pa_m3_per_s },
                day: 1,
                factors: RunFactors { standard: standard.to_owned(), ..RunFactors::default() },
                ended: Ended::Completed,
                features: None,
                trace: Default::default(),
                origin: RunOrigin::Simulated { seed: 1 },
            })
            .to_vec();
        case
    }

    #[test]
    fn each_standard_is_named_with_its_standing() {
        let mut edition = edition();
        let item = |id: &str, hindrance: Option<&str>| RegisteredItem {
            id: id.to_owned(),
            description: "flow standard: invented".to_owned(),
            is_flow_standard: true,
            certificate: String::new(),
            last_check: String::new(),
            check_age_days: None,
            check_passed: false,
            hindrance: hindrance.map(str::to_owned),
        };
        edition.records.register = vec![item("FS-1", Some("it is retired"))];
        let section = standards(&case(), &edition);
        let tables: Vec<&DataTable> = section
            .blocks
            .iter()
            .filter_map(|block| match block {
                Block::Table(table) if table.id == "standards-used" => Some(table),
                _ => None,
            })
            .collect();
        let rows = &tables[0].rows;
        assert_eq!(rows.len(), 2);
        let text = format!("{rows:?}");
        assert!(text.contains("no: it is retired"), "{text}");
        assert!(text.contains("no: the register has no flow standard of this name"), "{text}");
        let said = format!("{:?}", section.blocks);
        assert!(said.contains("1 of the challenges name no flow standard"), "{said}");
    }
}
