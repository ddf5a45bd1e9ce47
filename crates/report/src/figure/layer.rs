//! Layers: the things that can be drawn in a figure.

use super::{Ink, Marker, Pen};

/// One layer with the words that stand for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// What it is, in a few words; empty for help lines.
    pub label: String,
    /// What is drawn.
    pub shape: Shape,
}

/// What is drawn. Values are in the units of the axes; a value without a
/// place (not a number, or not positive on a logarithmic axis) leaves a gap.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line through points.
    Line {
        /// Horizontal values.
        x: Vec<f64>,
        /// Vertical values, one for each.
        y: Vec<f64>,
        /// How it is drawn.
        pen: Pen,
    },
    /// A line that keeps each value until the next.
    Steps {
        /// Horizontal values.
        x: Vec<f64>,
        /// Vertical values, one for each.
        y: Vec<f64>,
        /// How it is drawn.
        pen: Pen,
    },
    /// Points.
    Points {
        /// Horizontal values.
        x: Vec<f64>,
        /// Vertical values, one for each.
        y: Vec<f64>,
        /// Shape of the points.
        marker: Marker,
        /// Colour of the points.
        ink: Ink,
    },
    /// Points with an interval in the vertical direction.
    ErrorBars {
        /// Horizontal values.
        x: Vec<f64>,
        /// Vertical values.
        y: Vec<f64>,
        /// Lower ends.
        low: Vec<f64>,
        /// Upper ends.
        high: Vec<f64>,
        /// Shape of the points.
        marker: Marker,
        /// Colour.
        ink: Ink,
    },
    /// The area between two lines.
    Band {
        /// Horizontal values.
        x: Vec<f64>,
        /// Lower line.
        low: Vec<f64>,
        /// Upper line.
        high: Vec<f64>,
        /// Colour of the shading.
        ink: Ink,
    },
    /// Bars that stand on zero, side by side.
    Bars {
        /// Edges, one more than heights.
        edges: Vec<f64>,
        /// Heights.
        heights: Vec<f64>,
        /// Colour.
        ink: Ink,
    },
    /// A vertical line across the figure.
    VerticalRule {
        /// Where it stands.
        at: f64,
        /// How it is drawn.
        pen: Pen,
    },
    /// A horizontal line across the figure.
    HorizontalRule {
        /// Where it lies.
        at: f64,
        /// How it is drawn.
        pen: Pen,
    },
    /// Words at a place, to its right and above.
    Words {
        /// Horizontal place.
        x: f64,
        /// Vertical place.
        y: f64,
    },
    /// A stretch of the horizontal axis that belongs together, e.g. a stage of
    /// the cycle; its label stands at the top.
    Stage {
        /// Start.
        from: f64,
        /// End.
        to: f64,
    },
}

impl Layer {
    /// A layer with its label.
    #[must_use]
    pub fn new(label: impl Into<String>, shape: Shape) -> Self {
        Self { label: label.into(), shape }
    }
}
