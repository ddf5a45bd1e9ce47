//! Writing a workbook from grids.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, Worksheet, XlsxError};

use crate::codes;
use crate::message::{Message, Refusal};
use crate::run_table::{Grid, Values};

/// Rows of a sheet below its header; a sheet ends at row 1 048 576.
const ROWS_OF_A_SHEET: usize = 1_000_000;

/// Writes grids as the sheets of a workbook; a long one goes on in further
/// sheets (`samples 2`). Text that begins like a formula is stored as text.
/// The same grids give the same bytes.
///
/// # Errors
/// Where a text is longer than a cell can hold (32 767 characters).
pub fn write_workbook(grids: &[Grid]) -> Result<Vec<u8>, Refusal> {
    written(grids).map_err(|error| {
        Message::refused(codes::TOO_LARGE, format!("The workbook cannot be written: {error}"))
            .done("Nothing was written.")
            .next("Export as CSV or Parquet.")
            .into()
    })
}

fn written(grids: &[Grid]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // No clock here: a fixed date keeps the bytes the same.
    let moment = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&moment));
    for grid in grids {
        let n_rows = grid.n_rows();
        let n_sheets = n_rows.div_ceil(ROWS_OF_A_SHEET).max(1);
        for part in 0..n_sheets {
            let name = match part {
                0 => grid.name.clone(),
                later => format!("{} {}", grid.name, later + 1),
            };
            let from = part * ROWS_OF_A_SHEET;
            let to = n_rows.min(from + ROWS_OF_A_SHEET);
            let sheet = book.add_worksheet().set_name(name)?;
            write_part(sheet, grid, from..to)?;
        }
    }
    book.save_to_buffer()
}

fn write_part(
    sheet: &mut Worksheet,
    grid: &Grid,
    range: core::ops::Range<usize>,
) -> Result<(), XlsxError> {
    for (column, grid_column) in (0_u16..).zip(&grid.columns) {
        sheet.write_string(0, column, &grid_column.name)?;
        for (row, index) in (1_u32..).zip(range.clone()) {
            match &grid_column.values {
                Values::Numbers(values) => {
                    if let Some(value) = values[index] {
                        sheet.write_number(row, column, value)?;
                    }
                }
                Values::Words(values) => {
                    if !values[index].is_empty() {
                        sheet.write_string(row, column, &values[index])?;
                    }
                }
            }
        }
    }
    Ok(())
}
