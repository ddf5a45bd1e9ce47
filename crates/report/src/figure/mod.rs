//! A figure is data: axes, layers, captions and the numbers behind them.
//!
//! Two printers read it: [`svg`] for paper and pages, [`plot_json`] for the
//! browser's interactive plot. A test compares their numbers, so that what is
//! signed is what was seen.

mod axis;
mod check;
mod frame;
mod ink;
mod key;
mod label_places;
mod layer;
mod plot_json;
mod reduce;
mod sheet;
mod svg;
mod svg_layers;
mod svg_writer;
mod ticks_linear;
mod ticks_log;

pub use axis::{Axis, Scale, SecondScale, Tick};
pub use check::FigureError;
pub use frame::Frame;
pub use ink::{Dash, Ink, Marker, Pen};
pub use label_places::spread;
pub use layer::{Layer, Shape};
pub use plot_json::plot_json;
pub use reduce::{COLUMNS, columns_kept};
pub use sheet::sheet;
pub use svg::svg;
pub(crate) use svg_layers::{marker_path, pen_style};
pub(crate) use svg_writer::identifier;
pub use svg_writer::{Anchor, Lettering, SvgWriter, escaped};
pub use ticks_linear::linear_ticks;
pub use ticks_log::log_ticks;

use crate::document::DataTable;

/// A figure: everything that is drawn, said and counted in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Short name without spaces, unique in a document.
    pub id: String,
    /// What the figure shows, in a few words.
    pub title: String,
    /// How to read it, in whole sentences.
    pub caption: String,
    /// What a reader who cannot see it needs to know.
    pub alt: String,
    /// Width on paper, points (1/72 inch).
    pub width_pt: f64,
    /// Height on paper, points.
    pub height_pt: f64,
    /// Horizontal axis.
    pub x: Axis,
    /// Vertical axis.
    pub y: Axis,
    /// A second scale along the top edge, e.g. the same sizes in micrometres.
    pub top: Option<SecondScale>,
    /// A second scale along the right edge.
    pub right: Option<SecondScale>,
    /// What is drawn, in the order of drawing.
    pub layers: Vec<Layer>,
    /// The numbers behind the figure, where they are few enough to print.
    pub source: Option<DataTable>,
}

impl Figure {
    /// An empty figure of the usual size: the width of a column of text and a
    /// little over half as high.
    #[must_use]
    pub fn new(id: impl Into<String>, title: impl Into<String>, x: Axis, y: Axis) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            caption: String::new(),
            alt: String::new(),
            width_pt: 455.0,
            height_pt: 240.0,
            x,
            y,
            top: None,
            right: None,
            layers: Vec::new(),
            source: None,
        }
    }

    /// The same figure with a caption and a description for those who cannot
    /// see it.
    #[must_use]
    pub fn described(mut self, caption: impl Into<String>, alt: impl Into<String>) -> Self {
        self.caption = caption.into();
        self.alt = alt.into();
        self
    }

    /// The same figure with one more layer on top.
    #[must_use]
    pub fn with(mut self, layer: Layer) -> Self {
        self.layers.push(layer);
        self
    }
}

#[cfg(test)]
mod same_numbers;
