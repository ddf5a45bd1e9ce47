//! Which free volume: the search repeated for fixtures of several sizes, and
//! the tolerance that a fixture may have with the chosen cycle.

use physics::quantities::Volume;

use super::choose::{Target, share_of_draws};
use super::ranges::stretch;
use super::{Design, DesignError, DesignSettings, choose};
use crate::case_input::CaseInput;
use crate::provenance::Provenance;

/// Free volumes with which a chosen cycle is tried, as multiples of its own.
const TRIED: [f64; 15] =
    [0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0];
/// Most free volumes for which the search is repeated.
const MOST: usize = 8;
/// Cycles whose times differ by less count as equally quick; of two fixtures
/// the roomier is then the easier to make.
const AS_QUICK: f64 = 1.05;

/// Free volumes with which the chosen cycle still works.
#[derive(Debug, Clone, PartialEq)]
pub struct FixtureRange {
    /// Free volumes that were tried, m³, rising; the one of the case is one.
    pub volumes_m3: Vec<f64>,
    /// Share of the draws that work with each, 0 to 1.
    pub share: Vec<f64>,
    /// Share that counts as working.
    pub required_share: f64,
}

impl FixtureRange {
    /// Longest stretch of free volumes around the stated one that works, m³:
    /// what a fixture may measure with this cycle.
    #[must_use]
    pub fn range_m3(&self, stated_m3: f64) -> Option<(f64, f64)> {
        let place = self.volumes_m3.iter().position(|v| (v / stated_m3 - 1.0).abs() < 1e-9)?;
        stretch(&self.volumes_m3, &self.share, place, self.required_share)
    }

    /// Whether the last volume that was tried works still.
    #[must_use]
    pub fn reaches_the_end(&self) -> bool {
        self.share.last().is_some_and(|share| *share >= self.required_share)
    }
}

/// The search for one free volume.
#[derive(Debug, Clone, PartialEq)]
pub struct FixtureDesign {
    /// The case with this free volume.
    pub input: CaseInput,
    /// What the search found.
    pub design: Design,
}

/// The search for every free volume asked.
#[derive(Debug, Clone, PartialEq)]
pub struct FixtureSearch {
    /// One search for each free volume, in the order asked.
    pub tried: Vec<FixtureDesign>,
    /// Place of the best: the quickest that finds the leak that matters, and of
    /// equally quick ones the roomiest; where none does, the finest.
    pub best: usize,
}

impl FixtureSearch {
    /// The search of the best free volume.
    #[must_use]
    pub fn best(&self) -> &FixtureDesign {
        &self.tried[self.best]
    }
}

/// Searches the cycle for each of these free volumes; none of them stands for
/// the one of the case.
///
/// A larger chamber has more wall that gives off gas, so that its background is
/// taken to grow with the area, as the volume to the power of two thirds (as if
/// all of it came from the chamber); a smaller one keeps the background as
/// stated (as if all of it came from the container). Both err to the side of the
/// louder background.
///
/// # Errors
/// As [`design`](super::design), and free volumes that are not above zero or
/// more than eight.
pub fn design_fixtures(
    input: &CaseInput,
    settings: &DesignSettings,
    free_volumes: &[Volume],
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<FixtureSearch, DesignError> {
    if free_volumes.len() > MOST || free_volumes.iter().any(|volume| !(volume.m3() > 0.0)) {
        return Err(DesignError::FreeVolumes { most: MOST });
    }
    let inputs: Vec<CaseInput> = if free_volumes.is_empty() {
        vec![input.clone()]
    } else {
        free_volumes.iter().map(|volume| with_free_volume(input, *volume)).collect()
    };
    let n = inputs.len();
    let tried = inputs
        .into_iter()
        .enumerate()
        .map(|(place, input)| {
            let design = choose::design(&input, settings, &|done, total| {
                progress(place * total + done, n * total);
            })?;
            Ok(FixtureDesign { input, design })
        })
        .collect::<Result<Vec<_>, DesignError>>()?;
    let best = best(&tried);
    Ok(FixtureSearch { tried, best })
}

fn with_free_volume(input: &CaseInput, volume: Volume) -> CaseInput {
    let mut input = input.clone();
    let stated = &mut input.rig.free_volume;
    let ratio = volume.m3() / stated.value.m3();
    if (ratio - 1.0).abs() > 1e-9 {
        stated.value = volume;
        stated.provenance =
            Provenance::assumed("size of fixture tried by the search, not measured");
        let wall = digits::scalar::pow(ratio.max(1.0), 2.0 / 3.0);
        input.rig.background.one_over_t *= wall;
        input.rig.background.constant *= wall;
    }
    input
}

fn best(tried: &[FixtureDesign]) -> usize {
    let time = |one: &FixtureDesign| one.design.chosen_candidate().map(|c| c.tight_time_s);
    let quickest = tried.iter().filter_map(time).fold(f64::INFINITY, f64::min);
    let volume = |place: &usize| tried[*place].input.rig.free_volume.value.m3();
    let finest = |place: &usize| {
        let sizes = tried[*place].design.front.iter().filter_map(|one| one.smallest_um);
        sizes.fold(f64::INFINITY, f64::min)
    };
    if quickest.is_finite() {
        (0..tried.len())
            .filter(|place| time(&tried[*place]).is_some_and(|s| s <= AS_QUICK * quickest))
            .max_by(|a, b| volume(a).total_cmp(&volume(b)))
            .unwrap_or(0)
    } else {
        (0..tried.len()).min_by(|a, b| finest(a).total_cmp(&finest(b))).unwrap_or(0)
    }
}

/// Share of the draws in which the chosen cycle works with other free volumes.
/// The fixture is measured once it is made, so each volume is drawn about itself
/// with the uncertainty stated with the rig.
pub(super) fn fixture_range(
    input: &CaseInput,
    target: &Target<'_>,
    settings: &DesignSettings,
) -> Result<FixtureRange, DesignError> {
    let stated_m3 = input.rig.free_volume.value.m3();
    let volumes_m3: Vec<f64> = TRIED.iter().map(|share| stated_m3 * share).collect();
    let share = volumes_m3
        .iter()
        .map(|m3| share_of_draws(&with_free_volume(input, Volume::from_m3(*m3)), target, settings))
        .collect::<Result<_, _>>()?;
    Ok(FixtureRange { volumes_m3, share, required_share: settings.required_share })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quick() -> DesignSettings {
        DesignSettings { n_draws: 16, n_sizes: 25, ..DesignSettings::default() }
    }

    /// A leak raises the pressure in inverse proportion to the free volume, the
    /// noise of the gauge does not know it, and the walls of a roomy chamber give
    /// off more gas: the smaller chamber finds the same leak sooner, and one that
    /// is too roomy cannot find it at all.
    #[test]
    fn a_smaller_chamber_is_the_quicker_and_one_too_roomy_finds_nothing() {
        let input = crate::worked_cases::lyophilised_vial();
        let stated = input.rig.free_volume.value;
        let volumes = [0.5, 1.0, 40.0].map(|factor| Volume::from_m3(factor * stated.m3()));
        let found = design_fixtures(&input, &quick(), &volumes, &|_, _| {}).expect("searches");
        let time =
            |place: usize| found.tried[place].design.chosen_candidate().map(|one| one.tight_time_s);
        assert!(time(0).expect("a method") <= time(1).expect("a method"));
        assert_eq!(time(2), None);
        assert_ne!(found.best, 2);
        let wall = |place: usize| found.tried[place].input.rig.background.one_over_t;
        assert_eq!(wall(0), wall(1));
        assert!((wall(2) / wall(1) / 11.696 - 1.0).abs() < 1e-4, "40 to the power of 2/3");
        // The case as it was asked about stays as it was.
        assert_eq!(found.tried[1].input, input);
        assert_ne!(
            found.tried[0].input.rig.free_volume.provenance,
            input.rig.free_volume.provenance
        );
        let alone = design_fixtures(&input, &quick(), &[], &|_, _| {}).expect("a search");
        assert_eq!(alone.best().design, found.tried[1].design);
    }

    #[test]
    fn the_tolerance_of_the_fixture_holds_the_stated_volume_and_ends() {
        let input = crate::worked_cases::lyophilised_vial();
        let found = super::super::design(&input, &quick(), &|_, _| {}).expect("a search");
        let fixture = found.fixture.expect("a chosen cycle");
        let stated = input.rig.free_volume.value.m3();
        let (low, high) = fixture.range_m3(stated).expect("it works as stated");
        assert!(low <= stated && stated <= high, "{low} {stated} {high}");
        // What works with three times the volume in every draw was no quickest cycle.
        assert!(!fixture.reaches_the_end(), "{fixture:?}");
    }

    #[test]
    fn volumes_without_meaning_are_refused() {
        let input = crate::worked_cases::lyophilised_vial();
        for volumes in [vec![Volume::from_m3(0.0)], vec![Volume::from_ml(20.0); MOST + 1]] {
            let error =
                design_fixtures(&input, &quick(), &volumes, &|_, _| {}).expect_err("refused");
            assert!(error.to_string().contains("free volumes"), "{error}");
        }
    }
}
