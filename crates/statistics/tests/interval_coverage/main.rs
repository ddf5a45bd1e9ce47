//! Real confidence of every interval that rests on continuous values, by
//! simulation, and of the exact ones of a proportion, by summation. The long
//! run is ignored by default; its outcome is recorded in `docs/coverage.md`.

// A test may stop at the first surprise and print its table.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod comparisons;
mod limits;
mod lines;
mod proportions;
mod variances;

use digits::RandomStream;

/// What became of one simulated data set: whether the interval held the truth,
/// or `None` where none was given.
type Outcome = Option<bool>;

/// One interval on one kind of data.
struct Case {
    name: &'static str,
    /// What `docs/coverage.md` promises: lowest and highest real confidence.
    promised: (f64, f64),
    once: Box<dyn Fn(&mut RandomStream) -> Outcome>,
}

/// What the issue of every continuous interval is held to.
const NOMINAL: (f64, f64) = (0.945, 0.955);

impl Case {
    fn new(name: &'static str, once: impl Fn(&mut RandomStream) -> Outcome + 'static) -> Self {
        Self { name, promised: NOMINAL, once: Box::new(once) }
    }

    /// An interval that is known to hold more or less than nominal here.
    fn promising(
        name: &'static str,
        promised: (f64, f64),
        once: impl Fn(&mut RandomStream) -> Outcome + 'static,
    ) -> Self {
        Self { name, promised, once: Box::new(once) }
    }

    /// Share covered of those given, and share not given.
    fn run(&self, runs: u64) -> (f64, f64) {
        let (mut covered, mut given) = (0_u64, 0_u64);
        for run in 0..runs {
            if let Some(held) = (self.once)(&mut RandomStream::new(77, run)) {
                given += 1;
                covered += u64::from(held);
            }
        }
        (covered as f64 / given as f64, 1.0 - given as f64 / runs as f64)
    }
}

fn all() -> Vec<Case> {
    [limits::cases(), lines::cases(), variances::cases(), comparisons::cases()]
        .into_iter()
        .flatten()
        .collect()
}

/// Normal values.
fn normal(stream: &mut RandomStream, n: usize, mean: f64, sd: f64) -> Vec<f64> {
    (0..n).map(|_| mean + sd * stream.normal()).collect()
}

/// Mean and standard deviation of normal values.
fn summary(stream: &mut RandomStream, n: usize, mean: f64, sd: f64) -> (f64, f64) {
    let values = normal(stream, n, mean, sd);
    (digits::sums::mean(&values).unwrap(), digits::sums::standard_deviation(&values).unwrap())
}

fn within((low, high): (f64, f64), truth: f64) -> Outcome {
    Some(low <= truth && truth <= high)
}

#[test]
fn a_short_run_is_near_what_is_promised() {
    let runs = 1000;
    for case in all() {
        let (covered, _) = case.run(runs);
        // Four standard errors of 1000 runs are 0.028.
        let (low, high) = case.promised;
        assert!((low - 0.028..high + 0.028).contains(&covered), "{}: {covered}", case.name);
    }
}

/// A wrong quantile is seen: the normal one in place of Student's at five
/// values holds 0.88.
#[test]
fn an_interval_that_is_too_narrow_is_caught() {
    let case = Case::new("normal quantile at five values", |stream| {
        let (mean, sd) = summary(stream, 5, 0.0, 1.0);
        Some(mean.abs() <= 1.96 * sd / 5.0_f64.sqrt())
    });
    let (covered, _) = case.run(1000);
    assert!(covered < case.promised.0 - 0.028, "{covered}");
}

#[test]
#[ignore = "simulation of minutes"]
fn coverage_of_continuous_intervals() {
    let runs = std::env::var("RUNS").map_or(100_000, |text| text.parse().unwrap());
    let only = std::env::var("ONLY").unwrap_or_default();
    let mut broken = Vec::new();
    for case in all().into_iter().filter(|case| case.name.contains(&only)) {
        let (covered, refused) = case.run(runs);
        println!("| {} | {covered:.4} | {refused:.4} |", case.name);
        // Three standard errors of the simulation beside the promise.
        let error = 3.0 * (covered * (1.0 - covered) / runs as f64).sqrt();
        if covered < case.promised.0 - error || covered > case.promised.1 + error {
            broken.push(case.name);
        }
    }
    assert!(broken.is_empty(), "{broken:?}");
}
