//! Probability of detection from positive controls, one run per unit.

use statistics::detection::{HitMiss, Link, Separation, fit_hit_miss};
use statistics::proportions::clopper_pearson;

use super::{Detection, SizeRow};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::runs::{Ended, Run, RunClass};

pub(super) fn from_positive_controls(
    input: &CaseInput,
    runs: &[Run],
    limit_pa: f64,
    notes: &mut Vec<Note>,
) -> Option<Detection> {
    let confidence = input.profile.purpose.confidence.fraction();
    let judged: Vec<(f64, f64, bool)> = runs
        .iter()
        .filter_map(|run| {
            let RunClass::PositiveControl { nominal_um, .. } = run.class else { return None };
            let found = match (&run.ended, &run.features) {
                // A run ended by a limit was rejected: the leak was found.
                (ended, _) if ended.by_limit() => true,
                (Ended::Completed, Some(features)) => features.rise_pa > limit_pa,
                _ => return None,
            };
            Some((nominal_um, run.class.size_um()?, found))
        })
        .collect();
    if judged.is_empty() {
        notes.push(Note::refusal(
            "no-positive-controls",
            "detection cannot be said: no positive control has been tested",
            "test positive controls of several sizes across the forecast transition",
        ));
        return None;
    }
    let by_size = by_size(&judged, confidence);
    let data: Vec<HitMiss> = judged
        .iter()
        .map(|&(_, size, found)| HitMiss { size, hits: u64::from(found), of: 1 })
        .collect();
    let fit = match fit_hit_miss(&data, Link::Logit, true, confidence) {
        Ok(fit) => fit,
        Err(error) => {
            notes.push(Note::refusal(
                "no-curve",
                format!("no detection curve can be said: {error}"),
                "the exact bounds by size still stand; test sizes between the last miss and the \
                 first hit",
            ));
            return Some(without_curve(limit_pa, judged.len(), by_size));
        }
    };
    notes.extend(fit.notes.iter().cloned().map(Note::from));
    let sizes: Vec<f64> = judged.iter().map(|row| row.1).collect();
    let low = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = sizes.iter().copied().fold(0.0, f64::max);
    let curve = if matches!(fit.separation, Separation::None) {
        crate::forecast::log_grid(low * 0.7, high * 1.3, 60)
            .into_iter()
            .filter_map(|um| Some((um, fit.probability(um)?, fit.lower_bound(um))))
            .collect()
    } else {
        Vec::new()
    };
    Some(Detection {
        limit_pa,
        separation: fit.separation.word().to_owned(),
        link: "logit".to_owned(),
        intercept: fit.intercept,
        slope: fit.slope,
        a50_um: fit.a50,
        a90_um: fit.a90,
        a90_95_um: fit.a90_95,
        bracket_um: fit.bracket,
        n_units: judged.len(),
        by_size,
        curve,
    })
}

fn without_curve(limit_pa: f64, n_units: usize, by_size: Vec<SizeRow>) -> Detection {
    Detection {
        limit_pa,
        separation: "unknown".to_owned(),
        link: "none".to_owned(),
        intercept: None,
        slope: None,
        a50_um: None,
        a90_um: None,
        a90_95_um: None,
        bracket_um: None,
        n_units,
        by_size,
        curve: Vec::new(),
    }
}

fn by_size(judged: &[(f64, f64, bool)], confidence: f64) -> Vec<SizeRow> {
    let mut rows: Vec<SizeRow> = Vec::new();
    for &(nominal_um, _, found) in judged {
        let row = match rows.iter_mut().find(|row| row.nominal_um == nominal_um) {
            Some(row) => row,
            None => {
                rows.push(SizeRow { nominal_um, hits: 0, of: 0, lower: 0.0 });
                let last = rows.len() - 1;
                &mut rows[last]
            }
        };
        row.of += 1;
        row.hits += u64::from(found);
    }
    rows.sort_by(|a, b| a.nominal_um.total_cmp(&b.nominal_um));
    for row in &mut rows {
        row.lower = clopper_pearson(row.hits, row.of, confidence)
            .map_or(0.0, |bounds| bounds.one_sided_lower);
    }
    rows
}
