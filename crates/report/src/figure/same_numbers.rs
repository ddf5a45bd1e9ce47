//! Paper and browser must show the same numbers: every number of the JSON is
//! put through the frame's mapping and must stand at that place in the SVG.

use serde_json::Value;

use super::svg_writer::coordinate;
use super::*;
use crate::sample::{figure_of_every_layer, log_figure};

/// Numbers of a column; null stands for a gap.
fn column(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .expect("a column")
        .iter()
        .map(|item| item.as_f64().unwrap_or(f64::NAN))
        .collect()
}

/// What the SVG holds between the tags of a layer.
fn layer_of(svg: &str, index: usize) -> &str {
    let start = svg.find(&format!("<g data-layer=\"{index}\">")).expect("a layer");
    let end = svg[start..].find("</g>").expect("its end");
    &svg[start..start + end]
}

/// The number of places compared, or what differs.
fn compare(figure: &Figure, svg: &str, json: &Value) -> Result<usize, String> {
    let frame = Frame::of(figure);
    let mut compared = 0;
    for trace in json["data"].as_array().expect("traces") {
        let index =
            usize::try_from(trace["meta"]["layer"].as_u64().expect("a layer")).expect("small");
        let drawn = layer_of(svg, index);
        for wanted in expected(figure, &frame, &figure.layers[index].shape, trace) {
            if !drawn.contains(&wanted) {
                return Err(format!("layer {index}: {wanted} is not drawn"));
            }
            compared += 1;
        }
    }
    for shape in json["layout"]["shapes"].as_array().expect("shapes") {
        let (key, place) = if shape["xref"] == "x" {
            ("x1", frame.x(&figure.x, shape["x0"].as_f64().expect("a place")))
        } else {
            ("y1", frame.y(&figure.y, shape["y0"].as_f64().expect("a place")))
        };
        let wanted = format!("{key}=\"{}\"", coordinate(place.expect("on the axis")));
        if shape["type"] == "line" && !svg.contains(&wanted) {
            return Err(format!("rule at {wanted} is not drawn"));
        }
        compared += 1;
    }
    Ok(compared)
}

/// Pieces of SVG that the numbers of a trace must have left.
fn expected(figure: &Figure, frame: &Frame, shape: &Shape, trace: &Value) -> Vec<String> {
    let (x, y) = (column(&trace["x"]), column(&trace["y"]));
    let at = |x: f64, y: f64| {
        frame.point(figure, x, y).map(|(x, y)| format!("{} {}", coordinate(x), coordinate(y)))
    };
    match shape {
        Shape::Bars { .. } => x
            .iter()
            .zip(column(&trace["width"]))
            .zip(&y)
            .filter_map(|((centre, width), height)| {
                let (left, top) = frame.point(figure, centre - width / 2.0, *height)?;
                Some(format!("<rect x=\"{}\" y=\"{}\"", coordinate(left), coordinate(top)))
            })
            .collect(),
        Shape::ErrorBars { .. } => {
            let up = column(&trace["error_y"]["array"]);
            let down = column(&trace["error_y"]["arrayminus"]);
            (0..x.len())
                .filter_map(|index| {
                    let place = coordinate(frame.x(&figure.x, x[index])?);
                    let low = coordinate(frame.y(&figure.y, y[index] - down[index])?);
                    let high = coordinate(frame.y(&figure.y, y[index] + up[index])?);
                    Some(format!("x1=\"{place}\" y1=\"{low}\" x2=\"{place}\" y2=\"{high}\""))
                })
                .collect()
        }
        Shape::Points { marker, ink, .. } => x
            .iter()
            .zip(&y)
            .filter_map(|(x, y)| {
                let (x, y) = frame.point(figure, *x, *y)?;
                Some(marker_path(*marker, *ink, x, y, 2.7).0)
            })
            .collect(),
        _ => x.iter().zip(&y).filter_map(|(x, y)| at(*x, *y)).collect(),
    }
}

fn both(figure: &Figure) -> (String, Value) {
    (svg(figure).expect("sound"), plot_json(figure).expect("sound"))
}

#[test]
fn paper_and_browser_show_the_same_numbers() {
    for (figure, least) in [(figure_of_every_layer(), 6000), (log_figure(), 60)] {
        let (svg, json) = both(&figure);
        let compared = compare(&figure, &svg, &json).expect("the same");
        assert!(compared >= least, "{compared} places");
    }
}

#[test]
fn long_lines_are_reduced_alike() {
    let n = 50_000;
    let x: Vec<f64> = (0..n).map(|index| f64::from(index) * 1e-3).collect();
    let y: Vec<f64> = (0..n).map(|index| f64::from(index % 97)).collect();
    let figure = Figure::new(
        "long",
        "long",
        Axis::linear("t", "s", 0.0, 50.0),
        Axis::linear("p", "Pa", 0.0, 100.0),
    )
    .with(Layer::new("trace", Shape::Line { x, y, pen: Pen::new(Ink::Black, Dash::Solid) }));
    let (svg, json) = both(&figure);
    let compared = compare(&figure, &svg, &json).expect("the same");
    assert!((2 * COLUMNS..=4 * COLUMNS + 4).contains(&compared), "{compared}");
}

#[test]
fn a_planted_difference_is_found() {
    let figure = figure_of_every_layer();
    let (svg, mut json) = both(&figure);
    let traces = json["data"].as_array_mut().expect("traces");
    let counts = traces.len();
    traces[counts - 1]["y"][1] = 99.0.into();
    assert!(compare(&figure, &svg, &json).is_err());
}

#[test]
fn no_trace_needs_webgl_and_text_cannot_be_tags() {
    let figure =
        figure_of_every_layer().with(Layer::new("<a href='x'>&", Shape::Words { x: 1.0, y: 1.0 }));
    let json = plot_json(&figure).expect("sound");
    for trace in json["data"].as_array().expect("traces") {
        assert!(matches!(trace["type"].as_str(), Some("scatter" | "bar")));
    }
    let text = json.to_string();
    assert!(!text.contains("<a") && text.contains("&lt;a"));
}

#[test]
fn a_gap_is_null_in_the_one_and_a_break_in_the_other() {
    let shape = Shape::Line {
        x: vec![0.0, 1.0, 2.0],
        y: vec![1.0, f64::NAN, 3.0],
        pen: Pen::new(Ink::Black, Dash::Solid),
    };
    let figure = Figure::new(
        "gap",
        "gap",
        Axis::linear("t", "s", 0.0, 2.0),
        Axis::linear("p", "Pa", 0.0, 4.0),
    )
    .with(Layer::new("trace", shape));
    let (svg, json) = both(&figure);
    assert!(json["data"][0]["y"][1].is_null());
    assert_eq!(layer_of(&svg, 0).matches('M').count(), 2);
    assert!(!svg.contains("NaN"));
}
