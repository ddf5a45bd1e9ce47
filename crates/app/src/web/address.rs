//! Addresses: how a path names a page, and how a page names a path.

/// A place in the workbench, read from the path of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The list of cases.
    Benchbook,
    /// Where a case is begun.
    NewCase,
    /// Where a case comes in from another benchbook.
    BringIn,
    /// The audit trail.
    History,
    /// The audit trail as a table to keep.
    HistoryTable,
    /// Whether the benchbook is as it was written, and copies of it.
    Safekeeping,
    /// The register, or one of its items.
    Register(Option<String>),
    /// The file of the certificate of an item.
    Certificate(String),
    /// The accounts, or one of them.
    People(Option<String>),
    /// Where somebody changes his own password.
    Password,
    /// Where somebody signs in.
    SignIn,
    /// Where somebody signs out.
    SignOut,
    /// Something of a case: its identifier and the part behind it.
    Case {
        /// Identifier of the case.
        id: String,
        /// Page, figure or file of the case.
        part: String,
    },
    /// A served file.
    Asset(String),
}

/// A place and the form in which it is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// Which place.
    pub place: Place,
    /// True for the `.json` twin.
    pub json: bool,
}

/// Reads the path of a request; `None` where nothing can be there.
pub fn read(path: &str) -> Option<Address> {
    if path.len() > 2000 {
        return None;
    }
    let parts: Vec<String> =
        path.strip_prefix('/')?.split('/').map(decoded).collect::<Option<_>>()?;
    if parts.first().is_some_and(|first| first == "assets") {
        return match parts.as_slice() {
            [_, name] => Some(Address { place: Place::Asset(name.clone()), json: false }),
            _ => None,
        };
    }
    let (last, before) = parts.split_last()?;
    let (last, json) = match last.strip_suffix(".json") {
        Some(stem) => (stem, true),
        None => (last.as_str(), false),
    };
    let place = match (before, last) {
        ([], "" | "benchbook") => Place::Benchbook,
        ([], "new") => Place::NewCase,
        ([], "bring-in") => Place::BringIn,
        ([], "history") => Place::History,
        ([], "history.csv") => Place::HistoryTable,
        ([], "safekeeping") => Place::Safekeeping,
        ([], "register") => Place::Register(None),
        ([register], id) if register == "register" => Place::Register(Some(id.to_owned())),
        ([register, id], "certificate") if register == "register" => Place::Certificate(id.clone()),
        ([], "people") => Place::People(None),
        ([people], id) if people == "people" => Place::People(Some(id.to_owned())),
        ([], "password") => Place::Password,
        ([], "sign-in") => Place::SignIn,
        ([], "sign-out") => Place::SignOut,
        ([], "favicon.ico") => Place::Asset("favicon.ico".to_owned()),
        ([case], id) if case == "case" => Place::Case { id: id.to_owned(), part: String::new() },
        ([case, id], part) if case == "case" => {
            Place::Case { id: id.clone(), part: part.to_owned() }
        }
        ([case, id, room], part) if case == "case" => {
            Place::Case { id: id.clone(), part: format!("{room}/{part}") }
        }
        _ => return None,
    };
    Some(Address { place, json })
}

/// Address of a part of a case.
pub fn of_case(id: &str, part: &str) -> String {
    format!("/case/{}/{part}", encoded(id))
}

/// A text as one segment of a path.
pub fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'_' | b'~' | b'.' => {
                out.push(char::from(byte));
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

/// A segment of a path as text; `None` where it is not UTF-8 or badly coded.
pub fn decoded(segment: &str) -> Option<String> {
    let bytes = segment.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while at < bytes.len() {
        if bytes[at] == b'%' {
            let pair = segment.get(at + 1..at + 3)?;
            out.push(u8::from_str_radix(pair, 16).ok()?);
            at += 3;
        } else {
            out.push(bytes[at]);
            at += 1;
        }
    }
    String::from_utf8(out).ok()
}

/// Names and values of a query, in their order; what cannot be read is left
/// out.
pub fn query(text: Option<&str>) -> Vec<(String, String)> {
    text.unwrap_or_default()
        .split('&')
        .take(2000)
        .filter(|pair| !pair.is_empty())
        .filter_map(|pair| {
            let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
            Some((decoded(&name.replace('+', " "))?, decoded(&value.replace('+', " "))?))
        })
        .collect()
}

/// The last value of a name in a query.
pub fn value<'a>(query: &'a [(String, String)], name: &str) -> Option<&'a str> {
    query.iter().rev().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
}

/// The last value of a name as an ordinary number.
pub fn number(query: &[(String, String)], name: &str) -> Option<f64> {
    value(query, name)?.trim().parse().ok().filter(|number: &f64| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_and_their_twins() {
        assert_eq!(read("/"), Some(Address { place: Place::Benchbook, json: false }));
        assert_eq!(read("/history.json"), Some(Address { place: Place::History, json: true }));
        let place = Place::Case { id: "a b".to_owned(), part: "figures/x".to_owned() };
        assert_eq!(read("/case/a%20b/figures/x.json"), Some(Address { place, json: true }));
        assert_eq!(read("/case/%ff/forecast"), None);
        assert_eq!(read("/case/%2/forecast"), None);
        assert_eq!(read("/case/%é/forecast"), None);
        assert_eq!(read("/nothing"), None);
    }

    #[test]
    fn what_is_encoded_reads_back() {
        for id in ["vial-2r", "a/b", "ä ö", "<script>", "%41", "..", "\u{202e}"] {
            assert_eq!(decoded(&encoded(id)).as_deref(), Some(id));
        }
    }

    #[test]
    fn repeated_names_are_all_kept() {
        let pairs = query(Some("run=1&run=2&x=a+b&y=%ff&z"));
        assert_eq!(pairs.len(), 4);
        assert_eq!(value(&pairs, "x"), Some("a b"));
        assert_eq!(number(&query(Some("a=NaN")), "a"), None);
    }
}
