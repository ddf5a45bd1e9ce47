//! What a unit under test is: blank, negative control or positive control.

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
}

impl RunClass {
    /// The trade's words for the class.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Blank => "blank",
            Self::NegativeControl => "negative control",
            Self::PositiveControl { .. } => "positive control",
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
