//! Speed of the solver on the test problem: single runs, batches in lanes, and
//! the leak laws behind them.
//!
//! Run: `cargo bench -p physics`. Figures count only beside others of the same
//! machine and minute.

use divan::Bencher;
use divan::counter::ItemsCount;
use physics::cycle::test_problem::{Registers, TestProblem, solve, solve_batch, solve_batch_on};
use physics::leak_paths::{LeakPath, reference_conditions};
use physics::quantities::Length;

fn main() {
    divan::main();
}

/// Cycles in one batch.
const BATCH: usize = 512;

fn mixed() -> Vec<TestProblem> {
    (0..BATCH)
        .map(|index| {
            let part = index as f64 * 0.618_033_988_75;
            let part = part - part.floor();
            TestProblem::with_bore_m(0.3e-6 * digits::scalar::exp(4.2 * part))
        })
        .collect()
}

fn alike() -> Vec<TestProblem> {
    vec![TestProblem::with_bore_m(5e-6); BATCH]
}

#[divan::bench(args = [5e-6, 0.0, 0.5e-6, 1e-4])]
fn single_cycle_with_trace(bencher: Bencher, bore_m: f64) {
    let problem = TestProblem::with_bore_m(bore_m);
    bencher.counter(ItemsCount::new(1_u32)).bench(|| solve(divan::black_box(&problem)));
}

#[divan::bench(args = [true, false])]
fn batch_alike(bencher: Bencher, want_trace: bool) {
    let problems = alike();
    bencher
        .counter(ItemsCount::new(BATCH))
        .bench(|| solve_batch(divan::black_box(&problems), want_trace));
}

#[divan::bench(args = [true, false])]
fn batch_mixed(bencher: Bencher, want_trace: bool) {
    let problems = mixed();
    bencher
        .counter(ItemsCount::new(BATCH))
        .bench(|| solve_batch(divan::black_box(&problems), want_trace));
}

#[divan::bench(args = [true, false])]
fn batch_mixed_plain_build(bencher: Bencher, want_trace: bool) {
    let problems = mixed();
    bencher
        .counter(ItemsCount::new(BATCH))
        .bench(|| solve_batch_on(Registers::Plain, divan::black_box(&problems), want_trace));
}

/// The same batch for each of several threads at once: the solver shares
/// nothing, so that items per second should grow with the cores.
#[divan::bench(args = [1, 2, 4])]
fn batch_mixed_on_threads(bencher: Bencher, threads: usize) {
    let problems = mixed();
    bencher.counter(ItemsCount::new(BATCH * 4 * threads)).bench(|| {
        std::thread::scope(|scope| {
            for _ in 0..threads {
                scope.spawn(|| {
                    for _ in 0..4 {
                        divan::black_box(solve_batch(divan::black_box(&problems), false));
                    }
                });
            }
        });
    });
}

#[divan::bench]
fn channel_flow(bencher: Bencher) {
    let path =
        LeakPath::Channel { bore_diameter: Length::from_um(5.0), wall: Length::from_mm(1.0) };
    let conditions = reference_conditions();
    bencher.bench(|| divan::black_box(&path).flow(divan::black_box(&conditions)));
}
