//! Thin orifice over all regimes.

use digits::lanes::Lanes;
use digits::scalar::{exp_m1, ln_1p, pow};

use super::{FlowConditions, LeakPathError, errors::check_positive};
use crate::gases::FlowingGas;
use crate::quantities::{Length, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, MolarFlow};

/// `sqrt(2 π)`: ratio of the nozzle's scale to that of free-molecular efflux.
const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_7;

/// Discharge coefficient of a sharp-edged orifice against `r = p2/p1`.
///
/// Polynomial attributed to Perry in the public help text of a simulation
/// library (published); 0.8414 into vacuum, about 0.60 near `r = 1`.
#[inline(always)]
pub(crate) fn discharge_coefficient<V: Lanes>(pressure_ratio: V) -> V {
    let r = pressure_ratio;
    let c = V::splat;
    c(0.8414)
        + r * (c(-0.1002) + r * (c(0.8415) + r * (c(-3.9) + r * (c(4.6001) + r * c(-1.6827)))))
}

/// Critical pressure ratio, `(2/(γ+1))^(γ/(γ-1))`: at and below it the throat
/// of a nozzle runs at the speed of sound. `gamma` above 1.
#[must_use]
pub fn critical_pressure_ratio(heat_capacity_ratio: f64) -> f64 {
    let g = heat_capacity_ratio;
    pow(2.0 / (g + 1.0), g / (g - 1.0))
}

/// Constants of the orifice law that depend on the heat-capacity ratio alone.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OrificeLaw {
    /// 1/γ.
    pub inverse_gamma: f64,
    /// (γ-1)/γ.
    pub exponent: f64,
    /// 2γ/(γ-1).
    pub factor: f64,
    /// Critical pressure ratio.
    pub critical_ratio: f64,
    /// ψ at and below the critical ratio.
    pub choked: f64,
    /// Continuum value of W into vacuum, less 1.
    pub full_gain: f64,
    /// Series of ψ² over the drop, for small drops.
    series: [f64; TERMS],
}

/// Terms of the series of ψ².
const TERMS: usize = 9;
/// Drop up to which the series is good to the last digit.
const SMALL_DROP: f64 = 1.0 / 64.0;

/// `factor (1-d)^(2/γ) (1 - (1-d)^((γ-1)/γ)) / d` in powers of `d`.
fn series(factor: f64, power: f64, exponent: f64) -> [f64; TERMS] {
    let binomial = |power: f64| {
        let mut coefficients = [1.0; TERMS + 1];
        for k in 1..=TERMS {
            let k_1 = (k - 1) as f64;
            coefficients[k] = coefficients[k - 1] * (k_1 - power) / k as f64;
        }
        coefficients
    };
    let (density, work) = (binomial(power), binomial(exponent));
    core::array::from_fn(|n| {
        (0..=n).fold(0.0, |sum, k| sum - factor * density[k] * work[n - k + 1])
    })
}

impl OrificeLaw {
    pub fn new(gamma: f64) -> Self {
        let critical_ratio = critical_pressure_ratio(gamma);
        let mut law = Self {
            inverse_gamma: 1.0 / gamma,
            exponent: (gamma - 1.0) / gamma,
            factor: 2.0 * gamma / (gamma - 1.0),
            critical_ratio,
            choked: 0.0,
            full_gain: 0.0,
            series: series(2.0 * gamma / (gamma - 1.0), 2.0 / gamma, (gamma - 1.0) / gamma),
        };
        law.choked = law.subsonic(1.0 - critical_ratio);
        law.full_gain = ROOT_TWO_PI * discharge_coefficient(0.0) * law.choked - 1.0;
        law
    }

    /// ψ below the speed of sound, from the drop `1 - r` so that a small drop
    /// keeps its digits.
    fn subsonic(&self, drop: f64) -> f64 {
        if drop < SMALL_DROP {
            let sum = self.series.iter().rev().fold(0.0, |sum, term| sum * drop + term);
            return (drop * sum).max(0.0).sqrt();
        }
        self.subsonic_of_any_drop(drop)
    }

    fn subsonic_of_any_drop(&self, drop: f64) -> f64 {
        let ln_r = ln_1p(-drop);
        let density = digits::scalar::exp(2.0 * self.inverse_gamma * ln_r);
        (self.factor * density * -exp_m1(self.exponent * ln_r)).max(0.0).sqrt()
    }

    /// Isentropic flow function ψ: flow of an ideal nozzle over
    /// `A p1 / sqrt(M R T)`.
    pub fn nozzle(&self, drop: f64) -> f64 {
        if 1.0 - drop <= self.critical_ratio { self.choked } else { self.subsonic(drop) }
    }

    /// Share of continuum behaviour, 0 free-molecular to 1, at `x = δ (1 - r)`.
    ///
    /// Two coefficients set by hand on particle simulation (physics.md 1.3).
    pub fn continuum_share(&self, x: f64) -> f64 {
        if x <= 0.0 {
            return 0.0;
        }
        let rise = x * (0.1276 + 0.0149 * x);
        // Written so that an infinite rarefaction gives 1 and not NaN.
        1.0 - 1.0 / (1.0 + rise / self.full_gain)
    }

    /// `W` of a sharp-edged orifice in the continuum.
    pub fn continuum(&self, drop: f64) -> f64 {
        ROOT_TWO_PI * discharge_coefficient(1.0 - drop) * self.nozzle(drop)
    }

    /// `W` over all regimes: `(1-r) + f [W_continuum - (1-r)]`.
    pub fn relative_flow(&self, rarefaction: f64, drop: f64) -> f64 {
        if drop <= 0.0 {
            return 0.0;
        }
        let share = self.continuum_share(rarefaction * drop);
        drop + share * (self.continuum(drop) - drop)
    }
}

/// Free-molecular flux of a gas into vacuum, mol/(m² s) per Pa.
pub(super) fn efflux_per_pressure(molar_mass_kg_per_mol: f64, temperature_k: f64) -> f64 {
    1.0 / (2.0 * core::f64::consts::PI * molar_mass_kg_per_mol * R * temperature_k).sqrt()
}

/// Runs a law with the higher pressure upstream and gives the flow its sign.
fn signed<G: FlowingGas>(
    bore: Length,
    conditions: &FlowConditions<G>,
    law: impl Fn(&OrificeLaw, f64) -> f64,
) -> Result<MolarFlow, LeakPathError> {
    conditions.check()?;
    check_positive("bore diameter", bore.m(), "m")?;
    let (upstream, downstream) = (conditions.upstream.pa(), conditions.downstream.pa());
    let high = upstream.max(downstream);
    if upstream == downstream {
        return Ok(MolarFlow::from_mol_per_s(0.0));
    }
    let drop = (upstream - downstream).abs() / high;
    let gas = conditions.properties();
    let scale = bore.circle_area().m2()
        * high
        * efflux_per_pressure(gas.molar_mass_kg_per_mol, conditions.temperature.k());
    let relative = law(&OrificeLaw::new(gas.heat_capacity_ratio), drop);
    let magnitude = scale * relative;
    Ok(MolarFlow::from_mol_per_s(if upstream > downstream { magnitude } else { -magnitude }))
}

/// Flow of an ideal nozzle (discharge coefficient 1) in the continuum, choked or
/// subsonic: the convention behind tables of nominal hole sizes.
///
/// `N = A p1 ψ(r) / sqrt(M R T)`,
/// `ψ = sqrt(2γ/(γ-1) (r^(2/γ) - r^((γ+1)/γ)))`, constant below the critical
/// ratio `(2/(γ+1))^(γ/(γ-1))`.
///
/// Negative where downstream exceeds upstream. Source: isentropic flow,
/// physics.md 1.2 and 2.
///
/// # Errors
/// A bore or temperature that is not positive, a pressure below zero.
///
/// ```
/// use physics::leak_paths::{ideal_nozzle_flow, reference_conditions};
/// use physics::quantities::Length;
/// let flow = ideal_nozzle_flow(Length::from_um(1.0), &reference_conditions()).unwrap();
/// let standard_cm3_per_s = flow.mol_per_s() / 4.461_503e-5;
/// assert!((standard_cm3_per_s / 1.4536e-4 - 1.0).abs() < 1e-3);
/// ```
pub fn ideal_nozzle_flow<G: FlowingGas>(
    bore: Length,
    conditions: &FlowConditions<G>,
) -> Result<MolarFlow, LeakPathError> {
    signed(bore, conditions, |law, drop| ROOT_TWO_PI * law.nozzle(drop))
}

/// Flow of a sharp-edged orifice in the continuum, without rarefaction.
///
/// `N = Cd(r) A p1 ψ(r) / sqrt(M R T)`. Valid for δ above 100.
/// Source: physics.md 1.2.
///
/// # Errors
/// A bore or temperature that is not positive, a pressure below zero.
pub fn sharp_edged_continuum_flow<G: FlowingGas>(
    bore: Length,
    conditions: &FlowConditions<G>,
) -> Result<MolarFlow, LeakPathError> {
    signed(bore, conditions, |law, drop| law.continuum(drop))
}

/// Flow of a thin orifice in the free-molecular limit.
///
/// `N = A (p1 - p2) / sqrt(2 π M R T)`. Within 1 % for δ below 0.05 and a wall
/// thinner than 1 % of the bore. Source: kinetic theory, physics.md 1.1.
///
/// # Errors
/// A bore or temperature that is not positive, a pressure below zero.
pub fn molecular_effusion_flow<G: FlowingGas>(
    bore: Length,
    conditions: &FlowConditions<G>,
) -> Result<MolarFlow, LeakPathError> {
    signed(bore, conditions, |_, drop| drop)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choked_flow_function_of_a_diatomic_gas() {
        // sqrt(γ) (2/(γ+1))^((γ+1)/(2(γ-1))) = 0.684731 for γ = 1.4.
        assert!((OrificeLaw::new(1.4).choked - 0.684_731).abs() < 1e-6);
    }

    #[test]
    fn small_drops_by_series_are_the_same() {
        for gamma in [1.1, 1.2908, 1.4, 5.0 / 3.0] {
            let law = OrificeLaw::new(gamma);
            for drop in [1e-12, 1e-6, 1e-3, 0.01, 0.0156] {
                let ratio = law.subsonic(drop) / law.subsonic_of_any_drop(drop);
                assert!((ratio - 1.0).abs() < 1e-14, "{gamma} {drop} {ratio}");
            }
        }
    }

    #[test]
    fn extremes_of_rarefaction_join_the_limits() {
        let law = OrificeLaw::new(1.4);
        assert_eq!(law.relative_flow(0.0, 0.3), 0.3);
        assert!((law.relative_flow(1e12, 1.0) - law.continuum(1.0)).abs() < 1e-9);
        assert_eq!(law.relative_flow(5.0, 0.0), 0.0);
    }
}
