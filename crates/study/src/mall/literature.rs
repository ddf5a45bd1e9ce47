//! Published figures on ingress of microbes and on plugging: bands and
//! thresholds as they were printed, never a fit through them.

/// A published figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiteratureMark {
    /// The size that is named, µm, and of what it is the size.
    pub size_um: Option<(f64, &'static str)>,
    /// Helium flow that is named, Pa·m³/s, 1 atm to vacuum.
    pub helium_pa_m3_per_s: Option<f64>,
    /// What was found.
    pub finding: &'static str,
    /// Who published it.
    pub source: &'static str,
    /// How it is known here, and how weak it is.
    pub weight: &'static str,
}

/// The span of the sizes that are named: bores and defects, no flows.
pub(crate) fn named_sizes() -> String {
    let named = || LITERATURE.iter().filter_map(|mark| mark.size_um).map(|(um, _)| um);
    let (least, most) =
        named().fold((f64::INFINITY, 0.0_f64), |(low, high), um| (low.min(um), high.max(um)));
    format!("thresholds of {least} to {most} µm")
}

/// The figures, smallest first.
pub const LITERATURE: &[LiteratureMark] = &[
    LiteratureMark {
        size_um: Some((0.3, "bore of a glass micropipette in a vial wall")),
        helium_pa_m3_per_s: None,
        finding: "smallest size with ingress from liquid; ingress grows rare between helium flows \
                  of about 1.6e-4 and 1.6e-6 std cm³/s",
        source: "Kirsch and others, PDA Journal 51 (1997), parts I to III",
        weight: "from memory; immersion challenge, one kind of leak; no fit is drawn from it",
    },
    LiteratureMark {
        size_um: Some((2.0, "bore of a microtube")),
        helium_pa_m3_per_s: None,
        finding: "no flow of liquid begins at pressures up to 34.5 kPa; evaporation outruns the \
                  leak at 2 and 5 µm, and solids then plug it",
        source: "Gibney, thesis on microtubes (as read in the reference note)",
        weight: "read; air-filled tubes, one laboratory",
    },
    LiteratureMark {
        size_um: Some((2.0, "laser-drilled hole")),
        helium_pa_m3_per_s: Some(1.4e-4),
        finding: "microbial limit of a hole; a wire of 15 µm at the seal gave 1.3e-5 mbar·L/s",
        source: "Morrical and others 2007, abstract",
        weight: "seen quoted second-hand",
    },
    LiteratureMark {
        size_um: Some((7.0, "bore of a microtube")),
        helium_pa_m3_per_s: None,
        finding: "critical size at pressures from 0 to 34.5 kPa below that of the room; whether \
                  liquid begins to flow decides, not the organism",
        source: "Gibney; Keller and others 2003, abstract",
        weight: "read; air-filled tubes",
    },
    LiteratureMark {
        size_um: Some((11.0, "defect in a flexible bag")),
        helium_pa_m3_per_s: None,
        finding: "critical sizes of 7, 11 and 22 µm by four groups: they disagree because their \
                  methods differ",
        source: "Blakistone; Lampi; Chen and Keller; Gilchrist, as cited in a review of 2011",
        weight: "second-hand; bags and pouches",
    },
];
