//! The curve from hits and misses, with every bound of a90 side by side.

use intake::result_table::Table;
use statistics::detection::posterior::Posterior;
use statistics::detection::{HitMiss, HitMissFit, Separation, Simulation, fit_hit_miss};
use statistics::proportions::ProportionBounds;
use study::Note;

use super::by_size::by_size;
use super::{Detection, LinkName, Scale, bayes, hit_miss_answer};
use crate::answer::{Answer, from_statistics};
use crate::commands::assess::{repeats, tables};
use crate::fault::Fault;

/// Everything that was found.
pub struct Found {
    /// The curve asked for.
    pub fit: HitMissFit,
    /// Bound of a90 by simulation, the one that is claimed.
    pub small_sample: Option<f64>,
    /// The same data with each link.
    pub links: Vec<HitMissFit>,
    /// Each size by itself.
    pub by_size: Vec<(f64, ProportionBounds)>,
    /// Bayesian curve, where a prior was stated.
    pub posterior: Option<Posterior>,
    /// Notes.
    pub notes: Vec<Note>,
}

/// Runs on hits and misses.
pub fn run(command: &Detection, table: &Table) -> Result<Answer, Fault> {
    let data = data(command, table)?;
    let log = command.scale == Scale::Log;
    let confidence = command.confidence;
    let fit = fit_hit_miss(&data, command.link.link(), log, confidence)?;
    let simulation = Simulation { samples: command.samples.max(1), seed: command.seed };
    let small_sample = fit.upper_bound_small_sample(0.9, simulation);
    let mut notes = from_statistics(fit.notes.clone());
    if small_sample.is_some() {
        // That note speaks of the bound which is no longer the one shown.
        notes.retain(|note| note.code != "bound-optimistic" && note.code != "no-upper-bound");
        notes.retain(|note| !(note.code == "extrapolated" && note.text.contains("bound")));
    }
    if small_sample.is_some() && fit.separation != Separation::None {
        notes.push(Note::caution(
            "bound-without-curve",
            "hits and misses do not overlap, so there is a bound of a90 and no curve: the bound \
             rests on the likelihood of steep curves alone",
            "add units between the largest miss and the smallest hit",
        ));
    }
    if let (Some(bound), Some(largest)) =
        (small_sample, data.iter().map(|row| row.size).reduce(f64::max))
        && bound > largest
    {
        notes.push(Note::caution(
            "bound-extrapolated",
            format!("a90/95 lies above the largest size tested ({largest})"),
            "test larger defects, or claim only the exact bound of a size tested",
        ));
    }
    note_unused_readings(command, table, &mut notes);
    note_repeated_units(command, table, &mut notes)?;
    let links = [LinkName::Logit, LinkName::Probit, LinkName::Cloglog]
        .into_iter()
        .map(|name| fit_hit_miss(&data, name.link(), log, confidence))
        .collect::<Result<Vec<_>, _>>()?;
    let posterior = bayes::posterior(command, &data)?;
    if let Some(posterior) = &posterior {
        notes.extend(from_statistics(posterior.notes.clone()));
    }
    let by_size = by_size(&data, confidence)?;
    hit_miss_answer::answer(command, Found { fit, small_sample, links, by_size, posterior, notes })
}

/// Sizes with their hits.
pub fn data(command: &Detection, table: &Table) -> Result<Vec<HitMiss>, Fault> {
    let Some(hit) = &command.hit else {
        return Err(Fault::users("the column with the outcome was not named", "add --hit"));
    };
    let sizes = tables::numbers(&command.table, table, &command.size)?;
    match &command.of {
        None => {
            let hits =
                table.hits(hit).map_err(|refusal| tables::refused(&command.table, &refusal))?;
            let rows = sizes.iter().zip(hits);
            Ok(rows.map(|(&size, hit)| HitMiss { size, hits: u64::from(hit), of: 1 }).collect())
        }
        Some(of) => {
            let hits = tables::counts(&command.table, table, hit)?;
            let of = tables::counts(&command.table, table, of)?;
            let rows = sizes.iter().zip(hits.iter().zip(of));
            Ok(rows.map(|(&size, (&hits, of))| HitMiss { size, hits, of }).collect())
        }
    }
}

/// Rows that are units, and share the name of one.
pub fn note_repeated_units(
    command: &Detection,
    table: &Table,
    notes: &mut Vec<Note>,
) -> Result<(), Fault> {
    if command.of.is_some() {
        return Ok(());
    }
    let used: Vec<&str> =
        [Some(command.size.as_str()), command.hit.as_deref()].into_iter().flatten().collect();
    let next = |unit: &str| {
        format!(
            "keep one result of each unit, or give the readings: --reading --threshold \
             --unit {unit}"
        )
    };
    repeats::note_repeats(table, &used, next, notes)
}

/// A column that looks like readings and was not used.
fn note_unused_readings(command: &Detection, table: &Table, notes: &mut Vec<Note>) {
    let looks = |name: &&String| {
        let name = name.to_lowercase();
        (name.contains("rise") || name.contains("reading") || name.ends_with("_pa"))
            && name != command.size.to_lowercase()
            && Some(&name) != command.hit.as_ref().map(|hit| hit.to_lowercase()).as_ref()
    };
    if let Some(column) = table.columns.iter().find(looks) {
        notes.push(Note::caution(
            "readings-not-used",
            format!(
                "the table has a column `{column}`: a reading says how far above the threshold a \
                 unit was, and needs fewer units than hits and misses"
            ),
            format!("add --reading {column} --threshold with the reject limit"),
        ));
    }
}
