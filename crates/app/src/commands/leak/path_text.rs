//! Leak paths as people write them: `bore 5um wall 1mm`, `orifice 5um`,
//! `slit 1um,10mm wall 3mm`, `annulus 13mm,1um wall 5mm`.

use intake::written_quantity::{read_length, read_plain_number};
use physics::leak_paths::LeakPath;
use physics::quantities::Length;

use crate::fault::Fault;
use crate::table_text::plain;

const KEYWORDS: [&str; 6] = ["bore", "orifice", "slit", "annulus", "wall", "eccentricity"];

/// A length above zero.
pub fn size(text: &str) -> Result<Length, Fault> {
    let length = read_length(text)?;
    if length.m() > 0.0 {
        Ok(length)
    } else {
        Err(Fault::users(format!("`{text}`: a size must be above zero"), "write it like `5um`"))
    }
}

/// Two sizes with a comma between them.
pub fn two_sizes(text: &str, what: &str, example: &str) -> Result<(Length, Length), Fault> {
    let Some((first, second)) = text.split_once(',') else {
        return Err(Fault::users(format!("`{text}` is not {what}"), format!("write {example}")));
    };
    Ok((size(first)?, size(second)?))
}

/// A path from its written pieces; at most one of the openings is there.
pub struct Pieces<'a> {
    pub bore: Option<&'a str>,
    pub orifice: bool,
    pub slit: Option<&'a str>,
    pub annulus: Option<&'a str>,
    pub wall: Option<&'a str>,
    pub eccentricity: f64,
}

impl Pieces<'_> {
    /// The path they describe.
    pub fn path(&self) -> Result<LeakPath, Fault> {
        let wall = || {
            self.wall.map_or_else(
                || {
                    Err(Fault::users(
                        "the length of the leak along the flow is missing",
                        "give its wall, --wall 1mm, or say that it is a thin hole, --orifice; in a path \
                         written as one text without the dashes",
                    ))
                },
                size,
            )
        };
        if let Some(slit) = self.slit {
            let (height, width) =
                two_sizes(slit, "a height and a width", "slit 1um,10mm with wall 3mm")?;
            return Ok(LeakPath::Slit { height, width, depth: wall()? });
        }
        if let Some(annulus) = self.annulus {
            let (mean_diameter, gap) =
                two_sizes(annulus, "a diameter and a gap", "annulus 13mm,1um with wall 5mm")?;
            let eccentricity = self.eccentricity;
            return Ok(LeakPath::Annulus { mean_diameter, gap, depth: wall()?, eccentricity });
        }
        let Some(bore) = self.bore else {
            return Err(Fault::users(
                "no leak is described",
                "give --bore 5um with --wall 1mm or --orifice, --slit 1um,10mm, \
                 --annulus 13mm,1um, a --flow or a --certificate",
            ));
        };
        let bore_diameter = size(bore)?;
        if self.orifice {
            return Ok(LeakPath::Orifice { bore_diameter });
        }
        Ok(LeakPath::Channel { bore_diameter, wall: wall()? })
    }
}

/// Reads one path, such as `bore 5um wall 1mm`.
pub fn read(text: &str) -> Result<LeakPath, Fault> {
    let refused = |what: String| {
        Fault::users(
            format!("`{text}`: {what}"),
            "write a path like `bore 5um wall 1mm`, `orifice 5um`, `slit 1um,10mm wall 3mm` or \
             `annulus 13mm,1um wall 5mm`",
        )
    };
    let mut pairs: Vec<(&str, String)> = Vec::new();
    for word in text.split_whitespace() {
        match (KEYWORDS.iter().find(|keyword| **keyword == word), pairs.last_mut()) {
            (Some(keyword), _) => {
                if pairs.iter().any(|pair| pair.0 == *keyword) {
                    return Err(refused(format!("`{keyword}` stands there twice")));
                }
                pairs.push((*keyword, String::new()));
            }
            (None, Some((_, value))) => value.push_str(word),
            (None, None) => return Err(refused(format!("`{word}` is not a kind of leak path"))),
        }
    }
    let value = |name: &str| pairs.iter().find(|pair| pair.0 == name).map(|pair| pair.1.as_str());
    let openings = ["bore", "orifice", "slit", "annulus"];
    if openings.iter().filter(|name| value(name).is_some()).count() != 1 {
        return Err(refused("one path has one opening".to_owned()));
    }
    if value("orifice").is_some() && value("wall").is_some() {
        return Err(refused("an orifice has no wall: write `bore` for a channel".to_owned()));
    }
    if value("eccentricity").is_some() && value("annulus").is_none() {
        return Err(refused("only an annulus has an eccentricity".to_owned()));
    }
    Pieces {
        bore: value("bore").or_else(|| value("orifice")),
        orifice: value("orifice").is_some(),
        slit: value("slit"),
        annulus: value("annulus"),
        wall: value("wall"),
        eccentricity: value("eccentricity").map_or(Ok(0.0), read_plain_number)?,
    }
    .path()
}

/// The path in words.
pub fn words(path: &LeakPath) -> String {
    let um = |length: Length| plain(length.um(), 4);
    let mm = |length: Length| plain(length.mm(), 4);
    match *path {
        LeakPath::Orifice { bore_diameter } => format!("thin hole, bore {} µm", um(bore_diameter)),
        LeakPath::Channel { bore_diameter, wall } => {
            format!("channel, bore {} µm through a wall of {} mm", um(bore_diameter), mm(wall))
        }
        LeakPath::Slit { height, width, depth } => {
            format!("slit {} µm x {} mm, {} mm long", um(height), mm(width), mm(depth))
        }
        LeakPath::Annulus { mean_diameter, gap, depth, .. } => {
            format!(
                "annulus of {} mm, gap {} µm, {} mm long",
                mm(mean_diameter),
                um(gap),
                mm(depth)
            )
        }
        // A kind of path that this command does not know yet.
        _ => "leak path".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_read_as_it_is_written() {
        let path = read("bore 5 um wall 1mm").ok();
        let expected =
            LeakPath::Channel { bore_diameter: Length::from_um(5.0), wall: Length::from_mm(1.0) };
        assert_eq!(path, Some(expected));
        assert!(read("slit 1um,10mm wall 3mm").is_ok());
        assert!(read("annulus 13mm,1um wall 5mm eccentricity 0.5").is_ok());
        for wrong in ["5um", "bore 5um", "bore 5um bore 3um wall 1mm", "orifice 5um wall 1mm", ""] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }
}
