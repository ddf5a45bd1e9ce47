//! The chart of the blanks: whether the rig stayed as it was.

use study::Case;
use study::blank_chart::{BlankChart, blank_chart};

use super::runs::in_ranges;
use crate::document::{Block, FigureBlock, Section};
use crate::figure::{Axis, Dash, Figure, FigureError, Ink, Layer, Marker, Pen, Shape};
use crate::number::quantity;

/// Adds the chart and what it says; nothing where the case has no blanks.
pub(super) fn added_to(section: Section, case: &Case) -> Result<Section, FigureError> {
    let has_blanks = case.runs.iter().any(|run| run.class == study::runs::RunClass::Blank);
    Ok(match blank_chart(&case.runs) {
        _ if !has_blanks => section,
        Err(reason) => section.paragraph(format!("Blanks are on no chart: {reason}.")),
        Ok(chart) => {
            let drawn = section.with(Block::Figure(FigureBlock::of(&figure(&chart))?));
            if chart.notes.is_empty() {
                drawn
            } else {
                drawn.with(Block::Notes(chart.notes.iter().map(super::note).collect()))
            }
        }
    })
}

fn figure(chart: &BlankChart) -> Figure {
    let (low, high) = chart.limits_pa;
    let x: Vec<f64> = chart.rises.iter().map(|blank| f64::from(blank.0)).collect();
    let y: Vec<f64> = chart.rises.iter().map(|blank| blank.1).collect();
    let last = x.iter().copied().fold(1.0, f64::max);
    let outside = match chart.outside.as_slice() {
        [] => "No blank lies outside.".to_string(),
        runs => format!("Outside: runs {}.", in_ranges(runs)),
    };
    let mut figure = Figure::new(
        "blank-chart",
        "Blanks on a chart of individual values",
        Axis::linear("Run, in the order in which it was done", "", 0.0, last + 1.0),
        Axis::holding("Rise", "Pa", y.iter().copied().chain([low, high])),
    )
    .described(
        format!(
            "Dashed: three standard deviations from moving ranges about the mean, {} to {}. \
             {outside} Blanks speak of the rig and set no limit for units.",
            quantity(low, 3, "Pa"),
            quantity(high, 3, "Pa")
        ),
        "Rises of blanks against the number of the run, with their mean and two limits.",
    );
    figure.height_pt = 170.0;
    let rule = |at, pen| Shape::HorizontalRule { at, pen };
    let dashed = Pen::new(Ink::Black, Dash::Dashed);
    figure
        .with(Layer::new("", rule(chart.mean_pa, Pen::new(Ink::Grey, Dash::Solid).wide(0.7))))
        .with(Layer::new("", rule(low, dashed)))
        .with(Layer::new("", rule(high, dashed)))
        .with(Layer::new(
            "",
            Shape::Line {
                x: x.clone(),
                y: y.clone(),
                pen: Pen::new(Ink::Grey, Dash::Solid).wide(0.5),
            },
        ))
        .with(Layer::new("", Shape::Points { x, y, marker: Marker::Plus, ink: Ink::Slate }))
}
