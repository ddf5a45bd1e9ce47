//! Rise against flow, with the line, the limit and the flow that is told from
//! none.

use study::Case;
use study::results::FlowCalibration;

use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use crate::number::quantity;

pub(super) fn figure(case: &Case, found: &FlowCalibration) -> Option<Figure> {
    let (x, y): (Vec<f64>, Vec<f64>) = case
        .runs
        .iter()
        .filter_map(|run| Some((run.class.flow_pa_m3_per_s()?, run.measured()?.rise_pa)))
        .unzip();
    let last = x.iter().copied().fold(0.0, f64::max);
    if last <= 0.0 {
        return None;
    }
    let limit = case
        .results
        .as_ref()
        .and_then(|results| results.reject_limit.as_ref())
        .map(|limit| limit.limit_pa);
    // In 1e-6 Pa·m³/s, so that the axis carries plain numbers.
    let micro = |flow: f64| flow * 1e6;
    let line = |flow: f64| found.intercept_pa + found.slope.value * flow;
    let highest = y.iter().copied().chain(limit).chain([0.0, line(last)]);
    let mut figure = Figure::new(
        "flow-line",
        "Rise in the measure stage against the flow let in",
        Axis::linear("Flow", "10⁻⁶ Pa·m³/s at 20 °C", 0.0, micro(last) * 1.06),
        Axis::holding("Rise", "Pa", highest),
    )
    .described(
        "Each mark is one challenge. The line carries a reading over to the flow that stands \
         behind it.",
        "Rises of flow challenges against their flow, with the fitted line, the reject limit and \
         the detection limit.",
    );
    figure.height_pt = 230.0;
    figure = figure.with(Layer::new(
        "line",
        Shape::Line {
            x: vec![0.0, micro(last)],
            y: vec![line(0.0), line(last)],
            pen: Pen::new(Ink::Black, Dash::Solid),
        },
    ));
    let x = x.into_iter().map(micro).collect();
    figure = figure.with(Layer::new(
        "flow challenge",
        Shape::Points { x, y, marker: Marker::Diamond, ink: Ink::Plum },
    ));
    if let Some(limit) = limit {
        figure = figure.with(Layer::new(
            format!("reject limit {}", quantity(limit, 3, "Pa")),
            Shape::HorizontalRule { at: limit, pen: Pen::new(Ink::Rust, Dash::Dashed) },
        ));
    }
    if let Some(detected) = found.detection_limit {
        figure = figure.with(Layer::new(
            "told from none",
            Shape::VerticalRule { at: micro(detected), pen: Pen::new(Ink::Teal, Dash::Dotted) },
        ));
    }
    Some(figure)
}
