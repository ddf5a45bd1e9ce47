//! Delimited text as instruments and people write it: any of the usual
//! separators, encodings, line ends and decimal marks, with lines of other
//! text before and after the data.
//!
//! A choice is made only where the whole file supports one and refutes the
//! others. Every choice is a message; where there is none to make, the file
//! is refused and the message names what to state in the reading plan.

mod cell;
mod clock;
mod decode;
mod fields;
mod header;
mod layout;
mod marks;
mod number_bytes;
mod number_shape;
mod other_bytes;
mod records;
mod separator;
mod shape;

pub use cell::{CellFault, DecimalMark, NumberStyle, is_missing_token, read_cell};
pub use clock::{
    ClockReading, ClockStyle, DateOrder, has_short_year, is_two_part_time, looks_like_clock,
    read_clock,
};
pub use decode::{DecodedText, TextEncoding, decode};
pub use fields::{Separator, split_fields};
pub use layout::{DelimitedText, Given, read_delimited};
pub use marks::propose_marks;
pub use number_bytes::number_at;
pub(crate) use number_shape::{NumberShape, ZEROS, value_of_eight_digits};
pub use records::{LONGEST_LINE_BYTES, Record, Records};
pub use separator::propose_separator;
pub(crate) use shape::Shape;
