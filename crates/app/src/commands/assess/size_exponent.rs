//! `isobar assess size-exponent`: how the reading grows with the size of the
//! leak, with aborted runs censored.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use statistics::size_exponent::{Exponent, SizeReading, size_exponent};
use study::Note;
use study::summary_table::{self, SummaryRow};

use super::figure_option::FigureOption;
use super::statement::Statement;
use super::told::told;
use super::{size_exponent_figure, tables};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::fault::Fault;
use crate::table_text::{plain, table};

/// Exponent of reading against size.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess size-exponent examples/three_site_study.csv --summary --abort-code 599
  isobar assess size-exponent examples/positive_controls.csv --size nominal_um \\
      --reading rise_pa --blank 16.2")]
pub struct SizeExponent {
    /// Table of readings, or of group summaries with --summary.
    table: PathBuf,
    /// Column with the size, always the same unit.
    #[arg(long, required_unless_present = "summary")]
    size: Option<String>,
    /// Column with the reading.
    #[arg(long, required_unless_present = "summary")]
    reading: Option<String>,
    /// Mean reading without a leak, where the table has no rows of size zero.
    #[arg(long)]
    blank: Option<f64>,
    /// The table holds a row of mean, standard deviation and number for each
    /// group and size; the size is read from words such as `5 um`.
    #[arg(long)]
    summary: bool,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Reading by which the table codes runs ended by a limit.
    #[arg(long)]
    abort_code: Option<f64>,
    /// Confidence of the interval.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Readings without a leak: mean, standard deviation and number.
type Blank = Option<(f64, f64, usize)>;

/// One group with the exponent between neighbouring sizes and over all.
pub struct Group {
    /// Its name.
    pub name: String,
    /// Readings by size, in order of size.
    pub readings: Vec<SizeReading>,
    /// Mean reading without a leak.
    pub blank_mean: f64,
    pairs: Vec<(f64, f64, Result<Exponent, String>)>,
    over_all: Option<Exponent>,
}

/// Runs the command.
pub fn run(command: &SizeExponent) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    let mut notes = Vec::new();
    let groups = if command.summary {
        let rows = tables::summary_rows(&command.table, &table)?;
        by_group(command, &rows, &mut notes)?
    } else {
        vec![from_readings(command, &table, &mut notes)?]
    };
    let main = groups.iter().find_map(|group| {
        group
            .over_all
            .as_ref()
            .or_else(|| group.pairs.iter().find_map(|(_, _, exponent)| exponent.as_ref().ok()))
    });
    let Some(main) = main else {
        return Err(Fault::users(
            "no exponent can be said: no group has two sizes that read",
            "give at least two sizes with readings that were not ended by a limit",
        ));
    };
    let json = json!({
        "exponent": number(main.exponent),
        "lower": number(main.lower),
        "upper": optional(main.upper),
        "is_lower_bound": main.is_lower_bound,
        "n": main.n,
        "confidence": number(main.confidence),
        "method": main.method,
        "groups": groups.iter().map(group_json).collect::<Value>(),
    });
    let mut seen = Vec::new();
    for exponent in groups.iter().flat_map(|group| {
        group.pairs.iter().filter_map(|pair| pair.2.as_ref().ok()).chain(&group.over_all)
    }) {
        for note in from_statistics(exponent.notes.clone()) {
            if !seen.contains(&note) {
                seen.push(note);
            }
        }
    }
    notes.extend(seen);
    notes.push(Note::remark(
        "what-to-expect",
        "2 is an orifice whose flow goes with its area; a lower exponent is a headspace that \
         empties or a rise that was cut off; near 4 is a long narrow channel",
        "compare with the exponent of the leak path in question (isobar leak)",
    ));
    let wording = format!(
        "The reading net of the blank grows with the size to the power {}{:.2} ({:.2} to {}; {} % \
         confidence; {}).",
        if main.is_lower_bound { "of at least " } else { "" },
        main.exponent,
        main.lower,
        main.upper.map_or_else(|| "open".to_owned(), |upper| format!("{upper:.2}")),
        command.confidence * 100.0,
        main.method
    );
    let statement = Statement {
        told: vec![told("exponent", main)],
        text: text(&groups, command.confidence),
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || size_exponent_figure::panels(&groups))
}

fn by_group(
    command: &SizeExponent,
    rows: &[SummaryRow],
    notes: &mut Vec<Note>,
) -> Result<Vec<Group>, Fault> {
    let mut names: Vec<&str> = Vec::new();
    for row in rows {
        if !names.contains(&row.group.as_str()) {
            names.push(&row.group);
        }
    }
    let sorted = summary_table::sort_rows(rows, command.abort_code);
    notes.extend(sorted.notes);
    let mut groups = Vec::new();
    for name in names {
        let mut blank: Blank = None;
        let mut readings = Vec::new();
        for row in rows.iter().filter(|row| row.group == name) {
            match size_um(&row.population) {
                Some(size) => readings.push(SizeReading {
                    size,
                    mean: row.mean,
                    standard_deviation: row.standard_deviation,
                    n: row.n,
                    censored: sorted.censored.contains(row),
                }),
                None => blank = Some((row.mean, row.standard_deviation, row.n)),
            }
        }
        if readings.is_empty() {
            return Err(Fault::users(
                format!("`{name}` has no row whose population is a size"),
                "write sizes like `5 um` in the column beside the group",
            ));
        }
        groups.push(group(name, &readings, blank, command.confidence));
    }
    Ok(groups)
}

/// The size in µm of words such as `5 um`.
fn size_um(words: &str) -> Option<f64> {
    intake::written_quantity::read_length(words).ok().map(|size| size.um())
}

fn from_readings(
    command: &SizeExponent,
    table: &intake::result_table::Table,
    notes: &mut Vec<Note>,
) -> Result<Group, Fault> {
    let path: &Path = &command.table;
    let column = |name: &Option<String>| name.clone().unwrap_or_default();
    let sizes = tables::numbers(path, table, &column(&command.size))?;
    let readings = tables::numbers(path, table, &column(&command.reading))?;
    let mut by_size: Vec<(f64, Vec<f64>)> = Vec::new();
    for (&size, &reading) in sizes.iter().zip(&readings) {
        match by_size.iter_mut().find(|row| row.0 == size) {
            Some(row) => row.1.push(reading),
            None => by_size.push((size, vec![reading])),
        }
    }
    by_size.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut blank: Blank = command.blank.map(|mean| (mean, 0.0, 2));
    let mut rows = Vec::new();
    for (size, values) in by_size {
        let mean = ::digits::sums::mean(&values).unwrap_or(0.0);
        let sd = ::digits::sums::standard_deviation(&values);
        if size <= 0.0 {
            blank = Some((mean, sd.unwrap_or(0.0), values.len()));
            continue;
        }
        let coded = command.abort_code.is_some_and(|code| values.contains(&code));
        let Some(standard_deviation) = sd else {
            notes.push(Note::caution(
                "one-unit",
                format!("size {size} has one unit and is left out"),
                "test at least two units of each size",
            ));
            continue;
        };
        rows.push(SizeReading { size, mean, standard_deviation, n: values.len(), censored: coded });
    }
    Ok(group("all", &rows, blank, command.confidence))
}

fn group(name: &str, readings: &[SizeReading], blank: Blank, confidence: f64) -> Group {
    let mut sorted = readings.to_vec();
    sorted.sort_by(|a, b| a.size.total_cmp(&b.size));
    let pairs = sorted
        .windows(2)
        .map(|pair| {
            let exponent =
                size_exponent(pair, blank, confidence).map_err(|refusal| refusal.to_string());
            (pair[0].size, pair[1].size, exponent)
        })
        .collect();
    let over_all = (sorted.len() > 2)
        .then(|| size_exponent(&sorted, blank, confidence).ok())
        .flatten()
        .filter(|exponent| exponent.sizes_used > 2);
    let blank_mean = blank.map_or(0.0, |blank| blank.0);
    Group { name: name.to_owned(), readings: sorted, blank_mean, pairs, over_all }
}

fn text(groups: &[Group], confidence: f64) -> String {
    let mut rows = Vec::new();
    let mut row = |name: &str, sizes: String, exponent: Result<&Exponent, &String>| {
        let (value, low, high) = match exponent {
            Ok(e) => (
                format!("{}{:.2}", if e.is_lower_bound { "at least " } else { "" }, e.exponent),
                format!("{:.2}", e.lower),
                e.upper.map_or_else(|| "open".to_owned(), |upper| format!("{upper:.2}")),
            ),
            Err(_) => ("not defined".to_owned(), "-".to_owned(), "-".to_owned()),
        };
        rows.push(vec![name.to_owned(), sizes, value, low, high]);
    };
    for group in groups {
        for (from, to, exponent) in &group.pairs {
            let sizes = format!("{} to {}", plain(*from, 4), plain(*to, 4));
            row(&group.name, sizes, exponent.as_ref());
        }
        if let Some(exponent) = &group.over_all {
            row(&group.name, "all sizes".to_owned(), Ok(exponent));
        }
    }
    let head = ["group", "sizes", "exponent", "lower", "upper"];
    format!("{}  confidence of the intervals: {confidence}\n", table(&head, &rows))
}

fn group_json(group: &Group) -> Value {
    let of = |exponent: &Exponent| {
        json!({
            "exponent": number(exponent.exponent),
            "lower": number(exponent.lower),
            "upper": optional(exponent.upper),
            "is_lower_bound": exponent.is_lower_bound,
            "method": exponent.method,
        })
    };
    json!({
        "group": group.name,
        "pairs": group.pairs.iter().map(|(from, to, exponent)| {
            let mut value = match exponent {
                Ok(exponent) => of(exponent),
                Err(reason) => json!({ "exponent": null, "reason": reason }),
            };
            if let Value::Object(object) = &mut value {
                object.insert("from_size".to_owned(), number(*from));
                object.insert("to_size".to_owned(), number(*to));
            }
            value
        }).collect::<Value>(),
        "all_sizes": group.over_all.as_ref().map_or(Value::Null, of),
    })
}
