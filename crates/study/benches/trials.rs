//! A hundred thousand simulated tests with eleven uncertain inputs, and the
//! detection curve fitted to them.

use divan::Bencher;
use study::forecast::{ForecastSettings, TrialSettings, forecast, simulated_trials};

fn main() {
    divan::main();
}

fn bench(bencher: Bencher<'_, '_>, threads: usize) {
    let input = study::worked_cases::lyophilised_vial();
    let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
    let Ok(forecast) = forecast(&input, &settings, &|_, _| {}) else { return };
    // Sizes from 0.3 to 20 µm, as in the anchor.
    let settings = TrialSettings { seed: 1, n: 100_000, smallest_um: 0.3, largest_um: 20.0 };
    let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(threads).build() else { return };
    bencher.bench_local(|| pool.install(|| simulated_trials(&input, &forecast, &settings)));
}

#[divan::bench(sample_count = 10)]
fn one_thread(bencher: Bencher<'_, '_>) {
    bench(bencher, 1);
}

#[divan::bench(sample_count = 10)]
fn two_threads(bencher: Bencher<'_, '_>) {
    bench(bencher, 2);
}
