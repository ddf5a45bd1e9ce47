//! An import as it is shown: what was sent, how it would be read, what is
//! asked, and what came of it.

use maud::{Markup, html};
use serde_json::Value;

use super::address;
use super::form::Form;
use super::form_view::{self, Field};
use super::notes_view::notes;
use super::sheet::headings_row;
use super::uploads::{MOST_BYTES, MOST_FILES, Seen, Upload};
use super::wording::{counted, shown, three_or};
use super::workbench::Workbench;
use crate::commands::import::preview::{Column, Preview, Role};
use crate::commands::import::store::EarlierPlan;
use crate::commands::import::work::Choices;
use crate::fault::Fault;

/// Runs that are listed before they are stored.
const ON_ONE_PAGE: usize = 300;

/// What can be said of a column.
pub const ROLES: [Role; 5] =
    [Role::NotRead, Role::Pressure, Role::Temperature, Role::Time, Role::Clock];

const PLAN: Field<'_> = Field::optional(
    "plan",
    "Reading plan (TOML)",
    "Agreed for files of this kind, as the command line writes and reads it.",
);
const EARLIER: Field<'_> = Field::optional(
    "earlier",
    "Reading of an earlier import",
    "By the first file that was read so, newest first.",
);
const CLASS: Field<'_> = Field::needed(
    "class",
    "What the units are",
    "Needed where neither the files nor the plan of the case say it.",
);
const SIZE: Field<'_> =
    Field::optional("size", "Size of the controls", "Flow-equivalent, such as 5um.");
const FLOW: Field<'_> =
    Field::optional("flow", "Flow of flow challenges", "Such as 2e-5Pa.m3/s; 0Pa.m3/s when shut.");
const STANDARD: Field<'_> = Field::optional(
    "standard",
    "Standard of flow challenges",
    "Its name in the register, for challenges that name none.",
);
const AGE_DAYS: Field<'_> =
    Field::optional("age_days", "Age of aged controls", "Days since filling, such as 30.");
const RATE: Field<'_> =
    Field::optional("rate", "Samples per second", "Where the files have no times.");
const TIME: Field<'_> = Field::optional("time", "Elapsed time", "COLUMN=UNIT, such as t=s.");
const CLOCK: Field<'_> =
    Field::optional("clock", "Clock time", "COLUMN=ORDER, such as when=day month year.");
const BAROMETER: Field<'_> = Field::optional(
    "barometer",
    "Pressure of the room",
    "Makes pressures marked as gauge absolute, such as 1013mbar.",
);
const PRESSURE: Field<'_> = Field::optional(
    "pressure",
    "Chamber pressure",
    "One COLUMN=UNIT in a line, such as CH2=mbar, P=0.1Pa or P=mbar gauge.",
);
const TEMPERATURE: Field<'_> =
    Field::optional("temperature", "Temperature", "One COLUMN=UNIT in a line: C, mC, K or F.");
const MISSING: Field<'_> =
    Field::optional("missing", "Cells without a value", "As they are written, one in a line.");
const OVER_RANGE: Field<'_> = Field::optional(
    "over_range",
    "Cells beyond the range of the gauge",
    "As they are written, one in a line.",
);
const ENCODING: Field<'_> = Field::optional("encoding", "Encoding", "");
const SEPARATOR: Field<'_> = Field::optional("separator", "Between the cells", "");
const DECIMAL: Field<'_> = Field::optional("decimal_mark", "Decimal mark", "");
const REASON: Field<'_> =
    Field::optional("reason", "Reason", "Needed where the case is signed: its signatures fall.");

const CLASSES: [(&str, &str); 6] = [
    ("", "as the files or the plan say"),
    ("blank", "blanks: empty chamber or dummy"),
    ("negative", "negative controls: units without a leak"),
    ("positive", "positive controls: units with a known leak"),
    ("flow", "flow challenges"),
    ("aged", "aged controls: units tested again as they age"),
];
const ENCODINGS: [(&str, &str); 6] = [
    ("", "as found"),
    ("utf-8", "UTF-8"),
    ("utf-16le", "UTF-16, low byte first"),
    ("utf-16be", "UTF-16, high byte first"),
    ("windows-1252", "Windows-1252"),
    ("shift-jis", "Shift-JIS"),
];
const SEPARATORS: [(&str, &str); 7] = [
    ("", "as found"),
    ("comma", "comma"),
    ("semicolon", "semicolon"),
    ("tab", "tab"),
    ("bar", "bar"),
    ("blank", "blank"),
    ("nothing", "nothing: one cell in a line"),
];
const DECIMALS: [(&str, &str); 3] = [("", "as found"), ("point", "point"), ("comma", "comma")];

/// The form to which files are dropped. It works without script as well.
/// `earlier` are reading plans of earlier imports into this case.
pub fn send_form(workbench: &Workbench, action: &str, earlier: &[EarlierPlan]) -> Markup {
    let names: Vec<String> = earlier.iter().map(EarlierPlan::name).collect();
    let named: Vec<(&str, &str)> = std::iter::once(("", "none"))
        .chain(names.iter().map(|name| (name.as_str(), name.as_str())))
        .collect();
    html! {
        section #import aria-labelledby="import-title" {
            h2 #import-title { "Import runs" }
            p {
                "Traces of loggers and tables of results, as text, workbook or Parquet. They are \
                 read and shown first; nothing is stored before you say so, and then all of it or \
                 nothing."
            }
            (form_view::form_with_files(workbench, action, "Read the files", html! {
                (form_view::hidden("doing", "send"))
                div.drop data-drop=(MOST_BYTES) {
                    label for="import-files" { "Files" }
                    p.quiet.hint #import-files-hint {
                        "Up to " (MOST_BYTES >> 20) " MiB and " (MOST_FILES) " files at once."
                        span.needs-script { " Drop them here, or choose them." }
                    }
                    input type="file" id="import-files" name="files" multiple required
                        aria-describedby="import-files-hint";
                    p.drop-list role="status" {}
                    progress.needs-script max="1" value="0" hidden aria-label="Sent" {}
                }
                details {
                    summary { "With a reading plan" }
                    @if !earlier.is_empty() {
                        (EARLIER.choice("import", &Form::default(), &named))
                    }
                    (PLAN.file("import"))
                }
            }))
        }
    }
}

/// While files are read or stored.
pub fn working(workbench: &Workbench, action: &str, upload: &Upload, word: &str) -> Markup {
    let (done, of) = (upload.n_done(), upload.sources.len());
    let here = format!("{action}?upload={}", upload.token);
    let twin = format!("{action}.json?upload={}", upload.token);
    html! {
        section.answer aria-label="Import under way" data-working=(twin) {
            p.label { "Import" }
            p.big { @if word == "storing" { "Storing the files" } @else { "Reading the files" } }
            p role="status" { span data-done { (done) } " of " (of) " read." }
            progress max=(of) value=(done) aria-label="Files read" {}
            p.next { a href=(here) { "Look again" } }
        }
        @if word != "storing" { (stop_form(workbench, action, upload, "Stop reading")) }
    }
}

fn stop_form(workbench: &Workbench, action: &str, upload: &Upload, button: &str) -> Markup {
    html! {
        form.plain-form method="post" action=(action) {
            (form_view::token(workbench))
            (form_view::hidden("doing", "stop"))
            (form_view::hidden("upload", &upload.token))
            p.send { button.plain type="submit" { (button) } }
        }
    }
}

/// Why an import was not done.
pub fn failed(fault: &Fault) -> Markup {
    html! {
        div.trouble role="alert" {
            p { strong { "Not done: " } (shown(&fault.message)) ". Nothing was stored." }
            @if !fault.details.is_empty() {
                ul { @for detail in fault.details.iter().take(10) { li { (shown(detail)) } } }
            }
            @if !fault.hint.is_empty() {
                p.next { span { "Next" } " " (shown(&fault.hint)) "." }
            }
        }
    }
}

/// After everything was stored.
pub fn stored(id: &str, seen: &Seen) -> Markup {
    let runs = list_of(&seen.answer, "runs");
    html! {
        p.done-note role="status" { "Stored: " (counted(runs.len(), "run")) " with their files." }
        (outcomes(seen))
        (runs_table(runs))
        @if !list_of(&seen.answer, "open_items").is_empty() {
            p.next {
                span { "Next" } " "
                a href={ (address::of_case(id, "sign")) "#items" } { "explain the open items" }
            }
        }
        (notes("Notes", &seen.notes))
        p.next { span { "Next" } " " a href=(address::of_case(id, "runs")) { "look at the traces" } }
    }
}

/// What was read, to be put right, stored or let go.
pub fn seen(
    workbench: &Workbench,
    action: &str,
    upload: &Upload,
    seen: &Seen,
    typed: Option<&Form>,
) -> Markup {
    let runs = list_of(&seen.answer, "runs");
    let n_files = upload.sources.len();
    html! {
        section.answer aria-label="What was read" {
            p.label { "Nothing is stored yet" }
            p.big {
                @if seen.is_refused {
                    (seen.n_refused) " of " (counted(n_files, "file"))
                    @if seen.n_refused == 1 { " is refused" } @else { " are refused" }
                } @else {
                    (counted(n_files - seen.n_refused, "file")) " read, " (counted(runs.len(), "run"))
                }
            }
            @if seen.is_refused {
                p { "One file that is refused refuses all, so that no study is half imported. \
                     Answer what is asked below, put the reading right, or leave refused files out." }
            } @else if !seen.without_class.is_empty() {
                p {
                    "It is not known yet what these units are: "
                    (shown(&few(&seen.without_class))) ". Say it below."
                }
            } @else { p { "Look at the rows and the runs. Then store them." } }
        }
        (outcomes(seen))
        @for (place, previews) in &seen.previews {
            (file_preview(&name_of(seen, *place), previews, n_files == 1 || seen.previews.len() < 3))
        }
        (correction(workbench, action, upload, seen, typed))
        @if !seen.is_refused {
            section aria-labelledby="found" {
                h2 #found { "Runs that were found" }
                (runs_table(runs))
            }
            (notes("Notes", &seen.notes))
            section aria-labelledby="store" {
                h2 #store { "Store them" }
                (form_view::form(workbench, action, &format!("Store {}", counted(runs.len(), "run")), html! {
                    (form_view::hidden("doing", "store"))
                    (form_view::hidden("upload", &upload.token))
                    p.quiet {
                        "The files are kept byte for byte with the reading agreed above, and the \
                         runs get the numbers of the plan where it names their units."
                    }
                    (REASON.line("store", &Form::default()))
                }))
            }
        }
        (stop_form(workbench, action, upload, "Let the files go"))
    }
}

fn few(names: &[String]) -> String {
    let more = names.len().saturating_sub(5);
    let mut text = names.iter().take(5).cloned().collect::<Vec<_>>().join(", ");
    if more > 0 {
        text.push_str(&format!(" and {more} more"));
    }
    text
}

fn list_of<'v>(answer: &'v Value, key: &str) -> &'v [Value] {
    answer[key].as_array().map_or(&[], Vec::as_slice)
}

fn name_of(seen: &Seen, place: usize) -> String {
    seen.answer["files"][place]["file"].as_str().unwrap_or_default().to_owned()
}

/// What became of each file, with its messages.
fn outcomes(seen: &Seen) -> Markup {
    let text = |value: &Value| shown(value.as_str().unwrap_or_default());
    html! {
        section aria-labelledby="files" {
            h2 #files { "Files" }
            (form_view::wide_table("What became of each file", html! {
                (headings_row(&["File", "Outcome", "#Bytes", "What was noticed"]))
                tbody {
                    @for file in list_of(&seen.answer, "files") {
                        tr {
                            th scope="row" { (text(&file["file"])) }
                            td { strong { (text(&file["outcome"])) } }
                            td.num { (report::number::count(file["bytes"].as_u64().unwrap_or(0))) }
                            td.words { (messages(list_of(file, "messages"))) }
                        }
                    }
                }
            }))
            @for file in list_of(&seen.answer, "files").iter().take(1) {
                @if let Some(plan) = file["reading_plan"].as_str().filter(|plan| !plan.is_empty()) {
                    details {
                        summary { "The reading of " (text(&file["file"])) " as a plan for the next files" }
                        pre tabindex="0" { code { (shown(plan)) } }
                    }
                }
            }
        }
    }
}

fn messages(messages: &[Value]) -> Markup {
    html! {
        @if messages.is_empty() { span.quiet { "nothing" } }
        ul.messages {
            @for message in messages.iter().take(12) {
                li { (shown(message["text"].as_str().unwrap_or_default())) }
            }
            @if messages.len() > 12 { li.quiet { (messages.len() - 12) " more" } }
        }
    }
}

/// The first rows with their roles.
fn file_preview(name: &str, previews: &[Preview], is_open: bool) -> Markup {
    html! {
        @for preview in previews {
            details.preview open[is_open] {
                summary {
                    "First rows of " (shown(name))
                    @if !preview.sheet.is_empty() { ", sheet " (shown(&preview.sheet)) }
                }
                @if !preview.dialect.is_empty() {
                    dl.facts {
                        @for (what, how) in &preview.dialect {
                            div { dt { (*what) } dd { (shown(how)) } }
                        }
                    }
                }
                (form_view::wide_table(&format!("First rows of {}", shown(name)), html! {
                    thead { tr {
                        th.num scope="col" { "Line" }
                        th scope="col" { "Read as" }
                        @if preview.columns.is_empty() { th scope="col" { "Text" } }
                        @for column in &preview.columns {
                            th scope="col" {
                                (column.role.word())
                                @if column.role != Role::NotRead && !column.unit.is_empty() { ", " (shown(&column.unit)) }
                            }
                        }
                    } }
                    tbody {
                        @for row in &preview.rows {
                            tr.{ "row-" (row.role.replace(' ', "-")) } {
                                th.num scope="row" { (row.line) }
                                td.nowrap { (row.role) }
                                @if row.cells.len() == 1 {
                                    td.words colspan=(preview.columns.len().max(1)) { (shown(&row.cells[0])) }
                                } @else {
                                    @for (index, cell) in row.cells.iter().enumerate() {
                                        td.quiet[is_left(preview, index)] { (shown(cell)) }
                                    }
                                }
                            }
                        }
                    }
                }))
            }
        }
    }
}

fn is_left(preview: &Preview, index: usize) -> bool {
    preview.columns.get(index).is_none_or(|column| column.role == Role::NotRead)
}

/// The columns of which the form speaks: those of the first file with any.
pub fn columns_shown(seen: &Seen) -> Option<&[Column]> {
    let mut all = seen.previews.iter().flat_map(|(_, previews)| previews);
    let is_trace = |preview: &&Preview| {
        preview.columns.first().is_some_and(|column| column.role != Role::Result)
    };
    all.find(is_trace).map(|preview| preview.columns.as_slice())
}

/// What can be said of how files are read.
fn correction(
    workbench: &Workbench,
    action: &str,
    upload: &Upload,
    seen: &Seen,
    typed: Option<&Form>,
) -> Markup {
    let stands = form_of(&upload.choices(), seen);
    let form = typed.unwrap_or(&stands);
    let is_given = [
        "pressure",
        "temperature",
        "time",
        "clock",
        "rate",
        "barometer",
        "split",
        "encoding",
        "separator",
        "decimal_mark",
        "missing",
        "over_range",
    ]
    .iter()
    .any(|name| form.given(name).is_some());
    html! {
        section aria-labelledby="correct" {
            h2 #correct { "Put the reading right" }
            (form_view::form(workbench, action, "Read again", html! {
                (form_view::hidden("doing", "correct"))
                (form_view::hidden("upload", &upload.token))
                @for (index, asked) in seen.questions.iter().enumerate() {
                    div.question-asked {
                        p { strong { (shown(&asked.file)) } ": " (shown(&asked.message)) }
                        @let name = format!("answer_{index}");
                        @let label = sentence(&asked.ask);
                        (Field::optional(&name, &label, "").line("correct", form))
                    }
                }
                @if let Some(columns) = columns_shown(seen) { (columns_form(columns, form)) }
                (CLASS.choice("correct", form, &CLASSES))
                (SIZE.line("correct", form))
                (FLOW.line("correct", form))
                (STANDARD.line("correct", form))
                (AGE_DAYS.line("correct", form))
                details open[is_given] {
                    summary { "Everything that can be said of the files" }
                    (PRESSURE.lines("correct", form))
                    (TEMPERATURE.lines("correct", form))
                    (TIME.line("correct", form))
                    (CLOCK.line("correct", form))
                    (RATE.line("correct", form))
                    (BAROMETER.line("correct", form))
                    (tick("split", "Times that begin again start a new run", form))
                    (ENCODING.choice("correct", form, &ENCODINGS))
                    (SEPARATOR.choice("correct", form, &SEPARATORS))
                    (DECIMAL.choice("correct", form, &DECIMALS))
                    (MISSING.lines("correct", form))
                    (OVER_RANGE.lines("correct", form))
                    (tick("accept_clock", "Take files that are dated ahead of this computer's clock", form))
                }
                @if upload.sources.len() > 1 {
                    (tick("skip_refused", "Leave refused files out and take the others", form))
                }
            }))
        }
    }
}

/// The question with a capital and its mark.
fn sentence(ask: &str) -> String {
    let mut letters = shown(ask).chars().collect::<Vec<_>>();
    if let Some(first) = letters.first_mut() {
        *first = first.to_ascii_uppercase();
    }
    letters.into_iter().collect()
}

fn tick(name: &str, words: &str, form: &Form) -> Markup {
    html! {
        p.tick {
            label {
                input type="checkbox" name=(name) value="yes" checked[form.given(name).is_some()];
                " " (words)
            }
        }
    }
}

fn columns_form(columns: &[Column], form: &Form) -> Markup {
    html! {
        (form_view::wide_table("Columns and the parts they play", html! {
            (headings_row(&["Column", "Read as", "Unit, or order of its dates"]))
            tbody {
                @for (index, column) in columns.iter().enumerate() {
                    @let (role, unit) = (format!("role_{index}"), format!("unit_{index}"));
                    @let chosen = form.given(&role).unwrap_or_else(|| column.role.word().to_owned());
                    tr {
                        th scope="row" { (shown(&column.name)) }
                        td {
                            select name=(role) aria-label={ "Part of column " (shown(&column.name)) } {
                                @for one in ROLES {
                                    option value=(one.word()) selected[one.word() == chosen] { (one.word()) }
                                }
                            }
                        }
                        td {
                            input type="text" name=(unit) size="14" autocomplete="off" spellcheck="false"
                                aria-label={ "Unit of column " (shown(&column.name)) }
                                value=(form.given(&unit).unwrap_or_else(|| column.unit.clone()));
                        }
                    }
                }
            }
        }))
    }
}

/// The form as it stands: the choices made so far.
fn form_of(choices: &Choices, seen: &Seen) -> Form {
    let reading = &choices.reading;
    let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
    let yes = |is: bool| if is { "yes".to_owned() } else { String::new() };
    let mut fields = vec![
        ("pressure".to_owned(), reading.pressure.join("\n")),
        ("temperature".to_owned(), reading.temperature.join("\n")),
        ("time".to_owned(), or_empty(&reading.time)),
        ("clock".to_owned(), or_empty(&reading.clock)),
        ("rate".to_owned(), reading.rate.map(|rate| rate.to_string()).unwrap_or_default()),
        ("barometer".to_owned(), or_empty(&reading.barometer)),
        ("split".to_owned(), yes(reading.split)),
        ("encoding".to_owned(), or_empty(&reading.encoding)),
        ("separator".to_owned(), or_empty(&reading.separator)),
        ("decimal_mark".to_owned(), or_empty(&reading.decimal_mark)),
        ("missing".to_owned(), reading.missing.join("\n")),
        ("over_range".to_owned(), reading.over_range.join("\n")),
        ("class".to_owned(), or_empty(&choices.class)),
        ("size".to_owned(), or_empty(&choices.size)),
        ("flow".to_owned(), or_empty(&choices.flow)),
        ("standard".to_owned(), or_empty(&choices.standard)),
        ("age_days".to_owned(), choices.age_days.map(|days| days.to_string()).unwrap_or_default()),
        ("accept_clock".to_owned(), yes(choices.accept_clock)),
        ("skip_refused".to_owned(), yes(choices.skip_refused)),
    ];
    for (index, column) in columns_shown(seen).unwrap_or_default().iter().enumerate() {
        fields.push((format!("role_{index}"), column.role.word().to_owned()));
        fields.push((format!("unit_{index}"), column.unit.clone()));
    }
    let borrowed: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    Form::of(&borrowed)
}

fn runs_table(runs: &[Value]) -> Markup {
    let text = |value: &Value, otherwise: &str| shown(value.as_str().unwrap_or(otherwise));
    html! {
        (form_view::wide_table("Runs", html! {
            (headings_row(&["#Run", "Unit", "Class", "Ended", "#Samples", "#Rise (Pa)", "#Slope (Pa/s)", "Flags"]))
            tbody {
                @for run in runs.iter().take(ON_ONE_PAGE) {
                    tr {
                        th.num scope="row" { (run["number"]) }
                        td { (text(&run["unit"], "")) }
                        td.nowrap { (text(&run["class"], "not known")) }
                        td { (text(&run["ended"], "")) }
                        td.num { (run["samples"]) }
                        td.num { (three_or(run["rise_pa"].as_f64(), "")) }
                        td.num { (three_or(run["slope_pa_per_s"].as_f64(), "")) }
                        td { (shown(&run["flags"].as_array().map_or_else(String::new, |flags| {
                            flags.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(", ")
                        }))) }
                    }
                }
            }
        }))
        @if runs.len() > ON_ONE_PAGE {
            p.quiet { "The first " (ON_ONE_PAGE) " of " (counted(runs.len(), "run")) "." }
        }
    }
}
