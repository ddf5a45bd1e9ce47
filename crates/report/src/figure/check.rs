//! Whether a figure can be drawn as it is.

use super::{Axis, Figure, Scale, Shape};

/// Why a figure cannot be drawn.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FigureError {
    /// An axis has no extent, or a logarithmic axis reaches zero.
    #[error("figure {figure}: the axis '{axis}' needs two finite ends, the lower one first{hint}")]
    Axis {
        /// Identifier of the figure.
        figure: String,
        /// Label of the axis.
        axis: String,
        /// What else it needs.
        hint: &'static str,
    },
    /// The columns of a layer differ in length.
    #[error(
        "figure {figure}: the columns of layer {layer} ('{label}') differ in length; give one value of each for every point"
    )]
    Columns {
        /// Identifier of the figure.
        figure: String,
        /// Place of the layer, counted from 1.
        layer: usize,
        /// Label of the layer.
        label: String,
    },
}

impl Figure {
    /// Checks axes and columns.
    ///
    /// # Errors
    /// [`FigureError`] names the axis or layer.
    pub fn check(&self) -> Result<(), FigureError> {
        for axis in [&self.x, &self.y] {
            check_axis(&self.id, axis)?;
        }
        for (index, layer) in self.layers.iter().enumerate() {
            if !columns_agree(&layer.shape) {
                return Err(FigureError::Columns {
                    figure: self.id.clone(),
                    layer: index + 1,
                    label: layer.label.clone(),
                });
            }
        }
        Ok(())
    }
}

fn check_axis(figure: &str, axis: &Axis) -> Result<(), FigureError> {
    let finite = axis.low.is_finite() && axis.high.is_finite() && axis.low < axis.high;
    let positive = axis.scale == Scale::Linear || axis.low > 0.0;
    if finite && positive {
        return Ok(());
    }
    let hint = if positive { "" } else { "; on a logarithmic axis both must be positive" };
    Err(FigureError::Axis { figure: figure.to_string(), axis: axis.label.clone(), hint })
}

fn columns_agree(shape: &Shape) -> bool {
    match shape {
        Shape::Line { x, y, .. } | Shape::Steps { x, y, .. } | Shape::Points { x, y, .. } => {
            x.len() == y.len()
        }
        Shape::ErrorBars { x, y, low, high, .. } => {
            x.len() == y.len() && x.len() == low.len() && x.len() == high.len()
        }
        Shape::Band { x, low, high, .. } => x.len() == low.len() && x.len() == high.len(),
        Shape::Bars { edges, heights, .. } => {
            edges.len() == heights.len() + 1 || (edges.is_empty() && heights.is_empty())
        }
        Shape::VerticalRule { .. }
        | Shape::HorizontalRule { .. }
        | Shape::Words { .. }
        | Shape::Stage { .. } => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Dash, Ink, Layer, Pen};

    fn figure() -> Figure {
        Figure::new("f", "t", Axis::linear("x", "s", 0.0, 1.0), Axis::linear("y", "Pa", 0.0, 1.0))
    }

    #[test]
    fn a_sound_figure_passes() {
        assert_eq!(figure().check(), Ok(()));
    }

    #[test]
    fn columns_of_different_length_are_named() {
        let shape =
            Shape::Line { x: vec![0.0, 1.0], y: vec![0.0], pen: Pen::new(Ink::Black, Dash::Solid) };
        let error = figure().with(Layer::new("trace", shape)).check().expect_err("differ");
        assert!(error.to_string().contains("layer 1 ('trace')"), "{error}");
    }

    #[test]
    fn an_axis_that_cannot_be_drawn_is_named() {
        let mut broken = figure();
        broken.y = Axis::logarithmic("flow", "sccm", 0.0, 1.0);
        let error = broken.check().expect_err("zero on a log axis");
        assert!(error.to_string().contains("'flow'") && error.to_string().contains("positive"));
        broken.y = Axis::linear("rise", "Pa", f64::NAN, 1.0);
        assert!(broken.check().is_err());
    }
}
