//! The modules of `study` stand in the order of the work, and each uses only
//! those above it.

use super::{read, root, rust_files, without_tests};

/// Modules in the order in which `lib.rs` lists them.
fn order() -> Vec<String> {
    read(&root().join("crates/study/src/lib.rs"))
        .lines()
        .filter_map(|line| {
            let line = line.trim_start_matches("pub ");
            line.strip_prefix("mod ")?.strip_suffix(';').map(str::to_owned)
        })
        .collect()
}

#[test]
fn a_module_uses_only_those_above_it() {
    let order = order();
    assert!(order.len() > 15, "the list of modules was not read: {order:?}");
    let source = root().join("crates/study/src");
    let mut wrong = Vec::new();
    for file in rust_files(&source) {
        if file.ends_with("tests.rs") {
            continue;
        }
        let relative = file.strip_prefix(&source).unwrap();
        let module = relative.components().next().unwrap().as_os_str().to_string_lossy();
        let module = module.trim_end_matches(".rs").to_owned();
        let Some(place) = order.iter().position(|name| *name == module) else { continue };
        let text = read(&file);
        for (index, name) in order.iter().enumerate() {
            let uses = without_tests(&text)
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"))
                .any(|line| {
                    line.contains(&format!("crate::{name}::"))
                        || line.contains(&format!("crate::{name};"))
                });
            if uses && index > place {
                wrong.push(format!("`{module}` uses `{name}`, which comes after it"));
            }
        }
    }
    wrong.dedup();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
