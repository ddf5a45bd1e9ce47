//! Profile: what the test is for, what the container is, what is in it, and
//! which leak matters.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Length, Probability, Throughput, Volume};

use crate::container_strength::ContainerStrength;
use crate::product_liquid::ProductLiquid;
use crate::provenance::{Provenance, Sourced};

/// Everything that came in with the question.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// What the test decides, and for whom.
    pub purpose: Purpose,
    /// The container and its closure.
    pub container: Container,
    /// What is in it.
    pub product: Product,
    /// The gas above it.
    pub headspace: Headspace,
    /// The leak that matters; absent while nobody has said.
    pub mall: Option<Mall>,
}

/// Stands in a profile for words that nobody has given yet.
pub(crate) const TO_BE_NAMED: &str = "to be named";

/// What the test is for, with the error rates that are tolerable.
#[derive(Debug, Clone, PartialEq)]
pub struct Purpose {
    /// Where in the life of the product the test is used.
    pub use_of_test: UseOfTest,
    /// The population of units that the answer is about.
    pub population: String,
    /// The decision that hangs on one result.
    pub decision: String,
    /// Share of good units that may be rejected.
    pub tolerable_false_reject: Probability,
    /// Probability with which the leak that matters must be found.
    pub required_detection: Probability,
    /// Confidence with which both are to be shown.
    pub confidence: Probability,
}

macro_rules! worded {
    ($(#[$meta:meta])* $name:ident { $($(#[$variant_meta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$variant_meta])* $variant),+ }

        impl $name {
            /// Every value, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word that is printed and read.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The value of this word, if it is one.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|value| value.word() == word)
            }
        }
    };
}

pub(crate) use worded;

worded! {
    /// Where in the life of the product the test is used.
    UseOfTest {
        /// Development of the package.
        Development = "development",
        /// Release of a lot on samples.
        Release = "release",
        /// Every unit of a lot.
        FullInspection = "full inspection",
        /// Stability samples over shelf life.
        Stability = "stability",
        /// A unit that came back.
        Complaint = "complaint",
    }
}

worded! {
    /// Kind of container.
    ContainerKind {
        /// Vial with stopper and crimp.
        Vial = "vial",
        /// Prefilled syringe.
        Syringe = "syringe",
        /// Cartridge.
        Cartridge = "cartridge",
        /// Glass ampoule, fusion sealed.
        Ampoule = "ampoule",
        /// Blow-fill-seal unit.
        BlowFillSeal = "blow-fill-seal",
        /// Bag.
        Bag = "bag",
        /// Pouch.
        Pouch = "pouch",
        /// Lidded tray.
        Tray = "tray",
        /// Bottle with closure.
        Bottle = "bottle",
    }
}

worded! {
    /// What fills the container.
    Fill {
        /// A dry cake or powder: only gas reaches a leak.
        Dry = "dry",
        /// A liquid that may sit in the leak.
        Liquid = "liquid",
    }
}

/// The container and its closure.
#[derive(Debug, Clone, PartialEq)]
pub struct Container {
    /// Kind of container.
    pub kind: ContainerKind,
    /// Size and closure in plain words.
    pub description: String,
    /// Wall thickness where a leak would sit: it makes a hole a channel.
    pub wall: Sourced<Length>,
    /// What container, closure and plunger stand.
    pub strength: ContainerStrength,
}

/// What is in the container.
#[derive(Debug, Clone, PartialEq)]
pub struct Product {
    /// Name in plain words.
    pub name: String,
    /// Dry or liquid.
    pub fill: Fill,
    /// Whether dried product may close a leak (protein, sugar, salt).
    pub may_plug: bool,
    /// Its liquid, as far as somebody has stated it; `None` for a dry product.
    pub liquid: Option<ProductLiquid>,
}

impl Product {
    /// Properties of the liquid that nobody has stated; none for a dry product.
    #[must_use]
    pub fn missing_properties(&self) -> Vec<&'static str> {
        match (&self.fill, &self.liquid) {
            (Fill::Dry, _) => Vec::new(),
            (Fill::Liquid, Some(liquid)) => liquid.missing(),
            (Fill::Liquid, None) => crate::product_liquid::NAMES.to_vec(),
        }
    }
}

/// The gas above the product.
#[derive(Debug, Clone, PartialEq)]
pub struct Headspace {
    /// Its gas.
    pub gas: Gas,
    /// Its volume.
    pub volume: Sourced<Volume>,
    /// Its pressure at the time of the test.
    pub pressure: Sourced<AbsolutePressure>,
}

/// A leak, in the terms in which somebody stated it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakStatement {
    /// Diameter of the ideal nozzle that passes the same air, 1 atm to
    /// vacuum at 20 °C. Never a measured bore.
    FlowEquivalentDiameter(Length),
    /// Flow of air, 1 atm to vacuum.
    AirFlow(Throughput),
    /// Flow of helium, 1 atm to vacuum: its own track on the ladder.
    HeliumFlow(Throughput),
}

/// Maximum allowable leakage limit with its reasoning.
#[derive(Debug, Clone, PartialEq)]
pub struct Mall {
    /// The limit as it was stated.
    pub stated: LeakStatement,
    /// Why this leak matters.
    pub reasoning: String,
    /// Who said so.
    pub provenance: Provenance,
}
