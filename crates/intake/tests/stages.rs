//! Stages that a column of the file names.

use intake::plan_file::read_plan;
use intake::trace_file::read_traces;
use study::trace::{Stage, StageSpan};

const TEXT: &str = "time_s,phase,p [Pa]\n\
    0,1,1000\n1,1,100\n2,2,101\n3,3,102\n4,3,103\n5,1,90\n6,1,10\n7,2,11\n8,3,12\n9,3,13\n10,vent,900\n";

#[test]
fn stages_and_tiers_are_read_from_their_column() {
    let plan = read_plan(
        "stage = { column = \"phase\", evacuate = \"1\", settle = \"2\", measure = \"3\" }",
    )
    .unwrap();
    let file = read_traces(TEXT.as_bytes(), &plan).unwrap();
    let span = |stage, tier, start_s, end_s| StageSpan { stage, tier, start_s, end_s };
    assert_eq!(
        file.traces[0].trace.stages,
        [
            span(Stage::Evacuate, 1, 0.0, 2.0),
            span(Stage::Settle, 1, 2.0, 3.0),
            span(Stage::Measure, 1, 3.0, 5.0),
            span(Stage::Evacuate, 2, 5.0, 7.0),
            span(Stage::Settle, 2, 7.0, 8.0),
            span(Stage::Measure, 2, 8.0, 10.0),
            span(Stage::Vent, 2, 10.0, 10.0),
        ]
    );
    assert_eq!(file.plan.stage, plan.stage);
}

#[test]
fn a_word_that_is_no_stage_is_refused_with_its_line() {
    let plan =
        read_plan("stage = { column = \"phase\", evacuate = \"1\", settle = \"2\" }").unwrap();
    let refusal = read_traces(TEXT.as_bytes(), &plan).unwrap_err();
    let first = refusal.first();
    assert_eq!((first.code, first.place.line), ("INT-013", Some(5)));
    assert!(first.next_step.contains("phase"), "{first}");
    let plan = read_plan("stage = { column = \"phases\" }").unwrap();
    assert_eq!(read_traces(TEXT.as_bytes(), &plan).unwrap_err().code(), "INT-303");
}
