//! Medicines of the story. Every product is invented; so are doses and times to hold milk and meat.

use std::fmt;

use ledger_format::vocabulary::{DoseUnit, Route};

/// A product on the farm's shelf or in the vet's car.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Remedy {
    pub(crate) product: &'static str,
    pub(crate) unit: DoseUnit,
    pub(crate) route: Option<Route>,
    pub(crate) doses: &'static [u32],
    pub(crate) milk: &'static str,
    pub(crate) meat: &'static str,
    /// How its batches begin.
    pub(crate) batch: &'static str,
}

/// Against infection of the foot.
pub(crate) static PEDIREL: Remedy = Remedy {
    product: "Pedirel 10%",
    unit: DoseUnit::Ml,
    route: Some(Route::Im),
    doses: &[15, 18, 20, 25],
    milk: "60h",
    meat: "8d",
    batch: "P",
};

/// Against pain.
pub(crate) static OVELMAR: Remedy = Remedy {
    product: "Ovelmar",
    unit: DoseUnit::Ml,
    route: Some(Route::Sc),
    doses: &[12, 15, 18],
    milk: "0d",
    meat: "4d",
    batch: "OV",
};

/// A spray on the skin.
pub(crate) static TAVRISAN: Remedy = Remedy {
    product: "Tavrisan spray",
    unit: DoseUnit::Ml,
    route: Some(Route::Topical),
    doses: &[3, 5],
    milk: "0d",
    meat: "0d",
    batch: "TS",
};

/// Into the vein of a tied-off limb; the vet only.
pub(crate) static MORDELIX: Remedy = Remedy {
    product: "Mordelix",
    unit: DoseUnit::G,
    route: Some(Route::Regional),
    doses: &[2, 3],
    milk: "4d",
    meat: "12d",
    batch: "M",
};

/// Tablets, for a cow that does not eat.
pub(crate) static CASTUREN: Remedy = Remedy {
    product: "Casturen bolus",
    unit: DoseUnit::Piece,
    route: Some(Route::Oral),
    doses: &[1, 2],
    milk: "36h",
    meat: "5d",
    batch: "CB",
};

/// One medicine given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Dose {
    pub(crate) remedy: &'static Remedy,
    pub(crate) batch: Option<String>,
    pub(crate) amount: u32,
    pub(crate) reason: String,
}

impl fmt::Display for Dose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Remedy { product, unit, route, milk, meat, .. } = self.remedy;
        write!(f, "\"{product}\"")?;
        if let Some(batch) = &self.batch {
            write!(f, " batch \"{batch}\"")?;
        }
        write!(f, " dose {} {unit}", self.amount)?;
        if let Some(route) = route {
            write!(f, " route {route}")?;
        }
        write!(f, " for \"{}\" milk {milk} meat {meat}", self.reason)
    }
}
