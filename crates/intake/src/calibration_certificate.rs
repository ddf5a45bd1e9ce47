//! Digital calibration certificates: XML after the schema of the PTB
//! (`https://ptb.de/dcc`, quantities after `https://ptb.de/si`).
//!
//! What is read: number, laboratory, dates, calibrated items, and every
//! quantity with its unit and expanded uncertainty. A unit that is not known
//! is refused, never guessed. Signatures of the certificate are not checked.

use roxmltree::{Document, Node, ParsingOptions};

const DCC: &str = "https://ptb.de/dcc";

/// Largest text that is read.
const LARGEST: usize = 16 << 20;

/// A certificate as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationCertificate {
    /// Its unique number.
    pub number: String,
    /// Laboratory that issued it; empty where it is not named.
    pub laboratory: String,
    /// Last day of the calibration, `YYYY-MM-DD`; none where it is not stated.
    pub performed_on: Option<String>,
    /// Names of what was calibrated.
    pub items: Vec<String>,
    /// What was found, in the order of the certificate.
    pub quantities: Vec<CertifiedQuantity>,
}

/// A quantity of a certificate.
#[derive(Debug, Clone, PartialEq)]
pub struct CertifiedQuantity {
    /// What it is.
    pub name: String,
    /// Its value in `unit`.
    pub value: f64,
    /// Its unit, such as `Pa`, `m3`, `Pa.m3/s`; empty where it is a number.
    pub unit: String,
    /// Expanded uncertainty in `unit`; none where it is not stated.
    pub expanded_uncertainty: Option<f64>,
    /// Coverage factor of the uncertainty.
    pub coverage_factor: Option<f64>,
}

/// Why a text is not read as a certificate.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct CertificateError {
    /// Line, counted from 1.
    pub line: u32,
    /// What is wrong there.
    pub what: String,
    /// One thing to do next.
    pub next_step: &'static str,
}

fn wrong(line: u32, what: impl Into<String>, next_step: &'static str) -> CertificateError {
    CertificateError { line, what: what.into(), next_step }
}

fn line_of(node: Node<'_, '_>) -> u32 {
    node.document().text_pos_at(node.range().start).row
}

/// Reads a certificate.
///
/// # Errors
/// Where the text is no XML or declares a document type, is no certificate of
/// this schema, lacks its number, or a quantity has no finite value or an
/// unknown unit.
pub fn read(bytes: &[u8]) -> Result<CalibrationCertificate, CertificateError> {
    let other = "ask the laboratory for the XML file of the certificate";
    if bytes.len() > LARGEST {
        return Err(wrong(1, "the file is larger than 16 MiB", other));
    }
    let text = std::str::from_utf8(bytes)
        .map_err(|error| wrong(1, format!("byte {} is not UTF-8", error.valid_up_to()), other))?;
    // Without document types, nothing can be expanded or fetched.
    let options = ParsingOptions { allow_dtd: false, ..ParsingOptions::default() };
    let document = Document::parse_with_options(text, options)
        .map_err(|error| wrong(error.pos().row, format!("this is no XML: {error}"), other))?;
    let root = document.root_element();
    if !root.has_tag_name((DCC, "digitalCalibrationCertificate")) {
        return Err(wrong(1, "this is no digital calibration certificate", other));
    }
    let number = descendant(root, "uniqueIdentifier")
        .map(text_of)
        .filter(|number| !number.is_empty())
        .ok_or_else(|| wrong(line_of(root), "the certificate has no number", other))?;
    let laboratory = descendant(root, "calibrationLaboratory")
        .and_then(|laboratory| descendant(laboratory, "content"))
        .map(text_of)
        .unwrap_or_default();
    let performed_on = descendant(root, "endPerformanceDate").map(text_of);
    let items = root
        .descendants()
        .filter(|node| node.has_tag_name((DCC, "item")))
        .filter_map(|item| descendant(item, "content").map(text_of))
        .collect();
    let mut quantities = Vec::new();
    for quantity in root.descendants().filter(|node| node.has_tag_name((DCC, "quantity"))) {
        read_quantity(quantity, &mut quantities)?;
    }
    if quantities.is_empty() {
        return Err(wrong(line_of(root), "the certificate holds no quantity", other));
    }
    Ok(CalibrationCertificate { number, laboratory, performed_on, items, quantities })
}

fn descendant<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    node.descendants().find(|one| one.tag_name().name() == name)
}

fn text_of(node: Node<'_, '_>) -> String {
    node.text().unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Numbers of a child that holds one, or a list of them.
fn numbers(node: Node<'_, '_>, names: &[&str]) -> Result<Vec<f64>, CertificateError> {
    let Some(child) = names.iter().find_map(|name| descendant(node, name)) else {
        return Ok(Vec::new());
    };
    text_of(child)
        .split(' ')
        .filter(|word| !word.is_empty())
        .map(|word| {
            word.parse().ok().filter(|value: &f64| value.is_finite()).ok_or_else(|| {
                wrong(
                    line_of(child),
                    format!("`{word}` is not a finite number"),
                    "ask the laboratory for a corrected certificate",
                )
            })
        })
        .collect()
}

fn read_quantity(
    quantity: Node<'_, '_>,
    quantities: &mut Vec<CertifiedQuantity>,
) -> Result<(), CertificateError> {
    let name = descendant(quantity, "content").map(text_of).unwrap_or_default();
    let kinds = ["real", "realListXMLList"];
    let Some(real) = quantity.children().find(|node| kinds.contains(&node.tag_name().name()))
    else {
        // Texts, complex numbers and constants are no measured quantity of ours.
        return Ok(());
    };
    let values = numbers(real, &["value", "valueXMLList"])?;
    let units = descendant(real, "unit").or_else(|| descendant(real, "unitXMLList"));
    let units: Vec<String> = match units {
        None => Vec::new(),
        Some(node) => text_of(node)
            .split(' ')
            .map(|text| unit(text).ok_or_else(|| unknown_unit(node, text)))
            .collect::<Result<_, _>>()?,
    };
    let uncertainties = numbers(
        real,
        &["valueExpandedMU", "uncertainty", "valueExpandedMUXMLList", "uncertaintyXMLList"],
    )?;
    let factors = numbers(real, &["coverageFactor", "coverageFactorXMLList"])?;
    if values.is_empty() || units.is_empty() {
        let what = format!("quantity `{name}` has no value or no unit");
        let next = "ask the laboratory for a corrected certificate";
        return Err(wrong(line_of(quantity), what, next));
    }
    // A list of one stands for all.
    let at = |list: &[f64], index: usize| match list {
        [only] => Some(*only),
        list => list.get(index).copied(),
    };
    for (index, value) in values.iter().enumerate() {
        let unit = units.get(index).or_else(|| units.first()).cloned().unwrap_or_default();
        quantities.push(CertifiedQuantity {
            name: name.clone(),
            value: *value,
            unit,
            expanded_uncertainty: at(&uncertainties, index),
            coverage_factor: at(&factors, index),
        });
    }
    Ok(())
}

fn unknown_unit(node: Node<'_, '_>, text: &str) -> CertificateError {
    let what = format!("the unit `{text}` is not known here");
    wrong(line_of(node), what, "write the value down by hand, with a unit that is known")
}

/// Names of the SI format with their symbols.
const UNITS: &[(&str, &str)] = &[
    ("pascal", "Pa"),
    ("bar", "bar"),
    ("metre", "m"),
    ("litre", "L"),
    ("second", "s"),
    ("minute", "min"),
    ("hour", "h"),
    ("kelvin", "K"),
    ("degreecelsius", "C"),
    ("mole", "mol"),
    ("gram", "g"),
    ("kilogram", "kg"),
    ("volt", "V"),
    ("ampere", "A"),
];
const PREFIXES: &[(&str, &str)] = &[
    ("mega", "M"),
    ("kilo", "k"),
    ("hecto", "h"),
    ("deci", "d"),
    ("centi", "c"),
    ("milli", "m"),
    ("micro", "u"),
    ("nano", "n"),
];

/// A unit of the SI format, such as `\milli\bar` or
/// `\pascal\metre\tothe{3}\per\second`, in symbols; `None` where a part of it
/// is not known.
fn unit(text: &str) -> Option<String> {
    if text == "\\one" {
        return Some(String::new());
    }
    let (mut above, mut below): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let (mut prefix, mut per) = ("", false);
    for token in text.strip_prefix('\\')?.split('\\') {
        if token == "per" {
            per = true;
        } else if let Some((_, symbol)) = PREFIXES.iter().find(|(name, _)| *name == token) {
            if !prefix.is_empty() {
                return None;
            }
            prefix = symbol;
        } else if let Some(power) = token.strip_prefix("tothe{") {
            let power = power.strip_suffix('}')?;
            if !matches!(power, "2" | "3") {
                return None;
            }
            let last = if below.is_empty() { above.last_mut() } else { below.last_mut() };
            last?.push_str(power);
        } else {
            let (_, symbol) = UNITS.iter().find(|(name, _)| *name == token)?;
            let place = if per { &mut below } else { &mut above };
            place.push(format!("{prefix}{symbol}"));
            (prefix, per) = ("", false);
        }
    }
    if !prefix.is_empty() || per || above.is_empty() {
        return None;
    }
    let below: String = below.iter().map(|one| format!("/{one}")).collect();
    Some(above.join(".") + &below)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented, in the form of the published schema (from memory).
    const INVENTED: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<dcc:digitalCalibrationCertificate schemaVersion="3.3.0"
    xmlns:dcc="https://ptb.de/dcc" xmlns:si="https://ptb.de/si">
  <dcc:administrativeData>
    <dcc:coreData>
      <dcc:uniqueIdentifier>INV-2026-0001</dcc:uniqueIdentifier>
      <dcc:beginPerformanceDate>2026-10-01</dcc:beginPerformanceDate>
      <dcc:endPerformanceDate>2026-10-02</dcc:endPerformanceDate>
    </dcc:coreData>
    <dcc:items><dcc:item><dcc:name><dcc:content lang="en">Glass capillary
      leak</dcc:content></dcc:name></dcc:item></dcc:items>
    <dcc:calibrationLaboratory><dcc:contact><dcc:name><dcc:content>Invented
      Laboratory</dcc:content></dcc:name></dcc:contact></dcc:calibrationLaboratory>
  </dcc:administrativeData>
  <dcc:measurementResults><dcc:measurementResult><dcc:results><dcc:result><dcc:data>
    <dcc:quantity><dcc:name><dcc:content>Leak rate</dcc:content></dcc:name>
      <si:real><si:value>2.5e-4</si:value><si:unit>\pascal\metre\tothe{3}\per\second</si:unit>
        <si:measurementUncertaintyUnivariate><si:expandedMU>
          <si:valueExpandedMU>1e-5</si:valueExpandedMU><si:coverageFactor>2</si:coverageFactor>
          <si:coverageProbability>0.95</si:coverageProbability>
        </si:expandedMU></si:measurementUncertaintyUnivariate></si:real></dcc:quantity>
    <dcc:quantity><dcc:name><dcc:content>Indication</dcc:content></dcc:name>
      <si:realListXMLList><si:valueXMLList>10 100</si:valueXMLList>
        <si:unitXMLList>\milli\bar</si:unitXMLList>
        <si:expandedUncXMLList><si:uncertaintyXMLList>0.1 0.5</si:uncertaintyXMLList>
        <si:coverageFactorXMLList>2</si:coverageFactorXMLList></si:expandedUncXMLList>
      </si:realListXMLList></dcc:quantity>
  </dcc:data></dcc:result></dcc:results></dcc:measurementResult></dcc:measurementResults>
</dcc:digitalCalibrationCertificate>"#;

    #[test]
    fn an_invented_certificate_is_read() {
        let read = read(INVENTED.as_bytes()).unwrap();
        assert_eq!(read.number, "INV-2026-0001");
        assert_eq!(read.laboratory, "Invented Laboratory");
        assert_eq!(read.performed_on.as_deref(), Some("2026-10-02"));
        assert_eq!(read.items, ["Glass capillary leak"]);
        let [leak, low, high] = read.quantities.as_slice() else { panic!("{read:?}") };
        assert_eq!((leak.value, leak.unit.as_str()), (2.5e-4, "Pa.m3/s"));
        assert_eq!((leak.expanded_uncertainty, leak.coverage_factor), (Some(1e-5), Some(2.0)));
        assert_eq!((low.value, low.unit.as_str()), (10.0, "mbar"));
        assert_eq!((high.value, high.expanded_uncertainty), (100.0, Some(0.5)));
        assert_eq!(high.coverage_factor, Some(2.0));
    }

    #[test]
    fn units_are_known_or_refused() {
        for (text, expected) in [
            ("\\pascal", "Pa"),
            ("\\hecto\\pascal", "hPa"),
            ("\\metre\\tothe{3}", "m3"),
            ("\\milli\\bar\\litre\\per\\second", "mbar.L/s"),
            ("\\degreecelsius", "C"),
            ("\\one", ""),
        ] {
            assert_eq!(unit(text).as_deref(), Some(expected), "{text}");
        }
        for text in ["", "Pa", "\\furlong", "\\milli", "\\pascal\\per", "\\metre\\tothe{0.5}"] {
            assert_eq!(unit(text), None, "{text}");
        }
    }

    #[test]
    fn what_is_no_certificate_is_refused() {
        for (text, words) in [
            ("", "no XML"),
            ("<a/>", "no digital calibration certificate"),
            ("<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", "no XML"),
            (&INVENTED.replace("2.5e-4", "2,5e-4"), "`2,5e-4` is not a finite number"),
            (&INVENTED.replace("2.5e-4", "NaN"), "`NaN` is not a finite number"),
            (&INVENTED.replace("\\milli\\bar", "\\milli\\furlong"), "is not known here"),
            (&INVENTED.replace("INV-2026-0001", " "), "has no number"),
        ] {
            let error = read(text.as_bytes()).unwrap_err();
            assert!(error.what.contains(words), "{words}: {error}");
            assert!(error.line >= 1 && !error.next_step.is_empty());
        }
        let latin = read(b"<a>\xb5</a>").unwrap_err();
        assert!(latin.what.contains("not UTF-8"), "{latin}");
    }

    #[test]
    fn a_cut_certificate_never_panics() {
        for end in (0..INVENTED.len()).step_by(7) {
            assert!(read(&INVENTED.as_bytes()[..end]).is_err(), "{end}");
        }
    }
}
