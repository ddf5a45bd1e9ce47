//! What is answered where a case is begun, put into the case: purpose with error
//! rates, headspace with uncertainty, age and source, storage with its budgets.

use intake::written_quantity::{
    read_absolute_pressure, read_duration, read_mass_kg, read_pressure_difference,
    read_temperature, read_volume,
};
use study::StorageBudget;
use study::profile::{Headspace, Purpose};
use study::provenance::{Origin, Provenance};
use study::quantities::Probability;

use super::begin::{HeadspaceArgs, PurposeArgs, StorageArgs};
use crate::fault::Fault;
use crate::written_numbers::share;

/// Population, decision and the error rates that are tolerable; what is not
/// answered stays as the container began it.
///
/// # Errors
/// A share that is none, or a certainty that no test can show.
pub fn purpose(answers: &PurposeArgs, purpose: &mut Purpose) -> Result<(), Fault> {
    if let Some(words) = &answers.population {
        purpose.population.clone_from(words);
    }
    if let Some(words) = &answers.decision {
        purpose.decision.clone_from(words);
    }
    if let Some(text) = &answers.false_rejects {
        purpose.tolerable_false_reject = fraction("false rejects", text)?;
    }
    if let Some(text) = &answers.detection {
        purpose.required_detection = fraction("detection", text)?;
    }
    if let Some(text) = &answers.confidence {
        purpose.confidence = fraction("confidence", text)?;
    }
    Ok(())
}

/// A share strictly between none and all.
fn fraction(what: &str, text: &str) -> Result<Probability, Fault> {
    let value = share(text)?;
    Probability::new(value).filter(|_| value > 0.0 && value < 1.0).ok_or_else(|| {
        Fault::users(
            format!("{what}: `{text}` leaves no room for chance"),
            "write a share between 0 and 1, or a percentage such as 95%",
        )
    })
}

/// Uncertainty, age and source of the headspace.
///
/// # Errors
/// An uncertainty below zero, a word that says no source, an age that is none.
pub fn headspace(answers: &HeadspaceArgs, headspace: &mut Headspace) -> Result<(), Fault> {
    let size = |value: f64, text: &str| {
        if value >= 0.0 {
            Ok(value)
        } else {
            Err(Fault::users(
                format!("an uncertainty cannot be negative: `{text}`"),
                "leave out the sign",
            ))
        }
    };
    if let Some(text) = &answers.pressure_uncertainty {
        let pa = size(read_pressure_difference(text)?.pa(), text)?;
        headspace.pressure.standard_uncertainty_si = Some(pa);
    }
    if let Some(text) = &answers.volume_uncertainty {
        if answers.headspace.is_none() {
            return Err(Fault::users(
                "an uncertainty of the headspace volume is stated without the volume",
                "state --headspace as well, or leave its uncertainty out",
            ));
        }
        let m3 = size(read_volume(text)?.m3(), text)?;
        headspace.volume.standard_uncertainty_si = Some(m3);
    }
    let known = answers.headspace_known.as_deref().map(origin).transpose()?;
    if answers.headspace_from.is_none() && known.is_none() && answers.headspace_age.is_none() {
        return Ok(());
    }
    let from = answers.headspace_from.as_deref().unwrap_or("as stated; no source given");
    let age = match &answers.headspace_age {
        Some(text) => {
            let days = read_duration(text)?.s() / 86_400.0;
            format!("; {} d after sealing", crate::table_text::plain(days, 4))
        }
        None => String::new(),
    };
    let provenance = Provenance {
        origin: known.unwrap_or(Origin::Assumed),
        by: String::new(),
        on: String::new(),
        from: format!("{from}{age}"),
    };
    // A volume that was computed from the filling stays so.
    if answers.headspace.is_some() {
        headspace.volume.provenance = provenance.clone();
    }
    headspace.pressure.provenance = provenance;
    Ok(())
}

fn origin(word: &str) -> Result<Origin, Fault> {
    Origin::from_word(word).ok_or_else(|| {
        Fault::users(
            format!("`{word}` does not say how a value is known"),
            "known: measured, published, assumed, computed",
        )
    })
}

/// Storage, where anything of it is answered.
///
/// # Errors
/// A budget without a shelf life, or a quantity that is none.
pub fn storage(answers: &StorageArgs) -> Result<Option<StorageBudget>, Fault> {
    let mut storage = StorageBudget::none();
    let given = |text: &Option<String>| text.is_some();
    let has_budget = [
        &answers.pressure_at_expiry,
        &answers.oxygen,
        &answers.moisture,
        &answers.liquid_loss,
        &answers.store,
    ]
    .into_iter()
    .any(given);
    let Some(text) = &answers.shelf_life else {
        return if has_budget {
            Err(Fault::users(
                "storage is stated without the time from sealing to expiry",
                "state the shelf life as well, such as --shelf-life 730d",
            ))
        } else {
            Ok(None)
        };
    };
    storage.shelf_life = read_duration(text)?;
    if let Some(text) = &answers.store {
        storage.temperature = read_temperature(text)?;
    }
    if let Some(text) = &answers.pressure_at_expiry {
        storage.headspace_pressure = Some(read_absolute_pressure(text, None)?);
    }
    if let Some(text) = &answers.oxygen {
        storage.oxygen_fraction = Some(share(text)?);
    }
    if let Some(text) = &answers.moisture {
        storage.water_kg = Some(read_mass_kg(text)?);
    }
    if let Some(text) = &answers.liquid_loss {
        storage.liquid_loss_kg = Some(read_mass_kg(text)?);
    }
    Ok(Some(storage))
}

#[cfg(test)]
mod tests {
    use super::super::begin::{Begin, case};
    use super::*;

    fn begun(change: impl Fn(&mut Begin)) -> Result<study::CaseInput, Fault> {
        let mut command = Begin {
            dry: true,
            product: "invented powder".to_owned(),
            fill: Some("0.4mL".to_owned()),
            ..Begin::default()
        };
        command.purpose.use_of_test = "release".to_owned();
        command.headspace.gas = "nitrogen".to_owned();
        command.headspace.headspace_pressure = "300mbar".to_owned();
        change(&mut command);
        case(&command, "vial-2r")
    }

    fn some(text: &str) -> Option<String> {
        Some(text.to_owned())
    }

    #[test]
    fn every_answer_stands_in_the_case() {
        let case = begun(|command| {
            command.purpose.population = some("units of lot 7");
            command.purpose.decision = some("the lot is released");
            command.purpose.false_rejects = some("0.2%");
            command.purpose.detection = some("0.99");
            command.purpose.confidence = some("90%");
            command.closure = some("a bromobutyl stopper");
            command.headspace.pressure_uncertainty = some("15mbar");
            command.headspace.headspace_age = some("14d");
            command.headspace.headspace_known = some("measured");
            command.headspace.headspace_from = some("laser absorption on 20 units");
            command.storage.shelf_life = some("730d");
            command.storage.oxygen = some("2%");
        })
        .expect("begins");
        let purpose = &case.profile.purpose;
        assert_eq!(purpose.population, "units of lot 7");
        assert_eq!(purpose.decision, "the lot is released");
        assert!((purpose.tolerable_false_reject.fraction() - 0.002).abs() < 1e-12);
        assert_eq!(purpose.required_detection.fraction(), 0.99);
        assert!((purpose.confidence.fraction() - 0.9).abs() < 1e-12);
        assert!(case.profile.container.description.contains("bromobutyl"));
        let pressure = &case.profile.headspace.pressure;
        assert!((pressure.standard_uncertainty_si.expect("stated") - 1500.0).abs() < 1e-6);
        assert_eq!(pressure.provenance.origin, Origin::Measured);
        assert!(pressure.provenance.from.contains("14 d after sealing"));
        // The volume was computed from the filling, and stays so.
        assert_eq!(case.profile.headspace.volume.provenance.origin, Origin::Computed);
        let storage = case.storage.expect("stated");
        assert!((storage.shelf_life.s() / 86_400.0 - 730.0).abs() < 1e-9);
        assert!((storage.oxygen_fraction.expect("stated") - 0.02).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_answer_is_refused() {
        let refused = |change: fn(&mut Begin)| begun(change).expect_err("refused").message;
        assert!(refused(|c| c.purpose.detection = some("100%")).contains("no room for chance"));
        assert!(refused(|c| c.purpose.false_rejects = some("0")).contains("no room for chance"));
        assert!(refused(|c| c.storage.oxygen = some("2%")).contains("without the time"));
        assert!(refused(|c| c.headspace.headspace_known = some("guessed")).contains("guessed"));
        assert!(refused(|c| c.headspace.volume_uncertainty = some("1mL")).contains("without"));
        assert!(
            refused(|c| c.headspace.pressure_uncertainty = some("-1mbar")).contains("negative")
        );
        // Nothing answered is nothing stated.
        assert!(begun(|_| {}).expect("begins").storage.is_none());
    }
}
