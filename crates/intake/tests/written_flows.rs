//! Flows as written, against reference/intake_written_flows.csv.

mod evidence;

use intake::written_quantity::{read_any, read_flow, read_target_unit};

#[test]
fn flows_agree_with_the_evidence() {
    let rows = evidence::rows("intake_written_flows.csv");
    assert!(rows.len() >= 15);
    for row in &rows {
        let written = row.input("written");
        let found = if row.quantity == "molar_flow_of_one_sccm" {
            read_flow(&written).and_then(|flow| flow.molar_flow(None)).map(|flow| flow.mol_per_s())
        } else {
            read_target_unit(&row.input("to"))
                .and_then(|target| target.value_of(read_any(&written)?, None))
        };
        let found = found.unwrap_or_else(|error| panic!("{written}: {error}"));
        assert!(row.agrees(found), "{written}: {found}");
    }
}
