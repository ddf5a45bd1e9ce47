//! Whether hits and misses tell the same curve as the readings they are joined
//! with.
//!
//! Joined, a hit says that the signal of a unit exceeds the threshold: one line
//! and one scatter serve both kinds. Apart, the readings have their line and
//! the hits a normal curve of their own. Twice the difference of the
//! log-likelihoods is chi-squared of two degrees where one curve holds for
//! both (one where all hits are of one size).

use super::unit_effects::{LikelihoodRatio, climbed};
use super::{Signal, Spread};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::detection::Link;
use crate::detection::likelihood::Row;
use crate::detection::small_sample::supremum;
use crate::distributions::chi_squared;
use crate::note::{Assumption, Note};
use std::collections::BTreeSet;

/// Both kinds, and whether they tell the same curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KindsAgree {
    /// Likelihood ratio of one curve for both against a curve for each.
    pub test: LikelihoodRatio,
    /// Units known by hit or miss alone.
    pub judged: usize,
    /// Signals read, or censored by a floor or a cap.
    pub read: usize,
}

impl Account for KindsAgree {
    fn method(&self) -> &str {
        "likelihood ratio of one curve for readings and judgements against a curve for each"
    }

    fn counted(&self) -> Counted {
        Counted::of(self.judged + self.read, format!("signals ({} only judged)", self.judged))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal scatter about the line, the same at every size",
                "residuals of the line of the readings",
                "it is checked with that line, on the units that were read",
            ),
            Assumption::unchecked(
                "judged units are others than those read",
                "from the plan",
                "the same unit judged and read is refused only where units are named",
            ),
            Assumption::unchecked(
                "chi-squared reference of the ratio",
                "simulation of the study",
                "it holds for many units; with few judged units it is rough",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        if self.test.p_value >= 0.05 {
            return Vec::new();
        }
        vec![Note::new(
            "kinds-disagree",
            format!(
                "Units only judged follow another curve than those read (p = {:.4}).",
                self.test.p_value
            ),
            "Look for another threshold or operator behind the judgements, or give two curves.",
        )]
    }
}

/// Tests whether units known only as hit or miss (`judged`) follow the curve of
/// those that were read. `signals` carries a hit as above the threshold, a miss
/// as below it; the scatter is the same at every size.
///
/// The judged units must be others than those read, each judged once: two
/// statements about one unit are not independent.
///
/// ```
/// use statistics::detection::signal_response::{Signal, kinds_agree};
///
/// let sizes = [1.0, 2.0, 3.0, 4.0, 5.0, 1.0, 2.0, 3.0, 4.0, 5.0];
/// let mut signals: Vec<Signal> = [1.2, 1.8, 3.3, 3.9, 5.2].map(Signal::Read).to_vec();
/// // Judged at a threshold of 3: small ones missed, large ones found.
/// signals.extend([Signal::Below(3.0), Signal::Below(3.0), Signal::Above(3.0)]);
/// signals.extend([Signal::Above(3.0), Signal::Above(3.0)]);
/// let judged = [false, false, false, false, false, true, true, true, true, true];
/// let found = kinds_agree(&sizes, &signals, None, &judged).unwrap();
/// assert_eq!(found.judged, 5);
/// assert!(found.test.p_value > 0.05);
/// ```
///
/// # Errors
/// Lists of unequal length, none judged, a judged unit that was read or judged
/// again, and whatever [`signal_response`](super::signal_response) refuses of
/// the readings alone.
pub fn kinds_agree(
    sizes: &[f64],
    signals: &[Signal],
    units: Option<&[usize]>,
    judged: &[bool],
) -> Result<KindsAgree, CannotSay> {
    for (name, count) in [
        ("signals", signals.len()),
        ("marks of judged units", judged.len()),
        ("unit names", units.map_or(sizes.len(), <[usize]>::len)),
    ] {
        if count != sizes.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "sizes".into(),
                left_count: sizes.len(),
                right: name.into(),
                right_count: count,
            });
        }
    }
    let of_kind = |kind: bool| (0..sizes.len()).filter(move |i| judged[*i] == kind);
    cannot_say::at_least("units judged", 1, of_kind(true).count())?;
    if let Some(names) = units {
        let read: BTreeSet<usize> = of_kind(false).map(|i| names[i]).collect();
        let mut seen = BTreeSet::new();
        if of_kind(true).any(|i| read.contains(&names[i]) || !seen.insert(names[i])) {
            return Err(CannotSay::not_determined(
                "a unit that was judged was read, or judged, a second time, so the two kinds are \
                 not independent",
                "Judge and read different units, or leave the judgement of read units out.",
            ));
        }
    }
    let mut rows: Vec<Row> = Vec::new();
    for i in of_kind(true) {
        cannot_say::finite("a size", sizes[i])?;
        let (hits, misses) = match signals[i] {
            Signal::Above(_) => (1.0, 0.0),
            Signal::Below(_) => (0.0, 1.0),
            Signal::Read(value) => {
                return Err(CannotSay::OutOfRange {
                    what: "a judged signal".into(),
                    value,
                    allowed: "above or below the threshold, not a reading".into(),
                });
            }
        };
        match rows.iter_mut().find(|row| row.x == sizes[i]) {
            Some(row) => {
                row.hits += hits;
                row.misses += misses;
            }
            None => rows.push(Row { x: sizes[i], hits, misses }),
        }
    }
    rows.sort_by(|a, b| a.x.total_cmp(&b.x));
    let (low, high) = (rows[0].x, rows[rows.len() - 1].x);
    let (middle, half) = (0.5 * low + 0.5 * high, 0.5 * high - 0.5 * low);
    for row in &mut rows {
        row.x = if half > 0.0 { (row.x - middle) / half } else { 0.0 };
    }
    let apart: Vec<usize> = of_kind(false).collect();
    let pick = |list: &[f64]| apart.iter().map(|i| list[*i]).collect::<Vec<_>>();
    let read: Vec<Signal> = apart.iter().map(|i| signals[*i]).collect();
    let names: Option<Vec<usize>> = units.map(|names| apart.iter().map(|i| names[*i]).collect());
    // Both on the axes of the readings, so that the values can be compared.
    let both = climbed(sizes, signals, units, Spread::Constant, true)?;
    let alone = climbed(&pick(sizes), &read, names.as_deref(), Spread::Constant, true)?;
    let (best, _) = supremum(&rows, Link::Probit, 0.0, 0.0);
    let ratio = (2.0 * (alone.value + best - both.value)).max(0.0);
    let ratio = cannot_say::computed("the likelihood ratio", ratio)?;
    let degrees = if rows.len() > 1 { 2.0 } else { 1.0 };
    let test = LikelihoodRatio { ratio, p_value: chi_squared::survival(ratio, degrees) };
    Ok(KindsAgree { test, judged: of_kind(true).count(), read: apart.len() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    /// `read` units on a line and `judged` ones on a line shifted by `shift`.
    fn study(seed: u64, read: u64, judged: u64, shift: f64) -> (Vec<f64>, Vec<Signal>, Vec<bool>) {
        let mut stream = RandomStream::new(seed, 3);
        let (mut sizes, mut signals, mut marks) = (Vec::new(), Vec::new(), Vec::new());
        for i in 0..read + judged {
            let mark = i >= read;
            let (place, of) = if mark { (i - read, judged) } else { (i, read) };
            let x = place as f64 / (of - 1) as f64;
            let y = 1.0 + 3.0 * x + 0.5 * stream.normal();
            sizes.push(x);
            marks.push(mark);
            signals.push(match mark {
                false => Signal::Read(y),
                true if y + shift > 2.5 => Signal::Above(2.5),
                true => Signal::Below(2.5),
            });
        }
        (sizes, signals, marks)
    }

    /// One curve is rejected as seldom as it should be; hits of another curve
    /// are caught.
    #[test]
    fn another_curve_is_caught_and_the_same_is_not() {
        let rejected = |shift: f64| {
            (0..200)
                .filter(|seed| {
                    let (x, y, marks) = study(*seed, 16, 40, shift);
                    kinds_agree(&x, &y, None, &marks).unwrap().test.p_value < 0.05
                })
                .count()
        };
        let (same, other) = (rejected(0.0), rejected(1.0));
        assert!(same <= 24, "{same}");
        assert!(other >= 180, "{other}");
    }

    #[test]
    fn refusals() {
        let (x, y, marks) = study(1, 12, 12, 0.0);
        assert!(kinds_agree(&x, &y, None, &[false; 24]).is_err());
        assert!(kinds_agree(&x, &y, None, &marks[1..]).is_err());
        let mut names: Vec<usize> = (0..24).collect();
        assert!(kinds_agree(&x, &y, Some(&names), &marks).is_ok());
        names[20] = 3;
        let refusal = kinds_agree(&x, &y, Some(&names), &marks).unwrap_err();
        assert!(refusal.to_string().contains("second time"), "{refusal}");
        assert!(kinds_agree(&x, &y, None, &[true; 24]).is_err());
    }
}
