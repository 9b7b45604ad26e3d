//! A small vocabulary in the language of the trade, and texts as people type them, to hold the whole module against.
//!
//! Only for tests. The wordings and the texts are this project's own.

use std::time::Instant;

use super::{Alike, Clause, End, Handed, Heard, Index, Side, Thesaurus, Verdict, Wordings};

/// Key, name, other wordings.
const ENTRIES: &[(usize, &str, &[&str])] = &[
    (1, "horn stays silent", &["horn dead", "no sound from the horn", "horn does nothing when the button is pressed"]),
    (2, "horn sounds weak or hoarse", &["horn weak", "horn croaks", "horn too quiet"]),
    (3, "horn sounds by itself", &["horn will not stop", "horn stuck on", "horn blows on its own"]),
    (10, "headlamp stays dark", &["headlamp dead", "no headlamp", "headlamp out on both beams"]),
    (11, "dipped beam dark, main beam lights", &["no dipped beam", "dip beam out", "dipped headlamp dead"]),
    (12, "main beam dark, dipped beam lights", &["no main beam", "main beam dead", "full beam out"]),
    (13, "headlamps dim", &["headlamps weak", "poor light from the headlamps", "headlamps yellow and dim"]),
    (14, "headlamp aims too high", &["headlamp beam too high", "headlamp dazzles oncoming traffic"]),
    (15, "headlamp dims when the engine idles", &["headlamps dim at tickover", "lamps brighten with engine speed"]),
    (16, "headlamp full of moisture", &["water in the headlamp", "headlamp misted inside"]),
    (20, "tail lamp stays dark", &["tail lamp dead", "rear position lamp out", "no tail lamp"]),
    (21, "one tail lamp dark, the other lit", &["one tail lamp out", "tail lamp out on one side"]),
    (22, "both tail lamps dark", &["both tail lamps out", "no tail lamps at all"]),
    (23, "number-plate lamp stays dark", &["number plate lamp dead", "number plate lamp out"]),
    (24, "stop lamp stays dark", &["stop lamp dead", "stop lamp does not come on", "no stop lamp"]),
    (25, "both stop lamps dark", &["no stop lamps", "both stop lamps dead"]),
    (26, "stop lamps stay on", &["stop lamps on all the time", "stop lamp stuck on with the pedal released"]),
    (
        27,
        "reversing lamp stays dark",
        &["reversing lamp dead", "no reversing lamp", "reversing lamp does not light in reverse gear"],
    ),
    (28, "one reversing lamp dark, the other lit", &["one reversing lamp out"]),
    (29, "reversing lamp stays lit", &["reversing lamp on all the time", "reversing lamp stuck on out of gear"]),
    (30, "rear fog lamp stays dark", &["rear fog lamp dead", "no rear fog lamp"]),
    (31, "front fog lamp stays dark", &["front fog lamp dead"]),
    (32, "front side lamp stays dark", &["side lamp dead", "front position lamp out", "parking lamp dead"]),
    (40, "indicator does not flash", &["indicator dead", "one indicator does not light", "indicator out"]),
    (41, "indicators flash too fast", &["indicator fast on one side", "rapid flashing"]),
    (42, "indicators flash too slowly", &["indicators slow"]),
    (43, "indicators light but do not flash", &["indicator stays on steady", "indicator lit and does not blink"]),
    (44, "hazard warning lamps do not work", &["hazard lamps dead", "no hazards"]),
    (45, "indicators work on one side only", &["indicators dead on one side", "both indicators of one side dead"]),
    (50, "wipers do not move", &["wiper dead", "wiper does not work", "wiper motor does not run"]),
    (51, "wipers move slowly", &["wipers slow", "wiper sluggish"]),
    (52, "wiper does not park", &["wiper stops anywhere on the screen", "wiper will not return to its rest"]),
    (53, "wiper smears", &["wiper blade leaves streaks", "wiper judders over the screen", "poor wiping"]),
    (54, "washer does not spray", &["no washer water", "screen washer dead", "washer jet blocked"]),
    (55, "wash and wipe do not work", &["wash wipe dead"]),
    (
        60,
        "battery does not charge",
        &["battery not charging", "charge warning lamp stays on", "alternator not charging", "no charge"],
    ),
    (
        61,
        "battery goes flat overnight",
        &["battery flat in the morning", "battery drains when standing", "something drains the battery"],
    ),
    (62, "battery boils over", &["battery overcharges", "charging voltage too high"]),
    (70, "starter does nothing", &["starter dead", "engine does not turn over", "no crank"]),
    (71, "starter turns the engine slowly", &["engine cranks slowly", "starter weak"]),
    (72, "starter spins without turning the engine", &["starter whirrs", "starter does not engage"]),
    (73, "starter clicks only", &["starter clicks and does not turn", "solenoid clicks"]),
    (
        74,
        "engine cranks and does not start",
        &["engine turns over and will not fire", "hard to start", "engine does not start"],
    ),
    (75, "engine starts and dies at once", &["engine stalls straight after starting"]),
    (80, "mirror loose", &["mirror will not stay set", "mirror wobbles", "mirror droops"]),
    (81, "mirror glass cracked", &["mirror broken", "mirror glass missing"]),
];

const ALIKE: &[(&str, &[&str])] = &[
    ("lamp", &["light", "bulb"]),
    ("headlamp", &["headlight", "head lamp", "head light"]),
    (
        "indicator",
        &[
            "turn signal",
            "blinker",
            "winker",
            "flasher",
            "trafficator",
            "turning light",
            "direction indicator",
            "signal light",
        ],
    ),
    ("hazard", &["hazard warning", "four way flasher", "hazard warning lamp"]),
    ("tail lamp", &["rear light", "back light", "position light at the rear", "rear lamp"]),
    ("stop lamp", &["brake light", "brake lamp"]),
    ("reversing lamp", &["backup light", "reverse light", "back up light"]),
    ("side lamp", &["sidelight", "parking light", "marker light"]),
    ("number plate", &["license plate", "licence plate", "registration plate", "reg plate", "tag"]),
    ("dipped beam", &["low beam", "dip", "dipped light"]),
    ("main beam", &["high beam", "full beam", "brights"]),
    ("horn", &["hooter", "beeper", "klaxon"]),
    ("alternator", &["generator", "dynamo"]),
    ("windscreen", &["windshield", "screen", "wind screen"]),
    ("wiper", &["wipers", "windscreen wiper", "windshield wiper"]),
    ("battery", &["accumulator", "accu"]),
    ("tickover", &["idle", "idling", "idle speed"]),
    ("dead", &["dark", "out cold", "stays dark", "stay silent", "unlit", "silent", "no life"]),
    ("dim", &["faint", "weak light", "dull", "not bright"]),
    ("fast", &["quick", "rapid", "hyperflash", "hyper flash", "double speed", "nineteen to the dozen"]),
    ("slow", &["sluggish", "lazy", "takes ages"]),
    ("flat", &["drained", "discharged", "run down", "no juice"]),
    ("weak", &["feeble", "poorly"]),
    ("crank", &["turn over", "spin over"]),
    ("smear", &["streak", "streaky"]),
];

pub(super) fn entries() -> Vec<Wordings> {
    ENTRIES
        .iter()
        .map(|&(key, name, said)| Wordings {
            key,
            name: name.to_owned(),
            said: said.iter().map(|s| (*s).to_owned()).collect(),
            weight: 1.0,
        })
        .collect()
}

pub(super) fn groups() -> Vec<Alike> {
    ALIKE
        .iter()
        .map(|&(word, words)| Alike { word: word.to_owned(), words: words.iter().map(|w| (*w).to_owned()).collect() })
        .collect()
}

pub(super) fn index() -> Index {
    Index::new(entries(), Thesaurus::new(groups()))
}

/// Texts and the key that should be among the first three offers of the first statement.
const TEXTS: &[(&str, usize)] = &[
    ("horn not working", 1),
    ("Horn won't work!!", 1),
    ("hron dosent work", 1),
    ("no horn", 1),
    ("hooter's packed in", 1),
    ("nothing happens when i press the horn", 1),
    ("the horn is a bit quiet", 2),
    ("feeble beeper", 2),
    ("horn keeps going by itself", 3),
    ("horn wont stop", 3),
    ("headlight dead", 10),
    ("head light out", 10),
    ("left headlight not working", 10),
    ("hedlight gone on the offside", 10),
    ("low beam doesn't work", 11),
    ("dip out", 11),
    ("no high beams", 12),
    ("full beam not workin", 12),
    ("headlights very dull", 13),
    ("dim headlihgts", 13),
    ("headlights not very bright", 13),
    ("headlamp beam pointing too high", 14),
    ("lights go dim at idle", 15),
    ("water in headlight", 16),
    ("headlight misted up inside", 16),
    ("tail light out", 20),
    ("back light doesn't come on", 20),
    ("N/S/R tail light not lit", 20),
    ("one tail lite out", 21),
    ("nearside tail lamp out other one ok", 21),
    ("both rear lights dead", 22),
    ("numberplate light out", 23),
    ("license plate light isn't working", 23),
    ("tag light out", 23),
    ("reg plate bulb gone", 23),
    ("brake light not coming on", 24),
    ("break light out", 24),
    ("brakelights dead both sides", 25),
    ("neither brake light works", 25),
    ("brake lights stay on all the time", 26),
    ("stop lamps won't go off", 26),
    ("backup light dead", 27),
    ("reverse light doesnt light", 27),
    ("one reversing light not working", 28),
    ("reverse lights always on", 29),
    ("back fog light out", 30),
    ("rear fog not working", 30),
    ("front foglight dead", 31),
    ("side light not working", 32),
    ("sidelight bulb blown", 32),
    ("parking light out front left", 32),
    ("left rear turn signal not working", 40),
    ("blinker dead", 40),
    ("winkers going nineteen to the dozen", 41),
    ("turn signal flashes too quick", 41),
    ("indicater flashing fast on the left", 41),
    ("indicators slow", 42),
    ("flashers come on but dont blink", 43),
    ("indicator stays on doesn't flash", 43),
    ("hazards not working", 44),
    ("four-way flashers dead", 44),
    ("indicators only work on one side", 45),
    ("wipers dead", 50),
    ("wippers won't move", 50),
    ("windshield wiper doesn't work", 50),
    ("wipers are sluggish", 51),
    ("slow wiper", 51),
    ("wiper stops half way up the screen", 52),
    ("wipers wont park", 52),
    ("wiper leaves streaks", 53),
    ("streaky wiper blades", 53),
    ("no water from the screenwash", 54),
    ("washer jets blocked", 54),
    ("wash and wipe dead", 55),
    ("batery not chargeing", 60),
    ("generator isn't charging", 60),
    ("charging light stays on", 60),
    ("battery run down every morning", 61),
    ("accumulator flat overnight", 61),
    ("something's draining my battery", 61),
    ("battery boiling", 62),
    ("starter dead", 70),
    ("engine won't turn over", 70),
    ("turns over really slow", 71),
    ("starter lazy", 71),
    ("starter motor spins but engine doesnt turn", 72),
    ("just clicks when i try the starter", 73),
    ("cranks but won't start", 74),
    ("wont start", 74),
    ("starts then dies straight away", 75),
    ("mirror wobbling about", 80),
    ("loose mirror driver's side", 80),
    ("cracked mirror", 81),
];

fn rank_of(heard: &Heard, key: usize) -> Option<usize> {
    heard.clauses.iter().find(|c| !c.good)?.offers.iter().position(|o| o.key == key)
}

pub(super) fn misses(index: &Index) -> (Vec<String>, usize) {
    let mut misses = Vec::new();
    let mut first = 0;
    for &(text, key) in TEXTS {
        let heard = index.read(text);
        match rank_of(&heard, key) {
            Some(rank) if rank < 3 => first += usize::from(rank == 0),
            rank => misses.push(format!("{text:?} wants {key}, is at {rank:?}: {:?}", heard.clauses)),
        }
    }
    (misses, first)
}

fn only(index: &Index, text: &str) -> Clause {
    let mut heard = index.read(text);
    assert_eq!(heard.clauses.len(), 1, "{text}: {:#?}", heard.clauses);
    heard.clauses.remove(0)
}

/// Each statement as its first offer's key (0 where unknown), `+` before it where it says all is well.
fn outline(index: &Index, text: &str) -> String {
    let heard = index.read(text);
    let parts: Vec<String> = heard
        .clauses
        .iter()
        .map(|c| {
            let key = if c.verdict == Verdict::Unknown { 0 } else { c.offers.first().map_or(0, |o| o.key) };
            format!("{}{key}", if c.good { "+" } else { "" })
        })
        .collect();
    parts.join(" ")
}

#[test]
fn nine_of_ten_texts_have_the_right_entry_among_the_first_three() {
    let index = index();
    let (missed, first) = misses(&index);
    let share = 1.0 - missed.len() as f64 / TEXTS.len() as f64;
    eprintln!("{} texts, first three {share:.3}, first {:.3}", TEXTS.len(), first as f64 / TEXTS.len() as f64);
    assert!(TEXTS.len() >= 60 && share >= 0.9, "{share}\n{}", missed.join("\n"));
}

#[test]
fn show_misses() {
    let index = index();
    eprintln!("{}", misses(&index).0.join("\n"));
    for t in [
        "horn works slow",
        "sunroof stuck",
        "radio dead",
        "interior light dead",
        "horn",
        "dead",
        "wobble",
        "wipers are slow and noisy",
        "seat belt frayed",
        "mirror heater not working",
        "indicator amber faded",
    ] {
        let h = index.read(t);
        eprintln!(
            "{t}: {:?}",
            h.clauses
                .iter()
                .map(|c| (
                    &c.text,
                    c.verdict,
                    c.offers.iter().take(3).map(|o| (o.key, (o.score * 100.0).round())).collect::<Vec<_>>()
                ))
                .collect::<Vec<_>>()
        );
        eprintln!("    {:?}", h.not_understood);
    }
    for t in [
        "horn dead and wipers slow",
        "one tail light and number plate light dead",
        "rear left indicator and brake light out",
        "horn and wipers dead",
        "wash and wipe dead",
        "headlights fine, horn dead",
        "headlights fine horn dead",
        "horn dead wipers slow",
        "brake and tail lights out",
        "one reversing light dark the other works",
        "indicators flash fast on the left and slow on the right",
        "wipers slow, everything else ok",
        "indicators work on the right but not on the left",
        "horn dead. also wipers smear; mirror loose\nbattery flat in the morning",
        "horn and headlights fine but wipers dead",
        "starts but dies straight away",
        "brake light out and indicator",
        "horn, wipers and washer dead",
        "sunroof stuck and horn dead",
        "horn works but weak",
        "wipers work but slow",
    ] {
        let h = index.read(t);
        eprintln!("{t}: {} {:?}", outline(&index, t), h.clauses.iter().map(|c| (&c.text, c.place)).collect::<Vec<_>>());
    }
    let _ = (Handed::UK, Side::Both, End::Rear, Instant::now(), only);
}
