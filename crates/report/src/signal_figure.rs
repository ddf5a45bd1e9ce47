//! Readings of positive controls against their size, with the line and the
//! threshold: what the bound from readings rests on.

use study::Case;
use study::results::NetRise;

use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use crate::number::quantity;

/// Name of the figure.
pub const NAME: &str = "results-readings";

/// `None` where the results carry no line.
#[must_use]
pub fn figure(case: &Case) -> Option<Figure> {
    let results = case.results.as_ref()?;
    let signal = results.signal.as_ref()?;
    let range_pa = case.input.rig.sensor.range.pa();
    let mut groups: [(Vec<f64>, Vec<f64>); 3] = Default::default();
    for run in &case.runs {
        let Some(um) = run.detection_size_um() else { continue };
        let (group, pa) = match signal.net_rise(run, range_pa) {
            Some(NetRise::Read(pa)) => (0, pa),
            Some(NetRise::Below(pa)) => (1, pa),
            Some(NetRise::Above(pa)) => (2, pa),
            None => continue,
        };
        groups[group].0.push(um);
        groups[group].1.push(pa);
    }
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) = values.fold((f64::INFINITY, 0.0_f64), |(a, b), v| (a.min(v), b.max(v)));
        (low > 0.0 && low.is_finite()).then_some((low, high))
    };
    let (low_um, high_um) = ends(&mut groups.iter().flat_map(|group| group.0.iter().copied()))?;
    let (low_pa, high_pa) = ends(&mut groups.iter().flat_map(|group| group.1.iter().copied()))?;
    let mut figure = Figure::new(
        NAME,
        "Readings of positive controls against size",
        Axis::logarithmic("Flow-equivalent diameter", "µm", 0.8 * low_um, 1.25 * high_um),
        Axis::logarithmic(
            "Rise over the blank",
            "Pa",
            0.7 * low_pa.min(signal.threshold_pa),
            1.4 * high_pa.max(signal.threshold_pa),
        ),
    )
    .described(
        "Each point is a run. Line: mean reading of a unit of that size. A run within the noise is \
         known only to lie below its floor; one that a limit ended, or far above the threshold, only \
         to lie above.",
        "Rises over the blank against size on logarithmic axes, with a rising line and the \
         threshold.",
    );
    let marks = [
        ("read", Marker::Disc, Ink::Rust),
        ("below the floor", Marker::OpenTriangle, Ink::Grey),
        ("only known to lie above", Marker::Plus, Ink::Slate),
    ];
    for ((x, y), (label, marker, ink)) in groups.into_iter().zip(marks) {
        if !x.is_empty() {
            figure = figure.with(Layer::new(label, Shape::Points { x, y, marker, ink }));
        }
    }
    let x: Vec<f64> = signal.curve.iter().map(|point| point.0).collect();
    let y = x.iter().map(|um| signal.middle_rise_pa(*um)).collect();
    figure = figure
        .with(Layer::new(
            "line of the readings",
            Shape::Line { x, y, pen: Pen::new(Ink::Black, Dash::Solid).wide(1.4) },
        ))
        .with(Layer::new(
            "threshold",
            Shape::HorizontalRule {
                at: signal.threshold_pa,
                pen: Pen::new(Ink::Plum, Dash::Dashed),
            },
        ));
    if let Some(um) = signal.a90_95_um {
        figure = figure.with(Layer::new(
            format!("{} {}", results.bound_name(), quantity(um, 3, "µm")),
            Shape::VerticalRule { at: um, pen: Pen::new(Ink::Black, Dash::Dotted).wide(1.3) },
        ));
    }
    Some(figure)
}
