//! The codes of messages, one list.
//!
//! `INT-001` to `INT-058` are the families of dirty and hostile inputs in the
//! order of the project's catalogue; `INT-1..` belong to case files, `INT-2..`
//! to result tables, `INT-3..` to the choice of a reading.

macro_rules! codes {
    ($($(#[$meta:meta])* $name:ident = $code:literal : $title:literal;)+) => {
        $(#[doc = concat!("`", $code, "`: ", $title, ".")] $(#[$meta])* pub const $name: &str = $code;)+

        /// Every code with its title, in order.
        pub const CATALOGUE: &[(&str, &str)] = &[$(($code, $title)),+];
    };
}

codes! {
    BYTE_ORDER_MARK = "INT-001": "byte order mark";
    UTF_16 = "INT-002": "UTF-16 text";
    LEGACY_CODE_PAGE = "INT-003": "text in a legacy code page, or decoded twice";
    INVALID_UTF_8 = "INT-004": "invalid UTF-8 in the middle of a file";
    NUL_BYTES = "INT-005": "NUL bytes";
    LINE_ENDINGS = "INT-006": "line endings";
    SEPARATOR = "INT-007": "separator between columns";
    DECIMAL_COMMA_WITH_COMMA = "INT-008": "decimal comma in a comma-separated file";
    THOUSANDS_MARK = "INT-009": "thousands marks";
    MIXED_DECIMAL_MARKS = "INT-010": "two decimal marks in one file";
    UNUSUAL_DIGITS = "INT-011": "minus signs and digits beyond ASCII";
    NUMBER_OUT_OF_RANGE = "INT-012": "number that cannot be represented, or is written in an unusual form";
    UNKNOWN_TOKEN = "INT-013": "text where a number is due";
    SENTINEL = "INT-014": "sentinel value or end-of-file block";
    EMPTY_CELLS = "INT-015": "empty cells and missing samples";
    RAGGED_ROW = "INT-016": "row with more or fewer cells";
    QUOTES = "INT-017": "quotes";
    HEADER = "INT-018": "header lines";
    COLUMN_NAMES = "INT-019": "repeated or blank column names";
    REPEATED_HEADER = "INT-020": "header repeated within the data";
    PREAMBLE = "INT-021": "lines before the data";
    TRAILER = "INT-022": "lines after the data";
    SEVERAL_TRACES = "INT-023": "several traces in one file";
    TEXT_NUMBERS = "INT-024": "numbers stored as text";
    SERIAL_DATES = "INT-025": "serial dates of a spreadsheet";
    AMBIGUOUS_DATE = "INT-026": "date whose day and month cannot be told apart";
    DATE_WORDS = "INT-027": "two-digit years, month names, AM and PM";
    CLOCK_CHANGE = "INT-028": "clock change of summer time";
    ZONE = "INT-029": "time zone missing or mixed";
    ELAPSED_TIME = "INT-030": "unit or form of elapsed time";
    DUPLICATE_TIMES = "INT-031": "repeated times";
    BACKWARD_TIME = "INT-032": "time that runs backward";
    IRREGULAR_TIMES = "INT-033": "irregular sampling";
    COARSE_EPOCH = "INT-034": "epoch time stored too coarsely";
    COARSE_PRESSURE = "INT-035": "pressure stored too coarsely";
    UNIT = "INT-036": "unit of a column";
    GAUGE_OR_ABSOLUTE = "INT-037": "gauge or absolute pressure";
    RAW_SIGNAL = "INT-038": "signal in volts or counts";
    MIXED_UNITS = "INT-039": "different units of one channel";
    FLOW_REFERENCE = "INT-040": "reference state of a flow";
    CLIPPED = "INT-041": "sensor at the end of its range";
    STUCK = "INT-042": "sensor that does not move, or moves in steps";
    SPIKES = "INT-043": "spikes and dropouts";
    INCOMPLETE_CYCLE = "INT-044": "trace shorter than its cycle";
    TRUNCATED = "INT-045": "file that ends in the middle of a record";
    TOO_SHORT = "INT-046": "empty file, or too few rows";
    TOO_LARGE = "INT-047": "file, line or field beyond the limit";
    TOO_MANY_COLUMNS = "INT-048": "more columns than can be read";
    SAME_FILE = "INT-049": "file that was imported before";
    EDITED_IN_SPREADSHEET = "INT-050": "file that a spreadsheet has rewritten";
    NOT_TEXT = "INT-051": "file that is not what its name says";
    HOSTILE_NAME = "INT-052": "name that could mislead";
    INSTRUMENT_CLOCK = "INT-053": "instrument clock far off";
    IMPOSSIBLE_PRESSURE = "INT-054": "pressure below perfect vacuum";
    PERIODIC_NOISE = "INT-055": "periodic noise";
    ARCHIVE = "INT-056": "archive of files";
    TWO_TIME_COLUMNS = "INT-057": "two time columns";
    BYTE_SWAPPED = "INT-058": "byte-swapped binary";

    CASE_SYNTAX = "INT-101": "case file is not TOML";
    CASE_UNKNOWN_KEY = "INT-102": "case file has an unknown key";
    CASE_MISSING_KEY = "INT-103": "case file lacks a key";
    CASE_QUANTITY = "INT-104": "case file has a value that cannot be read";
    CASE_TYPE = "INT-105": "case file has a value of the wrong type";
    CASE_WORD = "INT-106": "case file has a word outside its list";

    TABLE_NO_COLUMN = "INT-201": "table lacks a column";
    TABLE_CELL = "INT-202": "cell of a table is not a number";
    EMPTY_ROW = "INT-203": "rows of a table without any value";

    NO_PRESSURE_UNIT = "INT-301": "unit of a pressure column is not given";
    NO_TIME = "INT-302": "no time column and no rate";
    PLAN_COLUMN = "INT-303": "reading plan names a column that the file lacks";
    PLAN_FILE = "INT-304": "reading plan cannot be read";
    DEFAULT_READING = "INT-305": "how the file was read";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_is_given_once_and_in_order() {
        assert!(CATALOGUE.windows(2).all(|pair| pair[0].0 < pair[1].0));
        let families = CATALOGUE.iter().filter(|(code, _)| code.starts_with("INT-0")).count();
        assert_eq!(families, 58);
    }
}
