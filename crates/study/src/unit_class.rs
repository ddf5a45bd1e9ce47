//! What a unit under test is: blank, negative control, positive control or
//! flow challenge.

/// What a unit under test is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RunClass {
    /// Empty chamber or dummy: diagnoses the rig, never sets the limit.
    Blank,
    /// Unit without a known leak, filled with product.
    NegativeControl,
    /// Unit with a known leak.
    PositiveControl {
        /// Size on its label, flow-equivalent µm.
        nominal_um: f64,
        /// Size from the flow measured on arrival, flow-equivalent µm.
        verified_um: Option<f64>,
    },
    /// A known flow of gas let into the chamber beside a unit without a leak:
    /// it calibrates the reading and sets no limit.
    FlowChallenge {
        /// Flow of the standard at the conditions of use, Pa·m³/s at 20 °C;
        /// zero with the standard in place and shut.
        flow_pa_m3_per_s: f64,
    },
}

impl RunClass {
    /// The trade's words for the class.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Blank => "blank",
            Self::NegativeControl => "negative control",
            Self::PositiveControl { .. } => "positive control",
            Self::FlowChallenge { .. } => "flow challenge",
        }
    }

    /// Flow of a flow challenge, Pa·m³/s at 20 °C.
    #[must_use]
    pub const fn flow_pa_m3_per_s(self) -> Option<f64> {
        match self {
            Self::FlowChallenge { flow_pa_m3_per_s } => Some(flow_pa_m3_per_s),
            _ => None,
        }
    }

    /// Size that counts in an evaluation: the verified one before the label.
    #[must_use]
    pub fn size_um(self) -> Option<f64> {
        match self {
            Self::PositiveControl { nominal_um, verified_um } => {
                Some(verified_um.unwrap_or(nominal_um))
            }
            _ => None,
        }
    }
}
