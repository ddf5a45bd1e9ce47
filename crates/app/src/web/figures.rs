//! Figures of the pages: data that is drawn here and plotted in the browser.

use maud::{Markup, PreEscaped, html};
use report::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use study::Case;
use study::forecast::{Forecast, mall_at_reference};
use study::profile::Profile;
use study::runs::RunClass;
use study::trace::Stage;

use super::address;
use super::reply::{Answer, Reply};
use super::wording::{plain, shown, three};

/// Detection against size, predicted.
pub const FORECAST_DETECTION: &str = "forecast-detection";
/// Predicted traces over the whole cycle.
pub const FORECAST_TRACES: &str = "forecast-traces";
/// Predicted rise in the measure stage.
pub const FORECAST_RISE: &str = "forecast-rise";
/// Detection against size, from positive controls.
pub const RESULTS_DETECTION: &str = "results-detection";
/// Rises of the controls with the limit.
pub const RESULTS_RISES: &str = "results-rises";

/// Dashes tell lines apart where colours cannot.
const DASHES: [Dash; 5] = [Dash::Solid, Dash::Dashed, Dash::DashDot, Dash::Dotted, Dash::Long];

/// The figure of this name; `None` where the case has none yet.
pub fn figure(case: &Case, name: &str) -> Option<Figure> {
    match name {
        FORECAST_DETECTION => {
            Some(forecast_detection(&case.input.profile, case.forecast.as_ref()?, None))
        }
        FORECAST_TRACES => Some(forecast_traces(case.forecast.as_ref()?)),
        FORECAST_RISE => Some(forecast_rise(case.forecast.as_ref()?)),
        RESULTS_DETECTION => results_detection(case.results.as_ref()?),
        RESULTS_RISES => results_rises(case),
        report::signal_figure::NAME => report::signal_figure::figure(case),
        _ => None,
    }
}

/// Answers `figures/NAME.json`.
pub fn reply(case: &Case, name: &str) -> Answer {
    let Some(figure) = figure(case, name) else {
        return Err(Reply::missing(
            format!("case `{}` has no figure `{name}` yet", case.input.id),
            "open the step where the case stands",
            address::of_case(&case.input.id, ""),
        ));
    };
    report::figure::plot_json(&figure).map(Reply::Json).map_err(|error| Reply::Refused {
        why: error.to_string(),
        next_step: "read the table beside the figure instead".to_owned(),
    })
}

/// A figure on its page: a drawing that the script turns into a plot.
pub fn placed(case: &Case, name: &str) -> Markup {
    let Some(figure) = figure(case, name) else { return html! {} };
    let data = format!("{}.json", address::of_case(&case.input.id, &format!("figures/{name}")));
    html! {
        figure.plot data-figure=(data) {
            div.plot-still {
                @match report::figure::svg(&figure) {
                    Ok(svg) => (PreEscaped(svg)),
                    Err(error) => p { "This figure cannot be drawn: " (error.to_string()) "." },
                }
            }
            div.plot-live hidden role="group" aria-label={ (figure.title) ", plot that can be zoomed" } {}
            figcaption { strong { (figure.title) "." } " " (figure.caption) }
        }
    }
}

/// Detection against size; `other` is a second design in the bench.
pub fn forecast_detection(
    profile: &Profile,
    forecast: &Forecast,
    other: Option<&Forecast>,
) -> Figure {
    let column = |forecast: &Forecast, pick: fn(&study::forecast::DetectionPoint) -> f64| {
        forecast.detection.iter().map(pick).collect::<Vec<f64>>()
    };
    let sizes = |forecast: &Forecast| column(forecast, |point| point.flow_equivalent_um);
    let mut figure = Figure::new(
        FORECAST_DETECTION,
        "Probability of detection by size of leak",
        Axis::logarithmic("Leak, flow-equivalent diameter", "µm", 0.2, 500.0),
        Axis::linear("Probability of detection", "", 0.0, 1.0),
    )
    .described(
        "A leak is found where its rise exceeds the rise limit or its pressure misses the reach \
         limit. The window is where the curve stays above the required probability.",
        format!("Forecast: {}: {}.", forecast.verdict.answer.word(), forecast.verdict.because),
    );
    if other.is_none() {
        for (label, pick, dash) in [
            (
                "by the rise limit",
                (|p| p.by_rise) as fn(&study::forecast::DetectionPoint) -> f64,
                Dash::Dashed,
            ),
            ("by the reach limit", |p| p.by_reach, Dash::Dotted),
        ] {
            figure = figure.with(Layer::new(
                label,
                Shape::Line {
                    x: sizes(forecast),
                    y: column(forecast, pick),
                    pen: Pen::new(Ink::Grey, dash),
                },
            ));
        }
    }
    let name = if other.is_some() { "case as it stands" } else { "by either" };
    let ink = if other.is_some() { Ink::Grey } else { Ink::Slate };
    figure = figure.with(Layer::new(
        name,
        Shape::Line {
            x: sizes(forecast),
            y: column(forecast, |point| point.probability),
            pen: Pen::new(ink, if other.is_some() { Dash::Dashed } else { Dash::Solid }).wide(1.6),
        },
    ));
    if let Some(other) = other {
        figure = figure.with(Layer::new(
            "this design",
            Shape::Line {
                x: sizes(other),
                y: column(other, |point| point.probability),
                pen: Pen::new(Ink::Slate, Dash::Solid).wide(1.8),
            },
        ));
    }
    let required = profile.purpose.required_detection.fraction();
    figure = figure.with(Layer::new(
        format!("required {}", plain(required)),
        Shape::HorizontalRule { at: required, pen: Pen::new(Ink::Plum, Dash::Dotted) },
    ));
    if let Some(needed) =
        profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten())
    {
        let um = needed.flow_equivalent_diameter.um();
        figure = figure.with(Layer::new(
            format!("needed {} µm", three(um)),
            Shape::VerticalRule { at: um, pen: Pen::new(Ink::Plum, Dash::Dashed) },
        ));
    }
    figure
}

fn forecast_traces(forecast: &Forecast) -> Figure {
    let longest = forecast
        .traces
        .iter()
        .filter_map(|example| example.trace.times_s.last().copied())
        .fold(1.0, f64::max);
    let pressures =
        forecast.traces.iter().flat_map(|example| example.trace.pressures_pa.iter().copied());
    let mut figure = Figure::new(
        FORECAST_TRACES,
        "Predicted traces",
        Axis::linear("Time", "s", 0.0, longest),
        Axis::holding_decades("Chamber pressure", "Pa", pressures),
    )
    .described(
        "Without noise: a tight unit, the edges of the window and the leak that matters. Bands \
         are the stages of the cycle.",
        "Chamber pressure against time for a tight unit and for leaks of several sizes.",
    );
    figure = with_stages(figure, forecast);
    for (index, example) in forecast.traces.iter().enumerate() {
        figure = figure.with(Layer::new(
            shown(&example.label),
            Shape::Line {
                x: example.trace.times_s.clone(),
                y: example.trace.pressures_pa.clone(),
                pen: pen_of(index, example.flow_equivalent_um),
            },
        ));
    }
    figure
}

fn with_stages(mut figure: Figure, forecast: &Forecast) -> Figure {
    if let Some(example) = forecast.traces.first() {
        for span in &example.trace.stages {
            figure = figure.with(Layer::new(
                span.stage.word(),
                Shape::Stage { from: span.start_s, to: span.end_s },
            ));
        }
    }
    figure
}

fn pen_of(index: usize, um: f64) -> Pen {
    let ink = if um == 0.0 { Ink::Teal } else { Ink::Rust };
    Pen::new(ink, DASHES[index % DASHES.len()]).wide(1.3)
}

/// Rise since the start of the last measure stage, where the limit decides.
pub fn forecast_rise(forecast: &Forecast) -> Figure {
    let mut lines = Vec::new();
    for (index, example) in forecast.traces.iter().enumerate() {
        let trace = &example.trace;
        let Some(span) = trace.stages.iter().rev().find(|span| span.stage == Stage::Measure) else {
            continue;
        };
        let range = trace.samples_between(span.start_s, span.end_s);
        let Some(&start) = trace.pressures_pa.get(range.start) else { continue };
        let x: Vec<f64> = trace.times_s[range.clone()].iter().map(|t| t - span.start_s).collect();
        let y: Vec<f64> = trace.pressures_pa[range].iter().map(|p| p - start).collect();
        lines.push((index, example, x, y));
    }
    // A large leak must not press the lines that decide onto the axis.
    let ceiling = 4.0 * forecast.rise_limit_pa;
    let shown_values = lines
        .iter()
        .flat_map(|(_, _, _, y)| y.iter().copied())
        .filter(|rise| *rise <= ceiling)
        .chain([0.0, 1.3 * forecast.rise_limit_pa]);
    let longest = lines.iter().filter_map(|line| line.2.last().copied()).fold(0.0, f64::max);
    let mut figure = Figure::new(
        FORECAST_RISE,
        "Predicted rise in the measure stage",
        Axis::linear(
            "Time since measure began",
            "s",
            0.0,
            if longest > 0.0 { longest } else { 1.0 },
        ),
        Axis::holding("Rise", "Pa", shown_values),
    )
    .described(
        "The same units, counted from the start of the measure stage. A unit above the rise limit \
         at the end is rejected.",
        "Pressure rise against time in the measure stage, with the rise limit as a line.",
    );
    for (index, example, x, y) in lines {
        figure = figure.with(Layer::new(
            shown(&example.label),
            Shape::Line { x, y, pen: pen_of(index, example.flow_equivalent_um) },
        ));
    }
    figure.with(Layer::new(
        format!("rise limit {} Pa", three(forecast.rise_limit_pa)),
        Shape::HorizontalRule {
            at: forecast.rise_limit_pa,
            pen: Pen::new(Ink::Plum, Dash::Dashed),
        },
    ))
}

fn results_detection(results: &study::Results) -> Option<Figure> {
    let detection = results.detection.as_ref()?;
    let sizes: Vec<f64> = detection
        .curve
        .iter()
        .map(|point| point.0)
        .chain(detection.by_size.iter().map(|row| row.nominal_um))
        .collect();
    let low = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = sizes.iter().copied().fold(0.0, f64::max);
    let (low, high) = if low < high { (low * 0.95, high * 1.05) } else { (low * 0.5, low * 2.0) };
    let share = |row: &study::results::SizeRow| row.hits as f64 / row.of.max(1) as f64;
    let mut figure = Figure::new(
        RESULTS_DETECTION,
        "Detection of positive controls",
        Axis::logarithmic("Leak, flow-equivalent diameter", "µm", low, high),
        Axis::linear("Share found", "", 0.0, 1.0),
    )
    .described(
        "Points: share found at each nominal size, with the exact lower bound as a whisker. \
         Line: fitted curve; dashed: its lower bound. The bound, not the line, is what may be \
         claimed.",
        format!("{} positive controls in {} sizes.", detection.n_units, detection.by_size.len()),
    );
    let x: Vec<f64> = detection.curve.iter().map(|point| point.0).collect();
    if !x.is_empty() {
        let lower = detection.curve.iter().map(|point| point.2.unwrap_or(f64::NAN)).collect();
        figure = figure
            .with(Layer::new(
                "lower bound of the curve",
                Shape::Line { x: x.clone(), y: lower, pen: Pen::new(Ink::Slate, Dash::Dashed) },
            ))
            .with(Layer::new(
                "fitted curve",
                Shape::Line {
                    x,
                    y: detection.curve.iter().map(|point| point.1).collect(),
                    pen: Pen::new(Ink::Slate, Dash::Solid).wide(1.6),
                },
            ));
    }
    let rows = &detection.by_size;
    figure = figure.with(Layer::new(
        "found, with exact lower bound",
        Shape::ErrorBars {
            x: rows.iter().map(|row| row.nominal_um).collect(),
            y: rows.iter().map(share).collect(),
            low: rows.iter().map(|row| row.lower).collect(),
            high: rows.iter().map(share).collect(),
            marker: Marker::Disc,
            ink: Ink::Rust,
        },
    ));
    if let Some(a90) = detection.a90_95_um {
        figure = figure.with(Layer::new(
            format!("{} {} µm", results.bound_name(), three(a90)),
            Shape::VerticalRule { at: a90, pen: Pen::new(Ink::Plum, Dash::Dashed) },
        ));
    }
    Some(figure.with(Layer::new(
        "0.9",
        Shape::HorizontalRule { at: 0.9, pen: Pen::new(Ink::Plum, Dash::Dotted) },
    )))
}

/// Rises in the order of the runs, with the limit.
fn results_rises(case: &Case) -> Option<Figure> {
    let limit = case.results.as_ref()?.reject_limit.as_ref()?;
    let of = |wanted: fn(&RunClass) -> bool| {
        case.runs
            .iter()
            .filter(|run| wanted(&run.class))
            .filter_map(|run| Some((f64::from(run.number), run.measured()?.rise_pa)))
            .unzip::<f64, f64, Vec<f64>, Vec<f64>>()
    };
    let negative = of(|class| matches!(class, RunClass::NegativeControl));
    let positive = of(|class| matches!(class, RunClass::PositiveControl { .. }));
    let blank = of(|class| matches!(class, RunClass::Blank));
    let flow = of(|class| matches!(class, RunClass::FlowChallenge { .. }));
    let aged = of(|class| matches!(class, RunClass::AgedControl { .. }));
    let last = case.runs.iter().map(|run| run.number).max().unwrap_or(1);
    // Large leaks stand far above; the decision is made around the limit.
    let values = negative.1.iter().chain(&blank.1).copied();
    let values =
        values.chain(positive.1.iter().copied().filter(|rise| *rise < 4.0 * limit.limit_pa));
    let axis = Axis::holding("Rise", "Pa", values.chain([0.0, 1.2 * limit.limit_pa]));
    let beyond = positive.1.iter().filter(|rise| **rise > axis.high).count();
    let mut caption = "Every completed run in the order of the plan. Only negative controls set \
                       the limit; blanks diagnose the rig."
        .to_owned();
    if beyond > 0 {
        caption
            .push_str(&format!(" {beyond} positive controls rise beyond the top of the figure."));
    }
    let points = |(x, y): (Vec<f64>, Vec<f64>), marker, ink| Shape::Points { x, y, marker, ink };
    let mut figure = Figure::new(
        RESULTS_RISES,
        "Rise of every run against the reject limit",
        Axis::linear("Run", "", 0.0, f64::from(last) + 1.0),
        axis,
    )
    .described(caption, format!("Reject limit {} Pa.", three(limit.limit_pa)))
    .with(Layer::new("blank", points(blank, Marker::Plus, Ink::Grey)))
    .with(Layer::new("flow challenge", points(flow, Marker::Diamond, Ink::Plum)))
    .with(Layer::new("negative control", points(negative, Marker::Ring, Ink::Teal)))
    .with(Layer::new("positive control", points(positive, Marker::Triangle, Ink::Rust)));
    if !aged.0.is_empty() {
        let shape = points(aged, Marker::OpenSquare, Ink::Slate);
        figure = figure.with(Layer::new("aged control", shape));
    }
    Some(figure.with(Layer::new(
        format!("reject limit {} Pa", three(limit.limit_pa)),
        Shape::HorizontalRule { at: limit.limit_pa, pen: Pen::new(Ink::Plum, Dash::Dashed) },
    )))
}
