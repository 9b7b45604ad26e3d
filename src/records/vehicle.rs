//! Vehicles as the records know them: a name, how it is shown, and the traits it had when it was last spoken of.

use std::collections::BTreeMap;

use rusqlite::Transaction;
use serde::{Deserialize, Serialize};

use super::{Records, Trouble};

/// A vehicle with something kept of it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptVehicle {
    /// Its short name, as typed after `--vehicle`.
    pub name: String,
    /// Its name to show.
    pub shown: String,
    /// The file that describes it; empty for one that needs none.
    #[serde(default)]
    pub file: String,
    /// Traits and their values.
    pub traits: BTreeMap<String, String>,
}

impl Records {
    /// Every vehicle, by name.
    ///
    /// # Errors
    /// If the file cannot be read.
    pub fn vehicles(&self) -> Result<Vec<KeptVehicle>, Trouble> {
        self.read_vehicles().map_err(|e| self.trouble(&e))
    }

    fn read_vehicles(&self) -> rusqlite::Result<Vec<KeptVehicle>> {
        let mut rows = self.connection.prepare("SELECT id, name, shown, file FROM vehicle ORDER BY name")?;
        let mut traits = self.connection.prepare("SELECT name, value FROM trait WHERE vehicle = ?1")?;
        let found: Vec<(i64, String, String, String)> =
            rows.query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))?.collect::<Result<_, _>>()?;
        found
            .into_iter()
            .map(|(id, name, shown, file)| {
                let traits = traits.query_map([id], |r| Ok((r.get(0)?, r.get(1)?)))?.collect::<Result<_, _>>()?;
                Ok(KeptVehicle { name, shown, file, traits })
            })
            .collect()
    }

    /// Notes a vehicle's name and traits as they are now.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn keep_vehicle(&mut self, vehicle: &KeptVehicle) -> Result<(), Trouble> {
        self.change(|t| Ok(put(t, vehicle).map(|_| ())?))
    }
}

/// Adds a vehicle or brings it up to date; gives its row.
pub(super) fn put(transaction: &Transaction<'_>, vehicle: &KeptVehicle) -> rusqlite::Result<i64> {
    let id: i64 = transaction
        .prepare_cached(
            "INSERT INTO vehicle (name, shown, file) VALUES (?1, ?2, ?3)
             ON CONFLICT (name) DO UPDATE SET shown = excluded.shown, file = excluded.file RETURNING id",
        )?
        .query_row((&vehicle.name, &vehicle.shown, &vehicle.file), |row| row.get(0))?;
    let mut put = transaction.prepare_cached(
        "INSERT INTO trait (vehicle, name, value) VALUES (?1, ?2, ?3)
         ON CONFLICT (vehicle, name) DO UPDATE SET value = excluded.value WHERE value <> excluded.value",
    )?;
    for (name, value) in &vehicle.traits {
        put.execute((id, name, value))?;
    }
    Ok(id)
}
