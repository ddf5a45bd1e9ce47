//! Effects of a design with two levels, its aliasing, and its curvature.

use std::collections::BTreeMap;

use statistics::CannotSay;
use statistics::distributions::student_t;
use statistics::experiments::aliasing::{Aliases, aliases};
use statistics::experiments::designs::largest_overlap;
use statistics::experiments::effects;
use study::Note;

use super::factor::Factor;
use super::fractions::named;
use crate::answer::from_statistics;

/// One effect.
#[derive(Debug, Clone)]
pub struct Effect {
    /// Names of its factors.
    pub name: String,
    /// Size.
    pub effect: f64,
    /// Standard error.
    pub standard_error: f64,
    /// Size beyond which it stands out.
    pub margin: f64,
}

/// Centre runs against the corners.
pub struct Curvature {
    /// Mean of the corners less mean of the centre runs.
    pub difference: f64,
    /// Probability of so large a one without curvature.
    pub p_value: Option<f64>,
    /// Centre runs.
    pub centres: usize,
}

/// What a two-level design says.
pub struct TwoLevels {
    /// Effects, in the order of factors.
    pub effects: Vec<Effect>,
    /// Aliasing of a fraction.
    pub aliases: Option<Aliases>,
    /// Curvature, where there are centre runs.
    pub curvature: Option<Curvature>,
    /// Name of the method.
    pub method: String,
    /// Runs at the corners.
    pub corners: usize,
    /// The error that repeated runs gave by themselves, if they did.
    pub own_error: Option<OwnError>,
    /// Effects of those.
    pub found: statistics::experiments::effects::Effects,
}

/// Whether each run is a corner or a centre.
pub fn fits(runs: &[Vec<f64>]) -> bool {
    let corner = |run: &Vec<f64>| run.iter().all(|level| level.abs() == 1.0);
    let centre = |run: &Vec<f64>| run.iter().all(|level| *level == 0.0);
    runs.iter().all(|run| corner(run) || centre(run)) && runs.iter().any(corner)
}

/// Effects of one result.
pub fn analyse(
    factors: &[Factor],
    runs: &[Vec<f64>],
    results: &[f64],
    confidence: f64,
    notes: &mut Vec<Note>,
) -> Result<TwoLevels, CannotSay> {
    let is_corner = |i: &usize| runs[*i].iter().all(|level| level.abs() == 1.0);
    let places: Vec<usize> = (0..runs.len()).filter(is_corner).collect();
    let corners: Vec<Vec<f64>> = places.iter().map(|i| runs[*i].clone()).collect();
    let values: Vec<f64> = places.iter().map(|i| results[*i]).collect();
    let middle: Vec<f64> = (0..runs.len()).filter(|i| !is_corner(i)).map(|i| results[i]).collect();
    balanced(factors, &corners)?;
    let k = factors.len();
    let mut distinct = corners.clone();
    distinct.sort_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    distinct.dedup();
    let (order, aliased, kind) = if k <= 15 && distinct.len() == 1 << k {
        (k.min(4), None, "full factorial")
    } else if let Some((base_first, generators)) = generators(&distinct, k) {
        let found = aliases(k - generators.len(), &generators)?;
        let found = renamed(found, &base_first);
        let order = if found.resolution >= 5 { 2 } else { 1 };
        (order, Some(found), "fractional factorial")
    } else {
        if largest_overlap(&corners) > 1e-9 {
            return Err(CannotSay::NotDetermined {
                reason: "the columns of two factors depend on each other".into(),
                next_step: "Run the design as it was written; a missing run makes effects \
                            inseparable."
                    .into(),
            });
        }
        notes.push(Note::caution(
            "interactions-spread",
            "interactions of two factors are spread in part over the main effects",
            "confirm what stands out in a full factorial of those factors",
        ));
        (1, None, "screening design")
    };
    let found = effects(&corners, &values, order)?;
    let repeated = repeats(&corners, &values);
    let own = own_error(&repeated, &middle, corners.len(), confidence);
    let (standard_error, margin) = match own {
        Some(own) => (own.standard_error, own.margin),
        None => {
            notes.extend(from_statistics(found.notes.clone()));
            (found.pseudo_standard_error, found.margin)
        }
    };
    if own.is_some() && !repeated.is_empty() {
        notes.push(Note::caution(
            "repeats-as-error",
            "the error is the scatter between runs of one setting: it is too small where they \
             were read again without a new set-up, or one after the other",
            "set every run up anew, in the random order of the plan; else take the mean of each \
             setting as one run",
        ));
    }
    if let Some(found) = aliased.as_ref().filter(|found| found.resolution < 5) {
        notes.push(Note::caution(
            "aliased",
            format!(
                "resolution {}: effects share their columns as listed, and what is called by the \
                 name of one may be the other",
                found.resolution
            ),
            "add the mirror image of the design, or runs that part the effects that stand out",
        ));
    }
    let list = found.effects.iter().map(|(letters, effect)| Effect {
        name: named(letters, factors),
        effect: *effect,
        standard_error,
        margin,
    });
    Ok(TwoLevels {
        effects: list.collect(),
        aliases: aliased,
        curvature: curvature(&values, &middle, notes),
        method: match own {
            Some(_) if repeated.is_empty() => {
                format!("{kind}, two-level effects, error from {} centre runs", middle.len())
            }
            Some(own) => format!(
                "{kind}, two-level effects, error from repeated runs ({} degrees of freedom)",
                own.degrees_of_freedom
            ),
            None => format!("{kind}, {}", found.method),
        },
        corners: corners.len(),
        own_error: own,
        found,
    })
}

/// Results of each corner that was run more than once.
fn repeats(corners: &[Vec<f64>], values: &[f64]) -> Vec<Vec<f64>> {
    let mut groups: BTreeMap<Vec<bool>, Vec<f64>> = BTreeMap::new();
    for (corner, value) in corners.iter().zip(values) {
        let place = corner.iter().map(|level| *level > 0.0).collect();
        groups.entry(place).or_default().push(*value);
    }
    groups.into_values().filter(|group| group.len() > 1).collect()
}

/// The error that repeated runs give by themselves.
#[derive(Clone, Copy)]
pub struct OwnError {
    /// Standard deviation of one run.
    pub standard_deviation: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    standard_error: f64,
    margin: f64,
}

/// Standard error and margin of an effect from runs of one setting, corners and
/// centre pooled: `2 s/sqrt(n)`, with Student's t. It needs two degrees of
/// freedom; with one the margin would drown every effect.
///
/// Source: the pure error of repeated runs, NIST/SEMATECH e-Handbook of
/// Statistical Methods, sections 5.3.3 and 5.5.9 (from memory).
fn own_error(
    repeated: &[Vec<f64>],
    middle: &[f64],
    corners: usize,
    confidence: f64,
) -> Option<OwnError> {
    let groups = || repeated.iter().map(Vec::as_slice).chain(std::iter::once(middle));
    let degrees_of_freedom: usize = groups().map(|group| group.len().saturating_sub(1)).sum();
    let squares = digits::sums::sum(groups().filter_map(digits::sums::squared_deviations));
    if degrees_of_freedom < 2 || squares <= 0.0 {
        return None;
    }
    let standard_deviation = (squares / degrees_of_freedom as f64).sqrt();
    let standard_error = 2.0 * standard_deviation / (corners as f64).sqrt();
    let t = student_t::quantile(0.5 + 0.5 * confidence, degrees_of_freedom as f64);
    let margin = t * standard_error;
    Some(OwnError { standard_deviation, degrees_of_freedom, standard_error, margin })
}

/// Every factor as often high as low.
fn balanced(factors: &[Factor], corners: &[Vec<f64>]) -> Result<(), CannotSay> {
    for (j, factor) in factors.iter().enumerate() {
        let sum: f64 = corners.iter().map(|run| run[j]).sum();
        if sum != 0.0 {
            return Err(CannotSay::NotDetermined {
                reason: format!("{} is not as often high as low", factor.name),
                next_step: "Fill every run of the design, or give the levels with --factor \
                            NAME=LOW,HIGH."
                    .into(),
            });
        }
    }
    Ok(())
}

/// Factors in an order with the base first, and a generator for each other.
type Fraction = (Vec<usize>, Vec<(bool, Vec<usize>)>);

/// A factor, whether its product is turned, and the base factors in it.
type Generated = (usize, bool, Vec<usize>);

/// Finds the base factors of a regular fraction and the products that make
/// the others; `None` where the design is not one.
fn generators(distinct: &[Vec<f64>], k: usize) -> Option<Fraction> {
    let size = distinct.len();
    if !size.is_power_of_two() || size < 4 || k > 20 {
        return None;
    }
    let wanted = size.trailing_zeros() as usize;
    let product = |set: &[usize], run: &[f64]| set.iter().map(|j| run[*j]).product::<f64>();
    // A sum of zero means that a product is as often plus as minus.
    let made_by = |set: &[usize], factor: usize| -> Option<bool> {
        let sum: f64 = distinct.iter().map(|run| product(set, run) * run[factor]).sum();
        (sum.abs() == size as f64).then_some(sum < 0.0)
    };
    let subsets = |base: &[usize]| -> Vec<Vec<usize>> {
        let chosen = |bits: u32| {
            base.iter().enumerate().filter(move |(i, _)| bits >> i & 1 == 1).map(|(_, j)| *j)
        };
        (1..1_u32 << base.len()).map(|bits| chosen(bits).collect()).collect()
    };
    let mut base: Vec<usize> = Vec::new();
    let mut others: Vec<Generated> = Vec::new();
    for factor in 0..k {
        let found = subsets(&base)
            .into_iter()
            .find_map(|set| made_by(&set, factor).map(|negative| (negative, set)));
        match found {
            Some((negative, set)) => others.push((factor, negative, set)),
            None => base.push(factor),
        }
        if base.len() > wanted {
            return None;
        }
    }
    if base.len() != wanted || others.iter().any(|(_, _, set)| set.len() < 2) {
        return None;
    }
    let place = |j: &usize| base.iter().position(|b| b == j);
    let list = others
        .iter()
        .map(|(_, negative, set)| {
            set.iter().map(place).collect::<Option<Vec<usize>>>().map(|set| (*negative, set))
        })
        .collect::<Option<Vec<_>>>()?;
    let order = base.iter().copied().chain(others.iter().map(|other| other.0)).collect();
    Some((order, list))
}

/// Letters by place among base and generated factors turned into letters by
/// the order of the factors as given.
fn renamed(mut found: Aliases, order: &[usize]) -> Aliases {
    let rename = |word: &str| -> String {
        let mut letters: Vec<char> = word
            .chars()
            .filter_map(|letter| order.get(letter as usize - 'A' as usize))
            .map(|factor| char::from(b'A' + u8::try_from(*factor).unwrap_or(0)))
            .collect();
        letters.sort_unstable();
        letters.into_iter().collect()
    };
    for word in &mut found.defining_relation {
        *word = rename(word);
    }
    for (effect, others) in &mut found.table {
        *effect = rename(effect);
        for other in others {
            *other = rename(other);
        }
    }
    found.table.sort_by_key(|(effect, _)| (effect.len(), effect.clone()));
    found
}

/// Mean of the corners against the mean of the centre runs.
fn curvature(corners: &[f64], middle: &[f64], notes: &mut Vec<Note>) -> Option<Curvature> {
    let difference = digits::sums::mean(corners)? - digits::sums::mean(middle)?;
    let (n, m) = (corners.len() as f64, middle.len() as f64);
    let p_value = digits::sums::standard_deviation(middle)
        .filter(|sd| *sd > 0.0 && middle.len() >= 2)
        .map(|sd| {
            let t = difference / (sd * (1.0 / n + 1.0 / m).sqrt());
            2.0 * student_t::survival(t.abs(), m - 1.0)
        });
    if p_value.is_some_and(|p| p < 0.05) {
        notes.push(Note::caution(
            "curvature",
            "the centre runs do not lie on the plane through the corners: the effects are not \
             straight over the range",
            "add axial runs (--design central-composite) before interpolating",
        ));
    }
    Some(Curvature { difference, p_value, centres: middle.len() })
}
