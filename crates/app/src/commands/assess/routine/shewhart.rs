//! Charts that judge each value by itself: individuals and means.

use statistics::Counted;
use statistics::control_charts::constants::{d2, factors};
use statistics::control_charts::individuals::individuals;
use statistics::control_charts::means::{Means, Spread, means};

use super::chart::{Chart, SpreadChart, basis, first_phase, judged, series, zone_rules};
use super::{Routine, Sigma, SpreadName};
use crate::answer::from_statistics;
use crate::commands::assess::tables;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;

fn outside(values: &[f64], from: usize, (lower, upper): (f64, f64)) -> Vec<usize> {
    let out = |value: f64| value < lower || value > upper;
    values.iter().enumerate().filter(|(_, v)| out(**v)).map(|(i, _)| i + from).collect()
}

/// Chart of single readings, or of means of samples taken as such, with moving
/// ranges.
pub fn individual(
    command: &Routine,
    readings: &[f64],
    samples: Option<&[&str]>,
) -> Result<Chart, Fault> {
    let (values, names) = series(readings, samples);
    let method = match samples {
        None => "individuals chart, sigma from moving ranges of two",
        Some(_) => "chart of means taken as individuals, sigma from moving ranges of means",
    };
    single(command, values, names, method)
}

/// A chart whose centre and sigma were given: no data of its own fix it.
fn as_given(method: &str, charted: usize) -> Told {
    let what = "values charted; centre and sigma come from elsewhere";
    Told::own("chart", method, Counted::of(charted, what), Vec::new())
}

/// Chart of values that count one by one: readings, or means taken as such.
fn single(
    command: &Routine,
    values: Vec<f64>,
    names: Vec<String>,
    method: &str,
) -> Result<Chart, Fault> {
    let mut notes = Vec::new();
    let (first, center, sigma, found) = basis(command, &values, &mut notes)?;
    let (range, limit) = match &found {
        Some(found) => (found.moving_range, found.range_limit),
        None => (d2(2)? * sigma, factors(2)?.d4 * d2(2)? * sigma),
    };
    let method = match first {
        0 => "individuals chart, centre and sigma as given".to_owned(),
        _ => format!("{method}, frozen limits"),
    };
    let account = match &found {
        Some(found) => told("chart", found).by(method.as_str()),
        None => as_given(&method, values.len()),
    };
    let signals = judged(&values, center, sigma, command.width, &zone_rules(command))?;
    let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    Ok(Chart {
        told: vec![account],
        method,
        names,
        plotted: values.clone(),
        first,
        center,
        sigma,
        lower: center - command.width * sigma,
        upper: center + command.width * sigma,
        by_value: None,
        sums: None,
        spread: Some(SpreadChart {
            name: "moving range of two",
            signals: outside(&ranges, 1, (0.0, limit)),
            values: ranges,
            from: 1,
            center: range,
            lower: 0.0,
            upper: limit,
        }),
        signals,
        values,
        notes,
    })
}

/// Chart of means of samples.
pub fn of_means(
    command: &Routine,
    readings: &[f64],
    names: Option<&[&str]>,
) -> Result<Chart, Fault> {
    let Some(names) = names else {
        return Err(Fault::users(
            "a chart of means needs the samples",
            "name the column that says which readings belong together with --sample",
        ));
    };
    if command.sigma == Sigma::Between {
        return individual(command, readings, Some(names));
    }
    let groups = tables::grouped(names, readings);
    let labels: Vec<String> = groups.iter().map(|(name, _)| name.clone()).collect();
    let samples: Vec<Vec<f64>> = groups.into_iter().map(|(_, values)| values).collect();
    let centres: Vec<f64> = samples.iter().filter_map(|v| digits::sums::mean(v)).collect();
    within(command, &samples, centres, labels)
}

/// Limits from the scatter within samples.
fn within(
    command: &Routine,
    samples: &[Vec<f64>],
    centres: Vec<f64>,
    names: Vec<String>,
) -> Result<Chart, Fault> {
    let mut notes = Vec::new();
    let first = first_phase(command, samples.len(), &mut notes)?;
    let size = samples.first().map_or(0, Vec::len);
    if let Some(place) = samples.iter().position(|sample| sample.len() != size) {
        return Err(Fault::users(
            format!(
                "sample {} has {} readings and sample {} has {size}",
                names[place],
                samples[place].len(),
                names[0]
            ),
            "leave out incomplete samples (--where), or chart the means with --sigma between",
        ));
    }
    let kind = match command.spread {
        SpreadName::Range => Spread::Range,
        SpreadName::StandardDeviation => Spread::StandardDeviation,
    };
    let scatter = |sample: &[f64]| match kind {
        Spread::Range => {
            sample.iter().copied().fold(f64::MIN, f64::max)
                - sample.iter().copied().fold(f64::MAX, f64::min)
        }
        Spread::StandardDeviation => digits::sums::standard_deviation(sample).unwrap_or(0.0),
    };
    let (found, account) = match (command.target, command.sd) {
        (Some(target), Some(sd)) => {
            let found = Basis::given(size, target, sd, kind)?;
            let account = as_given(&found.method, centres.len());
            (found, account)
        }
        _ => {
            let found = means(&samples[..first], kind)?;
            notes.extend(from_statistics(found.notes.clone()));
            // Neighbouring means that move together are a matter of days too.
            if let Ok(chart) = individuals(&centres[..first]) {
                let mut list = from_statistics(chart.notes);
                list.retain(|note| note.code == "short-first-phase");
                notes.extend(list);
            }
            (Basis::of(&found), told("chart", &found))
        }
    };
    let values: Vec<f64> = samples.iter().map(|sample| scatter(sample)).collect();
    let signals = judged(&centres, found.center, found.sigma, command.width, &zone_rules(command))?;
    Ok(Chart {
        told: vec![account],
        method: found.method,
        names,
        plotted: centres.clone(),
        first,
        center: found.center,
        sigma: found.sigma,
        lower: found.center - command.width * found.sigma,
        upper: found.center + command.width * found.sigma,
        by_value: None,
        sums: None,
        spread: Some(SpreadChart {
            name: match kind {
                Spread::Range => "range within the sample",
                Spread::StandardDeviation => "standard deviation within the sample",
            },
            signals: outside(&values, 0, found.spread_limits),
            values,
            from: 0,
            center: found.spread,
            lower: found.spread_limits.0,
            upper: found.spread_limits.1,
        }),
        signals,
        values: centres,
        notes,
    })
}

/// Centre, sigma of a mean, and the scatter within samples.
struct Basis {
    center: f64,
    sigma: f64,
    spread: f64,
    spread_limits: (f64, f64),
    method: String,
}

impl Basis {
    fn of(found: &Means) -> Self {
        Self {
            center: found.centre,
            sigma: (found.limits.1 - found.centre) / 3.0,
            spread: found.mean_spread,
            spread_limits: found.spread_limits,
            method: format!("{}, frozen limits", found.method),
        }
    }

    /// From a standard deviation of one reading known before.
    fn given(size: usize, target: f64, sd: f64, kind: Spread) -> Result<Self, Fault> {
        let f = factors(size)?;
        let root = (size as f64).sqrt();
        // The mean spread is the sigma of a mean over a third of its factor.
        let (a, low, high) = match kind {
            Spread::Range => (f.a2, f.d3_lower, f.d4),
            Spread::StandardDeviation => (f.a3, f.b3, f.b4),
        };
        let spread = 3.0 * sd / (a * root);
        Ok(Self {
            center: target,
            sigma: sd / root,
            spread,
            spread_limits: (low * spread, high * spread),
            method: "chart of means, centre and sigma as given".to_owned(),
        })
    }
}
