//! Tables that carry no answer: one refusal each, with a next step and no
//! number.

use super::fault;

/// Bodies of a table with the columns of a command, and a word that the
/// refusal must hold.
fn refused(command: &str, header: &str, cases: &[(&str, &str)]) {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    for (body, word) in cases {
        let text = if body.is_empty() { String::new() } else { format!("{header}\n{body}") };
        std::fs::write(&path, text).unwrap();
        let line = command.replace("TABLE", path.to_str().unwrap());
        let (code, said) = fault(&line.split_whitespace().collect::<Vec<_>>());
        assert_eq!(code, 2, "{line} with `{body}`: {said}");
        assert!(said.contains(word), "{line} with `{body}` does not say `{word}`: {said}");
        assert!(said.contains("hint:") && !said.contains("panicked"), "{said}");
    }
}

#[test]
fn routine() {
    for chart in ["individuals", "ewma", "cusum"] {
        refused(
            &format!("assess routine TABLE --column x --chart {chart}"),
            "x",
            &[
                ("", "empty"),
                ("1\n", "at least 5"),
                ("2\n2\n2\n2\n2\n2\n", "do not vary"),
                ("1\n2\nthree\n", "three"),
            ],
        );
    }
    refused(
        "assess routine TABLE --column x --chart means --sample day",
        "day,x",
        &[
            ("", "empty"),
            ("1,1\n", "at least 5"),
            ("1,1\n1,2\n2,3\n", "sample 2"),
            ("1,2\n1,2\n2,2\n2,2\n3,2\n3,2\n4,2\n4,2\n5,2\n5,2\n", "do not vary"),
        ],
    );
    let (code, text) = fault(&[
        "assess",
        "routine",
        "examples/routine_control.csv",
        "--column",
        "reading_pa",
        "--first-phase",
        "500",
    ]);
    assert!(code == 2 && text.contains("120"), "{text}");
}
