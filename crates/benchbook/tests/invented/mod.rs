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
    let settings = ForecastSettings { seed: 7, n_draws: 16, n_sizes: 12, liquid_side: true };
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
    store_at(book, case, 1).await;
}

/// Stores a walked case, the first record `at` seconds into the morning.
pub async fn store_at(book: &Benchbook, case: &Case, at: u32) {
    let id = &case.input.id;
    book.add_case(&case.input, &moment(at)).await.expect("a new case");
    book.record_forecast(id, case.forecast.as_ref().expect("walked"), &moment(at + 1))
        .await
        .unwrap();
    book.record_method(id, case.method.as_ref().expect("walked"), &moment(at + 2)).await.unwrap();
    book.record_plan(id, case.plan.as_ref().expect("walked"), &moment(at + 3)).await.unwrap();
    book.add_runs(id, &case.runs, &moment(at + 4)).await.unwrap();
    book.record_results(id, case.results.as_ref().expect("walked"), &moment(at + 5)).await.unwrap();
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

/// Passwords of the invented people; each is used by nobody else.
pub const OWNER: (&str, &str) = ("o.owner", "harbour lantern seven");
pub const ANALYST: (&str, &str) = ("a.analyst", "copper kettle morning");
pub const REVIEWER: (&str, &str) = ("r.reviewer", "thistle window nine");
pub const APPROVER: (&str, &str) = ("p.approver", "gravel orchard evening");

/// An account of an invented person.
pub fn person(id: &str, roles: &[benchbook::Role]) -> benchbook::NewAccount {
    benchbook::NewAccount {
        id: id.to_owned(),
        name: format!("{} (invented)", id.to_uppercase()),
        roles: roles.to_vec(),
        identity_checked: "identity card seen by O. Owner (invented)".to_owned(),
    }
}

/// A benchbook with accounts: its bytes, the folder of its keys, its log key.
type People = (Vec<u8>, tempfile::TempDir, benchbook::VerifierKey);

/// Made once for all tests of a binary: passwords are slow on purpose.
async fn people() -> &'static People {
    static MADE: tokio::sync::OnceCell<People> = tokio::sync::OnceCell::const_new();
    MADE.get_or_init(async || {
        let (folder, path, book, key) = make_book_with_people().await;
        book.close().await;
        (std::fs::read(path).unwrap(), folder, key.verifier())
    })
    .await
}

/// Where the log key of the benchbook with accounts is kept.
pub async fn folder_of_keys() -> std::path::PathBuf {
    people().await.1.path().join("keys")
}

/// A benchbook with accounts, in a folder that goes away, and its log key.
pub async fn book_with_people()
-> (tempfile::TempDir, std::path::PathBuf, Benchbook, benchbook::LogKey) {
    let (bytes, _, public) = people().await;
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("regulated.benchbook");
    std::fs::write(&path, bytes).unwrap();
    let key = benchbook::LogKey::find(&folder_of_keys().await, public).unwrap().unwrap();
    let book = Benchbook::open(&path).await.unwrap();
    (folder, path, book, key)
}

async fn make_book_with_people()
-> (tempfile::TempDir, std::path::PathBuf, Benchbook, benchbook::LogKey) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("regulated.benchbook");
    let (book, key) = people_at(&path, folder.path()).await;
    (folder, path, book, key)
}

/// A new benchbook with accounts at a place, and its log key in a folder.
pub async fn people_at(
    path: &std::path::Path,
    folder: &std::path::Path,
) -> (Benchbook, benchbook::LogKey) {
    use benchbook::{LogKey, Role};
    let key = LogKey::begin(&folder.join("keys"), None).unwrap();
    let owner = person(OWNER.0, &[Role::Owner]);
    let book = Benchbook::create_with_accounts(path, &owner, OWNER.1, &key, &moment(0))
        .await
        .expect("a new benchbook");
    let keeper = book.acting_as(OWNER.0, OWNER.1, &moment(1)).await.unwrap();
    for ((id, password), role) in
        [(ANALYST, Role::Analyst), (REVIEWER, Role::Reviewer), (APPROVER, Role::Approver)]
    {
        let first = "a first word of passage";
        keeper.add_account(&person(id, &[role]), first, &moment(1)).await.unwrap();
        book.change_password(id, first, password, &moment(1)).await.unwrap();
    }
    (book, key)
}

/// The syringe case with few samples, for tests that make many copies.
pub fn small_case() -> Case {
    let mut case = walked(study::worked_cases::syringe());
    case.runs.truncate(5);
    for run in &mut case.runs {
        run.trace.times_s.truncate(12);
        run.trace.pressures_pa.truncate(12);
        run.trace.temperatures_k.truncate(12);
    }
    case.forecast.as_mut().unwrap().traces.truncate(1);
    for trace in &mut case.forecast.as_mut().unwrap().traces {
        trace.trace.times_s.truncate(12);
        trace.trace.pressures_pa.truncate(12);
        trace.trace.temperatures_k.truncate(12);
    }
    case
}

/// A benchbook with the small case, in a folder that goes away.
pub async fn small_book() -> (tempfile::TempDir, std::path::PathBuf, Benchbook) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("small.benchbook");
    let book = Benchbook::create(&path, &moment(0)).await.expect("a new benchbook");
    store(&book, &small_case()).await;
    (folder, path, book)
}

/// Signs a case as it stands.
pub async fn sign(
    book: &Benchbook,
    case_id: &str,
    meaning: benchbook::Meaning,
    (account, password): (&str, &str),
    key: Option<&benchbook::LogKey>,
    at: u32,
) -> Result<benchbook::Signature, benchbook::BenchbookError> {
    let (state, _) = book.state_of_case(case_id).await.unwrap();
    let to_sign = benchbook::ToSign {
        case_id,
        meaning,
        report_sha256: [7; 32],
        state_sha256: &state,
        software: "isobar (test)",
    };
    book.sign(&to_sign, account, password, key, &moment(at)).await
}

/// A closed benchbook with people, a case and all three signatures, and its
/// last checkpoint, signed.
pub async fn signed_book()
-> (tempfile::TempDir, std::path::PathBuf, benchbook::SignedCheckpoint, benchbook::LogKey) {
    let (folder, path, book, key) = book_with_people().await;
    let checkpoint = signed_by_all(&book, &key).await;
    book.close().await;
    (folder, path, checkpoint, key)
}

/// A case with all three signatures in a benchbook with people, and the last
/// checkpoint, signed.
pub async fn signed_by_all(
    book: &Benchbook,
    key: &benchbook::LogKey,
) -> benchbook::SignedCheckpoint {
    use benchbook::Meaning;
    let analyst = book.acting_as(ANALYST.0, ANALYST.1, &moment(2)).await.unwrap();
    store_at(&analyst, &small_case(), 3).await;
    analyst.add_case(&study::worked_cases::liquid_vial(), &moment(9)).await.unwrap();
    analyst.attach("syringe-1ml", "letter.txt", "a letter", b"Dear", &moment(9)).await.unwrap();
    let item = analyst.note_open_item("syringe-1ml", "unit 3 is unlabelled", &moment(9)).await;
    analyst
        .settle_open_item("syringe-1ml", item.unwrap(), "label found in the box", &moment(9))
        .await
        .unwrap();
    let id = "syringe-1ml";
    sign(book, id, Meaning::Authored, ANALYST, Some(key), 10).await.unwrap();
    let reviewer = book.acting_as(REVIEWER.0, REVIEWER.1, &moment(11)).await.unwrap();
    reviewer.record_audit_review(id, u64::MAX, "nothing unusual", &moment(11)).await.unwrap();
    sign(book, id, Meaning::Reviewed, REVIEWER, Some(key), 12).await.unwrap();
    sign(book, id, Meaning::Approved, APPROVER, Some(key), 13).await.unwrap();
    analyst.keep_checkpoint(key, &moment(14)).await.unwrap()
}
