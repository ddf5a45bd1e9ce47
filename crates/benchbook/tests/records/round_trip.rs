//! What is stored comes back to the bit, also after closing and opening.

use crate::invented;

use benchbook::{Benchbook, BenchbookError};
use invented::{book_with_syringe, moment, store, walked};
use study::Step;

/// Equality of `PartialEq` would take 0.0 for -0.0; the printed form does not.
fn assert_same(read: &study::Case, written: &study::Case) {
    assert_eq!(read, written);
    assert_eq!(format!("{read:?}"), format!("{written:?}"));
    for (a, b) in read.runs.iter().zip(&written.runs) {
        let bits = |trace: &study::PressureTrace| -> Vec<u64> {
            trace.times_s.iter().chain(&trace.pressures_pa).map(|x| x.to_bits()).collect()
        };
        assert_eq!(bits(&a.trace), bits(&b.trace));
    }
}

#[tokio::test]
async fn worked_cases_come_back_after_reopening() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("worked cases ?#%20.benchbook");
    let book = Benchbook::create(&path, &moment(0)).await.unwrap();
    let cases: Vec<_> = study::worked_cases::walked().into_iter().map(walked).collect();
    assert_eq!(cases.len(), 3);
    for case in &cases {
        store(&book, case).await;
    }
    for case in &cases {
        assert_same(&book.case(&case.input.id).await.unwrap(), case);
    }
    book.close().await;
    let names: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(names.len(), 1, "closing leaves one file: {names:?}");

    for read_only in [false, true] {
        let book = match read_only {
            false => Benchbook::open(&path).await.unwrap(),
            true => Benchbook::open_read_only(&path).await.unwrap(),
        };
        for case in &cases {
            assert_same(&book.case(&case.input.id).await.unwrap(), case);
            let run = &case.runs[case.runs.len() / 2];
            assert_eq!(&book.run(&case.input.id, run.number).await.unwrap(), run);
        }
        book.close().await;
    }
}

#[tokio::test]
async fn a_case_without_traces_keeps_everything_else() {
    let (_folder, _path, book, case) = book_with_syringe().await;
    let mut quick = book.case_without_traces("syringe-1ml").await.unwrap();
    assert!(quick.runs.iter().all(|run| run.trace.n_samples() == 0));
    for (quick, whole) in quick.runs.iter_mut().zip(&case.runs) {
        assert_eq!(quick.trace.stages, whole.trace.stages);
        quick.trace = whole.trace.clone();
    }
    assert_eq!(quick, case);
}

#[tokio::test]
async fn the_list_follows_the_steps() {
    let folder = tempfile::tempdir().unwrap();
    let book = Benchbook::create(&folder.path().join("a.benchbook"), &moment(0)).await.unwrap();
    assert_eq!(book.cases().await.unwrap(), []);
    let case = walked(study::worked_cases::lyophilised_vial());
    book.add_case(&case.input, &moment(1)).await.unwrap();
    let listed = book.cases().await.unwrap();
    assert_eq!(listed[0].id, "lyo-2r");
    assert_eq!(listed[0].next_step, Step::Forecast);
    assert_eq!(listed[0].verdict, None);
    assert_eq!(listed[0].changed_at, "2026-11-25T08:00:01Z");
    assert!(listed[0].invented);

    let forecast = case.forecast.as_ref().unwrap();
    book.record_forecast("lyo-2r", forecast, &moment(2)).await.unwrap();
    book.record_method("lyo-2r", case.method.as_ref().unwrap(), &moment(3)).await.unwrap();
    book.add_runs("lyo-2r", &case.runs, &moment(4)).await.unwrap();
    let listed = book.cases().await.unwrap();
    assert_eq!(listed[0].next_step, Step::Results);
    assert_eq!(listed[0].n_runs, case.runs.len() as u64);
    assert_eq!(listed[0].verdict.as_deref(), Some(forecast.verdict.answer.word()));
    assert_eq!(listed[0].changed_at, "2026-11-25T08:00:04Z");
}

#[tokio::test]
async fn the_newest_version_is_in_force_and_the_history_has_both() {
    let (_folder, _path, book, case) = book_with_syringe().await;
    let mut forecast = case.forecast.clone().unwrap();
    forecast.seed = u64::MAX;
    book.record_forecast("syringe-1ml", &forecast, &moment(9)).await.unwrap();
    let mut method = case.method.clone().unwrap();
    method.version = 2;
    book.record_method("syringe-1ml", &method, &moment(10)).await.unwrap();
    let mut input = case.input.clone();
    input.title = "a clearer title".to_owned();
    book.record_input(&input, &moment(11)).await.unwrap();

    let read = book.case("syringe-1ml").await.unwrap();
    assert_eq!(read.forecast, Some(forecast));
    assert_eq!(read.method, Some(method));
    assert_eq!(read.input, input);
    let history = book.history(Some("syringe-1ml")).await.unwrap();
    let forecasts: Vec<_> = history.iter().filter(|e| e.what == "forecast recorded").collect();
    assert_eq!(forecasts.len(), 2);
    assert_eq!(forecasts[0].old_sha256, None);
    assert_eq!(forecasts[1].old_sha256, forecasts[0].new_sha256);
    assert_ne!(forecasts[1].new_sha256, forecasts[0].new_sha256);
    assert_eq!(forecasts[1].actor, "A. Analyst (invented)");
    assert_eq!(forecasts[1].detail, "forecast version 2 after version 1");
}

#[tokio::test]
async fn the_history_numbers_every_change_without_a_gap() {
    let (_folder, _path, book, case) = book_with_syringe().await;
    let history = book.history(None).await.unwrap();
    let numbers: Vec<u64> = history.iter().map(|event| event.number).collect();
    assert_eq!(numbers, (1..=7).collect::<Vec<_>>());
    assert_eq!(history[0].what, "benchbook begun");
    assert_eq!(history[0].case_id, None);
    assert_eq!(history[5].what, "runs added");
    let n = case.runs.len();
    assert_eq!(history[5].detail, format!("{n} runs, numbers 1 to {n}"));
    assert_eq!(book.history(Some("syringe-1ml")).await.unwrap(), history[1..]);
}

#[tokio::test]
async fn a_clock_that_goes_back_is_an_event() {
    let (_folder, _path, book, _case) = book_with_syringe().await;
    let mut input = study::worked_cases::liquid_vial();
    book.add_case(&input, &moment(3)).await.unwrap();
    let history = book.history(None).await.unwrap();
    assert_eq!(history[7].what, "clock went back");
    assert_eq!(history[7].detail, "from 2026-11-25T08:00:06Z to 2026-11-25T08:00:03Z");
    assert_eq!(history[8].what, "case added");
    // Control: a clock that stands still is none.
    input.id = "another".to_owned();
    book.add_case(&input, &moment(3)).await.unwrap();
    assert_eq!(book.history(None).await.unwrap().len(), 10);
}

#[tokio::test]
async fn what_cannot_be_stored_is_refused_and_leaves_no_trace() {
    let (_folder, _path, book, case) = book_with_syringe().await;
    let before = book.history(None).await.unwrap();
    let id = "syringe-1ml";
    let n = u32::try_from(case.runs.len()).unwrap();

    let error = book.add_case(&case.input, &moment(20)).await.unwrap_err();
    assert!(matches!(&error, BenchbookError::CaseExists { id } if id == "syringe-1ml"));

    let mut spaced = case.input.clone();
    spaced.id = "two words".to_owned();
    let error = book.add_case(&spaced, &moment(20)).await.unwrap_err();
    assert!(matches!(error, BenchbookError::BadCaseId { .. }), "{error}");

    let error = book.record_plan("nobody", case.plan.as_ref().unwrap(), &moment(20)).await;
    assert_eq!(
        error.unwrap_err().to_string(),
        "the benchbook has no case `nobody`; its cases are `syringe-1ml`"
    );
    assert!(matches!(book.case("x").await, Err(BenchbookError::UnknownCase { .. })));
    assert!(matches!(book.history(Some("x")).await, Err(BenchbookError::UnknownCase { .. })));

    let error = book.run(id, n + 1).await.unwrap_err();
    assert!(
        matches!(error, BenchbookError::UnknownRun { n_runs, .. } if n_runs == u64::from(n)),
        "{error}"
    );

    // The last of two runs is taken: none of them may stay.
    let mut fresh = case.runs[0].clone();
    fresh.number = n + 1;
    let error = book.add_runs(id, &[fresh.clone(), case.runs[0].clone()], &moment(20)).await;
    assert!(matches!(error, Err(BenchbookError::RunExists { number: 1, .. })));
    let error = book.add_runs(id, &[fresh.clone(), fresh.clone()], &moment(20)).await;
    assert!(matches!(error, Err(BenchbookError::RunExists { .. })), "twice in one batch");

    fresh.trace.pressures_pa[3] = f64::NAN;
    let error = book.add_runs(id, &[fresh], &moment(20)).await.unwrap_err();
    assert!(error.to_string().contains("pressures_pa: sample 4 is NaN"), "{error}");

    let mut forecast = case.forecast.clone().unwrap();
    forecast.tight_rise_pa = f64::INFINITY;
    let error = book.record_forecast(id, &forecast, &moment(20)).await.unwrap_err();
    assert!(error.to_string().contains("inf is not a finite number"), "{error}");

    let error = book.record_method(id, case.method.as_ref().unwrap(), &moment(20)).await;
    assert!(matches!(error, Err(BenchbookError::MethodVersion { given: 1, expected: 2, .. })));

    let mut local = moment(20);
    local.utc = "2026-11-25T08:00:00+01:00".to_owned();
    assert!(matches!(book.add_case(&spaced, &local).await, Err(BenchbookError::NotUtc { .. })));
    let mut nobody = moment(20);
    nobody.actor = " ".to_owned();
    assert!(matches!(book.add_case(&spaced, &nobody).await, Err(BenchbookError::NoActor)));

    assert_eq!(book.history(None).await.unwrap(), before);
    assert_eq!(book.case(id).await.unwrap(), case);
}

#[tokio::test]
async fn a_benchbook_without_accounts_says_so_for_ever() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    let mark = book.not_for_regulated_use().await.unwrap().unwrap();
    assert!(mark.contains("without accounts"));
    let identity = book.identity().await.unwrap();
    assert_eq!(identity.len(), 32);
    book.close().await;
    let book = Benchbook::open(&path).await.unwrap();
    assert_eq!(book.identity().await.unwrap(), identity);
    assert!(book.not_for_regulated_use().await.unwrap().is_some());
}

#[tokio::test]
async fn damaged_samples_are_not_read_as_if_they_were_sound() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    // As somebody with the file could: take the guard away, then edit.
    let mut bare = invented::bare_connection(&path).await;
    sqlx::raw_sql(
        "DROP TRIGGER samples_no_update; UPDATE samples SET bytes = zeroblob(length(bytes)) \
         WHERE run = 2",
    )
    .execute(&mut bare)
    .await
    .unwrap();
    drop(bare);
    let book = Benchbook::open(&path).await.unwrap();
    let error = book.case("syringe-1ml").await.unwrap_err();
    assert!(error.to_string().contains("run 2 of case"), "{error}");
    assert!(matches!(error, BenchbookError::Damaged { .. }));
    assert!(book.run("syringe-1ml", 1).await.is_ok());
}

/// Handlers of a web server need futures that may move between threads.
#[test]
fn futures_may_move_between_threads() {
    fn moves<T: Send>(_: T) {}
    let _never_run = |book: Benchbook| {
        moves(book.clone().cases());
        moves(async move { book.case("a").await });
    };
}
