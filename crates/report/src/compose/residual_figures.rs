//! What is left over: readings of positive controls beside their line, and
//! flow challenges beside theirs. A bend or a widening shows here first.

use study::Case;
use study::results::{FlowCalibration, SignalDetection};

use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};

/// Height of a figure of residuals, points.
const HEIGHT: f64 = 165.0;
/// Standard deviations between which 19 of 20 normal residuals lie (common
/// practice).
const USUAL: f64 = 2.0;

/// Readings that were read, each as a multiple of the line there; `None` with
/// fewer than two. The scatter may change with size, so that no one band of
/// standard deviations would be right for all of them.
pub(super) fn of_readings(case: &Case, signal: &SignalDetection) -> Option<Figure> {
    let range_pa = case.input.rig.sensor.range.pa();
    let (x, y): (Vec<f64>, Vec<f64>) =
        case.runs.iter().filter_map(|run| signal.over_line(run, range_pa)).unzip();
    let ends = |values: &[f64]| {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        (low, values.iter().copied().fold(0.0, f64::max))
    };
    let ((low, high), (least, most)) = (ends(&x), ends(&y));
    if x.len() < 2 || !(least > 0.0 && most.is_finite()) {
        return None;
    }
    let mut figure = Figure::new(
        "readings-residuals",
        "Readings beside their line",
        Axis::logarithmic("Flow-equivalent diameter", "µm", 0.8 * low, 1.25 * high),
        Axis::logarithmic("Reading over line", "", 0.85 * least.min(1.0), 1.15 * most.max(1.0)),
    )
    .described(
        "Each point is a reading that was read, as a multiple of the line. Points that bend away \
         from 1 speak against the line; points that spread more at one end, for a scatter that \
         changes with size. What lies below the floor or only above a limit is left out.",
        "Multiples of the line against size, scattered about one.",
    );
    figure.height_pt = HEIGHT;
    let line = Pen::new(Ink::Black, Dash::Solid).wide(0.7);
    Some(
        figure
            .with(Layer::new("", Shape::HorizontalRule { at: 1.0, pen: line }))
            .with(Layer::new("", Shape::Points { x, y, marker: Marker::Disc, ink: Ink::Rust })),
    )
}

/// Rises of flow challenges less their line, Pa; `None` with fewer than two.
pub(super) fn of_flows(case: &Case, found: &FlowCalibration) -> Option<Figure> {
    let (x, y): (Vec<f64>, Vec<f64>) = case
        .runs
        .iter()
        .filter_map(|run| {
            let flow = run.class.flow_pa_m3_per_s()?;
            let rise = run.measured()?.rise_pa;
            // In 1e-6 Pa·m³/s, so that the axis carries plain numbers.
            Some((1e6 * flow, rise - found.intercept_pa - found.slope.value * flow))
        })
        .unzip();
    let last = x.iter().copied().fold(0.0, f64::max);
    if x.len() < 2 || last <= 0.0 {
        return None;
    }
    let usual = USUAL * found.residual_sd_pa;
    let mut figure = Figure::new(
        "flow-residuals",
        "Flow challenges less their line",
        Axis::linear("Flow", "10⁻⁶ Pa·m³/s at 20 °C", -0.02 * last, last * 1.06),
        Axis::holding("Rise less line", "Pa", y.iter().copied().chain([usual, -usual])),
    )
    .described(
        "Each mark is one challenge less the line. Dashed: two standard deviations of the scatter, \
         between which 19 of 20 would lie.",
        "Points scattered about zero, with lines two standard deviations above and below.",
    );
    figure.height_pt = HEIGHT;
    let rule = |at, pen| Layer::new("", Shape::HorizontalRule { at, pen });
    let dashed = Pen::new(Ink::Grey, Dash::Dashed);
    Some(
        figure
            .with(rule(0.0, Pen::new(Ink::Black, Dash::Solid).wide(0.7)))
            .with(rule(usual, dashed))
            .with(rule(-usual, dashed))
            .with(Layer::new("", Shape::Points { x, y, marker: Marker::Diamond, ink: Ink::Plum })),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::tests::whole;

    /// On the line of a fit with an intercept, least squares leave residuals
    /// whose sum is zero.
    #[test]
    fn residuals_of_the_flows_sum_to_zero() {
        let case = whole(study::worked_cases::lyophilised_vial());
        let found = case.results.as_ref().and_then(|results| results.flow_calibration.clone());
        let figure = of_flows(&case, &found.expect("a calibration")).expect("a figure");
        let marks = figure.layers.iter().find_map(|layer| match &layer.shape {
            Shape::Points { y, .. } => Some(y.clone()),
            _ => None,
        });
        let y = marks.expect("points");
        let (sum, size) =
            y.iter().fold((0.0, 0.0), |(sum, size), one| (sum + one, size + one.abs()));
        assert!(size > 1.0 && sum.abs() < 1e-6 * size, "{sum} of {size}");
    }

    #[test]
    fn a_planted_reading_stands_out() {
        let mut case = whole(study::worked_cases::lyophilised_vial());
        let signal = case.results.as_ref().and_then(|results| results.signal.clone());
        let signal = signal.expect("a line");
        let range_pa = case.input.rig.sensor.range.pa();
        let at = case
            .runs
            .iter()
            .position(|run| signal.over_line(run, range_pa).is_some())
            .expect("a reading");
        let (um, before) = signal.over_line(&case.runs[at], range_pa).expect("read");
        assert!((0.3..3.0).contains(&before), "{before}");
        let features = case.runs[at].features.as_mut().expect("features");
        features.rise_pa = signal.blank_pa + 1.25 * signal.middle_rise_pa(um);
        let (_, after) = signal.over_line(&case.runs[at], range_pa).expect("read");
        assert!((after - 1.25).abs() < 1e-9, "{after}");
        assert!(of_readings(&case, &signal).is_some());
    }
}
