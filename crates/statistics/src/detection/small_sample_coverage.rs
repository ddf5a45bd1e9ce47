//! Coverage of the small-sample bound over a named grid, behind
//! `docs/coverage.md`.
//!
//! At the true size the method's probability value depends on the data in two
//! ways only: by the signed root and by the slope of the curve pinned there.
//! So one reference per pinned slope serves every run. Where a design has few
//! outcomes they are all listed and nothing is simulated; elsewhere 100 000
//! runs meet references of 100 000 samples each at a grid of slopes, and the
//! probability value is interpolated between two of them.

use super::likelihood::Row;
use super::link::Link;
use super::profile;
use super::separation::{Extremes, Separation};
use super::small_sample::{SHARE, signed_root};
use crate::distributions::binomial;
use digits::RandomStream;
use digits::scalar::{exp_m1, ln, ln_1p};
use std::collections::BTreeMap;

/// Designs with at most this many outcomes are listed, not simulated.
const LISTED: usize = 400_000;

/// One line of the grid: a design and a true curve on the axis of the fit.
#[derive(Clone, Copy)]
struct Line {
    levels: usize,
    each: u32,
    link: Link,
    slope: f64,
    shift: f64,
}

/// One sample as the method sees it at the true size.
struct Outcome {
    root: f64,
    /// Pinned slope on the squeezed axis of the references.
    slope: f64,
    weight: f64,
    separated: bool,
}

/// What a line gives.
struct Coverage {
    /// With a reference without error.
    all: f64,
    /// With 2000 reference samples, as the method draws by default.
    as_drawn: f64,
    fitted: f64,
    ratio_fitted: f64,
    separated: f64,
    /// Number of references computed.
    references: usize,
}

impl Line {
    fn eta(&self) -> f64 {
        self.link.line(0.9)
    }

    fn truth(&self) -> f64 {
        self.shift + self.eta() / self.slope
    }

    fn x(&self, level: usize) -> f64 {
        2.0 * level as f64 / (self.levels - 1) as f64 - 1.0
    }

    fn rows(&self, hits: &[u32]) -> Vec<Row> {
        let row = |(level, hits): (usize, &u32)| Row {
            x: self.x(level),
            hits: f64::from(*hits),
            misses: f64::from(self.each - hits),
        };
        hits.iter().enumerate().map(row).collect()
    }

    /// Probabilities of each number of hits at each level, for the curve
    /// through the true place with the given slope.
    fn shares(&self, slope: f64) -> Vec<Vec<f64>> {
        let truth = self.truth();
        (0..self.levels)
            .map(|level| {
                let p = self.link.probability(self.eta() + slope * (self.x(level) - truth));
                (0..=self.each)
                    .map(|k| binomial::probability(u64::from(k), u64::from(self.each), p))
                    .collect()
            })
            .collect()
    }

    fn root(&self, rows: &[Row], start: f64) -> f64 {
        signed_root(rows, self.link, self.truth(), self.eta(), start)
    }

    fn outcome(&self, hits: &[u32], weight: f64, known: &mut Known) -> Outcome {
        let rows = self.rows(hits);
        let (_, slope) = profile::pinned(&rows, self.link, self.truth(), self.eta(), self.slope);
        let extremes = Extremes::of(rows.iter().map(|r| (r.x, r.hits as u64, r.misses as u64)));
        Outcome {
            root: known.root(self, hits, slope),
            slope: squeezed(slope.clamp(-1e4, 1e4)),
            weight,
            separated: extremes.separation() != Separation::None,
        }
    }
}

/// Roots met before. With the logit link the number of hits and the sum of
/// their levels carry the whole likelihood.
struct Known {
    roots: BTreeMap<(u32, u32), f64>,
}

impl Known {
    fn root(&mut self, line: &Line, hits: &[u32], start: f64) -> f64 {
        if line.link != Link::Logit {
            return line.root(&line.rows(hits), start);
        }
        let total = hits.iter().sum();
        let weighted = hits.iter().zip(0..).map(|(hits, level)| hits * level).sum();
        *self
            .roots
            .entry((total, weighted))
            .or_insert_with(|| line.root(&line.rows(hits), line.slope))
    }
}

/// Upper tails of the root: roots in rising order with the probability of
/// each or more.
struct Tails {
    roots: Vec<f64>,
    tails: Vec<f64>,
}

impl Tails {
    fn new(mut pairs: Vec<(f64, f64)>) -> Self {
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut tails: Vec<f64> = pairs.iter().map(|pair| pair.1).collect();
        let mut sum = 0.0;
        for tail in tails.iter_mut().rev() {
            sum += *tail;
            *tail = sum;
        }
        Self { roots: pairs.iter().map(|pair| pair.0).collect(), tails }
    }

    fn at(&self, root: f64) -> f64 {
        let first = self.roots.partition_point(|known| *known < root - 1e-7);
        self.tails.get(first).copied().unwrap_or(0.0)
    }
}

/// Every outcome of a design, first level slowest.
fn outcomes_of(line: &Line) -> Vec<Vec<u32>> {
    let mut all = vec![Vec::new()];
    for _ in 0..line.levels {
        all = all
            .into_iter()
            .flat_map(|head| {
                (0..=line.each).map(move |hits| {
                    let mut longer = head.clone();
                    longer.push(hits);
                    longer
                })
            })
            .collect();
    }
    all
}

fn weights_of(line: &Line, slope: f64) -> Vec<f64> {
    let mut all = vec![1.0];
    for shares in line.shares(slope) {
        all = all.into_iter().flat_map(|head| shares.iter().map(move |p| head * p)).collect();
    }
    all
}

fn draw(shares: &[Vec<f64>], stream: &mut RandomStream) -> Vec<u32> {
    shares
        .iter()
        .map(|shares| {
            let mut left = stream.uniform();
            let mut hits = 0;
            while hits + 1 < shares.len() && left >= shares[hits] {
                left -= shares[hits];
                hits += 1;
            }
            hits as u32
        })
        .collect()
}

/// Slope on an axis on which very steep curves stand close together.
fn squeezed(slope: f64) -> f64 {
    slope.signum() * ln_1p(slope.abs())
}

fn stretched(squeezed: f64) -> f64 {
    squeezed.signum() * exp_m1(squeezed.abs())
}

/// Nodes of the slope grid: 0.04 apart on the squeezed axis, wider where
/// the pinned curve is a step.
fn node_below(slope: f64) -> (f64, f64) {
    let width = if slope.abs() < 5.0 { 0.04 } else { 0.5 };
    let low = (slope / width).floor() * width;
    (low, low + width)
}

fn coverage(line: &Line, seed: u64, runs: u32) -> Coverage {
    let mut known = Known { roots: BTreeMap::new() };
    let count = (0..line.levels).fold(1_usize, |n, _| n.saturating_mul(line.each as usize + 1));
    let listed = count <= LISTED;
    let mut outcomes: Vec<Outcome> = if listed {
        let weights = weights_of(line, line.slope);
        let all = outcomes_of(line);
        all.iter().zip(weights).map(|(hits, w)| line.outcome(hits, w, &mut known)).collect()
    } else {
        let shares = line.shares(line.slope);
        let mut stream = RandomStream::new(seed, 0);
        let weight = 1.0 / f64::from(runs);
        (0..runs).map(|_| line.outcome(&draw(&shares, &mut stream), weight, &mut known)).collect()
    };
    // In the order of the list, as the weights of a reference come.
    let roots: Vec<f64> = outcomes.iter().map(|outcome| outcome.root).collect();
    let mut reference = |node: f64, number: u64| {
        let slope = stretched(node);
        if listed {
            return Tails::new(roots.iter().copied().zip(weights_of(line, slope)).collect());
        }
        let shares = line.shares(slope);
        let mut stream = RandomStream::new(seed, number);
        let weight = 1.0 / f64::from(runs);
        let pairs = (0..runs).map(|_| {
            let hits = draw(&shares, &mut stream);
            (known.root(line, &hits, slope), weight)
        });
        Tails::new(pairs.collect())
    };
    outcomes.sort_by(|a, b| a.slope.total_cmp(&b.slope));
    let mut result = Coverage {
        all: 0.0,
        as_drawn: 0.0,
        fitted: 0.0,
        ratio_fitted: 0.0,
        separated: 0.0,
        references: 0,
    };
    let mut total = 0.0;
    let mut cell: Option<(f64, f64, Tails, Tails)> = None;
    for outcome in &outcomes {
        let (low, high) = node_below(outcome.slope);
        if cell.as_ref().is_none_or(|cell| cell.0 != low || cell.1 != high) {
            let before = cell.take().filter(|cell| cell.1 == low);
            result.references += 1 + usize::from(before.is_none());
            let number = 2 * result.references as u64;
            let lower = before.map_or_else(|| reference(low, number - 1), |cell| cell.3);
            cell = Some((low, high, lower, reference(high, number)));
        }
        let Some((_, _, lower, upper)) = &cell else { continue };
        let share = (outcome.slope - low) / (high - low);
        let p = (1.0 - share) * lower.at(outcome.root) + share * upper.at(outcome.root);
        let p = p.clamp(0.0, 1.0);
        let covered = if p >= SHARE * 0.05 { outcome.weight } else { 0.0 };
        total += outcome.weight;
        result.all += covered;
        // Of 2000 samples 90 or more must reach the root.
        result.as_drawn += outcome.weight * binomial::survival(89, 2000, p);
        if outcome.separated {
            result.separated += outcome.weight;
        } else {
            result.fitted += covered;
            result.ratio_fitted += if outcome.root <= 1.644_853_6 { outcome.weight } else { 0.0 };
        }
    }
    assert!((total - 1.0).abs() < 1e-9, "{total}");
    let fitted = 1.0 - result.separated;
    result.fitted /= fitted;
    result.ratio_fitted /= fitted;
    result
}

/// The named grid. Half range of ln size from 0.5 to 8, centre 2: slopes of
/// the method notes in these units are 3 ln 4 and 4 ln 4.
fn grid() -> Vec<Line> {
    let half = ln(4.0);
    let curves = [
        (Link::Logit, 3.0 * half, 0.0),
        (Link::Logit, 4.0 * half, 0.0),
        (Link::Logit, 1.5 * half, 0.0),
        (Link::Logit, 3.0 * half, 0.5),
        (Link::Probit, 1.8 * half, 0.0),
        (Link::Cloglog, 2.5 * half, -0.3),
        (Link::Logit, half, 0.0),
        (Link::Logit, 6.0 * half, 0.0),
        (Link::Logit, 3.0 * half, -0.5),
        (Link::Probit, half, 0.4),
        (Link::Cloglog, 1.5 * half, 0.3),
    ];
    let designs = [(10, 2), (8, 4), (10, 4), (8, 8), (12, 10)];
    designs
        .iter()
        .flat_map(|(levels, each)| {
            curves.iter().map(|(link, slope, shift)| Line {
                levels: *levels,
                each: *each,
                link: *link,
                slope: *slope,
                shift: *shift,
            })
        })
        .collect()
}

/// Long calculation behind `docs/coverage.md`; prints its table.
#[test]
#[ignore = "some tens of minutes"]
fn coverage_of_the_detection_bounds() {
    for line in grid() {
        let result = coverage(&line, 99, 100_000);
        println!(
            "| {} ({} x {}) | {:?}, {:.2}, {} | {:.4} | **{:.4}** | {:+.4} | {:.4} | {:.4} | {:.4} | {}",
            line.levels as u32 * line.each,
            line.levels,
            line.each,
            line.link,
            line.slope,
            line.shift,
            result.separated,
            result.all,
            result.all - 0.95,
            result.as_drawn,
            result.fitted,
            result.ratio_fitted,
            result.references,
        );
    }
}

/// The listed coverage and the method itself agree on a design small enough
/// to run the method on every outcome.
#[test]
fn listed_coverage_is_that_of_the_method() {
    let line = Line { levels: 4, each: 2, link: Link::Probit, slope: 2.0, shift: 0.1 };
    let listed = coverage(&line, 1, 0);
    let simulation = super::Simulation { samples: 4000, seed: 7 };
    let weights = weights_of(&line, line.slope);
    let mut direct = 0.0;
    for (hits, weight) in outcomes_of(&line).iter().zip(weights) {
        let p = super::small_sample::pinned_p_value(
            &line.rows(hits),
            line.link,
            line.truth(),
            line.eta(),
            line.slope,
            simulation,
        );
        direct += if p >= SHARE * 0.05 { weight } else { 0.0 };
    }
    assert!(listed.all > 0.94, "{}", listed.all);
    assert!((listed.all - direct).abs() < 0.01, "{} {direct}", listed.all);
}
