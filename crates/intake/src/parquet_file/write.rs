//! Writing a grid as a Parquet file.

use std::sync::Arc;

use parquet::basic::{Compression, ConvertedType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;

use crate::codes;
use crate::message::{Message, Refusal};
use crate::run_table::{Grid, Values};

/// Writes a grid: columns of binary64 or of text, missing numbers as nulls,
/// snappy compression, the unit of each column as `unit:NAME` in the metadata.
///
/// # Errors
/// Where the file cannot be put together.
pub fn write_parquet(grid: &Grid) -> Result<Vec<u8>, Refusal> {
    written(grid).map_err(|error| {
        Message::refused(codes::TOO_LARGE, format!("The file cannot be written: {error}"))
            .done("Nothing was written.")
            .next("Export as CSV.")
            .into()
    })
}

fn written(grid: &Grid) -> Result<Vec<u8>, ParquetError> {
    let fields = grid
        .columns
        .iter()
        .map(|column| {
            let builder = match column.values {
                Values::Numbers(_) => Type::primitive_type_builder(&column.name, Physical::DOUBLE)
                    .with_repetition(Repetition::OPTIONAL),
                Values::Words(_) => {
                    Type::primitive_type_builder(&column.name, Physical::BYTE_ARRAY)
                        .with_repetition(Repetition::REQUIRED)
                        .with_converted_type(ConvertedType::UTF8)
                }
            };
            builder.build().map(Arc::new)
        })
        .collect::<Result<Vec<_>, _>>()?;
    let schema = Arc::new(Type::group_type_builder(&grid.name).with_fields(fields).build()?);
    let units: Vec<KeyValue> = grid
        .columns
        .iter()
        .filter(|column| !column.unit.is_empty())
        .map(|column| KeyValue::new(format!("unit:{}", column.name), column.unit.to_owned()))
        .collect();
    let properties = Arc::new(
        WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_created_by("isobar".to_owned())
            .set_key_value_metadata(Some(units))
            .build(),
    );
    let mut writer = SerializedFileWriter::new(Vec::new(), schema, properties)?;
    let mut group = writer.next_row_group()?;
    for column in &grid.columns {
        let Some(mut target) = group.next_column()? else { break };
        match &column.values {
            Values::Numbers(values) => {
                let there: Vec<f64> = values.iter().flatten().copied().collect();
                let levels: Vec<i16> =
                    values.iter().map(|value| i16::from(value.is_some())).collect();
                target.typed::<DoubleType>().write_batch(&there, Some(&levels), None)?;
            }
            Values::Words(values) => {
                let texts: Vec<ByteArray> =
                    values.iter().map(|text| ByteArray::from(text.as_str())).collect();
                target.typed::<ByteArrayType>().write_batch(&texts, None, None)?;
            }
        }
        target.close()?;
    }
    group.close()?;
    writer.into_inner()
}
