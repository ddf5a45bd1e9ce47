//! The parts of a long text read side by side, as if they were read in turn.
//!
//! A part is only kept where nothing in it depends on what stands before it:
//! rows of data, blank lines, the run named in each row. Whatever else turns
//! up (a fault, a repeated header, a line that is no data, a quote that runs
//! on) makes the part be read again, in turn, with everything after it.
//! So the rows, and every refusal with its place, are those of reading in
//! turn; how many threads there are changes nothing.

use rayon::prelude::*;

use super::plain_rows;
use super::rows::{RowLayout, RowReader};
use crate::delimited::{Records, Shape};

/// Length of a part, bytes: the same whatever the number of threads, and short
/// enough to stay in the cache of a core.
pub(super) const PART_BYTES: usize = 1 << 18;

/// A part that was read by itself; its lines are counted from 1.
#[derive(Debug)]
pub(super) struct RowPart {
    pub(super) reader: RowReader,
    /// Lines of the part.
    pub(super) n_lines: u64,
}

/// The whole lines of a text in pieces of about a length.
pub(super) fn split_at_lines(bytes: &[u8], part_bytes: usize) -> Vec<&[u8]> {
    let part_bytes = part_bytes.max(1);
    let mut pieces = Vec::with_capacity(bytes.len() / part_bytes + 1);
    let mut rest = bytes;
    while rest.len() / 2 >= part_bytes {
        let Some(feed) = rest[part_bytes..].iter().position(|&byte| byte == b'\n') else { break };
        let (piece, after) = rest.split_at(part_bytes + feed + 1);
        pieces.push(piece);
        rest = after;
    }
    pieces.push(rest);
    pieces
}

/// Reads the pieces side by side; `None` for a piece that has to be read in
/// turn.
pub(super) fn read_pieces(
    pieces: &[&[u8]],
    layout: &RowLayout,
    shape: &Shape,
) -> Vec<Option<RowPart>> {
    pieces.par_iter().map(|piece| read_piece(piece, layout, shape)).collect()
}

fn read_piece(piece: &[u8], layout: &RowLayout, shape: &Shape) -> Option<RowPart> {
    let text = core::str::from_utf8(piece).ok()?;
    let mut reader = RowReader::new(layout.clone());
    let mut records = Records::from(text, 0, 1);
    loop {
        plain_rows::read(&mut reader, &mut records);
        let Some(record) = records.next() else { break };
        let record = record.ok()?;
        if !record.is_blank() && (!shape.is_data_row(&record) || layout.is_header(&record)) {
            return None;
        }
        reader.record(&record);
        if reader.has_faults() {
            return None;
        }
    }
    let n_lines = records.rest().1 - 1;
    Some(RowPart { reader, n_lines })
}
