//! Reading a Parquet file as tab-separated text.

use bytes::Bytes;
use parquet::basic::Compression;
use parquet::file::metadata::ParquetMetaData;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;

use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::workbook::civil;
use crate::written_table::cell_text;

/// A Parquet file as text.
#[derive(Debug, Clone, PartialEq)]
pub struct ParquetTable {
    /// Header and rows; tabs between the cells.
    pub text: String,
    /// Units of columns by their name, as the metadata state them.
    pub units: Vec<(String, String)>,
    /// Rows of each row group.
    pub row_groups: Vec<u64>,
    /// What was noticed.
    pub messages: Vec<Message>,
}

/// Most rows that are read: the text of more would not fit in memory well.
const MOST_ROWS: i64 = 20_000_000;

/// Reads a Parquet file of flat columns. A column whose unit stands in the
/// metadata (`unit:NAME`) and not in its name gets `NAME [unit]` as header.
///
/// # Errors
/// Refuses what is no Parquet file, nested columns, and codecs that are not
/// read here (only snappy and none are).
pub fn read_parquet(bytes: &[u8]) -> Result<ParquetTable, Refusal> {
    let read = std::panic::catch_unwind(|| read_rows(bytes));
    read.unwrap_or_else(|_| Err(unreadable("its parts contradict each other")))
}

fn unreadable(reason: &str) -> Refusal {
    Message::refused(codes::NOT_TEXT, format!("This Parquet file cannot be read: {reason}"))
        .done("Nothing was read.")
        .next("Write it again with snappy compression, or export the table as CSV.")
        .into()
}

fn read_rows(bytes: &[u8]) -> Result<ParquetTable, Refusal> {
    let failed = |error: parquet::errors::ParquetError| unreadable(&error.to_string());
    let reader = SerializedFileReader::new(Bytes::copy_from_slice(bytes)).map_err(failed)?;
    let metadata = reader.metadata().file_metadata();
    let n_rows = metadata.num_rows();
    if !(0..=MOST_ROWS).contains(&n_rows) {
        return Err(unreadable(&format!("it states {n_rows} rows; {MOST_ROWS} are read at most")));
    }
    let units: Vec<(String, String)> = metadata
        .key_value_metadata()
        .into_iter()
        .flatten()
        .filter_map(|pair| {
            let name = pair.key.strip_prefix("unit:")?;
            Some((name.to_owned(), pair.value.clone()?))
        })
        .collect();
    let fields = metadata.schema_descr().root_schema().get_fields();
    if fields.iter().any(|field| field.is_group()) {
        return Err(unreadable("it holds columns within columns"));
    }
    let names: Vec<String> = fields.iter().map(|field| field.name().to_owned()).collect();
    let headers: Vec<String> = names
        .iter()
        .map(|name| {
            let unit = units.iter().find(|(of, _)| of == name).map(|(_, unit)| unit.as_str());
            match unit {
                Some(unit) if !unit.is_empty() && !says_unit(name, unit) => {
                    format!("{name} [{unit}]")
                }
                _ => name.clone(),
            }
        })
        .collect();
    refuse_other_codecs(reader.metadata())?;
    let mut text =
        headers.iter().map(|header| cell_text(header)).collect::<Vec<_>>().join("\t") + "\n";
    for row in reader.get_row_iter(None).map_err(failed)? {
        let row = row.map_err(failed)?;
        let mut first = true;
        for (name, field) in row.get_column_iter() {
            if !first {
                text.push('\t');
            }
            first = false;
            let value = field_text(field).ok_or_else(|| {
                unreadable(&format!("the column {} holds no plain values", quoted(name)))
            })?;
            text.push_str(&cell_text(&value));
        }
        text.push('\n');
    }
    let row_groups = reader
        .metadata()
        .row_groups()
        .iter()
        .map(|group| u64::try_from(group.num_rows()).unwrap_or(0))
        .collect();
    Ok(ParquetTable { text, units, row_groups, messages: Vec::new() })
}

/// Refuses columns in a codec that is not read here, by its name: the library
/// only says so once it meets a page.
fn refuse_other_codecs(metadata: &ParquetMetaData) -> Result<(), Refusal> {
    let columns = metadata.row_groups().iter().flat_map(|group| group.columns());
    for column in columns {
        let codec = match column.compression() {
            Compression::UNCOMPRESSED | Compression::SNAPPY => continue,
            Compression::GZIP(_) => "gzip",
            Compression::ZSTD(_) => "zstd",
            Compression::BROTLI(_) => "brotli",
            Compression::LZ4 | Compression::LZ4_RAW => "lz4",
            Compression::LZO => "lzo",
        };
        return Err(Message::refused(
            codes::NOT_TEXT,
            format!(
                "The column {} of this Parquet file is compressed with {codec}, which is not read \
                 here",
                quoted(&column.column_path().string())
            ),
        )
        .done("Nothing was read.")
        .next(
            "Write the file again with the compression set to snappy or none, in the program that \
             wrote it, or export the table as CSV.",
        )
        .into());
    }
    Ok(())
}

/// `rise_pa` says Pa by its ending already.
fn says_unit(name: &str, unit: &str) -> bool {
    let plain = unit.to_lowercase().replace('/', "_per_").replace('µ', "u");
    name.to_lowercase().ends_with(&format!("_{plain}"))
}

fn field_text(field: &Field) -> Option<String> {
    Some(match field {
        Field::Null => String::new(),
        Field::Bool(value) => if *value { "1" } else { "0" }.to_owned(),
        Field::Byte(value) => value.to_string(),
        Field::Short(value) => value.to_string(),
        Field::Int(value) => value.to_string(),
        Field::Long(value) => value.to_string(),
        Field::UByte(value) => value.to_string(),
        Field::UShort(value) => value.to_string(),
        Field::UInt(value) => value.to_string(),
        Field::ULong(value) => value.to_string(),
        Field::Float(value) => value.to_string(),
        Field::Double(value) => value.to_string(),
        Field::Str(text) => text.clone(),
        Field::Date(day) => {
            let (year, month, date) = civil(i64::from(*day));
            format!("{year:04}-{month:02}-{date:02}")
        }
        Field::TimestampMillis(since) => moment(since.checked_mul(1000)?),
        Field::TimestampMicros(since) => moment(*since),
        _ => return None,
    })
}

/// Microseconds since 1970 as ISO text.
fn moment(micros: i64) -> String {
    let (day, rest) = (micros.div_euclid(86_400_000_000), micros.rem_euclid(86_400_000_000));
    let (year, month, date) = civil(day);
    format!(
        "{year:04}-{month:02}-{date:02} {:02}:{:02}:{:02}.{:06}",
        rest / 3_600_000_000,
        rest / 60_000_000 % 60,
        rest / 1_000_000 % 60,
        rest % 1_000_000
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_says_its_unit_is_left_alone() {
        assert!(says_unit("rise_pa", "Pa") && says_unit("slope_pa_per_s", "Pa/s"));
        assert!(!says_unit("pressure", "Pa"));
    }

    #[test]
    fn moments_are_written_to_the_microsecond() {
        assert_eq!(moment(0), "1970-01-01 00:00:00.000000");
        assert_eq!(moment(-1), "1969-12-31 23:59:59.999999");
    }

    #[test]
    fn what_is_no_parquet_is_refused() {
        assert_eq!(read_parquet(b"PAR1 and nothing else").unwrap_err().code(), "INT-051");
    }
}
