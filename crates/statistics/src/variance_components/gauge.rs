//! Gauge study: how much of the scatter is the measurement.
//!
//! Source: AIAG Measurement Systems Analysis, 4th edition (from memory); R. K.
//! Burdick, C. M. Borror and D. C. Montgomery, J. Qual. Technol. 35 (2003) 342.

use super::crossed::Crossed;
use super::intervals::{Term, modified_large_sample};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};

/// Result of a gauge study, as standard deviations.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Gauge {
    /// Repeatability (equipment variation).
    pub repeatability: f64,
    /// Reproducibility (appraiser variation), with the interaction where kept.
    pub reproducibility: f64,
    /// Both together.
    pub gauge: f64,
    /// Between parts.
    pub part: f64,
    /// Everything together.
    pub total: f64,
    /// Gauge over total, percent.
    pub percent_gauge: f64,
    /// Number of categories told apart: 1.41 times part over gauge.
    pub distinct_categories: f64,
    /// Whether the interaction was pooled into the repeatability.
    pub interaction_pooled: bool,
    /// Name of the method.
    pub method: &'static str,
    /// Numbers of parts, appraisers and trials.
    pub sizes: (usize, usize, usize),
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Gauge {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(
            self.sizes.1,
            format!("appraisers ({} parts, {} trials each)", self.sizes.0, self.sizes.2),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.sizes.1 < 6 {
            notes.push(Note::new(
        "few-appraisers",
        format!(
            "{} appraisers say little about those to come; the reproducibility is an indication.",
            self.sizes.1
        ),
        "Give the interval of the gauge variance; add appraisers, not trials.",
    ));
        }
        notes
    }
}

/// Gauge study from a crossed analysis with parts as rows and appraisers as
/// columns; the interaction is pooled only if asked for, and that is stated.
///
/// # Errors
/// No variance between parts or in the gauge.
pub fn from_crossed(table: &Crossed, pool: bool) -> Result<Gauge, CannotSay> {
    let (part, appraiser, interaction, error) = if pool {
        (table.pooled.0, table.pooled.1, 0.0, table.pooled.2)
    } else {
        (table.kept.0, table.kept.1, table.kept.2, table.kept.3)
    };
    let mut notes = table.notes.clone();
    if let Some((ratio, p)) = table.interaction {
        notes.push(Note::new(
            if pool { "interaction-pooled" } else { "interaction-kept" },
            format!(
                "The interaction has F {ratio:.3}, p {p:.3}; it was {}.",
                if pool { "pooled into the repeatability" } else { "kept" }
            ),
            "State which, beside the percentage: it changes the result.",
        ));
    }
    // Negative components enter sums as zero; the notes carry their values.
    let above = |v: f64| v.max(0.0);
    let reproducibility = above(appraiser) + above(interaction);
    let gauge = reproducibility + error;
    let total = gauge + above(part);
    Ok(Gauge {
        repeatability: error.sqrt(),
        reproducibility: reproducibility.sqrt(),
        gauge: gauge.sqrt(),
        part: above(part).sqrt(),
        total: total.sqrt(),
        percent_gauge: 100.0 * cannot_say::computed("the percentage", (gauge / total).sqrt())?,
        distinct_categories: 1.41 * (above(part) / gauge).sqrt(),
        interaction_pooled: pool,
        method: "gauge study by the analysis of variance",

        sizes: table.sizes,
        assumptions: table.assumptions.iter().cloned().map(in_gauge_words).collect(),
        notes,
    })
}

/// Rows are parts and columns appraisers.
fn in_gauge_words(mut assumption: Assumption) -> Assumption {
    assumption.name = match assumption.name {
        "no interaction of rows and columns" => "no interaction of parts and appraisers",
        "rows and columns drawn from those to come" => {
            "parts and appraisers drawn from those to come"
        }
        other => other,
    };
    assumption
}

/// Gauge variance with the interaction kept, and its modified-large-sample
/// interval.
///
/// `(M_appraiser + (p-1) M_interaction + p (r-1) M_error)/(p r)`.
///
/// # Errors
/// No repeats; a confidence outside 0 to 1.
pub fn gauge_variance(table: &Crossed, confidence: f64) -> Result<(f64, f64, f64), CannotSay> {
    let Some(error) = table.mean_squares.3 else {
        return Err(CannotSay::not_determined(
            "without repeats the gauge variance cannot be separated",
            "Repeat each cell.",
        ));
    };
    let (p, r) = (table.sizes.0 as f64, table.sizes.2 as f64);
    let df = table.degrees_of_freedom;
    let terms = [
        Term {
            coefficient: 1.0 / (p * r),
            mean_square: table.mean_squares.1,
            degrees_of_freedom: df.1,
        },
        Term {
            coefficient: (p - 1.0) / (p * r),
            mean_square: table.mean_squares.2,
            degrees_of_freedom: df.2,
        },
        Term { coefficient: (r - 1.0) / r, mean_square: error, degrees_of_freedom: df.3 },
    ];
    let value = terms.iter().map(|t| t.coefficient * t.mean_square).sum();
    let (low, high) = modified_large_sample(&terms, confidence)?;
    Ok((value, low, high))
}

/// Gauge variance with the interaction pooled into the repeatability, and its
/// modified-large-sample interval.
///
/// `(M_appraiser + (p r - 1) M_pooled)/(p r)`, the sum of the appraiser and the
/// error component of the pooled analysis.
///
/// # Errors
/// A confidence outside 0 to 1.
pub fn gauge_variance_pooled(
    table: &Crossed,
    confidence: f64,
) -> Result<(f64, f64, f64), CannotSay> {
    let cells = table.sizes.0 as f64 * table.sizes.2 as f64;
    let terms = [
        Term {
            coefficient: 1.0 / cells,
            mean_square: table.mean_squares.1,
            degrees_of_freedom: table.degrees_of_freedom.1,
        },
        Term {
            coefficient: (cells - 1.0) / cells,
            mean_square: table.pooled.2,
            degrees_of_freedom: table.pooled_df,
        },
    ];
    let value = terms.iter().map(|t| t.coefficient * t.mean_square).sum();
    let (low, high) = modified_large_sample(&terms, confidence)?;
    Ok((value, low, high))
}

/// Average-and-range form for 3 trials, 3 appraisers and 10 parts, whose
/// constants 0.5908, 0.5231 and 0.3146 the manual prints.
///
/// `values[part][appraiser][trial]`.
///
/// # Errors
/// Another shape, values that are not finite.
pub fn average_and_range(values: &[Vec<Vec<f64>>]) -> Result<Gauge, CannotSay> {
    let shape = values.len() == 10
        && values.iter().all(|part| part.len() == 3 && part.iter().all(|cell| cell.len() == 3));
    if !shape {
        return Err(CannotSay::OutOfRange {
            what: "the number of parts".into(),
            value: values.len() as f64,
            allowed: "10 parts, 3 appraisers and 3 trials (the printed constants)".into(),
        });
    }
    let all: Vec<f64> = values.iter().flatten().flatten().copied().collect();
    cannot_say::all_finite("values", &all)?;
    let span = |list: &[f64]| {
        list.iter().fold(f64::NEG_INFINITY, |m, v| m.max(*v))
            - list.iter().fold(f64::INFINITY, |m, v| m.min(*v))
    };
    let ranges: Vec<f64> = values.iter().flatten().map(|cell| span(cell)).collect();
    let mean_range = digits::sums::mean(&ranges).unwrap_or(0.0);
    let appraisers: Vec<f64> = (0..3)
        .map(|j| digits::sums::sum(values.iter().flat_map(|part| part[j].iter().copied())) / 30.0)
        .collect();
    let parts: Vec<f64> =
        values.iter().map(|part| digits::sums::sum(part.iter().flatten().copied()) / 9.0).collect();
    let ev = 0.5908 * mean_range;
    let spread = 0.5231 * span(&appraisers);
    let av = (spread * spread - ev * ev / 30.0).max(0.0).sqrt();
    let gauge = (ev * ev + av * av).sqrt();
    let pv = 0.3146 * span(&parts);
    let total = (gauge * gauge + pv * pv).sqrt();
    if gauge == 0.0 {
        return Err(CannotSay::NoSpread { what: "the repeated values".into() });
    }
    Ok(Gauge {
        repeatability: ev,
        reproducibility: av,
        gauge,
        part: pv,
        total: cannot_say::computed("the total", total)?,
        percent_gauge: 100.0 * gauge / total,
        distinct_categories: 1.41 * pv / gauge,
        interaction_pooled: true,
        method: "gauge study by averages and ranges",
        sizes: (10, 3, 3),
        assumptions: vec![
            Assumption::unchecked(
                "no interaction of parts and appraisers",
                "F test of the interaction",
                "averages and ranges do not show it; use the analysis of variance",
            ),
            Assumption::unchecked(
                "normal repeats",
                "Shapiro-Wilk",
                "ranges of three suppose it; check the repeats by the analysis of variance",
            ),
        ],
        notes: vec![Note::new(
            "ranges-only",
            "Averages and ranges cannot show an interaction.",
            "Prefer the analysis of variance.",
        )],
    })
}
