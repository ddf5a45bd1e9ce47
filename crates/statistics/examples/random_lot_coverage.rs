//! Prints the random-lot table of `docs/coverage.md`:
//! `cargo run --release -p statistics --example random_lot_coverage`, two minutes.

// An example may print.
#![allow(clippy::print_stdout)]

use statistics::CannotSay;
use statistics::tolerance_limits::random_lots::{Pivot, plan};

fn main() -> Result<(), CannotSay> {
    println!(
        "| lots x units | lot SD / unit SD | full pivot: confidence | limit / truth | graded: confidence | limit / truth |"
    );
    println!("|---|---|---|---|---|---|");
    for (lots, per_lot) in [(3, 20), (4, 15), (6, 10), (10, 3)] {
        for ratio in [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 3.0, 10.0] {
            let full = plan(lots, per_lot, ratio, 0.99, 0.95, Pivot::Full)?;
            let graded = plan(lots, per_lot, ratio, 0.99, 0.95, Pivot::Graded)?;
            println!(
                "| {lots} x {per_lot} | {ratio} | {:.4} | {:.2} | {:.4} | {:.2} |",
                full.real_confidence,
                full.median_over_truth,
                graded.real_confidence,
                graded.median_over_truth
            );
        }
    }
    Ok(())
}
