//! Blanks in the order in which they were run, on a chart of individual
//! values: whether the rig stayed as it was while the study was done. Blanks
//! diagnose the rig and set no limit for units.

use statistics::control_charts::individuals::individuals;

use crate::notes::Note;
use crate::runs::{Run, RunClass};

/// The blanks of a study on a chart of individual values.
#[derive(Debug, Clone, PartialEq)]
pub struct BlankChart {
    /// Number of the run and rise in Pa, in the order of the runs.
    pub rises: Vec<(u32, f64)>,
    /// Mean rise, Pa.
    pub mean_pa: f64,
    /// Limits of three standard deviations from moving ranges, Pa.
    pub limits_pa: (f64, f64),
    /// Runs outside these limits.
    pub outside: Vec<u32>,
    /// What speaks against the chart.
    pub notes: Vec<Note>,
}

/// The chart of the blanks among some runs.
///
/// # Errors
/// In words, where there are fewer than five blanks or they do not vary.
pub fn blank_chart(runs: &[Run]) -> Result<BlankChart, String> {
    let mut rises: Vec<(u32, f64)> = runs
        .iter()
        .filter(|run| run.class == RunClass::Blank)
        .filter_map(|run| Some((run.number, run.measured()?.rise_pa)))
        .collect();
    rises.sort_by_key(|blank| blank.0);
    let values: Vec<f64> = rises.iter().map(|blank| blank.1).collect();
    let chart = individuals(&values).map_err(|error| error.to_string())?;
    let (low, high) = chart.limits;
    let outside = rises
        .iter()
        .filter(|(_, pa)| !(low..=high).contains(pa))
        .map(|(number, _)| *number)
        .collect();
    Ok(BlankChart {
        rises,
        mean_pa: chart.mean,
        limits_pa: chart.limits,
        outside,
        notes: chart.notes.into_iter().map(Note::from).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(number: u32, class: RunClass, rise_pa: f64) -> Run {
        Run { number, ..Run::invented("U", class, rise_pa) }
    }

    /// Sigma from the mean moving range over d2 = 1.128 (common practice): the
    /// ranges 0, 2, 0, 0 have the mean 0.5.
    #[test]
    fn limits_by_hand_and_a_planted_blank_outside_them() {
        let mut runs: Vec<Run> = [10.0, 12.0, 10.0, 12.0, 10.0]
            .iter()
            .zip([9, 2, 7, 4, 5])
            .map(|(rise, number)| run(number, RunClass::Blank, *rise))
            .collect();
        runs.push(run(1, RunClass::NegativeControl, 500.0));
        // In the order of the runs: 12, 12, 10, 10, 10.
        let chart = blank_chart(&runs).expect("a chart");
        assert_eq!(chart.rises.iter().map(|one| one.0).collect::<Vec<_>>(), [2, 4, 5, 7, 9]);
        assert!((chart.mean_pa - 10.8).abs() < 1e-12);
        let half = 3.0 * 0.5 / core::f64::consts::FRAC_2_SQRT_PI;
        assert!((chart.limits_pa.1 - 10.8 - half).abs() < 1e-6, "{:?}", chart.limits_pa);
        assert_eq!(chart.outside, Vec::<u32>::new());
        for number in 10..30 {
            runs.push(run(number, RunClass::Blank, 10.0 + f64::from(number % 3)));
        }
        runs.push(run(40, RunClass::Blank, 30.0));
        assert_eq!(blank_chart(&runs).expect("a chart").outside, [40]);
    }

    #[test]
    fn too_few_blanks_are_said() {
        assert!(blank_chart(&[]).is_err());
        let same: Vec<Run> = (1..9).map(|n| run(n, RunClass::Blank, 3.0)).collect();
        assert!(blank_chart(&same).is_err(), "no spread");
    }
}
