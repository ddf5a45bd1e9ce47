//! Repeatability and reproducibility between laboratories, from readings or
//! from a printed summary.

use std::collections::BTreeMap;
use std::path::Path;

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::interlaboratory::{
    Precision as Figures, critical_h, critical_k, from_summaries, from_values,
};
use study::Note;
use study::summary_table::{self, SummaryRow};

use super::{Precision, interlaboratory_figure};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::tables;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, plain, table};

/// Numbers of replicates shown where the table does not fix one.
const SHOWN: [u32; 5] = [2, 3, 4, 5, 10];

/// One level with its figures.
pub struct Level {
    /// Name of the level; empty where there is one only.
    pub name: String,
    /// Names of the laboratories.
    pub names: Vec<String>,
    /// Its figures.
    pub figures: Figures,
    /// h beyond which a laboratory stands apart.
    pub critical_h: Option<f64>,
    /// k beyond which a laboratory stands apart.
    pub critical_k: Option<f64>,
    by_replicates: Vec<(usize, f64)>,
}

impl Level {
    fn new(
        name: String,
        names: Vec<String>,
        figures: Figures,
        by_replicates: Vec<(usize, f64)>,
    ) -> Self {
        Self {
            critical_h: critical_h(figures.laboratories),
            critical_k: critical_k(figures.laboratories, figures.replicates),
            name,
            names,
            figures,
            by_replicates,
        }
    }

    /// Laboratories whose h or k is beyond its critical value.
    fn apart(&self) -> Vec<&str> {
        let beyond = |values: &[f64], limit: Option<f64>, index: usize| {
            values.get(index).zip(limit).is_some_and(|(value, limit)| value.abs() > limit)
        };
        self.names
            .iter()
            .enumerate()
            .filter(|(index, _)| {
                beyond(&self.figures.h, self.critical_h, *index)
                    || beyond(&self.figures.k, self.critical_k, *index)
            })
            .map(|(_, name)| name.as_str())
            .collect()
    }
}

/// Runs between laboratories.
pub fn run(command: &Precision, table: &Table) -> Result<Answer, Fault> {
    let mut notes = Vec::new();
    let levels = if command.summary {
        summarised(command, table, &mut notes)?
    } else {
        readings(command, table)?
    };
    let printed = printed_fits(command);
    for level in &levels {
        notes.extend(from_statistics(level.figures.notes.clone()));
        let apart = level.apart();
        if !apart.is_empty() {
            notes.push(Note::caution(
                "laboratory-apart",
                format!("{}: h or k is beyond its critical value at 0.5 %", apart.join(", ")),
                "look for a cause in that laboratory; without one keep its values",
            ));
        }
    }
    if printed.iter().any(|(_, _, fits)| *fits) {
        notes.push(Note::caution(
            "replicates-not-stated",
            "the printed reproducibility fits the printed figures only with a number of replicates \
             that the table does not state",
            "quote it with its inputs; ask the source for the number of replicates",
        ));
    }
    let statement = Statement {
        told: levels
            .iter()
            .map(|level| told(format!("precision {}", level.name).trim(), &level.figures))
            .collect(),
        text: text(&levels, &printed),
        json: json(&levels, &printed),
        assumptions: assumptions(&levels),
        wording: wording(&levels),
        notes,
    };
    statement.finish(&command.figure, || interlaboratory_figure::panels(&levels))
}

fn assumptions(levels: &[Level]) -> Vec<statistics::Assumption> {
    let known = levels.iter().any(|level| level.critical_h.is_some());
    let apart: Vec<String> = levels
        .iter()
        .filter(|level| !level.apart().is_empty())
        .map(|level| format!("{} {}", level.name, level.apart().join(", ")))
        .collect();
    vec![statistics::Assumption {
        name: "laboratories consistent",
        test: "h and k of ASTM E691 at 0.5 %",
        p_value: None,
        held: known.then_some(apart.is_empty()),
        finding: if apart.is_empty() {
            "No laboratory stands apart.".into()
        } else {
            format!("Apart: {}.", apart.join("; "))
        },
    }]
}

fn wording(levels: &[Level]) -> String {
    let sentences: Vec<String> = levels
        .iter()
        .map(|level| {
            let f = &level.figures;
            let name = if level.name.is_empty() {
                String::new()
            } else {
                format!("At level {}: ", level.name)
            };
            format!(
                "{name}{} laboratories gave a mean of {}, a repeatability standard deviation of {} \
                 and a reproducibility standard deviation of {} (r = {}, R = {}; ASTM E691, ISO \
                 5725-2).",
                f.laboratories,
                plain(f.grand_mean, 4),
                digits(f.repeatability_sd, 3),
                digits(f.reproducibility_sd, 3),
                digits(f.r_limit, 3),
                digits(f.reproducibility_limit, 3)
            )
        })
        .collect();
    sentences.join(" ")
}

fn summarised(
    command: &Precision,
    table: &Table,
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
        let labels = groups.iter().map(|group| group.label.clone()).collect();
        levels.push(Level::new(name, labels, figures, by_replicates));
    }
    Ok(levels)
}

fn readings(command: &Precision, table: &Table) -> Result<Vec<Level>, Fault> {
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
            let labels = groups.into_iter().map(|group| group.0).collect();
            Ok(Level::new(name.to_owned(), labels, figures, Vec::new()))
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
    text.push_str("\nconsistency (critical values at 0.5 %):\n");
    let mut rows = Vec::new();
    for level in levels {
        for (index, name) in level.names.iter().enumerate() {
            rows.push(vec![
                format!("{} {name}", level.name).trim().to_owned(),
                digits_or_dash(level.figures.h.get(index).copied(), 3),
                digits_or_dash(level.critical_h, 3),
                digits_or_dash(level.figures.k.get(index).copied(), 3),
                digits_or_dash(level.critical_k, 3),
            ]);
        }
    }
    text.push_str(&table(&["laboratory", "h", "critical h", "k", "critical k"], &rows));
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
            "laboratories": level.names,
            "critical_h": optional(level.critical_h),
            "critical_k": optional(level.critical_k),
            "by_replicates": level.by_replicates.iter().map(|(n, sd)| json!({
                "replicates": n,
                "reproducibility_sd": number(*sd),
            })).collect::<Value>(),
        })
    };
    let first = levels.first().map(|level| &level.figures);
    json!({
        "n": first.map(|figures| figures.laboratories),
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
