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
    /// Unit that is tested again and again as it ages, to see whether a leak
    /// closes: it sets no limit and enters no detection curve, because the same
    /// unit counts once.
    AgedControl {
        /// Size on its label, flow-equivalent µm; `None` without a known leak.
        nominal_um: Option<f64>,
        /// Days since it was filled.
        age_days: u32,
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
            Self::AgedControl { .. } => "aged control",
        }
    }

    /// The class in words, an aged control with its age.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::AgedControl { nominal_um, age_days } => {
                let leak = if nominal_um.is_some() { "" } else { " without a leak" };
                format!("{}{leak}, day {age_days}", self.word())
            }
            _ => self.word().to_owned(),
        }
    }

    /// Whether the run shows the rig and tests no unit of its own: a blank or a
    /// flow challenge.
    #[must_use]
    pub const fn is_of_rig(self) -> bool {
        matches!(self, Self::Blank | Self::FlowChallenge { .. })
    }

    /// Order of the classes in a table, whatever size or age.
    #[must_use]
    pub const fn kind_order(&self) -> u8 {
        match self {
            Self::Blank => 0,
            Self::FlowChallenge { .. } => 1,
            Self::NegativeControl => 2,
            Self::PositiveControl { .. } => 3,
            Self::AgedControl { .. } => 4,
        }
    }

    /// Order in a table of classes: blanks, flow challenges, negative, positive
    /// and aged controls, each from small to large and from young to old.
    #[must_use]
    pub fn table_order(&self, other: &Self) -> core::cmp::Ordering {
        let key = |class: &Self| {
            let (age, size) = match *class {
                Self::Blank | Self::NegativeControl => (0_u32, 0.0),
                Self::FlowChallenge { flow_pa_m3_per_s } => (0, flow_pa_m3_per_s),
                Self::PositiveControl { nominal_um, .. } => (0, nominal_um),
                Self::AgedControl { nominal_um, age_days } => (age_days, nominal_um.unwrap_or(0.0)),
            };
            (class.kind_order(), age, size)
        };
        let (a, b) = (key(self), key(other));
        (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2))
    }

    /// Flow of a flow challenge, Pa·m³/s at 20 °C.
    #[must_use]
    pub const fn flow_pa_m3_per_s(self) -> Option<f64> {
        match self {
            Self::FlowChallenge { flow_pa_m3_per_s } => Some(flow_pa_m3_per_s),
            _ => None,
        }
    }

    /// Days since an aged control was filled.
    #[must_use]
    pub const fn age_days(self) -> Option<u32> {
        match self {
            Self::AgedControl { age_days, .. } => Some(age_days),
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
            Self::AgedControl { nominal_um, .. } => nominal_um,
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_begins_with_the_rig_and_ends_with_the_old() {
        let positive = |nominal_um| RunClass::PositiveControl { nominal_um, verified_um: None };
        let aged = |age_days, nominal_um| RunClass::AgedControl { nominal_um, age_days };
        let flow = |flow_pa_m3_per_s| RunClass::FlowChallenge { flow_pa_m3_per_s };
        let sorted = [
            RunClass::Blank,
            flow(0.0),
            flow(2e-5),
            RunClass::NegativeControl,
            positive(3.0),
            positive(10.0),
            aged(0, None),
            aged(0, Some(10.0)),
            aged(30, Some(5.0)),
        ];
        let mut mixed: Vec<RunClass> = sorted.iter().rev().copied().collect();
        mixed.sort_by(RunClass::table_order);
        assert_eq!(mixed, sorted);
        assert_eq!(flow(2e-5).words(), "flow challenge");
        assert_eq!(aged(30, None).words(), "aged control without a leak, day 30");
        assert_eq!(aged(30, Some(5.0)).size_um(), Some(5.0));
    }
}
