//! Keeps a trace as it is answered: after each line, what changed goes to the records as one transaction before anything is shown.
//!
//! Trouble with the records is told and never stops a trace; what could not be kept is tried again with the next line.

use std::path::{Path, PathBuf};

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::args::{Args, TraceArgs};
use super::commands::Streams;
use super::exit::{Exit, Failure};
use crate::records::sitting::{Begin, Change, Ending, Hold, Kind, NewAnswer, Sitting};
use crate::records::{self, KeptVehicle, Records, Repaired, Trouble};
use crate::session::keep::Kept;
use crate::session::{Talk, Trace};
use crate::vehicle::Vehicle;

/// Where records may stand.
#[derive(Clone, Debug, Default)]
pub struct Data {
    /// The folder that the environment names (`SPLITPIN_DATA`).
    pub named: Option<PathBuf>,
    /// The person's own folder by the convention of the platform.
    pub home: Option<PathBuf>,
}

/// The folder of the records, and whether it was named for this run.
pub(super) fn folder(args: &Args, streams: &Streams<'_>) -> Option<(PathBuf, bool)> {
    let named = args.data.clone().or_else(|| streams.data.named.clone()).map(|f| (f, true));
    named.or_else(|| streams.data.home.clone().map(|f| (f, false)))
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Failure {
        let exit = match &trouble {
            Trouble::NoEntry { .. } => Exit::No,
            Trouble::NoFolder { .. } | Trouble::Gone { .. } => Exit::NoInput,
            Trouble::Full { .. } | Trouble::ReadOnly { .. } | Trouble::Busy { .. } | Trouble::NoCopy { .. } => {
                Exit::NoOutput
            }
            _ => Exit::BadData,
        };
        Failure::new(exit, crate::report::visible(&trouble.to_string()))
    }
}

/// What a trace was begun with beside its vehicle, kept with it so that it goes on alike.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Settings {
    pub traits: Vec<String>,
    pub hourly: Option<f64>,
    pub have: Vec<String>,
    pub lack: Vec<String>,
}

impl Settings {
    pub(super) fn of(args: &Args, trace: Option<&TraceArgs>) -> Settings {
        Settings {
            traits: args.traits.clone(),
            hourly: trace.and_then(|t| t.person.hourly),
            have: trace.map_or_else(Vec::new, |t| t.person.have.clone()),
            lack: trace.map_or_else(Vec::new, |t| t.person.lack.clone()),
        }
    }

    pub(super) fn read(text: &str) -> Settings {
        serde_json::from_str(text).unwrap_or_default()
    }

    fn write(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// A vehicle as the records keep it.
pub(super) fn kept_vehicle(vehicle: &Vehicle, file: Option<&str>) -> KeptVehicle {
    let file = file.filter(|f| Path::new(f).is_file()).and_then(|f| std::fs::canonicalize(f).ok());
    KeptVehicle {
        name: vehicle.id.clone(),
        shown: vehicle.name.clone(),
        file: file.map_or_else(String::new, |f| f.to_string_lossy().into_owned()),
        traits: vehicle.traits.clone(),
    }
}

/// Keeps one person's traces in one folder.
pub(super) struct Keeper {
    /// Nowhere for a trace that is not kept.
    folder: Option<PathBuf>,
    records: Option<Records>,
    vehicle: KeptVehicle,
    knowledge: String,
    settings: Settings,
    day: Date,
    hold: Option<Hold>,
    /// The answers in the file, with their numbers there.
    kept: Vec<(i64, Kept)>,
    unsettled: String,
    closed: bool,
    case: usize,
    /// The trouble told last; the same is not told twice running.
    told: Option<String>,
}

impl Keeper {
    /// For a trace that begins; `records` are those of the folder, where there are any yet.
    pub(super) fn new(
        folder: Option<PathBuf>,
        records: Option<Records>,
        vehicle: KeptVehicle,
        knowledge: String,
        settings: Settings,
        day: Date,
    ) -> Keeper {
        Keeper {
            folder,
            records,
            vehicle,
            knowledge,
            settings,
            day,
            hold: None,
            kept: Vec::new(),
            unsettled: String::new(),
            closed: false,
            case: 0,
            told: None,
        }
    }

    /// With what was told already, so that it is not told twice.
    pub(super) fn having_told(mut self, told: Option<String>) -> Keeper {
        self.told = told;
        self
    }

    /// Goes over to another vehicle; what was kept stays unfinished.
    pub(super) fn change_vehicle(&mut self, vehicle: KeptVehicle) {
        self.vehicle = vehicle;
        self.forget();
        self.case = 0;
    }

    fn forget(&mut self) {
        self.hold = None;
        self.kept.clear();
        self.unsettled.clear();
        self.closed = false;
    }

    /// Brings the answers of a sitting back into a trace. Gives the words still to be settled, and notes on what no longer fits.
    pub(super) fn take_up(
        &mut self,
        sitting: &Sitting,
        trace: &mut Trace<'_>,
    ) -> Result<(String, Vec<String>), Trouble> {
        let answers = match &self.records {
            Some(records) => records.answers(sitting.number)?,
            None => Vec::new(),
        };
        let mut notes = Vec::new();
        if sitting.knowledge != self.knowledge {
            notes.push("The knowledge has changed since: probabilities and advice may differ.".to_owned());
        }
        for answer in answers.into_iter().filter(|a| a.undone.is_none()) {
            let kept: Result<Kept, String> = serde_json::from_str(&answer.answer.data).map_err(|e| e.to_string());
            match kept.and_then(|kept| trace.restored(&kept).map(|answer| (answer, kept))) {
                Ok((restored, kept)) => {
                    trace.push(restored);
                    self.kept.push((answer.id, kept));
                }
                Err(why) => notes.push(format!(
                    "One answer no longer fits and is left out: {} ({why}). It stays in the logbook.",
                    answer.answer.said
                )),
            }
        }
        let set_up = trace.set_up();
        if set_up != "standing"
            && let Some(set_up) = trace.book.set_ups.get(set_up)
        {
            notes.push(format!("It is taken that the vehicle stands as it was left: {}.", set_up.head.name));
        }
        self.hold = Some(Hold { number: sitting.number, edits: sitting.edits });
        self.unsettled = sitting.unsettled.clone();
        self.closed = trace.is_closed();
        self.case = trace.case();
        self.knowledge = sitting.knowledge.clone();
        Ok((sitting.unsettled.clone(), notes))
    }

    /// Keeps what a line changed. Gives what there is to tell: nothing, as long as all is well.
    pub(super) fn after(&mut self, typed: &str, talk: &Talk<'_>) -> Vec<String> {
        match self.try_after(typed, talk) {
            Ok(false) => Vec::new(),
            Ok(true) => {
                let told = self.told.take();
                told.map_or_else(Vec::new, |_| vec!["Kept again, with everything said meanwhile.".to_owned()])
            }
            Err(trouble) => {
                let say = not_kept(&trouble);
                if self.told.as_ref() == Some(&say) {
                    return Vec::new();
                }
                self.told = Some(say.clone());
                vec![say]
            }
        }
    }

    /// What is to be told when the talk ends.
    pub(super) fn farewell(&self, talk: &Talk<'_>) -> Option<String> {
        if let Some(told) = &self.told {
            return Some(told.clone());
        }
        let open = !talk.trace.is_closed() && (!talk.trace.answers().is_empty() || !self.unsettled.is_empty());
        let hold = self.hold.filter(|_| open)?;
        Some(format!("Kept as number {0}. To go on with it: splitpin trace --resume={0}", hold.number))
    }

    /// Whether there was anything to keep.
    fn try_after(&mut self, typed: &str, talk: &Talk<'_>) -> Result<bool, Trouble> {
        let Some(folder) = self.folder.clone() else { return Ok(false) };
        let trace = &talk.trace;
        if trace.case() != self.case {
            // A new symptom after a proved repair: a case of its own.
            self.case = trace.case();
            self.forget();
        }
        let now: Vec<Kept> = trace.answers().iter().map(|a| trace.kept(a)).collect();
        let (mut stands, mut undone, mut next) = (Vec::new(), Vec::new(), 0);
        for (id, kept) in &self.kept {
            if now.get(next) == Some(kept) {
                stands.push((*id, kept.clone()));
                next += 1;
            } else {
                undone.push(*id);
            }
        }
        let unsettled = talk.unsettled();
        let closed = trace.is_closed();
        if undone.is_empty() && next == now.len() && unsettled == self.unsettled && closed == self.closed {
            return Ok(false);
        }
        let given: Vec<NewAnswer> = (next..now.len()).map(|i| new_answer(trace, i, &now[i])).collect();
        let title = title(trace, &unsettled);
        let change = Change {
            day: self.day,
            typed,
            title: &title,
            unsettled: &unsettled,
            undone: &undone,
            given: &given,
            ending: closed.then_some(Ending::Proved),
            repair: repaired(trace, now.last()),
        };
        let (hold, ids) = self.write(&folder, &change, &now, trace)?;
        if self.hold.is_some_and(|h| h.number != hold.number) {
            // Begun anew with every answer, because another program went on with the old one.
            stands.clear();
            next = 0;
        }
        stands.extend(ids.into_iter().zip(now.into_iter().skip(next)));
        self.kept = stands;
        self.hold = Some(hold);
        self.unsettled = unsettled;
        self.closed = closed;
        Ok(true)
    }

    fn write(
        &mut self,
        folder: &Path,
        change: &Change<'_>,
        now: &[Kept],
        trace: &Trace<'_>,
    ) -> Result<(Hold, Vec<i64>), Trouble> {
        // What could not be written when it was opened may be free by now.
        if self.records.as_ref().is_some_and(|r| r.locked().is_some()) {
            self.records = None;
        }
        let records = match &mut self.records {
            Some(records) => records,
            none => none.insert(records::open(folder)?),
        };
        let settings = self.settings.write();
        let begin =
            Begin { kind: Kind::Trace, vehicle: &self.vehicle, knowledge: &self.knowledge, settings: &settings };
        match self.hold {
            None => records.begin(&begin, change),
            Some(hold) => match records.keep(hold, change) {
                Err(Trouble::MovedOn { .. }) => {
                    let all: Vec<NewAnswer> = now.iter().enumerate().map(|(i, k)| new_answer(trace, i, k)).collect();
                    records.begin(&begin, &Change { undone: &[], given: &all, ..change.clone() })
                }
                other => other,
            },
        }
    }
}

/// The sentence for answers that could not be kept.
pub(super) fn not_kept(trouble: &Trouble) -> String {
    format!("Not kept: {trouble}.")
}

/// The repair that a trace was closed with.
fn repaired(trace: &Trace<'_>, last: Option<&Kept>) -> Option<Repaired> {
    match last {
        Some(Kept::Tried { cause, remedy, cured: true }) => {
            let shelf = trace.book.remedies.get(&remedy.id);
            Some(Repaired {
                cause: cause.id.clone(),
                place: cause.place.clone(),
                remedy: remedy.id.clone(),
                proved_by: shelf.map_or_else(String::new, |r| r.proved_by.id.clone()),
                text: trace.put_right().unwrap_or_default(),
            })
        }
        _ => None,
    }
}

fn new_answer(trace: &Trace<'_>, index: usize, kept: &Kept) -> NewAnswer {
    let view = trace.answer_view(index);
    let (subject, place) = kept.subject();
    let number = kept.number();
    NewAnswer {
        kind: kept.kind().to_owned(),
        subject: subject.to_owned(),
        place: place.map(str::to_owned),
        said: format!("{} {}", view.what, view.said),
        number: number.map(|n| n.0),
        unit: number.map(|n| n.1.to_owned()),
        data: serde_json::to_string(kept).unwrap_or_default(),
    }
}

/// What a trace is about, in words: the symptoms, else the first thing said.
fn title(trace: &Trace<'_>, unsettled: &str) -> String {
    let reported = trace.answers().iter().filter_map(|a| match a {
        crate::session::Answer::Reported { name, readings, .. } if readings.iter().any(|r| r.1) => Some(name.as_str()),
        _ => None,
    });
    let mut names: Vec<&str> = reported.collect();
    names.dedup();
    match names.as_slice() {
        [] if trace.answers().is_empty() => unsettled.to_owned(),
        [] => trace.answer_view(0).what,
        names => names.join("; "),
    }
}

/// The fingerprint of texts, 16 hexadecimal digits: FNV-1a, 64 bits (Fowler, Noll and Vo, 1991).
pub(super) fn fingerprint<'t>(texts: impl IntoIterator<Item = &'t [u8]>) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for text in texts {
        for byte in text.iter().chain(&[0]) {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::fingerprint;

    #[test]
    fn a_fingerprint_tells_texts_apart_and_is_the_published_hash() {
        assert_ne!(fingerprint([b"ab".as_slice(), b"c"]), fingerprint([b"a".as_slice(), b"bc"]));
        // FNV-1a of the one byte 0: the offset basis times the prime.
        assert_eq!(fingerprint([b"".as_slice()]), "af63bd4c8601b7df");
    }
}
