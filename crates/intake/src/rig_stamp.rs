//! Serial number and cycle counter of a rig, where a file carries them in the
//! lines before its data.

use study::quantities::units::{UnitKind, unit_named};

/// What the lines before the data say of rig and cycle.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RigStamp {
    /// Serial number of the rig.
    pub rig: Option<String>,
    /// Its cycle counter.
    pub counter: Option<u64>,
    /// Mark on the unit.
    pub unit: Option<String>,
}

/// Lines that are looked at.
const LINES: usize = 60;

/// Keys, in lower case, without blanks at the ends.
const RIG_KEYS: [&str; 9] = [
    "rig",
    "rig serial",
    "rig serial number",
    "rig_serial",
    "instrument serial",
    "instrument serial number",
    "serial number",
    "serial no",
    "serial",
];
const COUNTER_KEYS: [&str; 9] = [
    "cycle",
    "cycle counter",
    "cycle_counter",
    "cycle number",
    "cycle no",
    "test number",
    "test no",
    "run counter",
    "counter",
];
const UNIT_KEYS: [&str; 6] = ["unit", "unit id", "sample", "sample id", "sample_id", "unit_id"];

/// Reads `key: value` (or `=`, `;`, `,`, tab) lines before the data; comment
/// signs before them are passed over.
///
/// # Example
/// ```
/// use intake::rig_stamp::rig_stamp;
/// let stamp = rig_stamp("# Rig serial: 0417\n# Cycle counter: 1203\ntime_s,p [Pa]\n0,1\n");
/// assert_eq!((stamp.rig.as_deref(), stamp.counter), (Some("0417"), Some(1203)));
/// ```
#[must_use]
pub fn rig_stamp(text: &str) -> RigStamp {
    let mut stamp = RigStamp::default();
    for line in text.lines().take(LINES) {
        let line = line.trim_start_matches(['#', '%', '/', ' ', '\t', '"', '\u{feff}']);
        let Some(at) = line.find([':', '=', ';', ',', '\t']) else { continue };
        let key = line[..at].trim().trim_matches('"').to_lowercase();
        let value = line[at + 1..].trim().trim_matches(['"', ';', ',', '\t', ' ']);
        // A line of more cells is the header of a table.
        if value.is_empty() || value.len() > 80 || value.contains([';', ',', '\t']) {
            continue;
        }
        let key = key.as_str();
        if RIG_KEYS.contains(&key) {
            stamp.rig.get_or_insert_with(|| value.to_owned());
        } else if COUNTER_KEYS.contains(&key) {
            stamp.counter = stamp.counter.or_else(|| value.parse().ok());
        } else if UNIT_KEYS.contains(&key) && !is_unit_of_measure(value) {
            stamp.unit.get_or_insert_with(|| value.to_owned());
        }
    }
    stamp
}

/// True for `Pa` and its like: `unit: Pa` speaks of the readings, and not of
/// what was tested.
fn is_unit_of_measure(value: &str) -> bool {
    unit_named(value).is_some_and(|unit| {
        matches!(
            unit.kind,
            UnitKind::Pressure
                | UnitKind::PressureRate
                | UnitKind::Throughput
                | UnitKind::StandardFlow
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_of_measure_is_no_mark_of_a_unit() {
        for text in ["# unit: Pa\n", "unit = mbar\n", "unit: Pa/s\n"] {
            assert_eq!(rig_stamp(text).unit, None, "{text}");
        }
        assert_eq!(rig_stamp("# unit: A17\n").unit.as_deref(), Some("A17"));
        assert_eq!(rig_stamp("# unit: Pa\n# unit id: N1\n").unit.as_deref(), Some("N1"));
    }

    #[test]
    fn a_table_header_is_no_stamp() {
        // `unit` is a column here and not a key with a value.
        let stamp = rig_stamp("cycle,reading [Pa]\n1,2.5\n");
        assert_eq!(stamp.counter, None);
        assert_eq!(rig_stamp("serial;R7;;\ncycle no = 12\n").counter, Some(12));
        assert_eq!(rig_stamp("serial;R7;;\n").rig.as_deref(), Some("R7"));
    }
}
