//! Events of a cycle: the pressure that ends pumping, and the kinks of the
//! leak law, on which steps must end.

use digits::lanes::Lanes;

use super::lane_clock::Landing;
use super::leak_lanes::LeakLanes;
use super::lockstep::{Attempt, Lockstep, SHORTEST_STEP_S, Verdict};
use super::rates::{CHAMBER, HEADSPACE, WARMTH};
use super::stepping::Trial;

/// How near a kink of the leak law a step must end, relative. What a step
/// gains or loses by a miss grows with its square.
const KINK_TOLERANCE: f64 = 1.0e-7;
/// Most attempts to land on a kink.
const MOST_ATTEMPTS: u8 = 6;

impl<V: Lanes, L: LeakLanes<V>> Lockstep<V, L> {
    /// Positive beyond the border between a region and the next.
    fn beyond(&self, lane: usize, border: u8, chamber_pa: f64, headspace_pa: f64) -> f64 {
        let [far, near] = self.model.leak.kinks(lane);
        match border {
            0 => chamber_pa - far * headspace_pa,
            1 => chamber_pa - near * headspace_pa,
            2 => near * chamber_pa - headspace_pa,
            _ => far * chamber_pa - headspace_pa,
        }
    }

    /// Decides on a step that is accurate, and either meets an event or was
    /// meant to end on one.
    #[inline(never)]
    pub(super) fn judge(
        &mut self,
        trial: &Trial<V>,
        at: &Attempt,
        end_pa: f64,
        end_headspace: f64,
    ) -> Verdict {
        let (lane, length) = (at.lane, at.length_s);
        let dense = trial.dense(lane, &self.state, &self.rates, length);
        let pressure = |part: f64| {
            let held = self.contents(lane, dense.at(CHAMBER, part), dense.at(WARMTH, part));
            self.model.pressure_in(lane, held)
        };
        let on_kink = self.landing.lane(lane) > 0.5;
        // Where the step first meets an event, as a part of the step.
        let mut first = 1.0;
        let target = self.clocks[lane].target_pa;
        let on_target = self.clocks[lane].pumping() && end_pa <= target;
        if on_target {
            // Behind the target the equations go on unchanged, so the
            // continuous output gives the state there.
            first = crossing(TARGET_TOLERANCE, |part| pressure(part) - target);
        }
        let here = self.region.lane(lane) as u8;
        if on_kink && !on_target {
            let Landing { beyond, attempts } = self.clocks[lane].landing;
            let border = here.min(beyond);
            let (start_pa, start_headspace) = self.pressures_in(lane, &self.state);
            let from = self.beyond(lane, border, start_pa, start_headspace);
            let miss = self.beyond(lane, border, end_pa, end_headspace);
            // The first estimate came from a step across the kink, which bends
            // it; steps up to the kink do not, so the secant closes in.
            let moved = length * (from / (from - miss));
            if miss.abs() > KINK_TOLERANCE * end_headspace
                && attempts < MOST_ATTEMPTS
                && moved > SHORTEST_STEP_S
                && moved < self.clocks[lane].resume_s
            {
                self.step.set_lane(lane, moved);
                self.clocks[lane].landing = Landing { beyond, attempts: attempts + 1 };
                return Verdict::Reject;
            }
            self.region.set_lane(lane, f64::from(beyond));
            self.landing.set_lane(lane, 0.0);
            self.step.set_lane(lane, self.clocks[lane].resume_s);
            return Verdict::Accept;
        }
        let there = self.region_in(lane, end_pa, end_headspace) as u8;
        if there != here && !on_kink {
            let (border, beyond) =
                if there > here { (here, here + 1) } else { (here - 1, here - 1) };
            let side = |part: f64| {
                let headspace = self.model.headspace_in(lane, dense.at(HEADSPACE, part));
                self.beyond(lane, border, pressure(part), headspace)
            };
            let part =
                if side(0.0) * side(1.0) < 0.0 { crossing(CROSSING_TOLERANCE, side) } else { 1.0 };
            let shorter = part * length;
            if part < first && shorter > SHORTEST_STEP_S && shorter < length {
                self.clocks[lane].resume_s = length;
                self.clocks[lane].landing = Landing { beyond, attempts: 0 };
                self.step.set_lane(lane, shorter);
                self.landing.set_lane(lane, 1.0);
                return Verdict::Reject;
            }
            if !on_target {
                // On the border already: nothing to locate.
                let region = if part < first { beyond } else { there };
                self.region.set_lane(lane, f64::from(region));
            }
        }
        self.landing.set_lane(lane, 0.0);
        if on_target {
            self.clocks[lane].part = first;
            return Verdict::StageEnd { on_target: true };
        }
        if at.last {
            return Verdict::StageEnd { on_target: false };
        }
        self.step.set_lane(lane, at.next_s);
        Verdict::Accept
    }
}

/// How near the end of pumping is located within a step, as a part of it.
const TARGET_TOLERANCE: f64 = 1.0e-10;
/// The same for a kink: the landing that follows is corrected anyway.
const CROSSING_TOLERANCE: f64 = 1.0e-5;

/// Where a function changes sign between 0 and 1, by false position with the
/// kept end's value halved (Illinois); a touch beyond the root, so that the
/// far side is reached.
fn crossing(tolerance: f64, function: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    let (mut at_low, mut at_high) = (function(low), function(high));
    for _ in 0..60 {
        let gap = at_low - at_high;
        if gap == 0.0 {
            break;
        }
        let x = low + (high - low) * (at_low / gap);
        let value = function(x);
        if value == 0.0 || high - low < tolerance {
            return x;
        }
        if (value > 0.0) == (at_low > 0.0) {
            // Converged from this side: the next estimate would repeat it.
            if x - low < tolerance {
                return x;
            }
            low = x;
            at_low = value;
            at_high *= 0.5;
        } else {
            if high - x < tolerance {
                return x;
            }
            high = x;
            at_high = value;
            at_low *= 0.5;
        }
    }
    high
}
