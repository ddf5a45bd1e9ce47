//! A reading plan: how the files of one kind are to be read, agreed once and
//! applied to the next thousand.

use study::quantities::AbsolutePressure;
use study::quantities::units::Unit;
use study::trace::Stage;

use crate::column_header::TemperatureUnit;
use crate::delimited::{DateOrder, Given, NumberStyle, Separator, TextEncoding};

/// How a file is read. What is left open is proposed from the file, and what
/// cannot be told is asked for by a message that names the key.
///
/// After a reading the plan holds every choice, so that it can be kept with
/// the runs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadingPlan {
    /// Name by which people know the plan.
    pub name: String,
    /// Encoding of the bytes.
    pub encoding: Option<TextEncoding>,
    /// What parts the cells.
    pub separator: Option<Separator>,
    /// How numbers are written.
    pub style: Option<NumberStyle>,
    /// Cells that mean that there is no value.
    pub missing: Vec<String>,
    /// Cells that mean that the gauge was beyond its range.
    pub over_range: Vec<String>,
    /// A column that names the run to which a row belongs.
    pub run: Option<String>,
    /// A column that says in which stage of the cycle a row was taken.
    pub stage: Option<StagePlan>,
    /// Where the times come from.
    pub time: Option<TimePlan>,
    /// Columns of chamber pressure; empty: those whose header has a unit of
    /// pressure.
    pub pressures: Vec<PressurePlan>,
    /// Columns of temperature; empty: those whose header has a unit of
    /// temperature. The first belongs to the traces.
    pub temperatures: Vec<TemperaturePlan>,
    /// Pressure of the room, for gauge pressures.
    pub barometer: Option<AbsolutePressure>,
    /// Whether times that begin again, or a repeated header, part the file
    /// into several runs.
    pub split_at_restart: bool,
}

/// Where the times come from.
#[derive(Debug, Clone, PartialEq)]
pub enum TimePlan {
    /// A column of elapsed time, or of seconds of an epoch.
    Elapsed {
        /// The column.
        column: String,
        /// Its unit.
        unit: &'static Unit,
    },
    /// A column of clock times.
    Clock {
        /// The column.
        column: String,
        /// Order of day, month and year, where it has to be said.
        order: Option<DateOrder>,
    },
    /// Even sampling.
    Rate {
        /// Samples per second.
        samples_per_s: f64,
    },
    /// Even sampling between two clock times that stand before and after the
    /// data.
    FramingLines,
}

/// A column of chamber pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct PressurePlan {
    /// The column.
    pub column: String,
    /// Unit of the written value times `scale`.
    pub unit: &'static Unit,
    /// Factor before the unit: 0.1 where the file counts tenths of it; below
    /// zero only for a gauge that counts downward from the room.
    pub scale: f64,
    /// True where the value is against the atmosphere.
    pub gauge: bool,
    /// Pressure at which the gauge ends, if it is known.
    pub full_scale: Option<AbsolutePressure>,
}

/// A column of stages, with the words that the file uses for them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StagePlan {
    /// The column.
    pub column: String,
    /// Words of the file and what they mean.
    pub words: Vec<(String, Stage)>,
}

/// A column of temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct TemperaturePlan {
    /// The column.
    pub column: String,
    /// Its unit.
    pub unit: TemperatureUnit,
}

impl ReadingPlan {
    /// What the plan says of the layout of the text.
    #[must_use]
    pub fn given(&self) -> Given {
        Given { encoding: self.encoding, separator: self.separator, style: self.style }
    }
}

impl PressurePlan {
    /// A column of absolute pressure in a unit, with factor 1.
    #[must_use]
    pub fn absolute(column: &str, unit: &'static Unit) -> Self {
        Self { column: column.to_owned(), unit, scale: 1.0, gauge: false, full_scale: None }
    }
}
