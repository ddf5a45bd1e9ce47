//! Inks, dashes and markers. Dash and marker carry the meaning; ink only
//! helps, and each ink has its own lightness so that a grey print still tells
//! them apart.

/// Colour of a line, marker or band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Main statements.
    Black,
    /// What was calculated beforehand.
    Slate,
    /// What was measured on tight units.
    Teal,
    /// What was measured on leaking units.
    Rust,
    /// Limits and requirements.
    Plum,
    /// Help lines and shadings.
    Grey,
}

impl Ink {
    /// The colour, as a hexadecimal triple.
    #[must_use]
    pub const fn hex(self) -> &'static str {
        match self {
            Self::Black => "#1a1a1a",
            Self::Slate => "#2f5d8a",
            Self::Teal => "#3f8577",
            Self::Rust => "#b5532a",
            Self::Plum => "#6a2d63",
            Self::Grey => "#8a8a86",
        }
    }
}

/// Pattern of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// An unbroken line.
    Solid,
    /// Dashes.
    Dashed,
    /// Dots.
    Dotted,
    /// Dash and dot in turn.
    DashDot,
    /// Long dashes.
    Long,
}

impl Dash {
    /// Lengths of strokes and gaps, points; empty for an unbroken line.
    #[must_use]
    pub const fn pattern(self) -> &'static str {
        match self {
            Self::Solid => "",
            Self::Dashed => "5 2.5",
            Self::Dotted => "1 2.2",
            Self::DashDot => "6 2.2 1 2.2",
            Self::Long => "10 3",
        }
    }

    /// Name of the pattern in the browser's plot.
    #[must_use]
    pub const fn plot_name(self) -> &'static str {
        match self {
            Self::Solid => "solid",
            Self::Dashed => "dash",
            Self::Dotted => "dot",
            Self::DashDot => "dashdot",
            Self::Long => "longdash",
        }
    }
}

/// Shape of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// Filled circle.
    Disc,
    /// Open circle.
    Ring,
    /// Filled square.
    Square,
    /// Open square.
    OpenSquare,
    /// Filled triangle, point up.
    Triangle,
    /// Open triangle, point up.
    OpenTriangle,
    /// Filled diamond.
    Diamond,
    /// Upright cross.
    Plus,
    /// Diagonal cross.
    Cross,
}

impl Marker {
    /// Name of the shape in the browser's plot.
    #[must_use]
    pub const fn plot_name(self) -> &'static str {
        match self {
            Self::Disc => "circle",
            Self::Ring => "circle-open",
            Self::Square => "square",
            Self::OpenSquare => "square-open",
            Self::Triangle => "triangle-up",
            Self::OpenTriangle => "triangle-up-open",
            Self::Diamond => "diamond",
            Self::Plus => "cross-thin",
            Self::Cross => "x-thin",
        }
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Colour.
    pub ink: Ink,
    /// Pattern.
    pub dash: Dash,
    /// Thickness, points.
    pub width_pt: f64,
}

impl Pen {
    /// A pen of the usual thickness.
    #[must_use]
    pub const fn new(ink: Ink, dash: Dash) -> Self {
        Self { ink, dash, width_pt: 1.1 }
    }

    /// The same pen with another thickness.
    #[must_use]
    pub const fn wide(mut self, width_pt: f64) -> Self {
        self.width_pt = width_pt;
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance after IEC 61966-2-1 is replaced here by the plain
    /// weighted mean of the coded values, which orders the same way.
    fn lightness(ink: Ink) -> f64 {
        let channel = |from: usize| {
            f64::from(u8::from_str_radix(&ink.hex()[from..from + 2], 16).expect("hexadecimal"))
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    #[test]
    fn inks_differ_in_a_grey_print() {
        let mut all =
            [Ink::Black, Ink::Slate, Ink::Teal, Ink::Rust, Ink::Plum, Ink::Grey].map(lightness);
        all.sort_by(f64::total_cmp);
        for pair in all.windows(2) {
            assert!(pair[1] - pair[0] >= 4.0, "{all:?}");
        }
    }

    #[test]
    fn inks_are_dark_enough_for_a_line_on_white() {
        // WCAG 2.2, 1.4.11: 3 to 1 for graphics; coded value 148 is 3.0 to 1.
        for ink in [Ink::Black, Ink::Slate, Ink::Teal, Ink::Rust, Ink::Plum, Ink::Grey] {
            assert!(lightness(ink) <= 148.0, "{ink:?}");
        }
    }
}
