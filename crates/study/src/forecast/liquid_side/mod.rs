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

mod bench;
mod notes;
#[cfg(test)]
mod tests;

use bench::Bench;
pub(super) use notes::notes;
use physics::cycle::extended::{CycleExtras, Moisture};
use physics::liquids::{Liquid, PluggedHole, Solution};
use physics::quantities::{Area, Length};

use super::compute::{ForecastError, log_grid};
use super::leak_size::LeakSize;
use super::response::Response;
use super::uncertain::{INPUTS, Known, LIQUID_INPUTS, Varied, inputs};
use super::unknowns::{Unknown, rank};
use super::window::{Edges, quantile};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::product_liquid::ProductLiquid;
use crate::profile::Fill;
use crate::provenance::Origin;
use crate::uncertain_input::LiquidInput;

/// Bores that are tried, µm.
const BORES_UM: (f64, f64, usize) = (1.0, 100.0, 25);
/// Every so many of them are tried in a draw; the edges are then narrowed down.
const COARSE: usize = 6;
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

/// A hole under the product's liquid, as a cycle takes it.
#[derive(Debug, Clone)]
pub(crate) struct UnderLiquid {
    /// The hole, the liquid over it and where it evaporates.
    pub extras: CycleExtras,
    /// The chamber must come below it for the model to hold, Pa.
    pub vapour_pressure_pa: f64,
}

/// The hole under the liquid that passes, dry, the flow of this leak: a channel
/// through the stated wall. `None` for a dry product, and where a property of the
/// liquid is missing.
pub(crate) fn under_liquid(
    input: &CaseInput,
    size: &LeakSize,
) -> Result<Option<UnderLiquid>, ForecastError> {
    let Some(case) = LiquidCase::of(input, &mut Vec::new())? else { return Ok(None) };
    let bore = size.channel_bore(Length::from_m(case.hole.wall_m))?;
    let state = Liquid::Solution(case.hole.solution).at(input.rig.wall_temperature)?;
    Ok(Some(UnderLiquid {
        extras: case.hole.extras(bore.um()),
        vapour_pressure_pa: state.vapour_pressure.pa(),
    }))
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

/// Liquid over the hole: more than any cycle lets out.
const OVER_THE_HOLE_KG: f64 = 1.0e-3;
/// Where the liquid comes out it spreads on glass or metal.
const SPREAD_CM2: f64 = 0.2;

impl Hole {
    /// The hole with this bore, plugged by the liquid.
    fn plugged(&self, bore_um: f64) -> PluggedHole {
        PluggedHole {
            bore: Length::from_um(bore_um),
            wall: Length::from_m(self.wall_m),
            contact_angle_degrees: self.contact_angle_degrees,
            outside_wetted: self.outside_wetted,
            liquid_kg: OVER_THE_HOLE_KG,
        }
    }

    /// What it adds to a cycle.
    fn extras(&self, bore_um: f64) -> CycleExtras {
        CycleExtras {
            moisture: Some(Moisture {
                liquid: Liquid::Solution(self.solution),
                mass_kg: 0.0,
                surface: Area::from_cm2(SPREAD_CM2),
                heat_exchange_w_per_k: self.film_w_per_k,
                evaporation_coefficient: self.evaporation,
            }),
            plugged_hole: Some(self.plugged(bore_um)),
            ..CycleExtras::default()
        }
    }
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
