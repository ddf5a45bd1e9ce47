//! A calibrated flow: from the conditions of its certificate to those of use.

use super::orifice::OrificeLaw;
use super::{FlowConditions, LeakPathError};
use crate::gases::{FlowingGas, Gas};
use crate::quantities::MolarFlow;

/// How a flow standard makes its flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FlowStandardKind {
    /// Held constant by a controller, whatever the pressures.
    Controlled,
    /// A critical orifice: the speed of sound in its throat sets the flow.
    CriticalOrifice,
    /// A leak so small or so rarefied that its flow is molecular, whatever its
    /// shape.
    Molecular,
}

/// A flow standard with its certificate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibratedFlow<G = Gas> {
    /// How it works.
    pub kind: FlowStandardKind,
    /// Flow on the certificate.
    pub certified: MolarFlow,
    /// Conditions on the certificate.
    pub certificate: FlowConditions<G>,
}

impl<G: FlowingGas> CalibratedFlow<G> {
    /// Flow under the conditions of use.
    ///
    /// A controller gives its certified flow. A critical orifice follows
    /// `N ∝ p_1 C*(γ)/sqrt(M T)`; the discharge coefficient is taken to be that
    /// of the certificate. A molecular leak follows `N ∝ (p_1 - p_2)/sqrt(M T)`.
    ///
    /// # Errors
    /// Conditions without meaning, or a critical orifice that is not critical
    /// under one of the two conditions: its flow is then not defined by the
    /// certificate.
    pub fn at<H: FlowingGas>(
        &self,
        use_conditions: &FlowConditions<H>,
    ) -> Result<MolarFlow, LeakPathError> {
        use_conditions.check_forward()?;
        self.certificate.check_forward()?;
        if !self.certified.is_finite() {
            return Err(LeakPathError::NotFinite { what: "certified flow" });
        }
        let ratio = match self.kind {
            FlowStandardKind::Controlled => 1.0,
            FlowStandardKind::CriticalOrifice => {
                critical_strength(use_conditions)? / critical_strength(&self.certificate)?
            }
            FlowStandardKind::Molecular => {
                molecular_strength(use_conditions) / molecular_strength(&self.certificate)
            }
        };
        Ok(self.certified * ratio)
    }
}

/// Flow of a critical orifice, up to its area and discharge coefficient.
fn critical_strength<G: FlowingGas>(conditions: &FlowConditions<G>) -> Result<f64, LeakPathError> {
    let gas = conditions.properties();
    let law = OrificeLaw::new(gas.heat_capacity_ratio);
    let ratio = conditions.downstream.pa() / conditions.upstream.pa();
    if ratio > law.critical_ratio {
        return Err(LeakPathError::NotCritical { ratio, critical_ratio: law.critical_ratio });
    }
    let root = (gas.molar_mass_kg_per_mol * conditions.temperature.k()).sqrt();
    Ok(conditions.upstream.pa() * law.choked / root)
}

/// Flow of a molecular leak, up to its shape.
fn molecular_strength<G: FlowingGas>(conditions: &FlowConditions<G>) -> f64 {
    let mass = conditions.properties().molar_mass_kg_per_mol;
    (conditions.upstream - conditions.downstream).pa() / (mass * conditions.temperature.k()).sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::reference_conditions;
    use super::*;
    use crate::quantities::AbsolutePressure;

    #[test]
    fn a_critical_orifice_scales_with_room_pressure_and_gas() {
        let standard = CalibratedFlow {
            kind: FlowStandardKind::CriticalOrifice,
            certified: MolarFlow::from_mol_per_s(1e-8),
            certificate: reference_conditions(),
        };
        let high = FlowConditions {
            upstream: AbsolutePressure::from_pa(81_060.0),
            ..reference_conditions()
        };
        assert!((standard.at(&high).expect("flow").mol_per_s() / 8e-9 - 1.0).abs() < 1e-12);
        let helium = FlowConditions { gas: Gas::Helium, ..reference_conditions() };
        let ratio = standard.at(&helium).expect("flow").mol_per_s() / 1e-8;
        assert!((ratio - 2.853).abs() < 1e-3);
        let open = FlowConditions {
            downstream: AbsolutePressure::from_pa(90_000.0),
            ..reference_conditions()
        };
        assert!(matches!(standard.at(&open), Err(LeakPathError::NotCritical { .. })));
    }

    #[test]
    fn a_molecular_leak_scales_with_the_root_of_the_molar_mass() {
        let standard = CalibratedFlow {
            kind: FlowStandardKind::Molecular,
            certified: MolarFlow::from_mol_per_s(1e-12),
            certificate: FlowConditions { gas: Gas::Helium, ..reference_conditions() },
        };
        let ratio = 1e-12 / standard.at(&reference_conditions()).expect("flow").mol_per_s();
        assert!((ratio - 2.6901).abs() < 1e-4, "{ratio}");
    }
}
