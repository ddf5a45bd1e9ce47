//! Probability of detection from positive controls, one run per unit.

use statistics::detection::{HitMiss, HitMissFit, Link, Separation, Simulation, fit_hit_miss};
use statistics::proportions::clopper_pearson;

use super::{Detection, SizeRow, units};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::runs::{Run, RunClass};

pub(super) fn from_positive_controls(
    input: &CaseInput,
    runs: &[Run],
    limit_pa: f64,
    link: Link,
    notes: &mut Vec<Note>,
) -> Option<Detection> {
    let confidence = input.profile.purpose.confidence.fraction();
    let of_class = runs.iter().filter(|run| run.detection_size_um().is_some());
    let usable = |run: &Run| run.found(limit_pa).is_some();
    let judged: Vec<(f64, f64, bool)> =
        units::first_of_each(of_class, usable, "positive controls", notes)
            .into_iter()
            .filter_map(|run| {
                let RunClass::PositiveControl { nominal_um, .. } = run.class else { return None };
                let found = run.found(limit_pa)?;
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
    let fit = match fit_hit_miss(&data, link, true, confidence) {
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
    let (bound, bound_method) = bound_of_a90(&fit, notes);
    if link != Link::Logit && bound.is_some() {
        notes.push(Note::caution(
            "bound-of-another-link",
            format!(
                "the coverage of the bound of a90 was tried by simulation for the logit link, and \
                 this curve has the {} link",
                link.word()
            ),
            "say why this link was chosen, and compare with the logit link before a size is claimed",
        ));
    }
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
        link: link.word().to_owned(),
        intercept: fit.intercept,
        slope: fit.slope,
        a50_um: fit.a50,
        a90_um: fit.a90,
        a90_95_um: bound,
        a90_95_method: Some(bound_method),
        bracket_um: fit.bracket,
        n_units: judged.len(),
        by_size,
        curve,
    })
}

/// Numbers of units for which the coverage of the bound was simulated over a
/// grid of true curves (`docs/coverage.md`).
const SHOWN_FOR: std::ops::RangeInclusive<u64> = 20..=120;

/// The upper bound of the size found with probability 0.9 and its method in
/// words, with the notes of the curve.
///
/// The signed root of the likelihood is compared with simulated samples of the
/// same design, because the plain likelihood-ratio bound covers 0.91 to 0.94
/// where 0.95 is stated. Where hits and misses do not overlap, or the
/// likelihood is open to large sizes, no bound is said.
fn bound_of_a90(fit: &HitMissFit, notes: &mut Vec<Note>) -> (Option<f64>, String) {
    let simulation = Simulation::default();
    let bound = fit.a90_95.and_then(|_| fit.upper_bound_small_sample(0.9, simulation));
    let shown: Vec<Note> = fit
        .notes
        .iter()
        // Those notes speak of the plain bound, which is not the one given.
        .filter(|note| bound.is_none() || note.code != "bound-optimistic")
        .filter(|note| !(note.code == "extrapolated" && note.text.contains("the bound of a90")))
        .cloned()
        .map(Note::from)
        .collect();
    notes.extend(shown);
    if bound.is_none() {
        return (None, fit.a90_95_method.to_owned());
    }
    if !SHOWN_FOR.contains(&fit.n_units) {
        notes.push(Note::caution(
            "bound-outside-its-trial",
            format!(
                "the bound of a90 was tried by simulation for {} to {} units on single curves, and \
                 there are {}",
                SHOWN_FOR.start(),
                SHOWN_FOR.end(),
                fit.n_units
            ),
            if fit.n_units < *SHOWN_FOR.start() {
                "add units between the largest miss and the smallest hit before a size is claimed"
            } else {
                "say the number of units beside the bound"
            },
        ));
    }
    let method = format!(
        "signed root of the profile likelihood against {} simulated samples of the same design, \
         seed {}; one-sided",
        simulation.samples, simulation.seed
    );
    (bound, method)
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
        a90_95_method: None,
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: `per_size` units at each of eight sizes, the hits rising.
    fn fit(per_size: u64, hits: [u64; 8]) -> HitMissFit {
        let data: Vec<HitMiss> = (1_u32..)
            .zip(hits)
            .map(|(size, hits)| HitMiss { size: f64::from(size), hits, of: per_size })
            .collect();
        fit_hit_miss(&data, Link::Logit, true, 0.95).unwrap()
    }

    #[test]
    fn the_bound_can_be_computed_again_from_what_is_said() {
        let fit = fit(4, [0, 1, 1, 2, 3, 3, 4, 4]);
        let mut notes = Vec::new();
        let (bound, method) = bound_of_a90(&fit, &mut notes);
        assert!(method.contains("2000 simulated samples") && method.contains("seed 20251125"));
        let again = Simulation { samples: 2000, seed: 20_251_125 };
        assert_eq!(bound, fit.upper_bound_small_sample(0.9, again));
        // Wider than the plain bound, which covers too little.
        assert!(bound > fit.a90_95);
        let code = |code: &str| notes.iter().any(|note| note.code == code);
        assert!(!code("bound-optimistic") && !code("bound-outside-its-trial"), "{notes:?}");
    }

    #[test]
    fn another_link_is_used_and_said() {
        let run = |number: u32, um: f64, rise_pa: f64| {
            let class = RunClass::PositiveControl { nominal_um: um, verified_um: None };
            Run { number, ..Run::invented(&number.to_string(), class, rise_pa) }
        };
        let hits = [0, 1, 2, 4, 6, 7, 8, 8];
        let runs: Vec<Run> = (0..64_u32)
            .map(|n| {
                let (size, unit) = ((n / 8) as usize, n % 8);
                run(n + 1, 1.0 + 0.5 * size as f64, if unit < hits[size] { 9.0 } else { 1.0 })
            })
            .collect();
        let input = crate::worked_cases::lyophilised_vial();
        let with = |link: Link| {
            let mut notes = Vec::new();
            let found = from_positive_controls(&input, &runs, 5.0, link, &mut notes).unwrap();
            (found, notes)
        };
        let (logit, plain) = with(Link::Logit);
        let (probit, said) = with(Link::Probit);
        assert_eq!((logit.link.as_str(), probit.link.as_str()), ("logit", "probit"));
        // The two curves agree in the middle and have other slopes.
        let (a, b) = (logit.a50_um.unwrap(), probit.a50_um.unwrap());
        assert!((a - b).abs() < 0.05 * a, "{a} {b}");
        assert!((logit.slope.unwrap() / probit.slope.unwrap() - 1.7).abs() < 0.3);
        let code = |notes: &[Note]| notes.iter().any(|note| note.code == "bound-of-another-link");
        assert!(!code(&plain) && code(&said));
    }

    /// An aborted run with a reading takes no unit's place, and a full gauge is a
    /// hit only where the rise up to its end exceeds the limit.
    #[test]
    fn what_tells_of_no_side_is_neither_a_hit_nor_a_miss() {
        use crate::runs::Ended;
        let class = RunClass::PositiveControl { nominal_um: 5.0, verified_um: None };
        let with =
            |unit: &str, ended, rise_pa| Run { ended, ..Run::invented(unit, class, rise_pa) };
        let aborted = || Ended::Aborted { cause: "lid not closed".to_owned() };
        let full = |at_least_pa| Ended::GaugeFull { at_least_pa };
        let runs = [
            with("P1", aborted(), 1.0),
            with("P1", Ended::Completed, 9.0),
            with("P2", full(0.0), 0.0),
            with("P3", full(5.5), 0.0),
            with("P4", Ended::Completed, 1.0),
            with("P5", aborted(), 1.0),
        ];
        let input = crate::worked_cases::lyophilised_vial();
        let found =
            from_positive_controls(&input, &runs, 5.0, Link::Logit, &mut Vec::new()).unwrap();
        assert_eq!((found.by_size[0].hits, found.by_size[0].of), (2, 3));
    }

    #[test]
    fn few_units_and_separated_ones_are_said() {
        let mut notes = Vec::new();
        let (bound, _) = bound_of_a90(&fit(2, [0, 1, 0, 1, 1, 2, 2, 2]), &mut notes);
        assert!(bound.is_some());
        assert!(notes.iter().any(|note| note.code == "bound-outside-its-trial"));
        let (bound, method) = bound_of_a90(&fit(4, [0, 0, 0, 0, 4, 4, 4, 4]), &mut notes);
        assert_eq!(bound, None);
        assert!(method.starts_with("none"), "{method}");
    }
}
