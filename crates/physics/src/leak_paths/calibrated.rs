//! A calibrated flow: from the conditions of its certificate to those of use.

use super::orifice::OrificeLaw;
use super::{FlowConditions, LeakPathError};
use crate::quantities::MolarFlow;

/// How a flow standard makes its flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FlowStandardKind {
    /// Held constant by a controller, whatever the pressures.
    Controlled,
    /// A critical orifice: the speed of sound in its throat sets the flow.
    CriticalOrifice,
}

/// A flow standard with its certificate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibratedFlow {
    /// How it works.
    pub kind: FlowStandardKind,
    /// Flow on the certificate.
    pub certified: MolarFlow,
    /// Conditions on the certificate.
    pub certificate: FlowConditions,
}

impl CalibratedFlow {
    /// Flow under the conditions of use.
    ///
    /// A controller gives its certified flow. A critical orifice follows
    /// `N ∝ p_1 C*(γ)/sqrt(M T)`; the discharge coefficient is taken to be that
    /// of the certificate.
    ///
    /// # Errors
    /// Conditions without meaning, or a critical orifice that is not critical
    /// under one of the two conditions: its flow is then not defined by the
    /// certificate.
    pub fn at(&self, use_conditions: &FlowConditions) -> Result<MolarFlow, LeakPathError> {
        use_conditions.check_forward()?;
        self.certificate.check_forward()?;
        if !self.certified.is_finite() {
            return Err(LeakPathError::NotFinite { what: "certified flow" });
        }
        if self.kind == FlowStandardKind::Controlled {
            return Ok(self.certified);
        }
        let strength = |conditions: &FlowConditions| {
            let law = OrificeLaw::new(conditions.gas.heat_capacity_ratio());
            let ratio = conditions.downstream.pa() / conditions.upstream.pa();
            if ratio > law.critical_ratio {
                return Err(LeakPathError::NotCritical {
                    ratio,
                    critical_ratio: law.critical_ratio,
                });
            }
            let root = (conditions.gas.molar_mass_kg_per_mol() * conditions.temperature.k()).sqrt();
            Ok(conditions.upstream.pa() * law.choked / root)
        };
        Ok(self.certified * (strength(use_conditions)? / strength(&self.certificate)?))
    }
}

#[cfg(test)]
mod tests {
    use super::super::reference_conditions;
    use super::*;
    use crate::gases::Gas;
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
}
