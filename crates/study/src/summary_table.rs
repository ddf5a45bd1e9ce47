//! Printed tables of groups (mean, standard deviation, number): which rows
//! are readings, and which are codes for runs that were ended by a limit.

use statistics::summaries::GroupSummary;

use crate::notes::Note;

/// A row of a printed table.
#[derive(Debug, Clone, PartialEq)]
pub struct SummaryRow {
    /// Line of the file, for messages.
    pub line: u64,
    /// The group, such as a site or laboratory.
    pub group: String,
    /// The population or size, as it is written; empty where there is none.
    pub population: String,
    /// Printed mean.
    pub mean: f64,
    /// Printed standard deviation.
    pub standard_deviation: f64,
    /// Printed number.
    pub n: usize,
}

/// Rows sorted into readings and codes.
#[derive(Debug, Clone, PartialEq)]
pub struct SortedRows {
    /// Rows that are readings.
    pub readings: Vec<SummaryRow>,
    /// Rows in which every run was ended by a limit: right-censored.
    pub censored: Vec<SummaryRow>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

/// Sorts rows into readings and codes.
///
/// A row counts as a code when its mean is the stated `code`, or, where no
/// code was stated, when its standard deviation is zero: real readings
/// scatter. Other rows of the same population may hold the code too, which a
/// mean does not show; a note says so.
#[must_use]
pub fn sort_rows(rows: &[SummaryRow], code: Option<f64>) -> SortedRows {
    let is_code = |row: &SummaryRow| match code {
        Some(code) => row.mean == code && row.standard_deviation == 0.0,
        None => row.standard_deviation == 0.0 && row.n > 1,
    };
    let (censored, readings): (Vec<_>, Vec<_>) = rows.iter().cloned().partition(is_code);
    let mut notes = Vec::new();
    for row in &censored {
        notes.push(Note::caution(
            "ended-by-limit",
            format!(
                "line {}: {} {} reads {} with standard deviation 0 in {} runs: a code for runs \
                 ended by a limit, right-censored at that value, not a reading",
                row.line, row.group, row.population, row.mean, row.n
            ),
            "treat it as 'at least this'; never average it",
        ));
        notes.push(Note::caution(
            "pooled-contaminated",
            format!(
                "any pooled mean or deviation of `{}` that includes {} is an artefact of the code \
                 {}; other groups of it may hold the code in some runs, which a mean does not show",
                row.population, row.group, row.mean
            ),
            "use the groups without coded runs, or ask for the single readings",
        ));
    }
    SortedRows { readings, censored, notes }
}

/// The rows as groups of the statistics.
#[must_use]
pub fn groups(rows: &[SummaryRow]) -> Vec<GroupSummary> {
    rows.iter()
        .map(|row| GroupSummary {
            label: if row.population.is_empty() {
                row.group.clone()
            } else {
                format!("{} ({})", row.group, row.population)
            },
            mean: row.mean,
            standard_deviation: row.standard_deviation,
            n: row.n,
        })
        .collect()
}

/// Reproducibility standard deviation that printed figures give with a number
/// of replicates that the table does not state.
///
/// `s_R = sqrt(s_x^2 + s_r^2 (n - 1)/n)` with `s_r = r / 2.8`, never below
/// `s_r`. Source: ASTM E691 (definitions from memory).
#[must_use]
pub fn printed_reproducibility(
    sd_of_averages: f64,
    repeatability_limit: f64,
    replicates: u32,
) -> f64 {
    let repeatability = repeatability_limit / 2.8;
    let n = f64::from(replicates.max(1));
    (sd_of_averages * sd_of_averages + repeatability * repeatability * (n - 1.0) / n)
        .sqrt()
        .max(repeatability)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(group: &str, mean: f64, standard_deviation: f64) -> SummaryRow {
        SummaryRow {
            line: 1,
            group: group.to_owned(),
            population: "10 um".to_owned(),
            mean,
            standard_deviation,
            n: 15,
        }
    }

    #[test]
    fn a_coded_row_is_censored_and_named() {
        let rows = [row("site 1", 599.0, 0.0), row("site 2", 229.0, 53.0)];
        let sorted = sort_rows(&rows, Some(599.0));
        assert_eq!(sorted.censored.len(), 1);
        assert_eq!(sorted.readings.len(), 1);
        assert!(sorted.notes.iter().any(|note| note.code == "pooled-contaminated"));
    }

    #[test]
    fn five_replicates_give_the_printed_figure() {
        // Published three-site study: SD of site averages 3.9, r 8.7, s_R 4.8.
        assert!((printed_reproducibility(3.9, 8.7, 5) - 4.79).abs() < 0.005);
        assert!((printed_reproducibility(3.9, 8.7, 3) - 4.65).abs() < 0.005);
    }

    #[test]
    fn rows_that_scatter_are_readings() {
        let sorted = sort_rows(&[row("site 2", 229.0, 53.0)], None);
        assert!(sorted.censored.is_empty() && sorted.notes.is_empty());
    }
}
