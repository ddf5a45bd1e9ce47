//! `isobar assess precision`: repeatability and reproducibility between
//! laboratories, from readings or from a printed summary.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use statistics::interlaboratory::{Precision as Figures, from_summaries, from_values};
use study::Note;
use study::summary_table::{self, SummaryRow};

use super::tables;
use crate::answer::{Answer, from_statistics, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, plain, table};

/// Repeatability and reproducibility.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess precision examples/three_site_study.csv --summary --where \"population=no leak\" \\
      --sd-of-averages 3.9 --repeatability-limit 8.7 --reproducibility-sd 4.8
  isobar assess precision examples/interlaboratory.csv --laboratory laboratory --level level \\
      --reading reading")]
pub struct Precision {
    /// Table of readings, or of group summaries with --summary.
    table: PathBuf,
    /// Column with the readings.
    #[arg(long)]
    reading: Option<String>,
    /// Column with the laboratory, site or rig.
    #[arg(long, visible_alias = "site")]
    laboratory: Option<String>,
    /// Column with the level: each is evaluated by itself.
    #[arg(long)]
    level: Option<String>,
    /// The table holds a row of mean, standard deviation and number for each group.
    #[arg(long)]
    summary: bool,
    /// Replicates behind one result, where the table does not say.
    #[arg(long, requires = "summary")]
    replicates: Option<usize>,
    /// Keep only rows with this value in this column; may be given again.
    #[arg(long = "where", value_name = "COLUMN=VALUE")]
    conditions: Vec<String>,
    /// Reading by which the table codes runs ended by a limit.
    #[arg(long)]
    abort_code: Option<f64>,
    /// Printed standard deviation of the site averages.
    #[arg(long, requires = "summary")]
    sd_of_averages: Option<f64>,
    /// Printed repeatability limit r.
    #[arg(long, requires = "sd_of_averages")]
    repeatability_limit: Option<f64>,
    /// Printed reproducibility standard deviation.
    #[arg(long, requires = "repeatability_limit")]
    reproducibility_sd: Option<f64>,
}

/// Numbers of replicates shown where the table does not fix one.
const SHOWN: [u32; 5] = [2, 3, 4, 5, 10];

/// One level with its figures.
struct Level {
    name: String,
    figures: Figures,
    by_replicates: Vec<(usize, f64)>,
}

/// Runs the command.
pub fn run(command: &Precision) -> Result<Answer, Fault> {
    let table = tables::open(&command.table, &command.conditions)?;
    let mut notes = Vec::new();
    let levels = if command.summary {
        summarised(command, &table, &mut notes)?
    } else {
        readings(command, &table)?
    };
    let printed = printed_fits(command);
    for level in &levels {
        notes.extend(from_statistics(level.figures.notes.clone()));
    }
    if printed.iter().any(|(_, _, fits)| *fits) {
        notes.push(Note::caution(
            "replicates-not-stated",
            "the printed reproducibility fits the printed figures only with a number of replicates \
             that the table does not state",
            "quote it with its inputs; ask the source for the number of replicates",
        ));
    }
    Ok(Answer::new(text(&levels, &printed), json(&levels, &printed), notes))
}

fn summarised(
    command: &Precision,
    table: &intake::result_table::Table,
    notes: &mut Vec<Note>,
) -> Result<Vec<Level>, Fault> {
    let rows = tables::summary_rows(&command.table, table)?;
    let mut levels = Vec::new();
    for name in tables::populations(&rows) {
        let of_level: Vec<SummaryRow> =
            rows.iter().filter(|row| row.population == name).cloned().collect();
        let sorted = summary_table::sort_rows(&of_level, command.abort_code);
        notes.extend(sorted.notes);
        if sorted.readings.len() < 2 {
            notes.push(Note::refusal(
                "too-few-groups",
                format!("`{name}` has fewer than two groups that read, so nothing is computed"),
                "ask for the single readings, or shorten the measure stage",
            ));
            continue;
        }
        let groups = summary_table::groups(&sorted.readings);
        let figures = from_summaries(&groups, command.replicates)?;
        let by_replicates = SHOWN
            .iter()
            .map(|&n| n as usize)
            .chain([groups[0].n])
            .map(|n| from_summaries(&groups, Some(n)).map(|f| (n, f.reproducibility_sd)))
            .collect::<Result<Vec<_>, _>>()?;
        levels.push(Level { name, figures, by_replicates });
    }
    Ok(levels)
}

fn readings(command: &Precision, table: &intake::result_table::Table) -> Result<Vec<Level>, Fault> {
    let path: &Path = &command.table;
    let (Some(reading), Some(laboratory)) = (&command.reading, &command.laboratory) else {
        return Err(Fault::users(
            "the columns were not named",
            format!(
                "add --reading and --laboratory, or --summary; the table has: {}",
                table.columns.join(", ")
            ),
        ));
    };
    let values = tables::numbers(path, table, reading)?;
    let laboratories = tables::words(path, table, laboratory)?;
    let names = match &command.level {
        Some(level) => tables::words(path, table, level)?,
        None => vec![""; values.len()],
    };
    let mut by_level: BTreeMap<&str, BTreeMap<&str, Vec<f64>>> = BTreeMap::new();
    for ((value, laboratory), level) in values.iter().zip(laboratories).zip(names) {
        by_level.entry(level).or_default().entry(laboratory).or_default().push(*value);
    }
    by_level
        .into_iter()
        .map(|(name, laboratories)| {
            let groups: Vec<(String, Vec<f64>)> = laboratories
                .into_iter()
                .map(|(laboratory, values)| (laboratory.to_owned(), values))
                .collect();
            let figures = from_values(&groups)?;
            Ok(Level { name: name.to_owned(), figures, by_replicates: Vec::new() })
        })
        .collect()
}

/// What the printed figures give with each number of replicates, and whether
/// that rounds to the printed reproducibility.
fn printed_fits(command: &Precision) -> Vec<(u32, f64, bool)> {
    let (Some(sd), Some(limit)) = (command.sd_of_averages, command.repeatability_limit) else {
        return Vec::new();
    };
    let printed = command.reproducibility_sd;
    (2..=10)
        .chain([15, 45])
        .map(|n| {
            let value = summary_table::printed_reproducibility(sd, limit, n);
            // Agreement means the printed digit, half a unit of it either way.
            let fits = printed.is_some_and(|printed| (value - printed).abs() <= 0.05);
            (n, value, fits)
        })
        .collect()
}

fn text(levels: &[Level], printed: &[(u32, f64, bool)]) -> String {
    let rows: Vec<Vec<String>> = levels
        .iter()
        .map(|level| {
            let f = &level.figures;
            vec![
                if level.name.is_empty() { "all".to_owned() } else { level.name.clone() },
                f.laboratories.to_string(),
                plain(f.replicates, 4),
                plain(f.grand_mean, 5),
                digits(f.sd_of_averages, 4),
                digits(f.repeatability_sd, 4),
                digits(f.reproducibility_sd, 4),
                digits(f.r_limit, 4),
                digits(f.reproducibility_limit, 4),
            ]
        })
        .collect();
    let mut text = String::from("from the rows of the table:\n");
    text.push_str(&table(
        &["level", "groups", "n", "mean", "sd of averages", "s_r", "s_R", "r", "R"],
        &rows,
    ));
    for level in levels.iter().filter(|level| !level.by_replicates.is_empty()) {
        let rows: Vec<Vec<String>> = level
            .by_replicates
            .iter()
            .map(|(n, sd)| vec![n.to_string(), digits(*sd, 3), digits(2.8 * sd, 3)])
            .collect();
        text.push_str(&format!(
            "\n`{}`: reproducibility by the number of replicates behind one result \
             (sd of averages {}, s_r {}):\n",
            level.name,
            digits(level.figures.sd_of_averages, 4),
            digits(level.figures.repeatability_sd, 4)
        ));
        text.push_str(&table(&["replicates", "s_R", "R"], &rows));
    }
    if !printed.is_empty() {
        let rows: Vec<Vec<String>> = printed
            .iter()
            .map(|(n, sd, fits)| {
                vec![n.to_string(), digits(*sd, 3), (if *fits { "fits" } else { "" }).to_owned()]
            })
            .collect();
        text.push_str("\nfrom the printed figures (sd of averages, r / 2.8):\n");
        text.push_str(&table(&["replicates", "s_R", "printed s_R"], &rows));
    }
    text
}

fn json(levels: &[Level], printed: &[(u32, f64, bool)]) -> Value {
    let of = |level: &Level| {
        let f = &level.figures;
        json!({
            "level": level.name,
            "groups": f.laboratories,
            "replicates": number(f.replicates),
            "grand_mean": number(f.grand_mean),
            "sd_of_averages": number(f.sd_of_averages),
            "repeatability_sd": number(f.repeatability_sd),
            "reproducibility_sd": number(f.reproducibility_sd),
            "repeatability_limit": number(f.r_limit),
            "reproducibility_limit": number(f.reproducibility_limit),
            "h": f.h.iter().map(|h| number(*h)).collect::<Value>(),
            "k": f.k.iter().map(|k| number(*k)).collect::<Value>(),
            "by_replicates": level.by_replicates.iter().map(|(n, sd)| json!({
                "replicates": n,
                "reproducibility_sd": number(*sd),
            })).collect::<Value>(),
        })
    };
    let first = levels.first().map(|level| &level.figures);
    json!({
        "method": first.map(|figures| figures.method),
        "repeatability_sd": optional(first.map(|figures| figures.repeatability_sd)),
        "reproducibility_sd": optional(first.map(|figures| figures.reproducibility_sd)),
        "components": first.map_or(Value::Null, |figures| {
            let between = figures.reproducibility_sd * figures.reproducibility_sd
                - figures.repeatability_sd * figures.repeatability_sd;
            json!({
                "repeatability_variance":
                    number(figures.repeatability_sd * figures.repeatability_sd),
                "between_laboratory_variance": number(between),
            })
        }),
        "levels": levels.iter().map(of).collect::<Value>(),
        "printed": printed.iter().map(|(n, sd, fits)| json!({
            "replicates": n,
            "reproducibility_sd": number(*sd),
            "fits_printed": fits,
        })).collect::<Value>(),
    })
}
