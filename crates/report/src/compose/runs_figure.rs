//! Rise against run number: what happened, in the order in which it happened.

use study::Case;
use study::runs::{Run, RunClass};

use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use crate::number::quantity;

pub(super) fn figure(case: &Case) -> Option<Figure> {
    let rises = || {
        case.runs.iter().filter_map(|run| run.features.as_ref()).map(|features| features.rise_pa)
    };
    rises().next()?;
    let limit = case
        .results
        .as_ref()
        .and_then(|results| results.reject_limit.as_ref())
        .map(|limit| limit.limit_pa);
    let last = case.runs.iter().map(|run| f64::from(run.number)).fold(1.0, f64::max);
    let mut figure = Figure::new(
        "run-rises",
        "Rise in the measure stage, run by run",
        Axis::linear("Run, in the order in which it was done", "", 0.0, last + 1.0),
        Axis::holding("Rise", "Pa", rises().chain(limit)),
    )
    .described(
        "Blanks only diagnose the rig. Runs that ended before the measure stage have no rise and \
         stand in the table alone.",
        "A chart of the rise of every run against its number, with the reject limit as a line.",
    );
    figure.height_pt = 230.0;
    let kinds: [Kind; 5] = [
        ("blank", Marker::Plus, Ink::Grey, |class| matches!(class, RunClass::Blank)),
        ("flow challenge", Marker::Diamond, Ink::Plum, |class| {
            matches!(class, RunClass::FlowChallenge { .. })
        }),
        ("negative control", Marker::Disc, Ink::Teal, |class| {
            matches!(class, RunClass::NegativeControl)
        }),
        ("positive control", Marker::OpenTriangle, Ink::Rust, |class| {
            matches!(class, RunClass::PositiveControl { .. })
        }),
        ("aged control", Marker::OpenSquare, Ink::Slate, |class| {
            matches!(class, RunClass::AgedControl { .. })
        }),
    ];
    for (label, marker, ink, belongs) in kinds {
        let (x, y) = points(&case.runs, belongs);
        if !x.is_empty() {
            figure = figure.with(Layer::new(label, Shape::Points { x, y, marker, ink }));
        }
    }
    if let Some(limit) = limit {
        let label = format!("reject limit {}", quantity(limit, 3, "Pa"));
        let pen = Pen::new(Ink::Black, Dash::Dashed);
        figure = figure.with(Layer::new(label, Shape::HorizontalRule { at: limit, pen }));
    }
    Some(figure)
}

/// Words, marker, ink and members of a class of runs.
type Kind = (&'static str, Marker, Ink, fn(&RunClass) -> bool);

fn points(runs: &[Run], belongs: fn(&RunClass) -> bool) -> (Vec<f64>, Vec<f64>) {
    runs.iter()
        .filter(|run| belongs(&run.class))
        .filter_map(|run| Some((f64::from(run.number), run.measured()?.rise_pa)))
        .unzip()
}
