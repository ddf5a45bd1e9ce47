//! Figures of the forecast: traces of tight and leaking units, and detection
//! against size.

use study::forecast::{ForecastTrace, mall_at_reference};
use study::trace::Stage;
use study::{Case, Forecast};

use crate::figure::{Axis, Dash, Figure, Ink, Layer, Pen, SecondScale, Shape, Tick};
use crate::number::{power_of_ten, quantity, stated, with_unit};

/// Pens in the order of the traces; dash and thickness tell them apart in
/// black and white.
const PENS: [Pen; 5] = [
    Pen::new(Ink::Teal, Dash::Solid).wide(1.5),
    Pen::new(Ink::Slate, Dash::Dashed).wide(1.2),
    Pen::new(Ink::Plum, Dash::DashDot).wide(1.2),
    Pen::new(Ink::Rust, Dash::Dotted).wide(1.5),
    Pen::new(Ink::Black, Dash::Long).wide(1.0),
];

fn label(example: &ForecastTrace) -> String {
    if example.flow_equivalent_um > 0.0 {
        format!("{}, {}", example.label, quantity(example.flow_equivalent_um, 2, "µm"))
    } else {
        example.label.clone()
    }
}

/// The whole cycle, pressure on a logarithmic axis.
pub(super) fn traces(forecast: &Forecast) -> Option<Figure> {
    let tight = &forecast.traces.first()?.trace;
    let all =
        || forecast.traces.iter().flat_map(|example| example.trace.pressures_pa.iter().copied());
    let end = forecast
        .traces
        .iter()
        .filter_map(|example| example.trace.times_s.last().copied())
        .fold(0.0, f64::max);
    let low = all().fold(f64::INFINITY, f64::min);
    let high = all().fold(0.0, f64::max);
    let mut figure = Figure::new(
        "forecast-traces",
        "Predicted chamber pressure",
        Axis::linear("Time", "s", 0.0, end),
        Axis::logarithmic("Chamber pressure, absolute", "Pa", 0.6 * low, 1.5 * high),
    )
    .described(
        "Noise-free traces of a tight unit and of leaking units over the whole cycle; stages are \
         those of the tight unit.",
        "Chamber pressure against time on a logarithmic scale: it falls during evacuation and \
         rises a little in the measure stage, more for larger leaks.",
    );
    for span in tight.stages.iter().filter(|span| span.stage != Stage::Vent) {
        let shape = Shape::Stage { from: span.start_s, to: span.end_s };
        figure = figure.with(Layer::new(span.stage.word(), shape));
    }
    Some(with_traces(figure, forecast))
}

/// The measure stage on a linear axis, where the rise decides.
pub(super) fn measure_stage(forecast: &Forecast) -> Option<Figure> {
    let tight = &forecast.traces.first()?.trace;
    let span = tight.stages.iter().rev().find(|span| span.stage == Stage::Measure)?;
    // A large leak would press all others to the bottom: the axis follows the
    // tight unit and the sizes near the edge, others leave through the top.
    let near = forecast.traces.iter().take(3).flat_map(|example| {
        let trace = &example.trace;
        trace
            .samples_between(span.start_s, span.end_s)
            .filter_map(|index| trace.pressures_pa.get(index).copied())
    });
    let figure = Figure::new(
        "forecast-measure",
        "The measure stage",
        Axis::linear("Time", "s", span.start_s, span.end_s),
        Axis::holding("Chamber pressure, absolute", "Pa", near),
    )
    .described(
        "The same traces in the measure stage of the tight unit, on a linear scale; a trace that \
         is not shown lies above or below the drawn range.",
        "Chamber pressure against time in the measure stage; larger leaks rise more steeply.",
    );
    Some(with_traces(figure, forecast))
}

fn with_traces(mut figure: Figure, forecast: &Forecast) -> Figure {
    for (example, pen) in forecast.traces.iter().zip(PENS.iter().cycle()) {
        let shape = Shape::Line {
            x: example.trace.times_s.clone(),
            y: example.trace.pressures_pa.clone(),
            pen: *pen,
        };
        figure = figure.with(Layer::new(label(example), shape));
    }
    figure
}

/// Detection against size, by rise, by reach and by either.
pub(super) fn curve(case: &Case, forecast: &Forecast) -> Option<Figure> {
    let points = &forecast.detection;
    let (first, last) = (points.first()?, points.last()?);
    let x: Vec<f64> = points.iter().map(|point| point.flow_equivalent_um).collect();
    let purpose = &case.input.profile.purpose;
    let mut figure = Figure::new(
        "forecast-detection",
        "Predicted detection against size",
        Axis::logarithmic(
            "Flow-equivalent diameter",
            "µm",
            first.flow_equivalent_um,
            last.flow_equivalent_um,
        ),
        Axis::linear("Probability of detection", "", 0.0, 1.0),
    )
    .described(
        "At the stated inputs. The window lies where the heavy line is above the required \
         detection; shaded: the 90 % interval of its lower edge.",
        "Probability of detection rises from zero to one with size; it may fall again where the \
         headspace empties.",
    );
    figure.height_pt = 230.0;
    figure.top = Some(flow_scale(points));
    if let Some(edge) = forecast.window.smallest.filter(|edge| edge.low_um < edge.high_um) {
        let shape = Shape::Band {
            x: vec![edge.low_um, edge.high_um],
            low: vec![0.0, 0.0],
            high: vec![1.0, 1.0],
            ink: Ink::Grey,
        };
        figure = figure.with(Layer::new("lower edge, 90 % interval", shape));
    }
    let column = |pick: fn(&study::forecast::DetectionPoint) -> f64| {
        points.iter().map(pick).collect::<Vec<_>>()
    };
    let line = |y, pen| Shape::Line { x: x.clone(), y, pen };
    figure = figure
        .with(Layer::new(
            "by reach limit",
            line(column(|point| point.by_reach), Pen::new(Ink::Rust, Dash::Dotted).wide(1.4)),
        ))
        .with(Layer::new(
            "by rise limit",
            line(column(|point| point.by_rise), Pen::new(Ink::Slate, Dash::Dashed)),
        ))
        .with(Layer::new(
            "by either",
            line(column(|point| point.probability), Pen::new(Ink::Black, Dash::Solid).wide(1.6)),
        ))
        .with(Layer::new(
            "required",
            Shape::HorizontalRule {
                at: purpose.required_detection.fraction(),
                pen: Pen::new(Ink::Grey, Dash::Long).wide(0.7),
            },
        ));
    Some(with_mall(figure, case))
}

/// A vertical line at the leak that matters, where it is stated for air.
pub(super) fn with_mall(figure: Figure, case: &Case) -> Figure {
    let size =
        case.input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    match size.map(|size| size.flow_equivalent_diameter.um()) {
        Some(um) if figure.x.place(um).is_some_and(|place| (0.0..=1.0).contains(&place)) => figure
            .with(Layer::new(
                format!("MALL {}", with_unit(&stated(um), "µm")),
                Shape::VerticalRule { at: um, pen: Pen::new(Ink::Plum, Dash::Dashed).wide(1.3) },
            )),
        _ => figure,
    }
}

/// Powers of ten of the flow along the top, at the sizes that pass them.
fn flow_scale(points: &[study::forecast::DetectionPoint]) -> SecondScale {
    let mut ticks = Vec::new();
    for exponent in -12..=3_i32 {
        let flow = crate::logarithm::ten_to(exponent);
        let above = points.iter().position(|point| point.reference_throughput_pa_m3_per_s >= flow);
        if let Some(index) = above.filter(|index| *index > 0) {
            let (low, high) = (&points[index - 1], &points[index]);
            // Both axes are logarithmic and the grid is fine: the place within
            // a step is taken in proportion.
            let span = high.reference_throughput_pa_m3_per_s - low.reference_throughput_pa_m3_per_s;
            let share = (flow - low.reference_throughput_pa_m3_per_s) / span;
            let at =
                low.flow_equivalent_um + share * (high.flow_equivalent_um - low.flow_equivalent_um);
            ticks.push(Tick { at, label: power_of_ten(exponent) });
        }
    }
    SecondScale { label: "Flow of air at the reference state (Pa·m³/s)".to_string(), ticks }
}
