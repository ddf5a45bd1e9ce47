//! The liquid side: a hole under the product, through which liquid runs into
//! the chamber and evaporates.
//!
//! Below its holding pressure such a hole passes nothing; above, liquid runs as
//! in a capillary, boils off as the chamber lies below its vapour pressure, and
//! the chamber fills to that pressure at most. Bores are true bores through the
//! stated wall, because liquid knows no flow-equivalent diameter.
//!
//! The properties are those of the product's own liquid; where one is missing
//! nothing is forecast. The whole is repeated over the draws of the gas side,
//! with the wall, the properties and the evaporation drawn too.

use physics::cycle::extended::{CycleExtras, Moisture, simulate_with};
use physics::liquids::{HoleContent, Liquid, LiquidState, PluggedHole, Solution, hole_content};
use physics::quantities::{AbsolutePressure, Area, Length};

use super::compute::{ForecastError, log_grid, required};
use super::response::{Response, reach_deviation, without_limits};
use super::uncertain::{INPUTS, Known, LIQUID_INPUTS, Varied, inputs};
use super::unknowns::{Unknown, rank};
use super::window::{Edges, edges_of, quantile};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::product_liquid::ProductLiquid;
use crate::profile::Fill;
use crate::provenance::Origin;
use crate::trace_features;
use crate::uncertain_input::LiquidInput;
use crate::wording::rounded;

/// Bores that are tried, µm.
const BORES_UM: (f64, f64, usize) = (1.0, 100.0, 25);
/// Every so many of them are tried in a draw; the edges are then halved in.
const COARSE: usize = 6;
/// Halvings of the bracket of an edge: to 4 % of it in a draw, to half a percent
/// at the stated values.
const HALVINGS: usize = 5;
/// Liquid over the hole: more than any cycle lets out.
const OVER_THE_HOLE_KG: f64 = 1.0e-3;
/// Where the liquid comes out it spreads on glass or metal.
const SPREAD_CM2: f64 = 0.2;
/// Heat that reaches so small a film from the wall under it, W/K (working
/// value: 0.2 cm² of a 0.1 mm film on glass), and its uncertainty.
const FILM_W_PER_K: f64 = 0.05;
const FILM_LOG_SD: f64 = 0.7;
/// Share of the kinetic limit at which water evaporates in a chamber that is
/// not clean: published values scatter from 0.01 to 1, taken as 90 % of what may
/// be.
const EVAPORATION: f64 = 0.1;
const EVAPORATION_LOG_SD: f64 = 1.4;
/// Relative standard uncertainties that are taken where none was stated.
const UNSTATED: f64 = 0.05;
const UNSTATED_ANGLE_DEGREES: f64 = 10.0;
/// A chamber well below the vapour pressure lies below this share of it.
const WELL_BELOW: f64 = 0.5;

/// What is predicted for leaks under the liquid.
#[derive(Debug, Clone, PartialEq)]
pub struct LiquidSide {
    /// Liquid whose properties were taken.
    pub liquid: String,
    /// Its vapour pressure at the temperature of the wall, Pa: the chamber must
    /// lie well below, and fills no further.
    pub vapour_pressure_pa: f64,
    /// Bore from which liquid runs against its surface tension, µm; 0 where
    /// nothing holds it.
    pub opens_um: f64,
    /// Pressure of a tight chamber where measuring begins, in the tier where it
    /// is lowest, Pa.
    pub chamber_pa: f64,
    /// Detection by bore, rising; none where the chamber stays above the vapour
    /// pressure: evaporation is then slowed by the air in a way that is not
    /// modelled, and nothing is claimed.
    pub points: Vec<LiquidPoint>,
    /// Smallest bore found with the required probability, µm.
    pub smallest_um: Option<f64>,
    /// Largest bore up to which that holds without a gap, µm.
    pub largest_um: Option<f64>,
    /// True where it holds to the end of the bores that were tried.
    pub largest_is_at_least: bool,
    /// What the uncertain inputs make of it; `None` in records of versions that
    /// did not vary them.
    pub spread: Option<LiquidSpread>,
}

/// The liquid side over the uncertain inputs: 90 % intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct LiquidSpread {
    /// Bore from which liquid runs, µm.
    pub opens_um: (f64, f64),
    /// Smallest bore found, µm, over the draws that have one.
    pub smallest_um: Option<(f64, f64)>,
    /// Largest bore up to which that holds, µm.
    pub largest_um: Option<(f64, f64)>,
    /// Pressure of the tight chamber over the vapour pressure.
    pub chamber_over_vapour: (f64, f64),
    /// Share of the draws in which the chamber lies below the vapour pressure.
    pub share_that_boils: f64,
    /// Share of the draws in which some bore is found.
    pub share_with_window: f64,
    /// Which unknown moves the smallest bore most, the weightiest first.
    pub unknowns: Vec<Unknown>,
}

/// What is predicted for one bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidPoint {
    /// True bore through the wall, µm.
    pub bore_um: f64,
    /// Liquid runs at the lowest pressure of the chamber; else it holds.
    pub runs: bool,
    /// Rise in the deciding measure stage, Pa; `None` where it has none.
    pub rise_pa: Option<f64>,
    /// Probability that a limit finds it.
    pub probability: f64,
}

const ALL_INPUTS: usize = INPUTS + LIQUID_INPUTS;

/// One draw: where it opens, whether it boils, what is found.
pub(super) struct LiquidDraw {
    scores: [f64; ALL_INPUTS],
    opens_um: f64,
    chamber_over_vapour: f64,
    edges: Edges,
}

/// A case with the liquid of its product, every property stated.
pub(super) struct LiquidCase<'a> {
    input: &'a CaseInput,
    stated: &'a ProductLiquid,
    hole: Hole,
    known: [Known; LIQUID_INPUTS],
}

/// What decides on a leak under the liquid, beside rig, headspace and cycle.
#[derive(Debug, Clone, Copy)]
struct Hole {
    wall_m: f64,
    solution: Solution,
    contact_angle_degrees: f64,
    outside_wetted: bool,
    evaporation: f64,
    film_w_per_k: f64,
}

impl<'a> LiquidCase<'a> {
    /// The case; `None` for a dry product, and where a property is missing, which
    /// a note then names.
    pub fn of(input: &'a CaseInput, notes: &mut Vec<Note>) -> Result<Option<Self>, ForecastError> {
        let product = &input.profile.product;
        if product.fill == Fill::Dry {
            return Ok(None);
        }
        let missing = product.missing_properties();
        let stated = product.liquid.as_ref().filter(|_| missing.is_empty());
        let solution = match stated {
            Some(liquid) => liquid.solution()?,
            None => None,
        };
        let (Some(stated), Some(solution)) = (stated, solution) else {
            notes.push(Note::refusal(
                "liquid-side-unknown",
                format!(
                    "leaks under the liquid are not forecast: the profile does not say its {}",
                    missing.join(", ")
                ),
                "state them as [product.liquid] of the case file, each with its uncertainty and \
                 source",
            ));
            return Ok(None);
        };
        let wall = &input.profile.container.wall;
        let hole = Hole {
            wall_m: wall.value.m(),
            solution,
            contact_angle_degrees: stated
                .contact_angle_degrees
                .as_ref()
                .map_or(0.0, |angle| angle.value),
            outside_wetted: stated.wets_outside,
            evaporation: EVAPORATION,
            film_w_per_k: FILM_W_PER_K,
        };
        Ok(Some(Self { input, stated, hole, known: known(input, stated) }))
    }

    /// One draw of the uncertain inputs.
    pub fn draw(
        &self,
        varied: &Varied,
        response: &Response,
        scores: &[f64; LIQUID_INPUTS],
    ) -> Result<LiquidDraw, ForecastError> {
        let hole = self.moved(scores);
        let bench = Bench::new(&varied.input, response, hole)?;
        let (from_um, to_um, n) = BORES_UM;
        let bores = log_grid(from_um, to_um, 1 + (n - 1) / COARSE);
        let (_, edges) = bench.search(&bores)?;
        let mut all = [0.0; ALL_INPUTS];
        all[..INPUTS].copy_from_slice(&varied.scores);
        all[INPUTS..].copy_from_slice(scores);
        Ok(LiquidDraw {
            scores: all,
            opens_um: bench.opens_um(),
            chamber_over_vapour: bench.lowest_pa / bench.state.vapour_pressure.pa(),
            edges,
        })
    }

    /// The hole with every input moved by its score.
    fn moved(&self, scores: &[f64; LIQUID_INPUTS]) -> Hole {
        let mut hole = self.hole;
        for ((which, known), score) in LiquidInput::ALL.iter().zip(&self.known).zip(scores) {
            let step = known.relative_sd * score;
            let factor = (1.0 + step).max(0.05);
            let log_factor = || digits::scalar::exp(step);
            match which {
                LiquidInput::Wall => hole.wall_m *= factor,
                LiquidInput::VapourPressure => hole.solution.vapour_pressure *= factor,
                LiquidInput::SurfaceTension => hole.solution.surface_tension *= factor,
                LiquidInput::Viscosity => hole.solution.viscosity *= factor,
                LiquidInput::Density => hole.solution.density *= factor,
                // An angle has no relative uncertainty: it moves by degrees, and
                // below nothing it is the same angle on the other side.
                LiquidInput::ContactAngle => {
                    hole.contact_angle_degrees =
                        (hole.contact_angle_degrees + step).abs().min(180.0);
                }
                LiquidInput::Evaporation => {
                    hole.evaporation = (hole.evaporation * log_factor()).min(1.0);
                }
                LiquidInput::FilmHeat => hole.film_w_per_k *= log_factor(),
            }
        }
        hole
    }

    /// The forecast at the stated values, with the intervals of the draws.
    pub fn forecast(
        &self,
        nominal: &Response,
        draws: &[LiquidDraw],
        correlations: &[[f64; INPUTS]; INPUTS],
    ) -> Result<LiquidSide, ForecastError> {
        let bench = Bench::new(self.input, nominal, self.hole)?;
        let (from_um, to_um, n) = BORES_UM;
        let (points, edges) = bench.search(&log_grid(from_um, to_um, n))?;
        Ok(LiquidSide {
            liquid: format!(
                "{}, giving off {}",
                self.input.profile.product.name,
                self.stated.solvent.pure().name()
            ),
            vapour_pressure_pa: bench.state.vapour_pressure.pa(),
            chamber_pa: bench.lowest_pa,
            opens_um: bench.opens_um(),
            points,
            smallest_um: edges.smallest_um,
            largest_um: edges.largest_um,
            largest_is_at_least: edges.largest_beyond,
            spread: self.spread(&bench, edges, draws, correlations),
        })
    }

    fn spread(
        &self,
        bench: &Bench<'_>,
        edges: Edges,
        draws: &[LiquidDraw],
        correlations: &[[f64; INPUTS]; INPUTS],
    ) -> Option<LiquidSpread> {
        // The stated value belongs to its interval.
        let interval = |values: Vec<f64>, stated: f64| {
            let mut sorted = values;
            sorted.sort_by(f64::total_cmp);
            (!sorted.is_empty())
                .then(|| (quantile(&sorted, 0.05).min(stated), quantile(&sorted, 0.95).max(stated)))
        };
        let of = |pick: fn(&LiquidDraw) -> f64, stated| {
            interval(draws.iter().map(pick).collect(), stated)
        };
        let edge = |pick: fn(&Edges) -> Option<f64>| {
            interval(draws.iter().filter_map(|draw| pick(&draw.edges)).collect(), pick(&edges)?)
        };
        let share = |holds: fn(&LiquidDraw) -> bool| {
            draws.iter().filter(|draw| holds(draw)).count() as f64 / draws.len() as f64
        };
        let mut known = inputs(self.input).to_vec();
        known.extend(self.known);
        let known: [Known; ALL_INPUTS] = known.try_into().ok()?;
        let together = core::array::from_fn(|row| {
            core::array::from_fn(|column| match (row < INPUTS, column < INPUTS) {
                (true, true) => correlations[row][column],
                _ => f64::from(row == column),
            })
        });
        let scores: Vec<[f64; ALL_INPUTS]> = draws.iter().map(|draw| draw.scores).collect();
        let edges_of_draws: Vec<Edges> = draws.iter().map(|draw| draw.edges).collect();
        let chamber = bench.lowest_pa / bench.state.vapour_pressure.pa();
        Some(LiquidSpread {
            opens_um: of(|draw| draw.opens_um, bench.opens_um())?,
            smallest_um: edge(|edges| edges.smallest_um),
            largest_um: edge(|edges| edges.largest_um),
            chamber_over_vapour: of(|draw| draw.chamber_over_vapour, chamber)?,
            share_that_boils: share(|draw| draw.chamber_over_vapour < 1.0),
            share_with_window: share(|draw| draw.edges.smallest_um.is_some()),
            unknowns: rank(&known, &together, &scores, &edges_of_draws),
        })
    }
}

/// What is known of the inputs of the liquid side, in the order of their list.
/// The uncertainty of the angle is in degrees.
fn known(input: &CaseInput, liquid: &ProductLiquid) -> [Known; LIQUID_INPUTS] {
    fn relative(uncertainty: Option<f64>, value: f64) -> (f64, bool) {
        match uncertainty {
            Some(size) if value > 0.0 => (size / value, true),
            _ => (UNSTATED, false),
        }
    }
    fn of<T>(
        property: Option<&crate::provenance::Sourced<T>>,
        si: fn(&T) -> f64,
    ) -> (Origin, (f64, bool)) {
        property.map_or((Origin::Assumed, (UNSTATED, false)), |stated| {
            let known = relative(stated.standard_uncertainty_si, si(&stated.value));
            (stated.provenance.origin, known)
        })
    }
    let plain: fn(&f64) -> f64 = |value| *value;
    core::array::from_fn(|place| {
        let which = LiquidInput::ALL[place];
        let (origin, (relative_sd, stated)) = match which {
            LiquidInput::Wall => of(Some(&input.profile.container.wall), |wall| wall.m()),
            LiquidInput::VapourPressure => of(liquid.vapour_pressure.as_ref(), |p| p.pa()),
            LiquidInput::SurfaceTension => of(liquid.surface_tension_n_per_m.as_ref(), plain),
            LiquidInput::Viscosity => of(liquid.viscosity_pa_s.as_ref(), plain),
            LiquidInput::Density => of(liquid.density_kg_per_m3.as_ref(), plain),
            LiquidInput::ContactAngle => liquid.contact_angle_degrees.as_ref().map_or(
                (Origin::Assumed, (UNSTATED_ANGLE_DEGREES, false)),
                |angle| {
                    let sd = angle.standard_uncertainty_si;
                    let known = (sd.unwrap_or(UNSTATED_ANGLE_DEGREES), sd.is_some());
                    (angle.provenance.origin, known)
                },
            ),
            LiquidInput::Evaporation => (Origin::Assumed, (EVAPORATION_LOG_SD, false)),
            LiquidInput::FilmHeat => (Origin::Assumed, (FILM_LOG_SD, false)),
        };
        Known { input: which.word(), relative_sd, origin, stated }
    })
}

/// A rig with its limits, on which holes under the liquid are tried.
struct Bench<'a> {
    input: &'a CaseInput,
    setup: physics::cycle::CycleSetup,
    hole: Hole,
    state: LiquidState,
    lowest_pa: f64,
    first: super::TierForecast,
    last: super::TierForecast,
    limit_pa: f64,
}

impl<'a> Bench<'a> {
    fn new(input: &'a CaseInput, response: &Response, hole: Hole) -> Result<Self, ForecastError> {
        let last = response.last()?;
        Ok(Self {
            input,
            setup: without_limits(input).setup(None),
            hole,
            state: Liquid::Solution(hole.solution).at(input.rig.wall_temperature)?,
            lowest_pa: response.lowest_pa,
            first: response.first()?,
            last,
            limit_pa: last.rise_limit_pa.ok_or(ForecastError::NoMeasureStage)?,
        })
    }

    /// Bore from which liquid runs, µm.
    fn opens_um(&self) -> f64 {
        if self.hole.outside_wetted {
            return 0.0;
        }
        let drive_pa = (self.input.profile.headspace.pressure.value.pa() - self.lowest_pa).max(1.0);
        let cosine =
            digits::scalar::cos(self.hole.contact_angle_degrees * core::f64::consts::PI / 180.0);
        4.0 * self.state.surface_tension_n_per_m * cosine.abs() / drive_pa * 1.0e6
    }

    /// Points at these bores, and the edges, halved in between them. No points
    /// where the chamber does not lie below the vapour pressure.
    fn search(&self, bores_um: &[f64]) -> Result<(Vec<LiquidPoint>, Edges), ForecastError> {
        let probability = self.input.profile.purpose.required_detection;
        let needed = required(probability);
        if self.lowest_pa >= self.state.vapour_pressure.pa() {
            let none = Edges { smallest_um: None, largest_um: None, largest_beyond: false };
            return Ok((Vec::new(), none));
        }
        let points: Vec<LiquidPoint> =
            bores_um.iter().map(|um| self.point(*um)).collect::<Result<_, _>>()?;
        let mut curve: Vec<(f64, f64)> =
            points.iter().map(|point| (point.bore_um, point.probability)).collect();
        let found = |one: &(f64, f64)| one.1 >= needed;
        let first = curve.iter().position(found);
        let lost = first
            .and_then(|first| Some(first + curve[first..].iter().position(|one| !found(one))?));
        for above in [first, lost].into_iter().flatten().filter(|above| *above > 0) {
            let (mut low, mut high) = (points[above - 1], points[above]);
            for _ in 0..HALVINGS {
                let middle = self.point((low.bore_um * high.bore_um).sqrt())?;
                curve.push((middle.bore_um, middle.probability));
                if (middle.probability >= needed) == (low.probability >= needed) {
                    low = middle;
                } else {
                    high = middle;
                }
            }
        }
        curve.sort_by(|a, b| a.0.total_cmp(&b.0));
        Ok((points, edges_of(&curve, probability)))
    }

    fn point(&self, bore_um: f64) -> Result<LiquidPoint, ForecastError> {
        let plugged = PluggedHole {
            bore: Length::from_um(bore_um),
            wall: Length::from_m(self.hole.wall_m),
            contact_angle_degrees: self.hole.contact_angle_degrees,
            outside_wetted: self.hole.outside_wetted,
            liquid_kg: OVER_THE_HOLE_KG,
        };
        let inside = self.input.profile.headspace.pressure.value;
        let outside = AbsolutePressure::from_pa(self.lowest_pa);
        let runs = hole_content(&plugged, &self.state, inside, outside)?.0 == HoleContent::Liquid;
        // A hole that holds is a tight unit.
        let (rise_pa, reached_pa) = if runs {
            let extras = CycleExtras {
                moisture: Some(Moisture {
                    liquid: Liquid::Solution(self.hole.solution),
                    mass_kg: 0.0,
                    surface: Area::from_cm2(SPREAD_CM2),
                    heat_exchange_w_per_k: self.hole.film_w_per_k,
                    evaporation_coefficient: self.hole.evaporation,
                }),
                plugged_hole: Some(plugged),
                ..CycleExtras::default()
            };
            let outcome = simulate_with(&self.setup, &extras)?;
            let number = u16::try_from(self.setup.tiers.len()).unwrap_or(u16::MAX);
            (
                trace_features::read(&outcome.trace, number).map(|found| found.rise_pa),
                trace_features::reached_pa(&outcome.trace, 1),
            )
        } else {
            (Some(self.last.tight_rise_pa), Some(self.first.tight_reach_pa))
        };
        let missed_by_rise = rise_pa.map_or(1.0, |rise| {
            digits::normal::cumulative((self.limit_pa - rise) / self.last.tight_rise_sd_pa)
        });
        let missed_by_reach = reached_pa.map_or(1.0, |reached| {
            let deviation = reach_deviation(self.input, reached);
            digits::normal::cumulative((self.first.reach_limit_pa - reached) / deviation)
        });
        Ok(LiquidPoint {
            bore_um,
            runs,
            rise_pa,
            probability: 1.0 - missed_by_rise * missed_by_reach,
        })
    }
}

/// What the reader should know of it.
pub(super) fn notes(input: &CaseInput, found: &LiquidSide) -> Vec<Note> {
    let mut notes = Vec::new();
    let vapour = rounded(found.vapour_pressure_pa);
    if found.points.is_empty() {
        notes.push(Note::caution(
            "liquid-side",
            format!(
                "a leak under the liquid is not claimed: the chamber stays at {} Pa, above the \
                 vapour pressure of the product, {vapour} Pa",
                rounded(found.chamber_pa),
            ),
            "evacuate well below the vapour pressure, or find liquid leaks by another principle",
        ));
        return notes;
    }
    let needed = rounded(required(input.profile.purpose.required_detection) * 100.0);
    let between = |interval: Option<(f64, f64)>| {
        interval.map_or_else(String::new, |(low, high)| {
            format!(" (90 % interval {} to {})", rounded(low), rounded(high))
        })
    };
    let spread = found.spread.as_ref();
    let seen = match (found.smallest_um, found.largest_um) {
        (Some(smallest), Some(largest)) => format!(
            "bores from {} µm{} {} {} µm are found with {needed} %",
            rounded(smallest),
            between(spread.and_then(|spread| spread.smallest_um)),
            if found.largest_is_at_least { "to at least" } else { "to" },
            rounded(largest),
        ),
        _ => format!("no bore up to {} µm is found with {needed} %", rounded(BORES_UM.1)),
    };
    let blocked = if found.opens_um > 0.0 {
        format!(
            "under the liquid, bores below {} µm{} hold it back by surface tension and are not seen",
            rounded(found.opens_um),
            between(spread.map(|spread| spread.opens_um)),
        )
    } else {
        "under the liquid nothing holds it back, because the wall outside is wetted".to_owned()
    };
    notes.push(Note::caution(
        "liquid-side",
        format!(
            "{blocked}; through a wall of {} mm {seen}, at a vapour pressure of {vapour} Pa",
            rounded(input.profile.container.wall.value.mm()),
        ),
        "challenge with product-filled positive controls: dissolved matter, wetting and dried \
         product change it",
    ));
    let share = found.chamber_pa / found.vapour_pressure_pa;
    let boils = spread.map_or(1.0, |spread| spread.share_that_boils);
    if share > WELL_BELOW || boils < 1.0 {
        notes.push(Note::caution(
            "liquid-boils-barely",
            format!(
                "the chamber lies at {} % of the vapour pressure of the product{}: liquid that comes \
                 out gives off little vapour",
                rounded(100.0 * share),
                if boils < 1.0 {
                    format!(", and above it in {} % of the draws", rounded(100.0 * (1.0 - boils)))
                } else {
                    String::new()
                },
            ),
            "evacuate to less than half of the vapour pressure, and measure that of the product",
        ));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use super::*;
    use crate::provenance::{Provenance, Sourced};

    fn of(input: &CaseInput, n_draws: usize) -> (LiquidSide, Vec<Note>) {
        let settings = ForecastSettings { n_draws, ..ForecastSettings::default() };
        let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
        (found.liquid_side.expect("a liquid"), found.notes)
    }

    /// The case with a liquid of which every property is known exactly.
    fn exact() -> CaseInput {
        let mut input = crate::worked_cases::liquid_vial();
        let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
        if let Some(stated) = &mut liquid.vapour_pressure {
            stated.standard_uncertainty_si = Some(0.0);
        }
        for stated in [
            &mut liquid.surface_tension_n_per_m,
            &mut liquid.viscosity_pa_s,
            &mut liquid.density_kg_per_m3,
            &mut liquid.contact_angle_degrees,
        ]
        .into_iter()
        .flatten()
        {
            stated.standard_uncertainty_si = Some(0.0);
        }
        input
    }

    /// Rise of one bore above that of a tight unit, Pa.
    fn rise_pa(found: &LiquidSide, bore_um: f64) -> f64 {
        let point = found
            .points
            .iter()
            .find(|point| (point.bore_um / bore_um - 1.0).abs() < 0.01)
            .expect("this bore is tried");
        let tight = found.points[0].rise_pa.expect("a rise");
        point.rise_pa.expect("a rise") - tight
    }

    /// Table of plausible numbers, trade.md 3.5 (common practice): liquid water
    /// through 1 mm of a 10 µm bore under 1 atm less surface tension evaporates
    /// to 2.4e-3 Pa·m³/s; the plateau is 23.4 mbar at 20 °C; a bore holds 1 atm
    /// up to 2.87 µm.
    #[test]
    fn water_through_a_vial_wall_follows_the_table() {
        let (found, _) = of(&crate::worked_cases::liquid_vial(), 16);
        assert!((found.vapour_pressure_pa / 2339.0 - 1.0).abs() < 5e-3);
        assert!((found.opens_um / 2.87 - 1.0).abs() < 0.02, "{}", found.opens_um);
        for point in &found.points {
            assert_eq!(point.runs, point.bore_um > found.opens_um, "{point:?}");
        }
        // 2.4e-3 Pa·m³/s into 25 mL for nine tenths of 8 s, above the tight unit.
        let by_table = 2.4e-3 / 25.0e-6 * 0.9 * 8.0;
        let rise = rise_pa(&found, 10.0);
        assert!((rise / by_table - 1.0).abs() < 0.1, "{rise} {by_table}");
        let smallest = found.smallest_um.expect("found");
        assert!(smallest > found.opens_um && smallest < 10.0, "{smallest}");
    }

    /// Poiseuille: through a capillary the flow is inverse to the viscosity. A
    /// tenth of the flow gives a tenth of the vapour, as long as it stays far
    /// from the vapour pressure.
    #[test]
    fn ten_times_the_viscosity_gives_a_tenth_of_the_rise() {
        let thin = exact();
        let mut thick = thin.clone();
        let liquid = thick.profile.product.liquid.as_mut().expect("a liquid");
        liquid.viscosity_pa_s.as_mut().expect("stated").value *= 10.0;
        let (of_thin, _) = of(&thin, 16);
        let (of_thick, _) = of(&thick, 16);
        let ratio = rise_pa(&of_thick, 6.81) / rise_pa(&of_thin, 6.81);
        assert!((ratio / 0.1 - 1.0).abs() < 0.05, "{ratio}");
        assert!(of_thick.smallest_um > of_thin.smallest_um);
        assert_eq!(of_thick.opens_um, of_thin.opens_um);
    }

    /// Laplace: the bore that opens is proportional to the surface tension, so
    /// that with that alone uncertain by a tenth its 90 % interval reaches 1.645
    /// tenths to each side.
    #[test]
    fn the_interval_of_the_bore_that_opens_is_that_of_the_surface_tension() {
        let mut input = exact();
        input.profile.headspace.pressure.standard_uncertainty_si = Some(1e-9);
        let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
        let tension = liquid.surface_tension_n_per_m.as_mut().expect("stated");
        tension.standard_uncertainty_si = Some(0.1 * tension.value);
        let (found, _) = of(&input, 256);
        let (low, high) = found.spread.expect("draws").opens_um;
        for (end, expected) in [(low, 1.0 - 0.1645), (high, 1.0 + 0.1645)] {
            assert!((end / found.opens_um - expected).abs() < 0.012, "{low} {high}");
        }
    }

    /// Where surface tension decides, it is named first, and half of it halves
    /// the bore.
    #[test]
    fn the_weightiest_unknown_is_the_one_that_was_made_so() {
        let mut input = exact();
        let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
        let viscosity = liquid.viscosity_pa_s.as_mut().expect("stated");
        viscosity.value *= 30.0;
        viscosity.standard_uncertainty_si = Some(0.3 * viscosity.value);
        let (found, _) = of(&input, 64);
        let spread = found.spread.expect("draws");
        assert_eq!(spread.unknowns[0].input, LiquidInput::Viscosity.word());
        let (low, high) = spread.smallest_um.expect("found");
        let smallest = found.smallest_um.expect("found");
        assert!(low < smallest && smallest < high, "{low} {smallest} {high}");
        assert_eq!(spread.share_with_window, 1.0);
    }

    /// A liquid-blocked leak needs a pressure well below the vapour pressure
    /// (common practice).
    #[test]
    fn above_the_vapour_pressure_nothing_is_claimed() {
        let mut input = crate::worked_cases::liquid_vial();
        input.cycle.tiers[0].tier.evacuate_to = AbsolutePressure::from_pa(5000.0);
        let (found, notes) = of(&input, 16);
        assert!(found.chamber_pa > found.vapour_pressure_pa);
        assert!(found.smallest_um.is_none() && found.points.is_empty());
        assert_eq!(found.spread.expect("draws").share_with_window, 0.0);
        assert!(notes.iter().any(|note| note.text.contains("not claimed")));
        // Just below, it boils, but barely.
        input.cycle.tiers[0].tier.evacuate_to = AbsolutePressure::from_pa(2000.0);
        let (_, notes) = of(&input, 16);
        assert!(notes.iter().any(|note| note.code == "liquid-boils-barely"), "{notes:?}");
    }

    #[test]
    fn a_wetted_outside_holds_nothing() {
        let mut input = exact();
        input.profile.product.liquid.as_mut().expect("a liquid").wets_outside = true;
        let (found, notes) = of(&input, 16);
        assert_eq!(found.opens_um, 0.0);
        assert!(found.points.iter().all(|point| point.runs));
        assert!(notes.iter().any(|note| note.text.contains("nothing holds it back")));
    }

    #[test]
    fn what_is_not_stated_is_not_forecast_but_named() {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let mut input = exact();
        let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
        liquid.viscosity_pa_s = None;
        liquid.contact_angle_degrees = None;
        let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        assert!(found.liquid_side.is_none());
        let note = found.notes.iter().find(|note| note.code == "liquid-side-unknown");
        assert!(note.expect("named").text.ends_with("viscosity, contact angle"));
        input.profile.product.liquid = None;
        let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        let note = found.notes.iter().find(|note| note.code == "liquid-side-unknown");
        assert!(note.expect("named").text.contains("vapour pressure, surface tension"));
        // A value without meaning is refused, and says so.
        input = exact();
        let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
        liquid.density_kg_per_m3 = Some(Sourced::new(-1.0, Provenance::assumed("a slip")));
        assert!(forecast(&input, &settings, &|_, _| {}).is_err());
    }

    #[test]
    fn a_dry_product_has_no_liquid_side() {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let input = crate::worked_cases::lyophilised_vial();
        let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        assert!(found.liquid_side.is_none());
        assert!(found.notes.iter().all(|note| !note.code.starts_with("liquid")));
    }
}
