//! Reading a workbook: every sheet as tab-separated text with the rows where
//! they stand, so that the readers of text say the right line.

use std::io::Cursor;

use calamine::{Data, Reader, SheetVisible, Xlsx};

use super::cells::text_of;
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::written_table::cell_text;

/// A sheet of a workbook.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its name.
    pub name: String,
    /// True where the workbook hides it.
    pub hidden: bool,
    /// Its cells: tabs between them, one line for each row from row 1 on.
    pub text: String,
    /// Columns before the first one used: the text begins after them.
    pub columns_before: u64,
    /// What was noticed.
    pub messages: Vec<Message>,
}

/// Largest size of a workbook when it is unpacked, and how much smaller it may
/// be packed: a bomb packs better than any measurement.
const LARGEST_UNPACKED: u64 = 1 << 30;
const LARGEST_RATIO: u64 = 500;

/// Reads the sheets of a workbook (XLSX). Empty ones are left out.
///
/// # Errors
/// Refuses what is no workbook, is locked with a password, would unpack beyond
/// 1 GiB, or holds a date that never was.
///
/// # Example
/// ```
/// use intake::run_table::{Grid, GridColumn, Values};
/// use intake::workbook::{read_workbook, write_workbook};
/// let grid = Grid {
///     name: "samples".to_owned(),
///     columns: vec![GridColumn::numbers("time_s", "s", vec![Some(0.1 + 0.2)])],
/// };
/// let sheets = read_workbook(&write_workbook(&[grid])?)?;
/// assert_eq!(sheets[0].text, "time_s\n0.30000000000000004\n");
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn read_workbook(bytes: &[u8]) -> Result<Vec<Sheet>, Refusal> {
    refuse_bomb(bytes)?;
    // The parser meets bytes of strangers; what it cannot take must not end
    // the program.
    let read = std::panic::catch_unwind(|| read_sheets(bytes));
    read.unwrap_or_else(|_| Err(unreadable("its parts contradict each other")))
}

fn unreadable(reason: &str) -> Refusal {
    Message::refused(codes::NOT_TEXT, format!("This is a workbook that cannot be read: {reason}"))
        .done("Nothing was read.")
        .next("Open it, save it again as XLSX without a password, or save the sheet as CSV.")
        .into()
}

fn read_sheets(bytes: &[u8]) -> Result<Vec<Sheet>, Refusal> {
    let mut book: Xlsx<_> =
        Xlsx::new(Cursor::new(bytes)).map_err(|error| unreadable(&error.to_string()))?;
    let from_1904 = book.has_1904_epoch();
    let visible: Vec<(String, bool)> = book
        .sheets_metadata()
        .iter()
        .map(|sheet| (sheet.name.clone(), sheet.visible == SheetVisible::Visible))
        .collect();
    let mut sheets = Vec::new();
    for (name, is_visible) in visible {
        let range = book
            .worksheet_range(&name)
            .map_err(|error| unreadable(&format!("sheet {}: {error}", quoted(&name))))?;
        let (Some((first_row, first_column)), Some((last_row, last_column))) =
            (range.start(), range.end())
        else {
            continue;
        };
        let mut text = "\n".repeat(first_row as usize);
        let mut n_text_numbers = 0_usize;
        for row in first_row..=last_row {
            // Columns before the first used one would only be empty.
            for column in first_column..=last_column {
                if column > first_column {
                    text.push('\t');
                }
                let Some(cell) = range.get_value((row, column)) else { continue };
                n_text_numbers += usize::from(is_text_number(cell));
                let cell = text_of(cell, from_1904).map_err(|what| {
                    Refusal::from(
                        Message::refused(
                            codes::SERIAL_DATES,
                            format!("In sheet {}, {what}", quoted(&name)),
                        )
                        .at_line(u64::from(row) + 1)
                        .at_column(u64::from(column) + 1)
                        .done("Nothing was read.")
                        .next("Correct the cell."),
                    )
                })?;
                text.push_str(&cell_text(&cell));
            }
            text.push('\n');
        }
        let mut messages = Vec::new();
        if !is_visible {
            messages.push(
                Message::warning(
                    codes::SEVERAL_TRACES,
                    format!("The sheet {} is hidden", quoted(&name)),
                )
                .done("It was read like the others.")
                .next("Leave it out if it is not part of the data."),
            );
        }
        if n_text_numbers > 0 {
            messages.push(
                Message::remark(
                    codes::TEXT_NUMBERS,
                    format!(
                        "{n_text_numbers} numbers of the sheet {} are stored as text",
                        quoted(&name)
                    ),
                )
                .done("They were read as numbers."),
            );
        }
        if let Ok(formulas) = book.worksheet_formula(&name) {
            let count = formulas.used_cells().filter(|(_, _, text)| !text.is_empty()).count();
            if count > 0 {
                messages.push(
                    Message::warning(
                        codes::SEVERAL_TRACES,
                        format!("{count} cells of the sheet {} are formulas", quoted(&name)),
                    )
                    .done("The values that the workbook last computed were read.")
                    .next("Let the workbook compute once more and save it, or paste values."),
                );
            }
        }
        let columns_before = u64::from(first_column);
        sheets.push(Sheet { name, hidden: !is_visible, text, columns_before, messages });
    }
    if sheets.is_empty() {
        return Err(Message::refused(codes::TOO_SHORT, "The workbook holds no cells")
            .done("Nothing was read.")
            .next("Check that the export finished.")
            .into());
    }
    if sheets.len() > 1 {
        let names: Vec<String> = sheets.iter().map(|sheet| quoted(&sheet.name)).collect();
        let message = Message::remark(
            codes::SEVERAL_TRACES,
            format!("The workbook holds {} sheets: {}", sheets.len(), names.join(", ")),
        )
        .done("Each was read by itself.");
        sheets[0].messages.insert(0, message);
    }
    Ok(sheets)
}

fn is_text_number(cell: &Data) -> bool {
    matches!(cell, Data::String(text)
        if text.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            && text.trim().parse::<f64>().is_ok())
}

/// Sum of the sizes that the directory of the archive states.
fn refuse_bomb(bytes: &[u8]) -> Result<(), Refusal> {
    let mut unpacked = 0_u64;
    for (at, window) in bytes.windows(4).enumerate() {
        if window == b"PK\x01\x02"
            && let Some(size) = bytes.get(at + 24..at + 28)
        {
            unpacked += u64::from(u32::from_le_bytes([size[0], size[1], size[2], size[3]]));
        }
    }
    let packed = bytes.len().max(1) as u64;
    if unpacked > LARGEST_UNPACKED || unpacked / packed > LARGEST_RATIO {
        return Err(Message::refused(
            codes::TOO_LARGE,
            format!("The workbook would unpack from {packed} to {unpacked} bytes"),
        )
        .done("Nothing was read.")
        .next("Save the sheet as CSV, or check where the file comes from.")
        .into());
    }
    Ok(())
}
