//! Where the flow comes from: paths, a flow with its bore, a certificate.

use intake::written_quantity::read_flow;
use physics::gases::{FlowingGas, GasProperties};
use physics::leak_paths::{
    CalibratedFlow, FlowConditions, FlowStandardKind, LeakArrangement, LeakPath, LeakPathError,
    channel_bore_for_flow, orifice_bore_for_flow,
};
use physics::quantities::{Length, MolarFlow};

use super::certificate::{self, Certificate};
use super::path_text::{self, Pieces};
use super::{InUse, Leak};
use crate::fault::Fault;
use crate::table_text::plain;

/// What makes the flow.
pub enum Source {
    /// Paths of known shape.
    Paths(LeakArrangement),
    /// A calibrated flow that is carried over by a rule.
    Calibrated(CalibratedFlow<GasProperties>),
}

/// A source with how it was found.
pub struct Found {
    pub source: Source,
    /// The leak in words.
    pub words: String,
    /// Bore found from a flow.
    pub bore_from_flow: Option<Length>,
    /// The certificate, with the rule that carries it over.
    pub certificate: Option<(Certificate, &'static str)>,
    /// What was assumed while reading.
    pub assumptions: Vec<&'static str>,
}

impl Source {
    /// The flow under conditions.
    pub fn flow<G: FlowingGas>(
        &self,
        conditions: &FlowConditions<G>,
    ) -> Result<MolarFlow, LeakPathError> {
        match self {
            Self::Paths(paths) => paths.flow(conditions).map(|flow| flow.molar_flow),
            Self::Calibrated(flow) => flow.at(conditions),
        }
    }
}

/// The path that carries a flow, from the shape that the command names.
fn path_for<G: FlowingGas>(
    command: &Leak,
    flow: MolarFlow,
    conditions: &FlowConditions<G>,
) -> Result<(LeakPath, Length), Fault> {
    if command.orifice {
        let bore = orifice_bore_for_flow(flow, conditions)?;
        return Ok((LeakPath::Orifice { bore_diameter: bore }, bore));
    }
    let Some(wall) = command.wall.as_deref() else {
        return Err(Fault::users(
            "a flow alone does not say through which shape it goes",
            "add --wall 1mm for a channel or --orifice for a thin hole; a certified flow also \
             takes --constant, --critical-orifice or --molecular",
        ));
    };
    let wall = path_text::size(wall)?;
    let bore = channel_bore_for_flow(flow, wall, conditions)?;
    Ok((LeakPath::Channel { bore_diameter: bore, wall }, bore))
}

/// Reads the source that the command describes.
pub fn read(command: &Leak, in_use: &InUse) -> Result<Found, Fault> {
    if let Some(text) = &command.certificate {
        return of_certificate(command, certificate::read(text, in_use.barometer)?);
    }
    if let Some(text) = &command.flow {
        let conditions = in_use.with(in_use.gas.properties(in_use.temperature));
        let written = read_flow(text)?;
        let flow = written.molar_flow(Some(conditions.gas.molar_mass_kg_per_mol))?;
        let (path, bore) = path_for(command, flow, &conditions)?;
        let mut found = of_paths(command, path)?;
        found.bore_from_flow = Some(bore);
        found.assumptions.extend(Some(written.assumption()).filter(|said| !said.is_empty()));
        return Ok(found);
    }
    let path = Pieces {
        bore: command.bore.as_deref(),
        orifice: command.orifice,
        slit: command.slit.as_deref(),
        annulus: command.annulus.as_deref(),
        wall: command.wall.as_deref(),
        eccentricity: command.eccentricity,
    }
    .path()?;
    of_paths(command, path)
}

/// The first path with those behind and beside it.
fn of_paths(command: &Leak, first: LeakPath) -> Result<Found, Fault> {
    let mut chain = vec![first];
    for text in &command.then {
        chain.push(path_text::read(text)?);
    }
    let mut branches = vec![chain];
    for text in &command.and {
        branches.push(vec![path_text::read(text)?]);
    }
    let words = branches
        .iter()
        .map(|chain| chain.iter().map(path_text::words).collect::<Vec<_>>().join(", then "))
        .collect::<Vec<_>>()
        .join("; beside it ");
    Ok(Found {
        source: Source::Paths(LeakArrangement::new(branches)?),
        words,
        bore_from_flow: None,
        certificate: None,
        assumptions: Vec::new(),
    })
}

fn of_certificate(command: &Leak, certificate: Certificate) -> Result<Found, Fault> {
    let mut assumptions = certificate.assumptions.clone();
    let rule = if command.constant {
        Some((FlowStandardKind::Controlled, "held constant by a controller"))
    } else if command.critical_orifice {
        Some((FlowStandardKind::CriticalOrifice, "critical orifice"))
    } else if command.molecular {
        Some((FlowStandardKind::Molecular, "molecular flow"))
    } else {
        None
    };
    let Some((kind, words)) = rule else {
        let (path, bore) = path_for(command, certificate.flow, &certificate.conditions)?;
        let mut found = of_paths(command, path)?;
        found.bore_from_flow = Some(bore);
        found.assumptions.append(&mut assumptions);
        found.certificate = Some((certificate, "bore by the law for all regimes"));
        return Ok(found);
    };
    if command.wall.is_some() || command.orifice {
        return Err(Fault::users(
            format!("a flow that is {words} needs no shape, but one is given"),
            "leave out --wall and --orifice, or the rule",
        ));
    }
    if !command.then.is_empty() || !command.and.is_empty() {
        return Err(Fault::users(
            "--then and --and join paths of known shape, but the certificate has none",
            "give the certificate a --wall or --orifice, or leave the other paths out",
        ));
    }
    Ok(Found {
        source: Source::Calibrated(CalibratedFlow {
            kind,
            certified: certificate.flow,
            certificate: certificate.conditions,
        }),
        words: format!(
            "calibrated flow of {} mol/s, {words}",
            plain(certificate.flow.mol_per_s(), 4)
        ),
        bore_from_flow: None,
        certificate: Some((certificate, words)),
        assumptions,
    })
}
