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
    /// What stands where its counter is due, and is no whole number.
    pub unread: Option<String>,
    /// Mark on the unit.
    pub unit: Option<String>,
    /// True where the column that names the runs holds the counter.
    pub runs_are_cycles: bool,
}

impl RigStamp {
    /// The rig and the counter of a run of this name; a rig without a name is
    /// one that is not named, so that its doubles are noticed all the same.
    #[must_use]
    pub fn cycle(&self, run: &str) -> Option<(String, u64)> {
        let of_run = || if self.runs_are_cycles { counter_of(run) } else { None };
        let counter = of_run().or(self.counter)?;
        Some((self.rig.clone().unwrap_or_default(), counter))
    }
}

/// Lines that are looked at.
const LINES: usize = 60;

/// Keys as [`plain`] makes them: lower case, and one blank for every sign.
const RIG_KEYS: [&str; 36] = [
    "rig",
    "rig id",
    "rig no",
    "rig number",
    "rig serial",
    "rig serial no",
    "rig serial number",
    "instrument serial",
    "instrument serial no",
    "instrument serial number",
    "device serial",
    "device serial no",
    "device serial number",
    "equipment id",
    "equipment no",
    "machine no",
    "serial number",
    "serial no",
    "serial nr",
    "serial",
    "ser no",
    "sn",
    "s n",
    "s nr",
    "seriennummer",
    "serien nr",
    "gerätenummer",
    "geraetenummer",
    "geräte nr",
    "geraete nr",
    "anlagennummer",
    "numéro de série",
    "n de série",
    "no de serie",
    "numero de serie",
    "número de serie",
];
const COUNTER_KEYS: [&str; 36] = [
    "cycle",
    "cycle counter",
    "cycle count",
    "cycle number",
    "cycle no",
    "cycle nr",
    "cycle id",
    "test number",
    "test no",
    "test nr",
    "test counter",
    "run counter",
    "run number",
    "run no",
    "run nr",
    "counter",
    "counter reading",
    "sequence number",
    "sequence no",
    "seq no",
    "zyklus",
    "zyklus nr",
    "zyklusnummer",
    "zykluszähler",
    "zykluszaehler",
    "zähler",
    "zaehler",
    "zählerstand",
    "prüfnummer",
    "pruefnummer",
    "laufnummer",
    "lauf nr",
    "numéro de cycle",
    "n de cycle",
    "número de ciclo",
    "ciclo",
];
const UNIT_KEYS: [&str; 4] = ["unit", "unit id", "sample", "sample id"];

/// A key in lower case, every run of other signs as one blank, `#` as `no`.
fn plain(key: &str) -> String {
    let spelled: String = key
        .to_lowercase()
        .replace('#', " no ")
        .chars()
        .map(|letter| if letter.is_alphanumeric() { letter } else { ' ' })
        .collect();
    spelled.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// True for a name of a column or line that holds the serial number of a rig.
#[must_use]
pub fn is_rig_key(key: &str) -> bool {
    RIG_KEYS.contains(&plain(key).as_str())
}

/// True for a name of a column or line that holds its cycle counter.
#[must_use]
pub fn is_counter_key(key: &str) -> bool {
    COUNTER_KEYS.contains(&plain(key).as_str())
}

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
        let key = plain(&line[..at]);
        let whole = line[at + 1..].trim().trim_matches(['"', ';', ',', '\t', ' ', ':', '=']);
        // Further cells may hold further keys; those of a table header do.
        let mut cells = whole.split([';', ',', '\t']).map(|cell| cell.trim().trim_matches('"'));
        let value = cells.next().unwrap_or_default();
        let rest = cells.find(|cell| !cell.is_empty());
        if value.is_empty() || value.len() > 80 {
            continue;
        }
        let key = key.as_str();
        // After a comma `CH2` is the next column, after a colon it is a value.
        let is_said = matches!(line.as_bytes()[at], b':' | b'=');
        let is_figure = value.starts_with(|c: char| c.is_ascii_digit() || c == '-');
        let has_digit = value.chars().any(|letter| letter.is_ascii_digit());
        if COUNTER_KEYS.contains(&key) && stamp.counter.is_none() {
            // `cycle,reading [Pa]` is the header of a table; `1,203` may be one
            // number, and `1 203` or `1203/5000` more than one.
            let is_split = rest.is_some_and(|cell| cell.starts_with(|c: char| c.is_ascii_digit()));
            match counter_of(value).filter(|_| !is_split) {
                Some(counter) => stamp.counter = Some(counter),
                None if has_digit && (is_split || (rest.is_none() && (is_said || is_figure))) => {
                    stamp.unread = Some(whole.to_owned());
                }
                None => {}
            }
        } else if rest.is_some() {
            // A line of more cells is the header of a table.
        } else if RIG_KEYS.contains(&key) {
            stamp.rig.get_or_insert_with(|| value.to_owned());
        } else if UNIT_KEYS.contains(&key) && !is_unit_of_measure(value) {
            stamp.unit.get_or_insert_with(|| value.to_owned());
        }
    }
    if stamp.counter.is_some() {
        stamp.unread = None;
    }
    stamp
}

/// [`rig_stamp`] of the first bytes of a file, in whatever encoding.
#[must_use]
pub fn rig_stamp_of(bytes: &[u8]) -> RigStamp {
    let wide = |of: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes.chunks_exact(2).map(|pair| of([pair[0], pair[1]])).collect();
        String::from_utf16_lossy(&units)
    };
    let text = match bytes {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => match core::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            // Cut within a character, at the end.
            Err(error) if error.error_len().is_none() => {
                String::from_utf8_lossy(&bytes[..error.valid_up_to()]).into_owned()
            }
            // The letters of the keys are the same in every Western code page.
            Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
        },
    };
    rig_stamp(&text)
}

/// The count in `1203`, `#1203` and `1203 cycles`.
fn counter_of(value: &str) -> Option<u64> {
    let value = value.trim_start_matches(['#', ' ']);
    let end = value.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(value.len());
    let rest = value[end..].trim();
    let is_word = rest.chars().all(char::is_alphabetic);
    (rest.is_empty() || (is_word && value[end..].starts_with(' ')))
        .then(|| value[..end].parse().ok())
        .flatten()
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

    #[test]
    fn spellings_of_laboratories_are_known() {
        for text in [
            "S/N: R7\nCycle #: 12\n",
            "SN;R7\nZyklus-Nr.;12\n",
            "Seriennummer\tR7\nZykluszähler\t12 Zyklen\n",
            "\"Serial No.\",\"R7\"\n\"Run #\",\"12\"\n",
            "% N° de série = R7\n% numéro de cycle = 0012\n",
            "Rig_Serial_No:=R7\nTEST_NO=#12\n",
            "Rig: R7\nCycle counter,12,Operator,AB\n",
        ] {
            let stamp = rig_stamp(text);
            assert_eq!((stamp.rig.as_deref(), stamp.counter), (Some("R7"), Some(12)), "{text}");
            assert_eq!(stamp.cycle(""), Some(("R7".to_owned(), 12)));
        }
        let narrow: Vec<u8> = "Gerätenummer: R7\nZähler: 12\n".chars().map(|c| c as u8).collect();
        let wide: Vec<u8> = "\u{feff}Gerätenummer: R7\nZähler: 12\n"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        for bytes in [narrow, wide] {
            let stamp = rig_stamp_of(&bytes);
            assert_eq!((stamp.rig.as_deref(), stamp.counter), (Some("R7"), Some(12)));
        }
    }

    /// What is no whole number is told and never guessed.
    #[test]
    fn a_counter_that_cannot_be_read_is_told() {
        for value in ["1,203", "1.203", "1203/5000", "1 203", "A-12", "12.5", "1;203", "-3"] {
            let stamp = rig_stamp(&format!("Rig: R7\nCycle counter: {value}\n"));
            assert_eq!((stamp.counter, stamp.unread.as_deref()), (None, Some(value)), "{value}");
        }
        for header in ["cycle,reading [Pa]\n1,2.5\n", "cycle;CH2\n1;2,5\n"] {
            assert_eq!(rig_stamp(header).unread, None, "{header}");
        }
    }

    #[test]
    fn runs_that_are_named_by_the_counter_have_one_each() {
        let stamp =
            RigStamp { rig: Some("R7".to_owned()), runs_are_cycles: true, ..RigStamp::default() };
        assert_eq!(stamp.cycle("12"), Some(("R7".to_owned(), 12)));
        assert_eq!(stamp.cycle("A12"), None);
    }
}
