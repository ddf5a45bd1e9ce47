//! A headspace that empties into the closed chamber, in closed form.

use digits::scalar::{exp, exp_m1, ln_1p};

use crate::quantities::{AbsolutePressure, Conductance, Duration, PressureDifference, Volume};
use crate::roots::bracketed_root;

/// Headspace and chamber, isothermal, pump isolated, at the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoVolumes {
    /// Headspace volume.
    pub headspace_volume: Volume,
    /// Free volume of the chamber.
    pub chamber_volume: Volume,
    /// Headspace pressure at the start.
    pub headspace_pressure: AbsolutePressure,
    /// Chamber pressure at the start.
    pub chamber_pressure: AbsolutePressure,
}

/// Pressures of headspace and chamber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPressures {
    /// In the headspace.
    pub headspace: AbsolutePressure,
    /// In the chamber.
    pub chamber: AbsolutePressure,
}

impl TwoVolumes {
    /// Pressure when all has come to rest:
    /// `p_e = (V_h p_h + V_c p_c)/(V_h + V_c)`.
    #[must_use]
    pub fn final_pressure(&self) -> AbsolutePressure {
        let (vh, vc) = (self.headspace_volume.m3(), self.chamber_volume.m3());
        AbsolutePressure::from_pa(
            (vh * self.headspace_pressure.pa() + vc * self.chamber_pressure.pa()) / (vh + vc),
        )
    }

    /// Time constant of a molecular leak, `τ = V_h V_c/(C (V_h + V_c))`.
    #[must_use]
    pub fn time_constant(&self, conductance: Conductance) -> Duration {
        let (vh, vc) = (self.headspace_volume.m3(), self.chamber_volume.m3());
        Duration::from_s(vh * vc / (conductance.m3_per_s() * (vh + vc)))
    }

    /// Pressures after a time for flow in proportion to the difference,
    /// `Q = C (p_h - p_c)`: molecular flow.
    ///
    /// `p_c = p_e - (p_h0 - p_c0) V_h/(V_h + V_c) e^(-t/τ)`.
    /// Source: physics.md 7.
    ///
    /// ```
    /// use physics::headspace::TwoVolumes;
    /// use physics::quantities::*;
    /// let pair = TwoVolumes {
    ///     headspace_volume: Volume::from_ml(2.0), chamber_volume: Volume::from_ml(50.0),
    ///     headspace_pressure: AbsolutePressure::from_pa(101_325.0),
    ///     chamber_pressure: AbsolutePressure::from_pa(100.0),
    /// };
    /// let after = pair.after_molecular(Conductance::from_m3_per_s(1e-8), Duration::from_s(60.0));
    /// assert!((after.chamber.pa() / 1143.468 - 1.0).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn after_molecular(&self, conductance: Conductance, time: Duration) -> TwoPressures {
        let (vh, vc) = (self.headspace_volume.m3(), self.chamber_volume.m3());
        let difference = self.headspace_pressure.pa() - self.chamber_pressure.pa();
        // In amounts moved, so that a slow leak keeps its digits.
        let exponent = -conductance.m3_per_s() * time.s() * (vh + vc) / (vh * vc);
        let moved = -difference * vh * vc / (vh + vc) * exp_m1(exponent);
        self.moved(moved)
    }

    /// Pressures after a time for laminar flow, `Q = k (p_h² - p_c²)`.
    ///
    /// With `ρ = V_h/V_c`, `x = p_h - p_e`, `λ = 2 p_e k (1+ρ)/V_h`:
    /// `x = 2 p_e x0 e^(-λt)/(2 p_e + (1-ρ) x0 (1 - e^(-λt)))`, `p_c = p_e - ρ x`.
    /// `k` in m³/(s·Pa). Source: physics.md 7.
    #[must_use]
    pub fn after_viscous(&self, coefficient_m3_per_s_pa: f64, time: Duration) -> TwoPressures {
        let (vh, vc) = (self.headspace_volume.m3(), self.chamber_volume.m3());
        let final_pa = self.final_pressure().pa();
        let ratio = vh / vc;
        let start = self.headspace_pressure.pa() - final_pa;
        let exponent = -2.0 * final_pa * coefficient_m3_per_s_pa * (1.0 + ratio) / vh * time.s();
        let gone = -exp_m1(exponent);
        let denominator = 2.0 * final_pa + (1.0 - ratio) * start * gone;
        if denominator <= 0.0 {
            return self.moved(0.0);
        }
        let left = 2.0 * final_pa * start * exp(exponent) / denominator;
        self.moved(vh * (start - left))
    }

    fn moved(&self, gas_pa_m3: f64) -> TwoPressures {
        TwoPressures {
            headspace: AbsolutePressure::from_pa(
                self.headspace_pressure.pa() - gas_pa_m3 / self.headspace_volume.m3(),
            ),
            chamber: AbsolutePressure::from_pa(
                self.chamber_pressure.pa() + gas_pa_m3 / self.chamber_volume.m3(),
            ),
        }
    }
}

/// The signal of a leak that also empties the headspace during evacuation:
/// why a gross leak can read as tight.
///
/// `S(C) = (V_h p0/V_c) e^(-C t_e/V_h) (1 - e^(-C t_m/V_h))`, for a headspace
/// small against the chamber. Source: physics.md 7.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignalCeiling {
    /// Headspace volume.
    pub headspace_volume: Volume,
    /// Free volume of the chamber.
    pub chamber_volume: Volume,
    /// Headspace pressure before the test.
    pub headspace_pressure: AbsolutePressure,
    /// Time near vacuum before measuring begins.
    pub evacuate: Duration,
    /// Measuring time.
    pub measure: Duration,
}

/// Smallest and largest conductance whose signal reaches a threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectableBand {
    /// Below this the signal is too small.
    pub smallest: Conductance,
    /// Above this the headspace is gone before measuring.
    pub largest: Conductance,
}

impl SignalCeiling {
    /// Signal of a leak of this conductance.
    #[must_use]
    pub fn signal(&self, conductance: Conductance) -> PressureDifference {
        let vh = self.headspace_volume.m3();
        let full = vh * self.headspace_pressure.pa() / self.chamber_volume.m3();
        let rate = conductance.m3_per_s() / vh;
        PressureDifference::from_pa(
            full * exp(-rate * self.evacuate.s()) * -exp_m1(-rate * self.measure.s()),
        )
    }

    /// Conductance of the largest signal, `C* = (V_h/t_m) ln(1 + t_m/t_e)`.
    ///
    /// `None` without evacuation time: then the signal only grows.
    #[must_use]
    pub fn best_conductance(&self) -> Option<Conductance> {
        let (te, tm) = (self.evacuate.s(), self.measure.s());
        (te > 0.0 && tm > 0.0)
            .then(|| Conductance::from_m3_per_s(self.headspace_volume.m3() / tm * ln_1p(tm / te)))
    }

    /// Band of conductance whose signal reaches `threshold`; `None` where even
    /// the best leak stays below it.
    #[must_use]
    pub fn detectable_band(&self, threshold: PressureDifference) -> Option<DetectableBand> {
        let best = self.best_conductance()?.m3_per_s();
        let excess = |c: f64| self.signal(Conductance::from_m3_per_s(c)).pa() - threshold.pa();
        if threshold.pa() <= 0.0 || excess(best) < 0.0 {
            return None;
        }
        // Far above the best the signal has decayed to nothing.
        let mut far = best * 2.0;
        while excess(far) >= 0.0 {
            far *= 2.0;
        }
        Some(DetectableBand {
            smallest: Conductance::from_m3_per_s(bracketed_root(excess, 0.0, best)?),
            largest: Conductance::from_m3_per_s(bracketed_root(excess, best, far)?),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair() -> TwoVolumes {
        TwoVolumes {
            headspace_volume: Volume::from_ml(2.0),
            chamber_volume: Volume::from_ml(50.0),
            headspace_pressure: AbsolutePressure::from_pa(101_325.0),
            chamber_pressure: AbsolutePressure::from_pa(100.0),
        }
    }

    #[test]
    fn both_laws_end_at_the_common_pressure() {
        let long = Duration::from_s(1e7);
        let expected = pair().final_pressure().pa();
        for end in [
            pair().after_molecular(Conductance::from_m3_per_s(1e-8), long),
            pair().after_viscous(1e-13, long),
        ] {
            assert!((end.chamber.pa() / expected - 1.0).abs() < 1e-12);
            assert!((end.headspace.pa() / expected - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_threshold_above_the_ceiling_has_no_band() {
        let ceiling = SignalCeiling {
            headspace_volume: Volume::from_ml(1.0),
            chamber_volume: Volume::from_ml(20.0),
            headspace_pressure: AbsolutePressure::from_atm(1.0),
            evacuate: Duration::from_s(10.0),
            measure: Duration::from_s(10.0),
        };
        assert_eq!(ceiling.detectable_band(PressureDifference::from_pa(1300.0)), None);
        assert!(ceiling.detectable_band(PressureDifference::from_pa(1200.0)).is_some());
    }
}
