//! The results: reject limit and detection, with everything that was counted.

use study::Case;
use study::results::{Detection, RejectLimit, Results, SignalDetection};
use study::runs::Run;

use super::{detection_figure, flow_record, residual_figures, runs};
use crate::document::{Block, Column, DataTable, FigureBlock, KeyValue, Section};
use crate::figure::FigureError;
use crate::number::{quantity, shortest_percent, significant};

pub(super) fn section(case: &Case) -> Result<Option<Section>, FigureError> {
    let Some(results) = &case.results else { return Ok(None) };
    let mut section = Section::new("results", "Results");
    section = limit(section, results, &case.runs);
    if let Some(found) = &results.flow_calibration {
        section = section
            .with(Block::Subheading("Flow calibration".to_string()))
            .with(Block::KeyValues(flow_record::figures(found)));
    }
    if let Some(found) = &results.signal {
        section = section
            .with(Block::Subheading("Detection by readings against size".to_string()))
            .with(Block::KeyValues(signal_figures(results, found)));
        if let Some(figure) = crate::signal_figure::figure(case) {
            section = section.with(Block::Figure(FigureBlock::of(&figure)?));
        }
        if let Some(figure) = residual_figures::of_readings(case, found) {
            section = section.with(Block::Figure(FigureBlock::of(&figure)?));
        }
    }
    section = section.with(Block::Subheading("Detection by hits and misses".to_string()));
    let Some(detection) = &results.detection else {
        return Ok(Some(section.paragraph("No detection can be said; see the notes.")));
    };
    section = section.with(Block::KeyValues(detection_figures(results, detection)));
    if let Some(figure) = detection_figure::figure(case, detection) {
        section = section.with(Block::Figure(FigureBlock::of(&figure)?));
    }
    let confidence = case.input.profile.purpose.confidence.fraction();
    let mut section = section.with(Block::Table(by_size(detection, confidence, &case.runs)));
    if let Some(table) = by_kind(results, confidence) {
        section = section.with(Block::Table(table));
    }
    Ok(Some(section))
}

fn limit(section: Section, results: &Results, runs: &[Run]) -> Section {
    let section = section.with(Block::Subheading("Reject limit".to_string()));
    match &results.reject_limit {
        None => section.paragraph("No reject limit can be said; see the notes."),
        Some(limit) => {
            let section = section
                .with(Block::KeyValues(limit_figures(limit)))
                .with(Block::Table(by_day(limit, runs)));
            match by_lot(limit) {
                Some(table) => section.with(Block::Table(table)),
                None => section,
            }
        }
    }
}

fn limit_figures(limit: &RejectLimit) -> Vec<KeyValue> {
    vec![
        KeyValue::new("Reject limit", quantity(limit.limit_pa, 4, "Pa")),
        KeyValue::new(
            "What it says",
            format!(
                "at most {} of good units rise above it, at {} confidence",
                shortest_percent(1.0 - limit.content),
                shortest_percent(limit.confidence)
            ),
        ),
        KeyValue::new(
            "From",
            format!(
                "{} negative controls, mean {}, standard deviation {}, factor {}",
                limit.n,
                quantity(limit.mean_pa, 4, "Pa"),
                quantity(limit.standard_deviation_pa, 3, "Pa"),
                significant(limit.factor, 4)
            ),
        ),
        KeyValue::new("Method", limit.method.as_str()),
    ]
}

pub(super) fn by_day(limit: &RejectLimit, all: &[Run]) -> DataTable {
    let mut table = DataTable::new(
        "negative-controls-by-day",
        "Negative controls by day",
        vec![
            Column::number("Day"),
            Column::number("Units"),
            Column::number("Mean rise (Pa)"),
            Column::number("Standard deviation (Pa)"),
            Column::words("Runs", 1.0),
        ],
    );
    for day in &limit.by_day {
        let of_day = all.iter().filter(|run| run.is_behind_day(day.day));
        table.push([
            day.day.to_string().into(),
            day.n.to_string().into(),
            significant(day.mean_pa, 4).into(),
            day.standard_deviation_pa
                .map_or("not defined".to_string(), |pa| significant(pa, 3))
                .into(),
            runs::leading_to(of_day),
        ]);
    }
    table
}

/// Negative controls by lot; `None` where no lot is known.
pub(super) fn by_lot(limit: &RejectLimit) -> Option<DataTable> {
    let mut table = DataTable::new(
        "negative-controls-by-lot",
        "Negative controls by lot",
        vec![
            Column::short("Lot"),
            Column::number("Units"),
            Column::number("Mean rise (Pa)"),
            Column::number("Standard deviation (Pa)"),
        ],
    );
    for lot in &limit.by_lot {
        table.push([
            lot.lot.clone(),
            lot.n.to_string(),
            significant(lot.mean_pa, 4),
            lot.standard_deviation_pa.map_or("not defined".to_string(), |pa| significant(pa, 3)),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// Positive controls by side and type of their leak; `None` where all are of
/// one kind.
fn by_kind(results: &Results, confidence: f64) -> Option<DataTable> {
    let mut table = DataTable::new(
        "detection-by-kind",
        "Positive controls by side and type of their leak",
        vec![
            Column::short("Side"),
            Column::words("Type", 1.0),
            Column::number("Label (µm)"),
            Column::number("Found"),
            Column::number("Tested"),
            Column::number("Exact lower bound"),
        ],
    )
    .with_footnote(format!(
        "One-sided bound at {} confidence. The label is the flow of the dry hole. Leaks under the \
         liquid enter no curve and no criterion.",
        shortest_percent(confidence)
    ));
    for row in &results.by_kind {
        table.push([
            row.side.map_or("not said", study::run_factors::LeakSide::word).to_string(),
            if row.defect.is_empty() { "not said".to_string() } else { row.defect.clone() },
            significant(row.nominal_um, 3),
            row.hits.to_string(),
            row.of.to_string(),
            significant(row.lower, 3),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

fn detection_figures(results: &Results, detection: &Detection) -> Vec<KeyValue> {
    let size = |um: Option<f64>| um.map_or("not defined".to_string(), |um| quantity(um, 3, "µm"));
    let mut pairs = vec![
        KeyValue::new("Judged against", quantity(detection.limit_pa, 4, "Pa")),
        KeyValue::new("Units", detection.n_units.to_string()),
        KeyValue::new("Size found with probability 0.5 (a50)", size(detection.a50_um)),
        KeyValue::new("Size found with probability 0.9 (a90)", size(detection.a90_um)),
        KeyValue::new(results.bound_words(), size(detection.a90_95_um)),
        KeyValue::new(
            "Method of that bound",
            detection.a90_95_method.as_deref().unwrap_or("not stated in this record"),
        ),
        KeyValue::new("Separation of hits and misses", detection.separation.as_str()),
    ];
    if let Some((missed, found)) = detection.bracket_um {
        pairs.push(KeyValue::new(
            "Largest missed, smallest found",
            format!("{}, {}", quantity(missed, 3, "µm"), quantity(found, 3, "µm")),
        ));
    }
    pairs
}

fn signal_figures(results: &Results, signal: &SignalDetection) -> Vec<KeyValue> {
    let size = |um: Option<f64>| um.map_or("not defined".to_string(), |um| quantity(um, 3, "µm"));
    let (read, below, above) = signal.read_below_above;
    vec![
        KeyValue::new("Units", signal.units.to_string()),
        KeyValue::new(
            "Readings",
            format!(
                "{read} read, {below} below the floor of {}, {above} only known to lie above",
                quantity(signal.floor_pa, 3, "Pa")
            ),
        ),
        KeyValue::new("Blank taken off", quantity(signal.blank_pa, 4, "Pa")),
        KeyValue::new("Threshold over the blank", quantity(signal.threshold_pa, 4, "Pa")),
        KeyValue::new(
            "Line",
            format!(
                "ln net rise = {} + {} ln size, scatter {} in the middle of the sizes",
                significant(signal.intercept, 4),
                significant(signal.slope, 4),
                significant(signal.scatter, 3)
            ),
        ),
        KeyValue::new("Size found with probability 0.5 (a50)", size(signal.a50_um)),
        KeyValue::new("Size found with probability 0.9 (a90)", size(signal.a90_um)),
        KeyValue::new(results.bound_words(), size(signal.a90_95_um)),
        KeyValue::new("Method of that bound", signal.a90_95_method.as_str()),
        KeyValue::new(
            "What was checked",
            if signal.line_holds {
                "nothing speaks against the line"
            } else {
                "the line is doubtful; see the notes"
            },
        ),
    ]
}

fn by_size(detection: &Detection, confidence: f64, all: &[Run]) -> DataTable {
    let mut table = DataTable::new(
        "detection-by-size",
        "Detection by label size",
        vec![
            Column::number("Label (µm)"),
            Column::number("Found"),
            Column::number("Tested"),
            Column::number("Exact lower bound"),
            Column::words("Runs", 1.0),
        ],
    )
    .with_footnote(format!(
        "One-sided bound on the probability of detection at {} confidence, units taken as \
         independent.",
        shortest_percent(confidence)
    ));
    for row in &detection.by_size {
        let of_size = all.iter().filter(|run| run.is_behind_size(row.nominal_um));
        table.push([
            significant(row.nominal_um, 3).into(),
            row.hits.to_string().into(),
            row.of.to_string().into(),
            significant(row.lower, 3).into(),
            runs::leading_to(of_size),
        ]);
    }
    table
}
