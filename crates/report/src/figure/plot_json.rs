//! The printer for the browser's interactive plot: `{ "data": .., "layout": .. }`
//! in the shape that plotly.js reads. Only drawn (SVG) kinds of traces are
//! used, none that needs WebGL.

use serde_json::{Value, json};

use super::reduce::{COLUMNS, columns_kept};
use super::{Axis, Dash, Figure, FigureError, Ink, Layer, Marker, Pen, Scale, Shape};
use crate::logarithm::log10;
use crate::visible::visible;

/// A figure for the browser.
///
/// Texts are escaped, since the plot reads a few tags in them. Colours of
/// ground and lettering are left to the page (light and dark).
///
/// # Errors
/// [`FigureError`] where the figure's axes or columns do not allow it.
pub fn plot_json(figure: &Figure) -> Result<Value, FigureError> {
    figure.check()?;
    let mut data = Vec::new();
    let mut shapes = Vec::new();
    let mut annotations = Vec::new();
    for (index, layer) in figure.layers.iter().enumerate() {
        for mut trace in traces(figure, layer) {
            trace["meta"] = json!({ "layer": index });
            data.push(trace);
        }
        place_marks(figure, layer, &mut shapes, &mut annotations);
    }
    Ok(json!({
        "data": data,
        "layout": {
            "title": { "text": plain(&figure.title) },
            "xaxis": axis(&figure.x),
            "yaxis": axis(&figure.y),
            "shapes": shapes,
            "annotations": annotations,
            "hovermode": "closest",
            "dragmode": "zoom",
            "legend": { "orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom" },
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "margin": { "l": 64, "r": 24, "t": 56, "b": 52 }
        }
    }))
}

/// Text that the plot must not read as tags.
fn plain(text: &str) -> String {
    visible(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

fn axis(axis: &Axis) -> Value {
    let (kind, range) = match axis.scale {
        Scale::Linear => ("linear", [Some(axis.low), Some(axis.high)]),
        Scale::Logarithmic => ("log", [log10(axis.low), log10(axis.high)]),
    };
    let mut plot = json!({
        "title": { "text": plain(&axis.text()) },
        "type": kind,
        "range": range,
        "exponentformat": "power",
        "ticks": "outside",
        "showline": true,
        "zeroline": false
    });
    if !axis.names.is_empty() {
        let ticks = axis.ticks(axis.names.len());
        plot["tickvals"] = ticks.iter().map(|tick| json!(tick.at)).collect();
        plot["ticktext"] = ticks.iter().map(|tick| json!(plain(&tick.label))).collect();
    }
    plot
}

fn traces(figure: &Figure, layer: &Layer) -> Vec<Value> {
    let name = plain(&layer.label);
    let shown = !layer.label.is_empty();
    match &layer.shape {
        Shape::Line { x, y, pen } => {
            let kept = columns_kept(&figure.x, x, y, COLUMNS);
            let pick = |column: &[f64]| kept.iter().map(|&index| column[index]).collect::<Vec<_>>();
            vec![line(&name, shown, &pick(x), &pick(y), *pen, "linear")]
        }
        Shape::Steps { x, y, pen } => vec![line(&name, shown, x, y, *pen, "hv")],
        Shape::Points { x, y, marker, ink } => vec![points(&name, shown, x, y, *marker, *ink)],
        Shape::ErrorBars { x, y, low, high, marker, ink } => {
            let mut trace = points(&name, shown, x, y, *marker, *ink);
            let up: Vec<f64> = high.iter().zip(y).map(|(high, y)| high - y).collect();
            let down: Vec<f64> = y.iter().zip(low).map(|(y, low)| y - low).collect();
            trace["error_y"] = json!({
                "type": "data", "symmetric": false, "array": up, "arrayminus": down,
                "color": ink.hex(), "thickness": 1, "width": 3
            });
            vec![trace]
        }
        Shape::Band { x, low, high, ink } => band(&name, shown, x, low, high, *ink),
        Shape::Bars { edges, heights, ink } => vec![bars(&name, shown, edges, heights, *ink)],
        Shape::VerticalRule { .. }
        | Shape::HorizontalRule { .. }
        | Shape::Words { .. }
        | Shape::Stage { .. } => Vec::new(),
    }
}

fn line(name: &str, shown: bool, x: &[f64], y: &[f64], pen: Pen, shape: &str) -> Value {
    json!({
        "type": "scatter", "mode": "lines", "name": name, "showlegend": shown,
        "x": x, "y": y, "connectgaps": false,
        "line": { "color": pen.ink.hex(), "dash": pen.dash.plot_name(), "width": 1.5 * pen.width_pt, "shape": shape }
    })
}

fn points(name: &str, shown: bool, x: &[f64], y: &[f64], marker: Marker, ink: Ink) -> Value {
    json!({
        "type": "scatter", "mode": "markers", "name": name, "showlegend": shown,
        "x": x, "y": y,
        "marker": { "symbol": marker.plot_name(), "color": ink.hex(), "size": 7,
                    "line": { "color": ink.hex(), "width": 1.2 } }
    })
}

fn band(name: &str, shown: bool, x: &[f64], low: &[f64], high: &[f64], ink: Ink) -> Vec<Value> {
    let edge = Pen::new(ink, Dash::Solid).wide(0.0);
    let lower = line(name, false, x, low, edge, "linear");
    let mut upper = line(name, shown, x, high, edge, "linear");
    upper["fill"] = json!("tonexty");
    upper["fillcolor"] = json!(with_opacity(ink, 0.16));
    vec![lower, upper]
}

fn bars(name: &str, shown: bool, edges: &[f64], heights: &[f64], ink: Ink) -> Value {
    let centres: Vec<f64> = edges.windows(2).map(|pair| f64::midpoint(pair[0], pair[1])).collect();
    let widths: Vec<f64> = edges.windows(2).map(|pair| pair[1] - pair[0]).collect();
    json!({
        "type": "bar", "name": name, "showlegend": shown,
        "x": centres, "width": widths, "y": heights,
        "marker": { "color": with_opacity(ink, 0.3), "line": { "color": ink.hex(), "width": 1 } }
    })
}

fn with_opacity(ink: Ink, opacity: f64) -> String {
    let channel = |from: usize| u8::from_str_radix(&ink.hex()[from..from + 2], 16).unwrap_or(0);
    format!("rgba({},{},{},{opacity})", channel(1), channel(3), channel(5))
}

/// Rules, stages and words. The plot takes the places of shapes in the units
/// of the data, those of annotations on a log axis as logarithms.
fn place_marks(
    figure: &Figure,
    layer: &Layer,
    shapes: &mut Vec<Value>,
    annotations: &mut Vec<Value>,
) {
    let style = |pen: Pen| json!({ "color": pen.ink.hex(), "dash": pen.dash.plot_name(), "width": 1.5 * pen.width_pt });
    match layer.shape {
        Shape::VerticalRule { at, pen } => {
            shapes.push(json!({ "type": "line", "xref": "x", "yref": "paper", "x0": at, "x1": at,
                "y0": 0, "y1": 1, "line": style(pen) }));
            annotate(
                annotations,
                layer,
                json!({ "xref": "x", "x": written(&figure.x, at),
                "yref": "paper", "y": 1, "xanchor": "left", "yanchor": "top" }),
            );
        }
        Shape::HorizontalRule { at, pen } => {
            shapes.push(json!({ "type": "line", "xref": "paper", "yref": "y", "x0": 0, "x1": 1,
                "y0": at, "y1": at, "line": style(pen) }));
            annotate(
                annotations,
                layer,
                json!({ "xref": "paper", "x": 1, "yref": "y",
                "y": written(&figure.y, at), "xanchor": "right", "yanchor": "bottom" }),
            );
        }
        Shape::Words { x, y } => {
            annotate(
                annotations,
                layer,
                json!({ "xref": "x", "x": written(&figure.x, x), "yref": "y",
                "y": written(&figure.y, y), "xanchor": "left", "yanchor": "bottom" }),
            );
        }
        Shape::Stage { from, to } => {
            shapes.push(
                json!({ "type": "rect", "xref": "x", "yref": "paper", "x0": from, "x1": to,
                "y0": 0, "y1": 1, "layer": "below", "fillcolor": "rgba(138,138,134,0.10)",
                "line": { "color": Ink::Grey.hex(), "width": 0.5 } }),
            );
            annotate(
                annotations,
                layer,
                json!({ "xref": "x",
                "x": written(&figure.x, f64::midpoint(from, to)), "yref": "paper", "y": 1,
                "xanchor": "center", "yanchor": "top" }),
            );
        }
        _ => {}
    }
}

fn annotate(annotations: &mut Vec<Value>, layer: &Layer, mut place: Value) {
    if !layer.label.is_empty() {
        place["text"] = json!(plain(&layer.label));
        place["showarrow"] = json!(false);
        annotations.push(place);
    }
}

fn written(axis: &Axis, value: f64) -> Option<f64> {
    match axis.scale {
        Scale::Linear => value.is_finite().then_some(value),
        Scale::Logarithmic => log10(value),
    }
}
