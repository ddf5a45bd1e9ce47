//! Invented cases with every step done, small enough for tests.
// Every test binary takes a part of it; a test may fail by panicking.
#![allow(dead_code, clippy::unwrap_used)]

use benchbook::{Benchbook, Moment};
use study::forecast::ForecastSettings;
use study::plan::PlanSettings;
use study::{Case, CaseInput};

/// A moment of the invented laboratory, `second` seconds into its morning.
pub fn moment(second: u32) -> Moment {
    Moment {
        utc: format!("2026-11-25T08:{:02}:{:02}Z", second / 60, second % 60),
        actor: "A. Analyst (invented)".to_owned(),
    }
}

/// A case walked to its results with few draws and few units.
pub fn walked(input: CaseInput) -> Case {
    let settings = ForecastSettings { seed: 7, n_draws: 16, n_sizes: 12 };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).expect("worked cases forecast");
    let method = study::design_method(&input, &forecast);
    let planned = PlanSettings {
        seed: 7,
        days: 2,
        blanks_per_day: 1,
        negative_controls: 6,
        sizes: 3,
        units_per_size: 2,
        ..PlanSettings::default()
    };
    let plan = study::plan_runs(&input, &forecast, &planned);
    let runs = study::simulate_runs(&input, &method, &plan, 7, &|_, _| {}).expect("runs simulate");
    let results = study::evaluate(&input, &method, &runs);
    Case {
        input,
        forecast: Some(forecast),
        method: Some(method),
        plan: Some(plan),
        runs,
        results: Some(results),
    }
}

/// Stores what a walked case holds, in the order of the work.
pub async fn store(book: &Benchbook, case: &Case) {
    let id = &case.input.id;
    book.add_case(&case.input, &moment(1)).await.expect("a new case");
    book.record_forecast(id, case.forecast.as_ref().expect("walked"), &moment(2)).await.unwrap();
    book.record_method(id, case.method.as_ref().expect("walked"), &moment(3)).await.unwrap();
    book.record_plan(id, case.plan.as_ref().expect("walked"), &moment(4)).await.unwrap();
    book.add_runs(id, &case.runs, &moment(5)).await.unwrap();
    book.record_results(id, case.results.as_ref().expect("walked"), &moment(6)).await.unwrap();
}

/// A benchbook with the syringe case in a folder that goes away.
pub async fn book_with_syringe() -> (tempfile::TempDir, std::path::PathBuf, Benchbook, Case) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("invented.benchbook");
    let book = Benchbook::create(&path, &moment(0)).await.expect("a new benchbook");
    let case = walked(study::worked_cases::syringe());
    store(&book, &case).await;
    (folder, path, book, case)
}

/// A connection that knows nothing of benchbooks: no pragma is set.
pub async fn bare_connection(path: &std::path::Path) -> sqlx::SqliteConnection {
    use sqlx::ConnectOptions;
    sqlx::sqlite::SqliteConnectOptions::new()
        .filename(path)
        .foreign_keys(false)
        .connect()
        .await
        .expect("a bare connection")
}
