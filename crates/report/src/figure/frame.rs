//! The plotting area of a figure and where its values fall.

use super::svg_writer::Lettering;
use super::{Axis, Figure, Shape, key};

/// Size of tick labels, points.
pub const TICK_SIZE: f64 = 8.5;
/// Size of axis labels, points.
pub const LABEL_SIZE: f64 = 9.0;

/// The rectangle between the axes, points from the upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Frame {
    /// The frame of a figure, with room for labels, scales and key.
    #[must_use]
    pub fn of(figure: &Figure) -> Self {
        let lettering = Lettering::plain(TICK_SIZE);
        let widest = |ticks: &[super::Tick]| {
            ticks.iter().map(|tick| lettering.width(&tick.label)).fold(0.0, f64::max)
        };
        let left = widest(&figure.y.ticks(6)) + 8.0 + 18.0;
        let right = figure.right.as_ref().map_or(10.0, |scale| widest(&scale.ticks) + 8.0 + 18.0);
        let key_height = key::height(figure, figure.width_pt - left - right);
        let top_scale = if figure.top.is_some() { 30.0 } else { 0.0 };
        let top = 6.0 + key_height + top_scale;
        let bottom = 36.0;
        Self {
            left,
            top,
            width: (figure.width_pt - left - right).max(20.0),
            height: (figure.height_pt - top - bottom).max(20.0),
        }
    }

    /// Right edge.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// Bottom edge.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Horizontal place of a value; `None` where it has none.
    #[must_use]
    pub fn x(&self, axis: &Axis, value: f64) -> Option<f64> {
        axis.place(value).map(|place| self.left + place.clamp(-20.0, 21.0) * self.width)
    }

    /// Vertical place of a value; `None` where it has none.
    #[must_use]
    pub fn y(&self, axis: &Axis, value: f64) -> Option<f64> {
        axis.place(value).map(|place| self.bottom() - place.clamp(-20.0, 21.0) * self.height)
    }

    /// Place of a point.
    #[must_use]
    pub fn point(&self, figure: &Figure, x: f64, y: f64) -> Option<(f64, f64)> {
        Some((self.x(&figure.x, x)?, self.y(&figure.y, y)?))
    }
}

/// Whether a layer belongs into the key rather than being labelled in place.
pub(super) fn in_key(shape: &Shape) -> bool {
    !matches!(
        shape,
        Shape::VerticalRule { .. }
            | Shape::HorizontalRule { .. }
            | Shape::Words { .. }
            | Shape::Stage { .. }
    )
}
