//! Effects as bars, and a design as its runs.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::answer::Response;
use super::factor::Factor;
use crate::commands::assess::drawing::{band, level, line, places, points, values};

/// Most effects shown.
const SHOWN: usize = 10;

/// Panels of a filled design.
pub fn panels(factors: &[Factor], responses: &[Response]) -> Vec<Figure> {
    let mut panels = Vec::new();
    for (index, response) in responses.iter().enumerate() {
        panels.push(bars(index, response));
        panels.extend(profiles(index, factors, response));
    }
    panels
}

fn bars(index: usize, response: &Response) -> Figure {
    let shown: Vec<_> = response.effects.iter().take(SHOWN).collect();
    let names: Vec<String> = shown.iter().map(|effect| effect.name.clone()).collect();
    let ends = shown.iter().flat_map(|effect| [effect.effect, effect.margin, -effect.margin]);
    let ends: Vec<f64> = ends.chain([0.0]).collect();
    let same = response.two_levels.is_some();
    let mut figure = Figure::new(
        format!("effects{index}"),
        format!("Effects on {}", response.name),
        Axis::named("", names),
        Axis::holding("change from low to high", "", ends),
    );
    // A bar may point down, which bars that stand on zero do not.
    for (i, effect) in shown.iter().enumerate() {
        let ends = (effect.effect.min(0.0), effect.effect.max(0.0));
        let x = [i as f64 + 0.2, i as f64 + 0.8];
        figure = figure.with(band("", &x, &[ends; 2], Ink::Slate));
    }
    figure = figure.with(level("", 0.0, Ink::Grey, Dash::Solid));
    if same {
        if let Some(margin) = shown.first().map(|effect| effect.margin) {
            let label = format!("stands out beyond {}", significant(margin, 3));
            figure = figure.with(level(&label, margin, Ink::Plum, Dash::Dashed)).with(level(
                "",
                -margin,
                Ink::Plum,
                Dash::Dashed,
            ));
        }
    } else {
        for (i, effect) in shown.iter().enumerate() {
            let ends = [i as f64 + 0.1, i as f64 + 0.9];
            for margin in [effect.margin, -effect.margin] {
                let label = if i == 0 && margin > 0.0 { "margin" } else { "" };
                figure = figure.with(line(label, &ends, &[margin; 2], Ink::Plum, Dash::Dashed));
            }
        }
    }
    let rest = response.effects.len() - shown.len();
    let more =
        if rest > 0 { format!(" {rest} smaller ones are not drawn.") } else { String::new() };
    figure.described(
        format!("The clearest first; a bar beyond its margin stands out.{more}"),
        "Bars of effects with their margin.",
    )
}

/// The fitted result along each factor, the others at their middle.
fn profiles(index: usize, factors: &[Factor], response: &Response) -> Option<Figure> {
    let surface = response.model.as_ref()?.surface.as_ref()?;
    let x = places(-1.0, 1.0);
    let along = |j: usize| {
        values(&x, |at| {
            let mut point = vec![0.0; factors.len()];
            point[j] = at;
            surface.value(&point).unwrap_or(f64::NAN)
        })
    };
    let curves: Vec<Vec<f64>> = (0..factors.len()).map(along).collect();
    let heights = curves.iter().flatten().copied().filter(|value| value.is_finite());
    let mut figure = Figure::new(
        format!("profile{index}"),
        format!("{} along each factor", response.name),
        Axis::linear("coded level, -1 low and 1 high", "", -1.0, 1.0),
        Axis::holding(response.name.clone(), "", heights),
    );
    const STYLES: [(Ink, Dash); 5] = [
        (Ink::Slate, Dash::Solid),
        (Ink::Rust, Dash::Dashed),
        (Ink::Teal, Dash::DashDot),
        (Ink::Plum, Dash::Dotted),
        (Ink::Black, Dash::Long),
    ];
    for (j, (factor, y)) in factors.iter().zip(&curves).enumerate() {
        let (ink, dash) = STYLES[j % STYLES.len()];
        figure = figure.with(line(&factor.name, &x, y, ink, dash));
    }
    Some(figure.described("The other factors stand at their middle.", "Result along each factor."))
}

/// Runs in the order of running, a row of marks for each factor.
pub fn design(factors: &[Factor], design: &[Vec<f64>], order: &[usize]) -> Figure {
    let n = order.len();
    let k = factors.len();
    let mut figure = Figure::new(
        "design",
        "Runs of the design",
        Axis::linear("run", "", 0.0, n as f64 + 1.0),
        Axis {
            names: factors.iter().rev().map(|f| f.name.clone()).collect(),
            ..Axis::linear("", "", 0.0, k as f64)
        },
    );
    let farthest = design.iter().flatten().fold(1.0_f64, |m, v| m.max(v.abs()));
    for (j, _) in factors.iter().enumerate() {
        let row = (k - 1 - j) as f64 + 0.5;
        let y: Vec<f64> = order.iter().map(|run| row + 0.35 * design[*run][j] / farthest).collect();
        let x: Vec<f64> = (1..=n).map(|run| run as f64).collect();
        figure = figure.with(line("", &x, &y, Ink::Grey, Dash::Solid)).with(points(
            "",
            &x,
            &y,
            Marker::Disc,
            Ink::Slate,
        ));
    }
    figure.described(
        "Each row is a factor; marks stand at its low, middle or high level, in the order of \
         running.",
        "Levels of each factor by run.",
    )
}
