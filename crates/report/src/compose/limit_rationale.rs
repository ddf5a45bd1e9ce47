//! The limit rationale: how the rise limit was set, on which units, under which
//! assumptions, and what a rule of thumb would have cost.

use study::Case;
use study::limit_cost::{limit_assumptions, three_sigma_cost};
use study::results::RejectLimit;
use study::runs::{Run, RunClass};

use super::signing::lines;
use super::wording::sentence;
use super::{note, results};
use crate::document::{
    Block, Column, DataTable, FigureBlock, KeyValue, Section, Verdict, VerdictKind,
};
use crate::figure::{Axis, Dash, Figure, FigureError, Ink, Layer, Marker, Pen, Shape};
use crate::number::{quantity, shortest_percent, significant};

pub(super) fn sections(case: &Case) -> Result<Vec<Section>, FigureError> {
    let limit = case.results.as_ref().and_then(|results| results.reject_limit.as_ref());
    let mut sections = vec![opening(case, limit)?];
    if let Some(limit) = limit {
        sections.push(units(case, limit));
        sections.push(assumptions(case));
        sections.push(cost(limit));
    }
    sections.push(in_force(case, limit));
    let notes: Vec<_> =
        case.results.iter().flat_map(|results| results.notes.iter().map(note)).collect();
    if !notes.is_empty() {
        sections.push(Section::new("notes", "Notes").with(Block::Notes(notes)));
    }
    sections.push(Section::new("signatures", "Signatures").with(lines([
        ("Author", "set the limit from the units named"),
        ("Reviewer", "checked units, assumptions and numbers"),
        ("Quality unit", "agrees to its use in the method named"),
    ])));
    Ok(sections)
}

fn opening(case: &Case, limit: Option<&RejectLimit>) -> Result<Section, FigureError> {
    let section = Section::new("answer", "");
    let question = "Which rise in the measure stage rejects a unit, and why?".to_string();
    let Some(limit) = limit else {
        return Ok(section.with(Block::Verdict(Verdict {
            kind: VerdictKind::Open,
            word: "open".to_string(),
            question,
            answer: "No reject limit can be said: no limit from negative controls is in this case."
                .into(),
            details: vec!["Run the negative controls of the plan and evaluate them.".into()],
        })));
    };
    let section = section.with(Block::Verdict(Verdict {
        kind: VerdictKind::Expected,
        word: "limit".to_string(),
        question,
        answer: format!(
            "{}: at most {} of good units rise above it, at {} confidence.",
            quantity(limit.limit_pa, 4, "Pa"),
            shortest_percent(1.0 - limit.content),
            shortest_percent(limit.confidence)
        )
        .into(),
        details: vec![
            "The sentence holds for units, days and lots like those tested, and only as far as \
             the assumptions below hold."
                .into(),
        ],
    }));
    Ok(match figure(case, limit) {
        Some(figure) => section.with(Block::Figure(FigureBlock::of(&figure)?)),
        None => section,
    })
}

/// Blanks and negative controls, run by run, under the limit and beside the
/// rule of thumb.
fn figure(case: &Case, limit: &RejectLimit) -> Option<Figure> {
    let of = |class: RunClass| -> (Vec<f64>, Vec<f64>) {
        case.runs
            .iter()
            .filter(|run: &&Run| run.class == class)
            .filter_map(|run| Some((f64::from(run.number), run.measured()?.rise_pa)))
            .unzip()
    };
    let (blank_x, blank_y) = of(RunClass::Blank);
    let (unit_x, unit_y) = of(RunClass::NegativeControl);
    if unit_x.is_empty() {
        return None;
    }
    let rule = three_sigma_cost(limit).map(|cost| cost.limit_pa);
    let last = case.runs.iter().map(|run| f64::from(run.number)).fold(1.0, f64::max);
    let values = blank_y.iter().chain(&unit_y).copied().chain([limit.limit_pa]).chain(rule);
    let mut figure = Figure::new(
        "limit-on-blanks",
        "Negative controls and blanks under the limit",
        Axis::linear("Run, in the order in which it was done", "", 0.0, last + 1.0),
        Axis::holding("Rise", "Pa", values),
    )
    .described(
        "Only the product-filled negative controls set the limit. Blanks show what the rig itself \
         gives; where they lie far below, a limit from blanks would reject good units.",
        "Rises of negative controls and blanks against run number, with the tolerance limit and \
         the line of mean plus three standard deviations above them.",
    );
    figure.height_pt = 215.0;
    let points = |x, y, marker, ink| Shape::Points { x, y, marker, ink };
    if !blank_x.is_empty() {
        let shape = points(blank_x, blank_y, Marker::Plus, Ink::Grey);
        figure = figure.with(Layer::new("blank", shape));
    }
    let shape = points(unit_x, unit_y, Marker::Disc, Ink::Teal);
    figure = figure.with(Layer::new("negative control", shape));
    let rule_at = |at, ink, dash| Shape::HorizontalRule { at, pen: Pen::new(ink, dash) };
    figure = figure.with(Layer::new(
        format!("limit {}", quantity(limit.limit_pa, 4, "Pa")),
        rule_at(limit.limit_pa, Ink::Black, Dash::Solid),
    ));
    if let Some(at) = rule {
        let label = format!("mean + 3 s {}", quantity(at, 4, "Pa"));
        figure = figure.with(Layer::new(label, rule_at(at, Ink::Rust, Dash::Dashed)));
    }
    Some(figure)
}

fn units(case: &Case, limit: &RejectLimit) -> Section {
    let controls = case.runs.iter().filter(|run| run.class == RunClass::NegativeControl);
    let (mut n, mut without) = (0_usize, 0_usize);
    for run in controls {
        n += 1;
        without += usize::from(run.measured().is_none());
    }
    let blanks = case.runs.iter().filter(|run| run.class == RunClass::Blank).count();
    let section = Section::new("units", "How it was set")
        .with(Block::KeyValues(vec![
            KeyValue::new("Method", limit.method.clone()),
            KeyValue::new("Content", shortest_percent(limit.content)),
            KeyValue::new("Confidence", shortest_percent(limit.confidence)),
            KeyValue::new("Units that count", limit.n.to_string()),
            KeyValue::new(
                "Negative control runs",
                format!("{n}, {without} of them without a rise"),
            ),
            KeyValue::new("Blanks", format!("{blanks}, none of which sets the limit")),
            KeyValue::new("Mean", quantity(limit.mean_pa, 4, "Pa")),
            KeyValue::new("Standard deviation", quantity(limit.standard_deviation_pa, 3, "Pa")),
            KeyValue::new("Tolerance factor", significant(limit.factor, 4)),
            KeyValue::new(
                "Limit",
                format!(
                    "mean + factor × standard deviation = {}",
                    quantity(limit.limit_pa, 4, "Pa")
                ),
            ),
        ]))
        .with(Block::Table(results::by_day(limit, &case.runs)));
    match results::by_lot(limit) {
        Some(table) => section.with(Block::Table(table)),
        None => section,
    }
}

fn assumptions(case: &Case) -> Section {
    let mut table = DataTable::new(
        "assumptions-table",
        "Assumptions and their checks",
        vec![
            Column::words("Assumption", 1.2),
            Column::short("Check"),
            Column::words("Finding", 1.0),
            Column::number("p"),
            Column::short("Outcome"),
        ],
    )
    .with_footnote(
        "A check that finds nothing does not show that an assumption holds; with few units it \
         finds little.",
    );
    for check in limit_assumptions(&case.runs) {
        table.push([
            sentence(check.name),
            check.test.to_string(),
            check.finding,
            check.p_value.map_or(String::new(), |p| {
                if p < 0.001 { "< 0.001".to_string() } else { crate::number::decimals_of(p, 3) }
            }),
            match check.held {
                Some(true) => "nothing against it",
                Some(false) => "speaks against it",
                None => "not checked",
            }
            .to_string(),
        ]);
    }
    let limit = case.results.as_ref().and_then(|results| results.reject_limit.as_ref());
    for (name, finding) in [
        ("Units independent", "a matter of the plan; not tested"),
        (
            "Days and lots to come are like these",
            if limit.is_some_and(|limit| !limit.by_lot.is_empty()) {
                "days and lots are compared in the notes"
            } else {
                "days are compared in the notes; lots not recorded"
            },
        ),
    ] {
        table.push([sentence(name).as_str(), "none", finding, "", "not checked"]);
    }
    Section::new("assumptions", "Assumptions").with(Block::Table(table))
}

fn cost(limit: &RejectLimit) -> Section {
    let section = Section::new("cost", "What mean + 3 s would have cost");
    let Some(cost) = three_sigma_cost(limit) else {
        return section.paragraph("It cannot be said from fewer than two units.");
    };
    let mut table = DataTable::new(
        "cost-table",
        "The same units, two ways",
        vec![
            Column::words("Measure", 1.6),
            Column::number("Mean + 3 s"),
            Column::number("Tolerance limit"),
        ],
    );
    let share = |share: f64| format!("{} %", significant(100.0 * share, 2));
    table.push([
        "Limit".to_string(),
        quantity(cost.limit_pa, 4, "Pa"),
        quantity(limit.limit_pa, 4, "Pa"),
    ]);
    table.push([
        format!(
            "Good units above it, at most, at {} confidence",
            shortest_percent(limit.confidence)
        ),
        share(cost.bound_false_rejects),
        shortest_percent(1.0 - limit.content),
    ]);
    table.push([
        format!("Good units above it on average over studies of {} units", limit.n),
        share(cost.mean_false_rejects),
        String::new(),
    ]);
    table.push([
        "Good units above it if mean and deviation were known".to_string(),
        share(cost.believed_false_rejects),
        String::new(),
    ]);
    section
        .paragraph(
            "The rule of thumb takes mean and standard deviation as if they were known. How much \
             that costs depends on the number of units alone.",
        )
        .with(Block::Table(table))
}

fn in_force(case: &Case, limit: Option<&RejectLimit>) -> Section {
    let section = Section::new("in-force", "The limit in the method");
    let Some(method) = &case.method else {
        return section.paragraph("No method is in this case.");
    };
    let stated = method.cycle.deciding_tier().and_then(|tier| tier.tier.rise_limit);
    let words = match (stated, limit) {
        (None, _) => format!("Method version {} has no rise limit.", method.version),
        (Some(stated), None) => format!(
            "Method version {} carries {}; no limit from units supports it.",
            method.version,
            quantity(stated.pa(), 4, "Pa")
        ),
        (Some(stated), Some(limit)) => format!(
            "Method version {} carries {}; the limit from units is {}. A new version of the method \
             takes it over; until then detection is judged against the limit from units.",
            method.version,
            quantity(stated.pa(), 4, "Pa"),
            quantity(limit.limit_pa, 4, "Pa")
        ),
    };
    section.paragraph(words)
}
