//! Choice of the next size to test.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::detection::{HitMiss, HitMissFit, Link, Separation, fit_hit_miss};
use crate::note::{Assumption, Note};
use digits::scalar::ln;

/// Where a study stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// Hits and misses do not overlap yet: the bracket is closed in.
    Bracket,
    /// They overlap: the size that tells most about the whole curve.
    Curve,
    /// The curve is known roughly: the size that tells most about the size
    /// found with the probability wanted.
    Target,
}

/// The next size, and why.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct NextSize {
    /// Size to test.
    pub size: f64,
    /// Where the study stands.
    pub phase: Phase,
    /// The reason, as a sentence.
    pub reason: String,
    /// Units tested so far.
    pub units: u64,
}

impl Account for NextSize {
    fn method(&self) -> &str {
        match self.phase {
            Phase::Bracket => {
                "bracket of the largest miss and the smallest hit, halved on the log scale"
            }
            Phase::Curve => "largest gain of the information of the whole curve",
            Phase::Target => "largest drop of the variance of the size wanted",
        }
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.units as f64, "units tested so far")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
            Assumption::unchecked(
                "the curve has the link chosen, in the logarithm of size",
                "deviance of the final fit",
                "a choice of the next size does not test the curve; judge the fit when the \
                     study ends",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        vec![Note::new(
            "one-step-ahead",
            "The size is the best next one by this rule. It says nothing about how many \
                     more are needed.",
            "Simulate the stopping rule before the study, and ask again after every \
                     result.",
        )]
    }
}

/// Height of the line at the upper of the two points that fix a curve best
/// (D-optimal): the maximum of the product of both informations and the
/// squared distance.
///
/// Logit 1.5434, probit 1.1381, symmetric about zero; the complementary
/// log-log curve has no symmetry. Source: K. M. Abdelbasit and R. L. Plackett,
/// J. Am. Stat. Assoc. 78 (1983) 90 (from memory).
#[must_use]
pub fn optimal_height(link: Link) -> f64 {
    let score = |a: f64, b: f64| link.information(a) * link.information(b) * (a - b) * (a - b);
    let (mut low, mut high) = (-1.0, 1.0);
    for _ in 0..200 {
        let before = (low, high);
        high = golden(0.0, 5.0, |x| score(low, x));
        low = golden(-6.0, 0.0, |x| score(x, high));
        if (before.0 - low).abs() + (before.1 - high).abs() < 1e-13 {
            break;
        }
    }
    high
}

/// Place of the largest value of a function with one maximum.
fn golden(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let share = 0.618_033_988_749_894_9;
    for _ in 0..44 {
        let a = high - share * (high - low);
        let b = low + share * (high - low);
        if f(a) > f(b) {
            high = b;
        } else {
            low = a;
        }
    }
    // The last digits from the vertex of a parabola, which a comparison of
    // nearly equal heights cannot give.
    let (x, h) = (0.5 * (low + high), 1e-3);
    let (left, middle, right) = (f(x - h), f(x), f(x + h));
    let bend = left - 2.0 * middle + right;
    let slope = (8.0 * (f(x + 0.5 * h) - f(x - 0.5 * h)) - (right - left)) / (6.0 * h);
    if bend < 0.0 { x - slope * h * h / bend } else { x }
}

/// Next size to test among those available.
///
/// Bracket: the middle of the gap on the log scale (D. Langlie 1962; B. T.
/// Neyer, Technometrics 36 (1994) 61, from memory). Curve: largest gain of the
/// determinant of the information. Target, once 20 units overlap: largest drop
/// of the variance of the size found with `probability`.
///
/// # Errors
/// No available size, sizes that are not positive, `probability` outside 0
/// to 1, or results that cannot be read.
pub fn next_size(
    results: &[HitMiss],
    available: &[f64],
    link: Link,
    probability: f64,
) -> Result<NextSize, CannotSay> {
    cannot_say::at_least("available sizes", 1, available.len())?;
    cannot_say::open_probability("the probability", probability)?;
    for size in available {
        cannot_say::positive("an available size", *size)?;
    }
    let mut sizes = available.to_vec();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    let mut distinct: Vec<f64> = results.iter().filter(|r| r.of > 0).map(|r| r.size).collect();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    if distinct.len() < 2 {
        return Ok(opening(results, &sizes));
    }
    let fit = fit_hit_miss(results, link, true, 0.95)?;
    if fit.separation != Separation::None {
        return Ok(bracket(results, &fit, &sizes));
    }
    let (Some(intercept), Some(slope)) = (fit.intercept, fit.slope) else {
        return Ok(opening(results, &sizes));
    };
    if slope <= 0.0 {
        let ends = [sizes[0], sizes[sizes.len() - 1]];
        let fewest = fewest_tested(results, &ends);
        return Ok(NextSize {
            size: fewest,
            units: units_of(results),
            phase: Phase::Curve,
            reason: "The curve does not rise yet; the ends of the range settle its direction."
                .into(),
        });
    }
    let information = |x: f64| link.information(intercept + slope * x);
    let mut total = [0.0; 3];
    for row in results.iter().filter(|row| row.size > 0.0) {
        let x = ln(row.size);
        let w = row.of as f64 * information(x);
        total[0] += w;
        total[1] += w * x;
        total[2] += w * x * x;
    }
    let target = (link.line(probability) - intercept) / slope;
    let phase = if fit.n_units >= 20 { Phase::Target } else { Phase::Curve };
    let score = |size: f64| {
        let x = ln(size);
        let w = information(x);
        let (a, b, c) = (total[0] + w, total[1] + w * x, total[2] + w * x * x);
        let determinant = a * c - b * b;
        match phase {
            Phase::Target => -(c - 2.0 * target * b + target * target * a) / determinant,
            _ => determinant,
        }
    };
    let best =
        sizes.iter().copied().max_by(|a, b| score(*a).total_cmp(&score(*b))).unwrap_or(sizes[0]);
    Ok(NextSize {
        size: best,
        units: units_of(results),
        phase,
        reason: match phase {
            Phase::Target => format!(
                "Of the available sizes it narrows the size found with probability {probability} most."
            ),
            _ => "Of the available sizes it tells most about the whole curve.".into(),
        },
    })
}

fn units_of(results: &[HitMiss]) -> u64 {
    results.iter().fold(0_u64, |sum, row| sum.saturating_add(row.of))
}

fn fewest_tested(results: &[HitMiss], sizes: &[f64]) -> f64 {
    let tested = |size: f64| -> u64 {
        results.iter().filter(|row| row.size == size).map(|row| row.of).sum()
    };
    sizes.iter().copied().min_by_key(|size| tested(*size)).unwrap_or(1.0)
}

fn opening(results: &[HitMiss], sizes: &[f64]) -> NextSize {
    let hits: u64 = results.iter().map(|row| row.hits).sum();
    let of: u64 = results.iter().map(|row| row.of).sum();
    let (size, reason) = if of == 0 {
        (sizes[sizes.len() / 2], "Nothing is tested yet: start in the middle.")
    } else if 2 * hits >= of {
        let tested = results.iter().map(|row| row.size).fold(f64::INFINITY, f64::min);
        let below = sizes.iter().copied().rfind(|size| *size < tested);
        (below.unwrap_or(sizes[0]), "Found so far: go down until something is missed.")
    } else {
        let tested = results.iter().map(|row| row.size).fold(0.0, f64::max);
        let above = sizes.iter().copied().find(|size| *size > tested);
        (above.unwrap_or(sizes[sizes.len() - 1]), "Missed so far: go up until something is found.")
    };
    NextSize { size, phase: Phase::Bracket, reason: reason.into(), units: of }
}

fn bracket(results: &[HitMiss], fit: &HitMissFit, sizes: &[f64]) -> NextSize {
    let Some((miss, hit)) = fit.bracket.filter(|(miss, hit)| hit >= miss) else {
        return opening(results, sizes);
    };
    let middle = 0.5 * (ln(miss) + ln(hit));
    let nearest = |list: &[f64]| {
        list.iter()
            .copied()
            .min_by(|a, b| (ln(*a) - middle).abs().total_cmp(&(ln(*b) - middle).abs()))
    };
    let inside: Vec<f64> = sizes.iter().copied().filter(|s| *s > miss && *s < hit).collect();
    let (size, reason) = match nearest(&inside) {
        Some(size) => {
            (size, format!("It halves the gap between the miss at {miss} and the hit at {hit}."))
        }
        None => {
            // No size lies in the gap: repeat its ends, or where they are one
            // size its neighbours, until hits and misses overlap.
            let below = sizes.iter().copied().rfind(|s| *s < miss * (1.0 - 1e-12));
            let above = sizes.iter().copied().find(|s| *s > hit * (1.0 + 1e-12));
            let mut ends: Vec<f64> = sizes
                .iter()
                .copied()
                .filter(|s| (*s - miss).abs() < 1e-12 * miss || (*s - hit).abs() < 1e-12 * hit)
                .collect();
            if ends.len() < 2 {
                ends = below.into_iter().chain(ends).chain(above).collect();
            }
            let size = if ends.is_empty() {
                nearest(sizes).unwrap_or(sizes[0])
            } else {
                fewest_tested(results, &ends)
            };
            (
                size,
                "No available size lies in the gap: its ends are repeated until they overlap."
                    .into(),
            )
        }
    };
    NextSize { size, phase: Phase::Bracket, reason, units: units_of(results) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(size: f64, hits: u64, of: u64) -> HitMiss {
        HitMiss { size, hits, of }
    }

    #[test]
    fn a_study_opens_closes_in_and_sharpens() {
        let sizes = [1.0, 2.0, 4.0, 8.0, 16.0];
        let next = |results: &[HitMiss]| next_size(results, &sizes, Link::Logit, 0.9).unwrap();
        assert_eq!(next(&[]).size, 4.0);
        assert_eq!(next(&[row(4.0, 1, 1)]).size, 2.0);
        let step = next(&[row(2.0, 0, 1), row(8.0, 1, 1)]);
        assert_eq!((step.size, step.phase), (4.0, Phase::Bracket));
        let step = next(&[row(2.0, 1, 6), row(4.0, 4, 8), row(8.0, 9, 10)]);
        assert_eq!(step.phase, Phase::Target);
        assert!(step.size >= 4.0);
        assert!(next_size(&[], &[], Link::Logit, 0.9).is_err());
    }
}
