//! One file read: traces or results, with what the file says of itself.

use std::path::Path;

use intake::codes;
use intake::message::{Message, Place, Refusal};
use intake::parquet_file::read_parquet;
use intake::plan_file::write_plan;
use intake::reading_plan::ReadingPlan;
use intake::result_rows::{ResultRow, looks_like_results, result_rows};
use intake::result_table::read_table;
use intake::rig_stamp::{RigStamp, is_counter_key, rig_stamp_of};
use intake::trace_file::{ImportedTrace, read_traces};
use intake::workbook::read_workbook;
use study::Run;

use super::exported;
use crate::digest::sha256;

/// A part of a file: a sheet of a workbook, or the whole.
pub struct Part {
    /// Name of the sheet; empty for a whole file.
    pub sheet: String,
    /// What it holds.
    pub content: Content,
    /// Rig, counter and unit as the lines before the data say.
    pub stamp: RigStamp,
    /// Where its lines and columns stand in the file.
    pub places: Places,
}

/// What a line and a column of a part's text are in its file.
#[derive(Default)]
pub enum Places {
    /// The same: the file is text.
    #[default]
    Text,
    /// Row and column of a sheet, whose text begins after some columns.
    Sheet {
        /// Name of the sheet.
        name: String,
        /// Columns that the text leaves out.
        columns_before: u64,
    },
    /// Rows of the row groups of a Parquet file.
    RowGroups(Vec<u64>),
}

impl Places {
    /// A place of the text as one of the file.
    pub fn of(&self, place: Place) -> Place {
        match self {
            Self::Text => place,
            Self::Sheet { name, columns_before } => place.in_sheet(name, *columns_before),
            Self::RowGroups(n_rows) => place.in_row_groups(n_rows),
        }
    }
}

/// What a part holds.
pub enum Content {
    /// Traces.
    Traces(Vec<ImportedTrace>),
    /// Results without traces.
    Results(Vec<ResultRow>),
    /// Runs as `isobar export` wrote them.
    Runs(Vec<Run>),
    /// A table of an export that is read together with its table of runs.
    WithRuns,
}

/// A file as it was read.
pub struct ReadFile {
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Its bytes; none of a long file, which is read piece by piece.
    pub bytes: Vec<u8>,
    /// How many bytes it has.
    pub n_bytes: u64,
    /// Its parts; empty where it was refused.
    pub parts: Vec<Part>,
    /// The plan by which it was read, as TOML; empty for results.
    pub plan: String,
    /// What was noticed, refusals among it.
    pub messages: Vec<Message>,
}

impl ReadFile {
    /// True where it was read piece by piece and its samples are gone.
    pub fn is_long(&self) -> bool {
        self.bytes.is_empty() && self.n_bytes > 0
    }

    /// True where nothing of it was read.
    pub fn is_refused(&self) -> bool {
        self.messages.iter().any(Message::is_refusal)
    }
}

/// Largest file that is read whole.
pub const LARGEST_BYTES: usize = 2 << 30;

/// Files that lie or were sent beside another, by their name.
pub type Beside<'a> = &'a dyn Fn(&Path) -> Option<Vec<u8>>;

/// Reads the bytes of a file of this machine by a plan; a refusal is among the
/// messages.
pub fn read_file(bytes: Vec<u8>, path: &Path, plan: &ReadingPlan) -> ReadFile {
    read_file_among(bytes, path, plan, &|other| std::fs::read(other).ok())
}

/// Reads the bytes of a file by a plan, with the files beside it: tables of an
/// export belong together.
pub fn read_file_among(
    bytes: Vec<u8>,
    path: &Path,
    plan: &ReadingPlan,
    beside: Beside<'_>,
) -> ReadFile {
    let mut file = ReadFile {
        sha256: sha256(&bytes),
        parts: Vec::new(),
        plan: String::new(),
        messages: hostile_name(path),
        bytes: Vec::new(),
        n_bytes: bytes.len() as u64,
    };
    if let Err(refusal) = parts_of(&bytes, path, plan, beside, &mut file) {
        file.parts.clear();
        file.messages.extend(refusal.into_messages().into_iter().map(with_option));
    }
    file.bytes = bytes;
    file
}

/// A refusal with the option that answers it beside the key of the plan.
pub fn with_option(mut message: Message) -> Message {
    let option = match message.code {
        codes::UTF_16 | codes::LEGACY_CODE_PAGE => "--encoding NAME",
        codes::SEPARATOR => "--separator NAME",
        codes::DECIMAL_COMMA_WITH_COMMA | codes::THOUSANDS_MARK => "--decimal-mark point or comma",
        codes::UNKNOWN_TOKEN | codes::SENTINEL => "--missing CELL or --over-range CELL",
        codes::AMBIGUOUS_DATE | codes::DATE_WORDS => "--clock \"COLUMN=day month year\"",
        codes::BACKWARD_TIME => "--split, where the runs begin again",
        codes::GAUGE_OR_ABSOLUTE => "--barometer PRESSURE",
        codes::RAW_SIGNAL | codes::NO_PRESSURE_UNIT | codes::UNIT => "--pressure COLUMN=UNIT",
        codes::ELAPSED_TIME => "--time COLUMN=UNIT",
        codes::NO_TIME => "--time COLUMN=UNIT or --rate RATE",
        _ => return message,
    };
    if message.is_refusal() && !message.next_step.contains("--") {
        message.next_step.push_str(&format!(" On the command line: {option}."));
    }
    message
}

fn parts_of(
    bytes: &[u8],
    path: &Path,
    plan: &ReadingPlan,
    beside: Beside<'_>,
    file: &mut ReadFile,
) -> Result<(), Refusal> {
    if bytes.len() > LARGEST_BYTES {
        return Err(Message::refused(
            codes::TOO_LARGE,
            format!("The file has {} bytes; {LARGEST_BYTES} are imported at most", bytes.len()),
        )
        .done("Nothing was read.")
        .next("Part the file by run.")
        .into());
    }
    if let Some(content) = exported::beside(path, bytes, beside)? {
        file.parts.push(whole(content));
        return Ok(());
    }
    if bytes.starts_with(b"PAR1") {
        let table = read_parquet(bytes)?;
        file.messages.extend(table.messages);
        let places = Places::RowGroups(table.row_groups);
        return part("", table.text.as_bytes(), plan, places, file);
    }
    if is_workbook(bytes) {
        let sheets = read_workbook(bytes)?;
        if let Some(runs) = exported::of_sheets(&sheets)? {
            let content = Content::Runs(runs);
            file.parts.push(whole(content));
            return Ok(());
        }
        for sheet in sheets {
            file.messages.extend(sheet.messages);
            let places =
                Places::Sheet { name: sheet.name.clone(), columns_before: sheet.columns_before };
            part(&sheet.name, sheet.text.as_bytes(), plan, places, file)?;
        }
        return Ok(());
    }
    part("", bytes, plan, Places::Text, file)
}

fn whole(content: Content) -> Part {
    Part { sheet: String::new(), content, stamp: RigStamp::default(), places: Places::Text }
}

/// True for the bytes of a workbook.
pub fn is_workbook(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") && find(bytes, b"xl/workbook")
}

fn find(bytes: &[u8], word: &[u8]) -> bool {
    bytes.windows(word.len()).any(|window| window == word)
}

fn part(
    sheet: &str,
    bytes: &[u8],
    plan: &ReadingPlan,
    places: Places,
    file: &mut ReadFile,
) -> Result<(), Refusal> {
    let mut stamp = rig_stamp_of(&bytes[..bytes.len().min(1 << 14)]);
    let placed = |message: &Message| message.clone().placed(|place| places.of(place));
    let refused = |refusal: Refusal| refusal.placed(|place| places.of(place));
    let content = if is_table_of_results(bytes, plan) {
        let table = read_table(bytes, &plan.given()).map_err(refused)?;
        file.messages.extend(table.messages.iter().map(placed));
        Content::Results(result_rows(&table).map_err(refused)?)
    } else {
        let read = read_traces(bytes, plan).map_err(refused)?;
        file.messages.extend(read.messages.iter().map(placed));
        let of_traces = read.traces.iter().flat_map(|trace| &trace.messages);
        file.messages.extend(of_traces.map(placed));
        file.plan = write_plan(&read.plan);
        stamp.runs_are_cycles = read.plan.run.as_deref().is_some_and(is_counter_key);
        file.messages.extend(counter_unread(&stamp));
        Content::Traces(read.traces)
    };
    file.parts.push(Part { sheet: sheet.to_owned(), content, stamp, places });
    Ok(())
}

/// Says that a counter is there and could not be read.
pub fn counter_unread(stamp: &RigStamp) -> Option<Message> {
    stamp.unread.as_deref().map(|value| {
        Message::warning(
            codes::PREAMBLE,
            format!("The cycle counter `{value}` before the data is no whole number"),
        )
        .done("Missing, doubled and late cycles of this file are not looked for.")
        .next("Write the counter as one whole number without marks, such as 1203.")
    })
}

/// A table of results has words in its rows, which no trace has. The first
/// lines tell.
pub fn is_table_of_results(bytes: &[u8], plan: &ReadingPlan) -> bool {
    const HEAD: usize = 1 << 16;
    let mut end = bytes.len();
    if end > HEAD {
        let feed = bytes[..HEAD].iter().rposition(|&byte| byte == b'\n').unwrap_or(HEAD - 1);
        // Whole characters of two bytes, where there are such.
        end = (feed + 2) / 2 * 2;
    }
    read_table(&bytes[..end], &plan.given()).is_ok_and(|table| looks_like_results(&table.columns))
}

/// Names that could mislead: a second ending, signs that turn the direction of
/// writing, or letters of two scripts that look alike.
pub fn hostile_name(path: &Path) -> Vec<Message> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    intake::shown_names::name_messages(&name)
}
