//! What a pass says, and what it does not: the two-sided statement.

use super::Forecast;
use crate::case_input::CaseInput;
use crate::profile::Fill;
use crate::wording::{percent, rounded};

/// What may be said of a unit that passes, as forecast.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PassStatement {
    /// From what size to what size a pass excludes a leak, with which probability.
    pub says: String,
    /// What a pass leaves open, each in one clause.
    pub leaves_open: Vec<String>,
}

impl Forecast {
    /// What a unit that passes may be said to be, and what not: between which sizes
    /// it has no leak on the side of the gas, and every leak that passes as well.
    #[must_use]
    pub fn pass_statement(&self, input: &CaseInput) -> PassStatement {
        let asked = percent(input.profile.purpose.required_detection);
        let (Some(smallest), Some(largest)) = (self.window.smallest, self.window.largest) else {
            return PassStatement {
                says: format!(
                    "a pass says nothing: no size of leak is forecast to be found with {asked} % \
                     probability"
                ),
                leaves_open: Vec::new(),
            };
        };
        let says = format!(
            "a pass says: no leak between {} and {}{} µm flow-equivalent on the side of the gas, each \
             of which would be rejected with at least {asked} % probability at the stated inputs \
             (over the uncertain inputs the lower end lies between {} and {} µm in 90 % of the \
             draws{})",
            rounded(smallest.um),
            if largest.beyond_range { "at least " } else { "" },
            rounded(largest.um),
            rounded(smallest.low_um),
            rounded(smallest.high_um),
            if largest.beyond_range {
                String::new()
            } else {
                format!(
                    ", the upper end between {} and {} µm",
                    rounded(largest.low_um),
                    rounded(largest.high_um)
                )
            }
        );
        PassStatement { says, leaves_open: self.left_open(input, smallest.um, &asked) }
    }

    fn left_open(&self, input: &CaseInput, smallest_um: f64, asked: &str) -> Vec<String> {
        let mut open = vec![format!(
            "leaks below {} µm: they pass more often than the {asked} % allow, or always",
            rounded(smallest_um)
        )];
        let end_um = self.detection.last().map_or(f64::NAN, |point| point.flow_equivalent_um);
        let gap = self.blind_gap_um.map(|(from, to)| {
            let end = if to >= end_um { " (where the forecast ends)" } else { "" };
            format!("{} to {} µm{end}", rounded(from), rounded(to))
        });
        if let Some(gap) = &gap {
            open.push(format!(
                "the blind gap: leaks from {gap} empty the headspace before the measure stage, and \
                 the reach limit does not see them"
            ));
        }
        if let Some(um) = self.emptied_from(input) {
            open.push(format!(
                "an emptied headspace: from {} µm on the gas is gone before the measure stage and the \
                 rise rejects no unit; that is left to the reach limit{}. A unit whose gas was gone \
                 before the test looks like a tight one",
                rounded(um),
                if gap.is_some() { ", which does not do it in the blind gap" } else { "" }
            ));
        }
        if input.profile.product.fill == Fill::Liquid {
            open.push(self.open_under_the_liquid());
        }
        if input.profile.product.may_plug {
            open.push("leaks that dried product has closed: no gas passes them".to_owned());
        }
        open
    }

    /// Size above which the rise in the measure stage no longer rejects a leak that
    /// it rejected before, µm; `None` where it does up to the end of the range.
    fn emptied_from(&self, input: &CaseInput) -> Option<f64> {
        let needed = super::compute::required(input.profile.purpose.required_detection);
        let first = self.detection.iter().position(|point| point.by_rise >= needed)?;
        self.detection[first..]
            .iter()
            .find(|point| point.by_rise < needed && point.rise_pa.is_some())
            .map(|point| point.flow_equivalent_um)
    }

    fn open_under_the_liquid(&self) -> String {
        let Some(found) = &self.liquid_side else {
            return "leaks under the liquid: too little is stated of the liquid to say what they show"
                .to_owned();
        };
        match (found.smallest_um, found.largest_um) {
            (Some(smallest), Some(largest)) => format!(
                "leaks under the liquid other than true bores through the wall from {} to {}{} µm",
                rounded(smallest),
                if found.largest_is_at_least { "at least " } else { "" },
                rounded(largest)
            ),
            _ => "every leak under the liquid: none is forecast to be found there".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use crate::case_input::CaseInput;
    use physics::quantities::{AbsolutePressure, Probability};

    fn of(input: &CaseInput) -> (super::Forecast, super::PassStatement) {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
        let said = found.pass_statement(input);
        (found, said)
    }

    fn open(said: &super::PassStatement, words: &str) -> bool {
        said.leaves_open.iter().any(|one| one.contains(words))
    }

    #[test]
    fn a_pass_has_two_sides_and_a_gap_is_named() {
        let input = crate::worked_cases::syringe();
        let (found, said) = of(&input);
        let smallest = found.window.smallest.unwrap();
        let from = format!("between {} and ", crate::wording::rounded(smallest.um));
        assert!(said.says.contains(&from) && said.says.contains("95 %"), "{}", said.says);
        assert_eq!(open(&said, "blind gap"), found.blind_gap_um.is_some());
        // A bubble this small is empty before the measure stage of its cycle.
        assert!(open(&said, "emptied headspace"), "{:?}", said.leaves_open);
        assert!(open(&said, "under the liquid"));
    }

    #[test]
    fn the_probability_is_the_one_that_is_asked_for() {
        let mut input = crate::worked_cases::lyophilised_vial();
        let (usual, _) = of(&input);
        input.profile.purpose.required_detection = Probability::new(0.999).unwrap();
        let (strict, said) = of(&input);
        assert!(said.says.contains("99.9 %") && !said.says.contains("95 %"), "{}", said.says);
        assert!(strict.window.smallest.unwrap().um > usual.window.smallest.unwrap().um);
        assert!(!open(&said, "under the liquid"));
    }

    #[test]
    fn where_nothing_is_found_a_pass_says_nothing() {
        let mut input = crate::worked_cases::lyophilised_vial();
        // Hardly any gas, on a background that hides it.
        input.profile.headspace.pressure.value = AbsolutePressure::from_pa(1.0);
        input.rig.background_spread = 5.0;
        for purposed in &mut input.cycle.tiers {
            purposed.tier.reach_limit = Some(AbsolutePressure::from_pa(1.0e5));
        }
        let (found, said) = of(&input);
        assert!(found.window.smallest.is_none());
        assert!(said.says.contains("says nothing"), "{}", said.says);
    }
}
