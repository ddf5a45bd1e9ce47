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

#[test]
fn compare() {
    refused(
        "assess compare TABLE --first a --second b --margin 1",
        "a,b",
        &[
            ("", "empty"),
            ("1,2\n", "at least 2"),
            ("1,2\n2,3\n3,4\n", "do not vary"),
            ("1,2\n2,three\n", "three"),
        ],
    );
    refused(
        "assess compare TABLE --reading x --group g --margin 1",
        "g,x",
        &[
            ("", "empty"),
            ("a,1\n", "two groups"),
            ("a,1\nb,2\n", "at least 2"),
            ("a,1\na,1\nb,1\nb,1\n", "do not vary"),
            ("a,one\n", "one"),
            ("a,1\nb,2\nc,3\n", "a, b, c"),
        ],
    );
    let (code, text) = fault(&["assess", "compare", "--margin", "1", "--sd", "0"]);
    assert!(code == 2 && text.contains("standard deviation"), "{text}");
}

#[test]
fn stability() {
    refused(
        "assess stability TABLE --column x --interval 1s",
        "x",
        &[
            ("", "empty"),
            ("1\n", "at least 4"),
            ("2\n2\n2\n2\n2\n", "do not vary"),
            ("1\n2\n3\nfour\n5\n", "four"),
        ],
    );
    refused(
        "assess stability TABLE --column x --time t",
        "t,x",
        &[("0,1\n1,2\n1,3\n2,1\n", "time number 3"), ("0,1\n1,2\n2,3\n9,1\n", "evenly")],
    );
}

#[test]
fn uncertainty() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("b.toml");
    let input = "[input.a]\nvalue = 1.0\nuncertainty = 0.1\n";
    for (text, word) in [
        (String::new(), "no inputs"),
        (input.to_owned(), "no model"),
        (format!("model = \"a + b\"\n{input}"), "`b`"),
        (format!("model = \"a +\"\n{input}"), "missing at the end"),
        (format!("model = \"a\"\nmodle = 1\n{input}"), "modle"),
        ("model = \"a\"\n[input.a]\nvalue = \"one\"\nuncertainty = 0.1\n".to_owned(), "one"),
        ("model = \"a\"\n[input.a]\nvalue = 1.0\n".to_owned(), "no uncertainty"),
        ("model = \"a\"\n[input.a]\nvalue = 1.0\nuncertainty = 0\n".to_owned(), "do not vary"),
        ("model = \"a\"\n[input.a]\nvalue = 1.0\nuncertainty = -1\n".to_owned(), "negative"),
        (format!("model = \"ln(a - 2)\"\n{input}"), "cannot be said"),
        (format!("model = \"1 / (a - 1)\"\n{input}"), "cannot be said"),
        (format!("model = \"a\"\nthis is no TOML\n{input}"), "cannot be read"),
        (
            format!("model = \"a\"\n{input}[[correlation]]\nbetween = [\"a\"]\ncoefficient = 1\n"),
            "two different inputs",
        ),
    ] {
        std::fs::write(&path, &text).unwrap();
        let (code, said) = fault(&["assess", "uncertainty", path.to_str().unwrap()]);
        assert_eq!(code, 2, "{text}: {said}");
        assert!(said.contains(word) && said.contains("hint:"), "{text}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
}

#[test]
fn robustness() {
    refused(
        "assess robustness TABLE --factor a --factor b --response y",
        "a,b,y",
        &[
            ("", "empty"),
            ("-1,-1,3\n", "one level"),
            ("-1,-1,3\n-1,1,4\n", "one level"),
            ("-1,-1,3\n1,-1,3\n-1,1,3\n1,1,3\n", "do not vary"),
            ("-1,-1,3\n1,-1,4\n-1,1,five\n1,1,3\n", "five"),
            ("-1,-1,3\n1,-1,4\n-1,1,\n1,1,3\n", "line 4"),
            ("-1,-1,3\n1,-1,4\n-1,1,2\n", "as often"),
        ],
    );
    for (line, word) in [
        ("assess robustness --design full --factor a", "levels"),
        ("assess robustness --design full --factor a=2,1", "a=2,1"),
        ("assess robustness --design full --factor a=1,2 --factor a=1,2", "twice"),
        ("assess robustness --design screening --runs 13 --factor a=1,2", "8, 12, 20 or 24"),
        ("assess robustness --design fractional --factor a=1,2 --factor b=1,2", "generator"),
    ] {
        let (code, said) = fault(&line.split_whitespace().collect::<Vec<_>>());
        assert!(code == 2 && said.contains(word) && said.contains("hint:"), "{line}: {said}");
    }
}

#[test]
fn next_size() {
    refused(
        "assess next-size TABLE --size s --hit h --available 2,4 --critical 4 --studies 0",
        "s,h",
        &[("", "empty"), ("two,1\n", "two"), ("2,maybe\n", "maybe"), ("0,1\n", "size 0")],
    );
    refused(
        "assess next-size TABLE --size s --hit h --of n --available 2,4 --critical 4",
        "s,h,n",
        &[("2,5,4\n", "5 hits of 4"), ("2,1.5,4\n", "1.5")],
    );
}

#[test]
fn volume() {
    let start = "assess volume --flow 1e-8mol/s --flow-uncertainty 1% --time 10s --with";
    for (rest, word) in [
        ("20Pa --without 20Pa --pressure-uncertainty 1Pa", "cannot be said"),
        ("20Pa --without 15 --pressure-uncertainty 1Pa", "unit"),
        ("20Pa --without 15Pa --pressure-uncertainty 1%", "1%"),
    ] {
        let line = format!("{start} {rest}");
        let (code, said) = fault(&line.split_whitespace().collect::<Vec<_>>());
        assert!(code == 2 && said.contains(word) && said.contains("hint:"), "{line}: {said}");
    }
}
