//! Zone rules on a chart with known sigma.
//!
//! Each rule added raises the false alarms; the sigma must be that of the
//! plotted value, between-day scatter included. Source: Western Electric,
//! Statistical Quality Control Handbook (1956) (from memory).

use crate::cannot_say::{self, CannotSay};

/// A zone rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// One value beyond 3 sigma.
    BeyondThree,
    /// Two of three on one side beyond 2 sigma.
    TwoOfThreeBeyondTwo,
    /// Four of five on one side beyond 1 sigma.
    FourOfFiveBeyondOne,
    /// Eight in a row on one side.
    EightOnOneSide,
    /// Six in a row rising or falling.
    SixRisingOrFalling,
}

/// A rule that was met, and the place of the value that completed it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signal {
    /// The rule.
    pub rule: Rule,
    /// Place of the value, counted from 0.
    pub position: usize,
}

/// Signals of the chosen rules.
///
/// # Errors
/// Values that are not finite, sigma not above zero.
pub fn signals(
    values: &[f64],
    centre: f64,
    sigma: f64,
    rules: &[Rule],
) -> Result<Vec<Signal>, CannotSay> {
    cannot_say::all_finite("values", values)?;
    cannot_say::finite("the centre line", centre)?;
    cannot_say::positive("sigma", sigma)?;
    let z: Vec<f64> = values.iter().map(|v| (v - centre) / sigma).collect();
    let mut found = Vec::new();
    for i in 0..z.len() {
        // Values from `back` places before to this one, if there are so many.
        let window = |length: usize| (i + 1 >= length).then(|| &z[i + 1 - length..=i]);
        let beyond = |length: usize, needed: usize, limit: f64| {
            window(length).is_some_and(|w| {
                let above = w.iter().filter(|v| **v > limit).count();
                let below = w.iter().filter(|v| **v < -limit).count();
                (above >= needed && z[i] > limit) || (below >= needed && z[i] < -limit)
            })
        };
        for rule in rules {
            let met = match rule {
                Rule::BeyondThree => z[i].abs() > 3.0,
                Rule::TwoOfThreeBeyondTwo => beyond(3, 2, 2.0),
                Rule::FourOfFiveBeyondOne => beyond(5, 4, 1.0),
                Rule::EightOnOneSide => beyond(8, 8, 0.0),
                Rule::SixRisingOrFalling => window(6).is_some_and(|w| {
                    w.windows(2).all(|p| p[1] > p[0]) || w.windows(2).all(|p| p[1] < p[0])
                }),
            };
            if met {
                found.push(Signal { rule: *rule, position: i });
            }
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_rule_by_example() {
        let all = [
            Rule::BeyondThree,
            Rule::TwoOfThreeBeyondTwo,
            Rule::FourOfFiveBeyondOne,
            Rule::EightOnOneSide,
            Rule::SixRisingOrFalling,
        ];
        let rules = |values: &[f64]| -> Vec<Rule> {
            signals(values, 0.0, 1.0, &all).unwrap().iter().map(|s| s.rule).collect()
        };
        assert_eq!(rules(&[0.0, 3.5]), vec![Rule::BeyondThree]);
        assert_eq!(rules(&[2.5, 0.0, 2.5]), vec![Rule::TwoOfThreeBeyondTwo]);
        assert_eq!(rules(&[-1.5, -1.5, 0.5, -1.5, -1.5]), vec![Rule::FourOfFiveBeyondOne]);
        assert_eq!(rules(&[0.5; 8]), vec![Rule::EightOnOneSide]);
        assert_eq!(rules(&[-0.3, -0.2, -0.1, 0.1, 0.2, 0.3]), vec![Rule::SixRisingOrFalling]);
        assert!(signals(&[f64::NAN], 0.0, 1.0, &all).is_err());
    }
}
