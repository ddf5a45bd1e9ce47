//! A rig with its limits, on which holes under the liquid are tried.

use physics::cycle::extended::simulate_with;
use physics::liquids::{HoleContent, Liquid, LiquidState, hole_content};
use physics::quantities::AbsolutePressure;

use super::super::TierForecast;
use super::super::compute::{ForecastError, required};
use super::super::response::{Response, reach_deviation, without_limits};
use super::super::window::{Edges, edges_of};
use super::{Hole, LiquidPoint};
use crate::case_input::CaseInput;
use crate::trace_features;

/// Bores that are tried at most between two of them to narrow an edge down, and
/// the ratio of two bores that are close enough: the edge is then interpolated.
const NARROWINGS: usize = 6;
const CLOSE: f64 = 1.03;
/// A bore this much above the one that opens runs for certain.
const JUST_ABOVE: f64 = 1.0005;
/// A rig with its limits, on which holes under the liquid are tried.
pub(super) struct Bench<'a> {
    input: &'a CaseInput,
    setup: physics::cycle::CycleSetup,
    hole: Hole,
    pub state: LiquidState,
    pub lowest_pa: f64,
    first: TierForecast,
    last: TierForecast,
    limit_pa: f64,
}

impl<'a> Bench<'a> {
    pub fn new(
        input: &'a CaseInput,
        response: &Response,
        hole: Hole,
    ) -> Result<Self, ForecastError> {
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
    pub fn opens_um(&self) -> f64 {
        if self.hole.outside_wetted {
            return 0.0;
        }
        let drive_pa = (self.input.profile.headspace.pressure.value.pa() - self.lowest_pa).max(1.0);
        let cosine =
            digits::scalar::cos(self.hole.contact_angle_degrees * core::f64::consts::PI / 180.0);
        4.0 * self.state.surface_tension_n_per_m * cosine.abs() / drive_pa * 1.0e6
    }

    /// Points at these bores, and the edges, narrowed down between them. No points
    /// where the chamber does not lie below the vapour pressure.
    pub fn search(&self, bores_um: &[f64]) -> Result<(Vec<LiquidPoint>, Edges), ForecastError> {
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
            self.narrow(points[above - 1], points[above], needed, &mut curve)?;
        }
        curve.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut edges = edges_of(&curve, probability);
        // What holds is never found, however near the next bore was.
        edges.smallest_um = edges.smallest_um.map(|um| um.max(self.opens_um()));
        Ok((points, edges))
    }

    /// Adds bores to the curve until the one at which the probability passes
    /// `needed` lies between two that are close to each other.
    fn narrow(
        &self,
        mut low: LiquidPoint,
        mut high: LiquidPoint,
        needed: f64,
        curve: &mut Vec<(f64, f64)>,
    ) -> Result<(), ForecastError> {
        let mut last: Option<LiquidPoint> = None;
        for _ in 0..NARROWINGS {
            if high.bore_um < low.bore_um * CLOSE {
                break;
            }
            // A guess that came close is tried once more a little further, which
            // brings the edge between the two.
            let next_um = match last {
                Some(tried) if tried.bore_um == low.bore_um => tried.bore_um * CLOSE,
                Some(tried) => tried.bore_um / CLOSE,
                None => self.guess_um(&low, &high, needed),
            };
            let next = self.point(next_um.clamp(low.bore_um, high.bore_um))?;
            curve.push((next.bore_um, next.probability));
            let like_low = (next.probability >= needed) == (low.probability >= needed);
            last = last.is_none().then_some(next);
            if like_low {
                low = next;
            } else {
                high = next;
            }
        }
        Ok(())
    }

    /// Bore between the two at which the rise should pass what is needed, by a
    /// power law through both; through one alone by that of Poiseuille's flow,
    /// which grows with the fourth power of the bore.
    fn guess_um(&self, low: &LiquidPoint, high: &LiquidPoint, needed: f64) -> f64 {
        let middle = (low.bore_um * high.bore_um).sqrt();
        let z = digits::normal::quantile(needed);
        let excess_needed =
            self.limit_pa + z * self.last.tight_rise_sd_pa - self.last.tight_rise_pa;
        let excess = |point: &LiquidPoint| {
            point.rise_pa.map(|rise| rise - self.last.tight_rise_pa).filter(|excess| *excess > 0.0)
        };
        let guess = match (excess(low).filter(|_| low.runs), excess(high)) {
            (Some(from), Some(to)) if to > from && excess_needed > 0.0 => {
                let share =
                    digits::scalar::ln(excess_needed / from) / digits::scalar::ln(to / from);
                low.bore_um * digits::scalar::pow(high.bore_um / low.bore_um, share)
            }
            (None, Some(to)) if excess_needed > 0.0 => {
                let by_flow = high.bore_um * digits::scalar::pow(excess_needed / to, 0.25);
                by_flow.max(self.opens_um() * JUST_ABOVE)
            }
            _ => middle,
        };
        if guess > low.bore_um && guess < high.bore_um { guess } else { middle }
    }

    fn point(&self, bore_um: f64) -> Result<LiquidPoint, ForecastError> {
        let plugged = self.hole.plugged(bore_um);
        let inside = self.input.profile.headspace.pressure.value;
        let outside = AbsolutePressure::from_pa(self.lowest_pa);
        let runs = hole_content(&plugged, &self.state, inside, outside)?.0 == HoleContent::Liquid;
        // A hole that holds is a tight unit.
        let (rise_pa, reached_pa) = if runs {
            let outcome = simulate_with(&self.setup, &self.hole.extras(bore_um))?;
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
