//! Two groups of units of their own.

use statistics::comparison::{Equivalence, equivalence_two_groups};
use statistics::summaries::{GroupSummary, groups_differ};
use statistics::{Assumption, CannotSay};

use super::{Compare, answer};
use crate::answer::{Answer, from_statistics};
use crate::commands::assess::{checks, tables};
use crate::fault::Fault;

/// Everything that was found in two groups.
pub struct Groups {
    /// Summaries.
    pub summaries: [GroupSummary; 2],
    /// Readings.
    pub values: [Vec<f64>; 2],
    /// Equivalence within the margin.
    pub equivalence: Equivalence,
}

/// Runs on two groups.
pub fn run(command: &Compare, values: &[f64], names: &[&str]) -> Result<Answer, Fault> {
    let Some(margin) = command.margin else {
        return Err(Fault::users(
            "two groups are compared against a margin, and none was given",
            "give --margin: the largest difference that would not matter",
        ));
    };
    let all = tables::grouped(names, values);
    let known = || all.iter().map(|group| group.0.as_str()).collect::<Vec<_>>().join(", ");
    let chosen: Vec<(String, Vec<f64>)> = match &command.groups {
        None => all.clone(),
        Some(list) => {
            let mut chosen = Vec::new();
            for name in list.split(',').map(str::trim) {
                let Some(group) = all.iter().find(|group| group.0 == name) else {
                    return Err(Fault::users(
                        format!("there is no group {name}"),
                        format!("the column holds: {}", known()),
                    ));
                };
                chosen.push(group.clone());
            }
            chosen
        }
    };
    let [first, second]: [(String, Vec<f64>); 2] = chosen.try_into().map_err(|_| {
        Fault::users(
            "a comparison needs two groups",
            format!("choose two with --groups A,B; the column holds: {}", known()),
        )
    })?;
    let summaries = [summary(&first)?, summary(&second)?];
    let equivalence = equivalence_two_groups(&summaries[0], &summaries[1], margin, command.alpha)?;
    let notes = from_statistics(equivalence.notes.clone());
    let assumptions = assumptions(&summaries, [&first.1, &second.1]);
    let groups = Groups { summaries, values: [first.1, second.1], equivalence };
    answer::of_groups(command, &groups, assumptions, notes)
}

fn summary((name, values): &(String, Vec<f64>)) -> Result<GroupSummary, Fault> {
    let (Some(mean), Some(standard_deviation)) =
        (digits::sums::mean(values), digits::sums::standard_deviation(values))
    else {
        let what = format!("values of group {name}");
        return Err(CannotSay::TooFew { what, needed: 2, got: values.len() }.into());
    };
    Ok(GroupSummary { label: name.clone(), mean, standard_deviation, n: values.len() })
}

fn assumptions(summaries: &[GroupSummary; 2], values: [&[f64]; 2]) -> Vec<Assumption> {
    let spread = groups_differ(summaries).map(|r| {
        (r.equal_spread_p_value, "not needed by the test, which allows unequal scatter".to_owned())
    });
    vec![
        checks::normal("normal values in the first group", values[0]),
        checks::normal("normal values in the second group", values[1]),
        checks::independent("first group independent in order", values[0]),
        checks::independent("second group independent in order", values[1]),
        checks::one("equal scatter of both groups", "ratio of variances", 0.05, spread),
    ]
}
