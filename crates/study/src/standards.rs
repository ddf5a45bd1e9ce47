//! Standards: what the documents of the field ask for, in our own words, and
//! what a case has to show for it.
//!
//! Facts are stated from general knowledge of the editions named and were not
//! read again in the edition that a site holds; clause numbers are therefore
//! not given at all. Where the page says "by analogy", the document was not
//! written for leak tests.

use crate::case::Case;
use crate::kept_records::KeptRecords;
use crate::provenance::Origin;
use crate::runs::{RunClass, RunOrigin};

/// How far a case meets a demand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The case holds it.
    Held,
    /// The case holds some of it.
    Partly,
    /// The case should hold it and does not.
    Missing,
    /// It lies with the site, outside any case.
    WithSite,
}

impl Standing {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::Partly => "partly",
            Self::Missing => "missing",
            Self::WithSite => "with the site",
        }
    }
}

/// A demand, and where the case stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demand {
    /// Document and edition.
    pub document: &'static str,
    /// What it asks for, in our own words.
    pub asks: &'static str,
    /// Where the case stands.
    pub standing: Standing,
    /// What the case has to show; empty where there is nothing.
    pub evidence: String,
    /// What is missing; empty where nothing is.
    pub gap: String,
    /// Section of the study report that shows it; empty where none does.
    pub section: &'static str,
}

const PARENT: &str = "USP <1207> (2016)";
const LIFE_CYCLE: &str = "USP <1207.1> (2016)";
const TECHNOLOGIES: &str = "USP <1207.2> (2016)";
const SEALS: &str = "USP <1207.3> (2016)";
const VACUUM_DECAY: &str = "ASTM F2338-09 (reapproved 2020)";
const ANNEX_1: &str = "EU GMP Annex 1 (2022)";
const PART_211: &str = "21 CFR Part 211";
const PART_11: &str = "21 CFR Part 11";
const Q2: &str = "ICH Q2(R2) (2023), by analogy";
const ISO_11607: &str = "ISO 11607-1:2019";

/// Every demand of the table with the standing of a case.
#[must_use]
pub fn standards(case: &Case, kept: &KeptRecords) -> Vec<Demand> {
    let facts = Facts::of(case);
    let profile = &case.input.profile;
    let mut table = Table::default();
    let mall = profile.mall.is_some();
    table.judge(
        PARENT,
        "State the largest leakage the product–package tolerates, and with which reasoning.",
        mall,
        "limit with reasoning",
        "nobody has said which leak matters",
        "profile",
    );
    table.add(
        LIFE_CYCLE,
        "Begin with a profile of product and package, their use, storage and shipment.",
        Standing::Partly,
        "container, product, headspace, purpose with their origins",
        "storage and shipment are not part of the profile",
        "profile",
    );
    table.judge(
        LIFE_CYCLE,
        "Develop with negative and positive controls; justify kind, size and place of the leaks.",
        facts.negative > 0 && facts.positive > 0,
        &format!("{} negative, {} positive runs", facts.negative, facts.positive),
        "controls of both kinds have not been run",
        "runs",
    );
    table.judge(
        LIFE_CYCLE,
        "Give a detection limit for this product–package, not for the instrument.",
        facts.detection,
        "size found with probability 0.9, exact bounds by size",
        "no detection from units of this package",
        "results",
    );
    table.add(
        LIFE_CYCLE,
        "Show accuracy, precision, specificity and robustness, and fix system suitability.",
        if facts.detection { Standing::Partly } else { Standing::Missing },
        if facts.detection { "right and wrong decisions by class and size" } else { "" },
        "precision between operators and rigs, robustness and suitability are not in the case",
        "results",
    );
    table.judge(
        TECHNOLOGIES,
        "Confirm in a study what a technology can do for this package; published limits are not \
         enough.",
        facts.detection && !facts.simulated,
        "study on units",
        if facts.simulated { "the runs are simulated" } else { "no study on units" },
        "results",
    );
    table.add(
        SEALS,
        "Seal quality is another question than integrity and is tested beside it.",
        Standing::WithSite,
        "",
        "name the seal tests that cover leaks below the claimed size",
        "",
    );
    table.judge(
        VACUUM_DECAY,
        "Set the criterion from no-leak packages against packages with a leak.",
        facts.limit && facts.detection,
        "tolerance limit from negative controls, detection of positive controls",
        "limit or detection cannot be said",
        "results",
    );
    table.judge(
        VACUUM_DECAY,
        "Challenge the chamber with a calibrated flow of gas.",
        kept.checked_items > 0,
        &format!("{} checked items in the register", kept.checked_items),
        "no flow standard or positive control with a passed check is registered",
        "",
    );
    table.add(
        VACUUM_DECAY,
        "Report package, lot, conditioning, chamber, transducer, parameters, controls, outcome by \
         unit, operator and deviations.",
        if facts.runs > 0 { Standing::Partly } else { Standing::Missing },
        if facts.runs > 0 { "parameters, rig, every run with its outcome" } else { "" },
        "lots, conditioning and operators are not part of a case",
        "runs",
    );
    table.add(
        ANNEX_1,
        "Test the integrity of containers by a suitable method; every unit where they are sealed \
         by fusion and small, samples with a reasoned plan where they are closed otherwise.",
        Standing::WithSite,
        &format!("use of the test: {}", profile.purpose.use_of_test.word()),
        "sampling plan and its reason",
        "profile",
    );
    table.add(
        ANNEX_1,
        "Containers sealed under vacuum keep it over their shelf life; transport is considered.",
        Standing::WithSite,
        "",
        "vacuum after storage and transport",
        "",
    );
    table.judge(
        PART_211,
        "Accuracy, sensitivity, specificity and reproducibility of a test method are on record.",
        facts.detection && facts.limit,
        "error rates with bounds, at the limit of this report",
        "no results",
        "results",
    );
    table.judge(
        PART_211,
        "Complete data: every run is kept, none is dropped without reason.",
        facts.runs > 0,
        &format!("{} runs in the account, each with its trace", facts.runs),
        "no runs",
        "account",
    );
    table.judge(
        PART_11,
        "A secure, time-stamped trail of changes that does not hide earlier values.",
        kept.history_entries > 0,
        &format!("{} entries in the history", kept.history_entries),
        "this document was not made from a benchbook",
        "signing",
    );
    table.judge(
        PART_11,
        "Signatures with name, time and meaning, bound to the record they sign.",
        kept.standing_signatures > 0,
        &format!("{} signatures stand", kept.standing_signatures),
        "not signed",
        "signing",
    );
    table.add(
        PART_11,
        "The system is shown to be fit for its use at the site; access and training are governed.",
        Standing::WithSite,
        "",
        "qualification of the software at the site",
        "",
    );
    table.judge(
        Q2,
        "Specificity: the answer belongs to the leak and not to the filled container.",
        facts.negative > 0 && facts.positive > 0,
        "negative controls against positive controls",
        "controls of both kinds have not been run",
        "results",
    );
    table.judge(
        Q2,
        "Detection limit, and the lower end of the range confirmed by tests there.",
        facts.detection,
        "units tested across the transition",
        "no units across the transition",
        "results",
    );
    table.add(
        Q2,
        "Precision: repeatability, intermediate precision, reproducibility.",
        if facts.days > 1 { Standing::Partly } else { Standing::Missing },
        &if facts.days > 1 {
            format!("negative controls on {} days", facts.days)
        } else {
            String::new()
        },
        "operators, rigs and sites",
        "results",
    );
    table.add(
        ISO_11607,
        "A test method for a sterile barrier has a reason for its choice, criteria, repeatability, \
         reproducibility and sensitivity.",
        if facts.detection { Standing::Partly } else { Standing::Missing },
        if facts.detection { "criteria and sensitivity" } else { "" },
        "reproducibility; does not apply where no medical device is packed",
        "results",
    );
    table.judge(
        VACUUM_DECAY,
        "Know the free volume and the tightness of the chamber.",
        case.input.rig.free_volume.provenance.origin == Origin::Measured,
        "free volume measured",
        &format!("the free volume is {}", case.input.rig.free_volume.provenance.origin.word()),
        "profile",
    );
    table.demands.sort_by_key(|demand| place(demand.document));
    table.demands
}

fn place(document: &str) -> usize {
    let order = [
        PARENT,
        LIFE_CYCLE,
        TECHNOLOGIES,
        SEALS,
        VACUUM_DECAY,
        ANNEX_1,
        PART_211,
        PART_11,
        Q2,
        ISO_11607,
    ];
    order.iter().position(|name| *name == document).unwrap_or(order.len())
}

/// Facts of a case that several demands ask for.
struct Facts {
    runs: usize,
    negative: usize,
    positive: usize,
    days: usize,
    limit: bool,
    detection: bool,
    simulated: bool,
}

impl Facts {
    fn of(case: &Case) -> Self {
        let of =
            |holds: fn(&RunClass) -> bool| case.runs.iter().filter(|run| holds(&run.class)).count();
        let results = case.results.as_ref();
        let limit = results.and_then(|results| results.reject_limit.as_ref());
        Self {
            runs: case.runs.len(),
            negative: of(|class| *class == RunClass::NegativeControl),
            positive: of(|class| matches!(class, RunClass::PositiveControl { .. })),
            days: limit.map_or(0, |limit| limit.by_day.len()),
            limit: limit.is_some(),
            detection: results.is_some_and(|results| results.detection.is_some()),
            simulated: case
                .runs
                .iter()
                .any(|run| matches!(run.origin, RunOrigin::Simulated { .. })),
        }
    }
}

#[derive(Default)]
struct Table {
    demands: Vec<Demand>,
}

impl Table {
    fn add(
        &mut self,
        document: &'static str,
        asks: &'static str,
        standing: Standing,
        evidence: &str,
        gap: &str,
        section: &'static str,
    ) {
        let (evidence, gap) = (evidence.to_owned(), gap.to_owned());
        self.demands.push(Demand { document, asks, standing, evidence, gap, section });
    }

    /// A demand that is held, with its evidence, or missing, with its gap.
    fn judge(
        &mut self,
        document: &'static str,
        asks: &'static str,
        held: bool,
        evidence: &str,
        gap: &str,
        section: &'static str,
    ) {
        if held {
            self.add(document, asks, Standing::Held, evidence, "", section);
        } else {
            self.add(document, asks, Standing::Missing, "", gap, section);
        }
    }
}
