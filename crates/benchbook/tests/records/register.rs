//! Register, records of units, attachments, and cases that are copied.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use benchbook::{
    Benchbook, BenchbookError, Certificate, CheckKind, ItemKind, ItemState, Meaning, Refusal,
    UnitRecordKind, verify,
};
use invented::{ANALYST, book_with_people, moment, sign, small_case};

fn refusal<T: std::fmt::Debug>(result: Result<T, BenchbookError>) -> String {
    match result.unwrap_err() {
        BenchbookError::Refused(refusal) => refusal.to_string(),
        other => panic!("{other}"),
    }
}

fn certificate(valid_until: &str) -> Certificate {
    Certificate {
        number: "INV-0001 (invented)".to_owned(),
        issued_by: "Invented Calibration".to_owned(),
        valid_until: valid_until.to_owned(),
        value: "2.0e-3 std cm3/s @ 0 C".to_owned(),
        uncertainty: "5 %, k = 2".to_owned(),
    }
}

#[tokio::test]
async fn an_item_is_used_after_its_check_and_before_its_end() {
    let (_folder, path, book, _case) = invented::book_with_syringe().await;
    let held = certificate("2026-12-31");
    let pdf = b"%PDF invented certificate".as_slice();
    let kind = ItemKind::FlowStandard;
    book.register_item("FS-1", kind, "glass capillary", Some((&held, Some(pdf))), &moment(10))
        .await
        .unwrap();
    let twice = book.register_item("FS-1", kind, "another", None, &moment(10)).await;
    assert!(refusal(twice).contains("already"));
    assert!(refusal(book.use_item("FS-1", 1, &moment(11)).await).contains("not checked"));
    let early = book.check_item("FS-1", CheckKind::Reverification, true, "1", &moment(11)).await;
    assert!(refusal(early).contains("no time for that check"));
    book.check_item("FS-1", CheckKind::Arrival, true, "2.02e-3 std cm3/s @ 0 C", &moment(11))
        .await
        .unwrap();
    book.use_item("FS-1", 3, &moment(12)).await.unwrap();
    let item = book.use_item("FS-1", 2, &moment(13)).await.unwrap();
    assert_eq!((item.uses, item.state), (5, ItemState::InUse));
    // Suspected of clogging: not used until it was verified again.
    let silent = book.withdraw_item("FS-1", ItemState::SuspectedClogged, &moment(14)).await;
    assert!(refusal(silent).contains("needs a reason"));
    let because = book.because("reads 30 % low against its sister");
    because.withdraw_item("FS-1", ItemState::SuspectedClogged, &moment(14)).await.unwrap();
    assert!(refusal(book.use_item("FS-1", 1, &moment(15)).await).contains("suspected clogged"));
    book.check_item("FS-1", CheckKind::Reverification, true, "2.01e-3", &moment(16)).await.unwrap();
    book.use_item("FS-1", 1, &moment(17)).await.unwrap();
    // A certificate that has run out, and one that takes its place.
    let over = certificate("2026-11-24");
    because.renew_certificate("FS-1", &over, None, &moment(18)).await.unwrap();
    assert!(refusal(book.use_item("FS-1", 1, &moment(19)).await).contains("held until 2026-11-24"));
    let no_day = certificate("31.12.2026");
    let wrong = because.renew_certificate("FS-1", &no_day, None, &moment(19)).await;
    assert!(refusal(wrong).contains("no day"));
    because.renew_certificate("FS-1", &held, Some(pdf), &moment(20)).await.unwrap();
    // Retired is retired.
    let because = book.because("dropped");
    because.withdraw_item("FS-1", ItemState::Retired, &moment(21)).await.unwrap();
    let back = book.check_item("FS-1", CheckKind::Reverification, true, "2", &moment(22)).await;
    assert!(refusal(back).contains("is retired"));
    let register = book.register().await.unwrap();
    assert_eq!(register.len(), 1);
    let hash = register[0].file_sha256.clone().unwrap();
    assert_eq!(book.stored_file(&hash).await.unwrap().unwrap(), pdf);
    let retired = book.history(None).await.unwrap().pop().unwrap();
    assert_eq!(
        (retired.what.as_str(), retired.reason.as_deref()),
        ("item retired", Some("dropped"))
    );
    book.close().await;
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
}

#[tokio::test]
async fn units_and_attachments_are_records_of_the_case() {
    let (_folder, path, book, _key) = book_with_people().await;
    let analyst = book.acting_as(ANALYST.0, ANALYST.1, &moment(2)).await.unwrap();
    let case = small_case();
    let id = case.input.id.as_str();
    analyst.add_case(&case.input, &moment(3)).await.unwrap();
    for (kind, text) in [
        (UnitRecordKind::Receipt, "box of 12, undamaged, from the filling line"),
        (UnitRecordKind::Custody, "refrigerator 2"),
        (UnitRecordKind::Conditioning, "24 h at 20 C"),
        (UnitRecordKind::RetestRule, "one retest where the reach limit was missed by the rig"),
    ] {
        analyst.record_unit(id, "*", kind, text, &moment(4)).await.unwrap();
    }
    analyst.add_runs(id, &case.runs, &moment(5)).await.unwrap();
    let late = analyst.record_unit(id, "U 3", UnitRecordKind::RetestRule, "two", &moment(6)).await;
    assert!(refusal(late).contains("after 5 runs"));
    let file = vec![b'x'; 10_000];
    let kept = analyst.attach(id, "raw.csv", "original of runs 1 to 5", &file, &moment(6)).await;
    let kept = kept.unwrap();
    let twice = analyst.attach(id, "again.csv", "", &file, &moment(6)).await;
    assert!(refusal(twice).contains("attached to case"));
    assert_eq!(book.stored_file(&kept.file_sha256).await.unwrap().unwrap(), file);
    assert_eq!(book.attachments(id).await.unwrap(), [kept]);
    assert_eq!(book.stored_file("00").await.unwrap(), None);
    // Part of what is signed: another record makes the signature fall.
    sign(&book, id, Meaning::Authored, ANALYST, None, 7).await.unwrap();
    let silent = analyst.record_unit(id, "U 3", UnitRecordKind::Custody, "lost", &moment(8)).await;
    assert!(refusal(silent).contains("needs a reason"));
    let because = analyst.because("found missing at the count");
    because.record_unit(id, "U 3", UnitRecordKind::Custody, "lost", &moment(8)).await.unwrap();
    assert!(!book.signatures(id).await.unwrap()[0].stands);
    assert_eq!(book.unit_records(id).await.unwrap().len(), 5);
    book.close().await;
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
}

#[tokio::test]
async fn a_case_is_copied_and_proven_equal() {
    let (folder, path, _checkpoint, _key) = invented::signed_book().await;
    let from = Benchbook::open_read_only(&path).await.unwrap();
    let there = folder.path().join("there.benchbook");
    let into = Benchbook::create(&there, &moment(40)).await.unwrap();
    let proof = from.copy_case("syringe-1ml", &into, &moment(41)).await.unwrap();
    assert_eq!((proof.n_records, proof.n_runs, proof.n_entries), (5, 5, 3));
    assert_eq!(into.case("syringe-1ml").await.unwrap(), from.case("syringe-1ml").await.unwrap());
    let letter = into.attachments("syringe-1ml").await.unwrap().remove(0);
    assert_eq!(into.stored_file(&letter.file_sha256).await.unwrap().unwrap(), b"Dear");
    // Signatures stay where they were given.
    assert!(into.signatures("syringe-1ml").await.unwrap().is_empty());
    let again = from.copy_case("syringe-1ml", &into, &moment(42)).await;
    assert!(matches!(again, Err(BenchbookError::CaseExists { .. })));
    let events = into.history(Some("syringe-1ml")).await.unwrap();
    assert!(events.iter().all(|event| event.detail.contains("copied: event")));
    into.close().await;
    let found = verify(&there, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
}

#[tokio::test]
async fn a_copy_needs_hands_that_may_and_a_sound_source() {
    let (folder, path, _checkpoint, _key) = invented::signed_book().await;
    let from = Benchbook::open_read_only(&path).await.unwrap();
    let (_other, _path, into, _key) = book_with_people().await;
    let nobody = from.copy_case("syringe-1ml", &into, &moment(41)).await;
    assert!(matches!(nobody, Err(BenchbookError::Refused(Refusal::NeedsAccount))));
    let analyst = into.acting_as(ANALYST.0, ANALYST.1, &moment(41)).await.unwrap();
    from.copy_case("syringe-1ml", &analyst, &moment(42)).await.unwrap();
    from.close().await;
    // A source that was changed is found before anything is copied.
    let mut bare = invented::bare_connection(&path).await;
    sqlx::raw_sql(
        "DROP TRIGGER records_no_update; UPDATE records SET body = replace(body, '7', '8') WHERE \
         kind = 'plan'",
    )
    .execute(&mut bare)
    .await
    .unwrap();
    sqlx::Connection::close(bare).await.unwrap();
    let from = Benchbook::open_read_only(&path).await.unwrap();
    let third = Benchbook::create(&folder.path().join("third.benchbook"), &moment(43)).await;
    let damaged = from.copy_case("syringe-1ml", &third.unwrap(), &moment(44)).await;
    assert!(matches!(damaged, Err(BenchbookError::Damaged { .. })));
}
