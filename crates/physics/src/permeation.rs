//! Permeation of a gas through an elastomer or a plastic wall.

use digits::scalar::exp;

use crate::quantities::{Area, Duration, Length, MolarFlow, PressureDifference};

/// A wall that gas passes by solution and diffusion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PermeableWall {
    /// Area.
    pub area: Area,
    /// Thickness.
    pub thickness: Length,
    /// Permeability, mol·m/(m²·s·Pa); a figure of the material and the gas.
    pub permeability_mol_per_m_s_pa: f64,
    /// Diffusion coefficient in the material, m²/s.
    pub diffusion_m2_per_s: f64,
}

impl PermeableWall {
    /// Steady flow, `N = P A Δp/L`; `Δp` is the difference of the gas's own
    /// partial pressure.
    #[must_use]
    pub fn steady_flow(&self, difference: PressureDifference) -> MolarFlow {
        MolarFlow::from_mol_per_s(
            self.permeability_mol_per_m_s_pa * self.area.m2() * difference.pa()
                / self.thickness.m(),
        )
    }

    /// Time lag of a wall that was free of the gas, `L²/(6 D)`.
    #[must_use]
    pub fn time_lag(&self) -> Duration {
        Duration::from_s(self.thickness.m() * self.thickness.m() / (6.0 * self.diffusion_m2_per_s))
    }

    /// Flow out of a wall that was free of the gas, a time after the gas came to
    /// its other side: `N/N_s = 1 + 2 Σ (-1)^n e^(-n² π² D t/L²)`.
    ///
    /// Early on the series is summed in its other form,
    /// `(2/sqrt(π x)) Σ e^(-(2m+1)²/(4x))` with `x = D t/L²`. Source: J. Crank, The
    /// Mathematics of Diffusion (from memory).
    #[must_use]
    pub fn flow_after(&self, difference: PressureDifference, time: Duration) -> MolarFlow {
        let x = self.diffusion_m2_per_s * time.s() / (self.thickness.m() * self.thickness.m());
        let share = if x <= 0.0 {
            0.0
        } else if x < 0.1 {
            let early = (0..4).fold(0.0, |sum, m| {
                let odd = f64::from(2 * m + 1);
                sum + exp(-odd * odd / (4.0 * x))
            });
            2.0 / (core::f64::consts::PI * x).sqrt() * early
        } else {
            let squared = core::f64::consts::PI * core::f64::consts::PI * x;
            let late = (1..12).fold(0.0, |sum, n| {
                let n = f64::from(n);
                let sign = if n % 2.0 == 0.0 { 1.0 } else { -1.0 };
                sum + sign * exp(-n * n * squared)
            });
            1.0 + 2.0 * late
        };
        self.steady_flow(difference) * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wall() -> PermeableWall {
        PermeableWall {
            area: Area::from_cm2(1.0),
            thickness: Length::from_mm(1.0),
            permeability_mol_per_m_s_pa: 1e-14,
            diffusion_m2_per_s: 1e-10,
        }
    }

    #[test]
    fn both_series_join() {
        let difference = PressureDifference::from_pa(1e5);
        let at = |x: f64| wall().flow_after(difference, Duration::from_s(x * 1e4)).mol_per_s();
        assert!((at(0.099_999_9) / at(0.100_000_1) - 1.0).abs() < 1e-5);
        assert!((at(10.0) / wall().steady_flow(difference).mol_per_s() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_time_lag_is_where_the_asymptote_meets_the_axis() {
        // Amount passed by t minus N_s t tends to -N_s L²/(6 D).
        let difference = PressureDifference::from_pa(1e5);
        let steady = wall().steady_flow(difference).mol_per_s();
        let (end, n) = (1e5_f64, 20_000);
        let h = end / f64::from(n);
        let passed: f64 = (0..n)
            .map(|k| wall().flow_after(difference, Duration::from_s((f64::from(k) + 0.5) * h)))
            .map(|flow| flow.mol_per_s() * h)
            .sum();
        let lag = end - passed / steady;
        assert!((lag / wall().time_lag().s() - 1.0).abs() < 1e-4, "{lag}");
    }
}
