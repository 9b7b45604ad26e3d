//! The limits of measured checks against the published figures they cite.
//!
//! `reference/limits.tsv` holds the figures, each with its source. Every measured check of the knowledge that cites a publication stands
//! below with the figures its limits rest on; one that does not stand here fails, and so does an entry no check needs any more.

use std::collections::BTreeSet;

use splitpin::knowledge::book::{Check, CheckReading};
use splitpin::reckon::electrics;

use crate::reference_tables::{Row, book, number, rows};

const FIGURES: &str = include_str!("reference/limits.tsv");
const FUSES_AND_LAMPS: &str = include_str!("reference/fuses-and-lamps.tsv");

fn figure(name: &str) -> Row {
    let found = rows("limits.tsv", FIGURES).into_iter().find(|r| r["figure"] == name);
    found.unwrap_or_else(|| panic!("no figure `{name}`"))
}

/// Lowest and highest value of a figure.
fn range(name: &str) -> (f64, f64) {
    (number(figure(name)["low"]), number(figure(name)["high"]))
}

/// The highest value of a figure.
fn most(name: &str) -> f64 {
    number(figure(name)["high"])
}

// ------------------------------------------------------------------ what a check's limits rest on

/// What a path is made of, for the drops the SAE recommends: connections, cables, and switch or solenoid contacts. What each path is
/// made of is common practice.
struct Path(u32, u32, u32);

impl Path {
    /// Volts that the recommendations allow over the path.
    fn allowed(&self) -> f64 {
        f64::from(self.0) * most("largest drop, high-current connection")
            + f64::from(self.1) * most("largest drop, high-current cable")
            + f64::from(self.2) * most("largest drop, switch or solenoid contacts")
    }
}

enum Rest {
    /// Volts of a resting battery: the shares of charge, in per cent, that "bad" and "good" stand for. `cells`: how many it has.
    Charge { bad: (f64, f64), good: (f64, f64), cells: f64 },
    /// Gravity of the acid: the same.
    Gravity { bad: f64, good: f64 },
    /// A battery that is short of one cell: more than a full battery of five cells, less than a flat one of six. `cells` of the whole.
    CellShort { cells: f64 },
    /// Charging volts: good reaches as far as the figure's ends from hot to cold, bad lies beyond.
    ChargingLow,
    /// The same, on the high side.
    ChargingHigh,
    /// Charging volts under load: bad is no lower than a full battery at rest, good no higher than the figure's low end.
    ChargingLoaded,
    /// Drop over a path: good within what is allowed, bad above that and never above what shows a fault in any circuit.
    Drop(Path),
    /// An open circuit told from a drop: the lost volts are beyond what shows a fault in any circuit.
    Open,
    /// Volts under load after a drop, from a battery that the check asks to read at least so many volts.
    Left { from: f64 },
    /// Within a figure's ends, ends included; a margin of `step` to the first bad value.
    WithinLow { figure: &'static str, step: f64 },
    /// The same, on the high side.
    WithinHigh { figure: &'static str, step: f64 },
    /// Bad from the figure's low end down; good a margin above it, inside the ends.
    EdgeLow(&'static str),
    /// Bad from the figure's high end up; good a margin below it, inside the ends.
    EdgeHigh(&'static str),
    /// Bad below the figure's low end; good above it.
    LimitLow(&'static str),
    /// Bad above the figure's high end; good below it.
    LimitHigh(&'static str),
    /// What the figure allows is good to both its ends; bad lies well below it.
    OutsideLow(&'static str),
    /// The same, well above it.
    OutsideHigh(&'static str),
    /// Bad before the figure is reached: what is renewed in good time.
    BeforeHigh(&'static str),
    /// The figure lies between bad and good.
    AroundLow(&'static str),
    /// The check cites a publication for its other readings; this one is common practice, and why it may be.
    Practice(&'static str),
    /// Amperes of a lamp that ought to have the small filament of a P21/5W and may have the large one.
    SmallFilament,
}

/// Check, sign, and what the limits rest on.
const RESTS: &[(&str, &str, Rest)] = &[
    // State-of-charge tables credited to BCI.
    (
        "volts-at-battery-at-rest",
        "battery-rest-volts-low",
        Rest::Charge { bad: (25.0, 50.0), good: (75.0, 100.0), cells: 6.0 },
    ),
    ("volts-at-battery-at-rest", "battery-rest-volts-two-short", Rest::CellShort { cells: 6.0 }),
    (
        "volts-at-six-volt-battery-at-rest",
        "battery-rest-volts-low",
        Rest::Charge { bad: (25.0, 50.0), good: (72.0, 100.0), cells: 3.0 },
    ),
    ("volts-at-six-volt-battery-at-rest", "battery-rest-volts-two-short", Rest::CellShort { cells: 3.0 }),
    ("read-gravity-of-cells", "gravity-low-in-all-cells", Rest::Gravity { bad: 50.0, good: 75.0 }),
    (
        "charge-and-leave-overnight",
        "volts-fall-in-the-night-after-charging",
        Rest::Charge { bad: (50.0, 75.0), good: (75.0, 100.0), cells: 6.0 },
    ),
    // Technical notes on charging voltage.
    ("volts-while-charging", "charging-volts-low", Rest::ChargingLow),
    ("volts-while-charging", "charging-volts-high", Rest::ChargingHigh),
    ("volts-while-charging-with-load", "charging-volts-fall-with-load", Rest::ChargingLoaded),
    // Drops recommended by the SAE, as quoted in workshop literature.
    ("drop-along-charging-lead", "charging-drop-high", Rest::Drop(Path(0, 2, 0))),
    ("drop-of-regulator-earth", "regulator-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("measure-headlamp-earth-drop", "headlamp-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("measure-headlamp-feed-drop", "headlamp-feed-drop-high", Rest::Drop(Path(1, 1, 1))),
    ("measure-dip-switch-drop", "headlamp-dip-switch-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("measure-headlamp-relay-drop", "headlamp-relay-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("volts-drop-steering", "horn-steering-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("volt-drop-to-flasher", "volts-at-flasher-sag", Rest::Drop(Path(1, 1, 1))),
    ("volt-drop-of-indicator-earth", "indicator-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("volt-drop-of-indicator-switch", "indicator-switch-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("volts-at-position-lamp-with-bulb-in", "position-volts-sag-with-bulb-in", Rest::Left { from: 12.4 }),
    ("volt-drop-of-position-earth", "position-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-across-solenoid", "solenoid-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("volts-at-starter-while-cranking", "volts-at-starter-low-while-cranking", Rest::Drop(Path(2, 1, 1))),
    ("measure-stop-earth-drop", "stop-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("measure-stop-feed-drop", "stop-feed-drop-high", Rest::Drop(Path(1, 1, 1))),
    ("measure-stop-switch-drop", "stop-switch-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("volt-drop-of-trailer-earth", "trailer-earth-drop-high", Rest::Drop(Path(3, 1, 0))),
    ("drop-battery-negative-to-body", "battery-to-body-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-battery-negative-to-engine", "battery-to-engine-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-of-handlebar-earth", "handlebar-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-across-fuse-clips", "fuse-volts-differ-across-clips", Rest::Drop(Path(2, 0, 0))),
    ("volts-at-ignition-switch", "no-volts-out-of-ignition-switch", Rest::Open),
    ("volts-at-ignition-switch", "ignition-switch-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("drop-across-a-joint", "volts-lost-across-a-joint", Rest::Drop(Path(1, 0, 0))),
    ("drop-of-corner-earth", "corner-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-across-lighting-switch", "lighting-switch-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("drop-across-battery-clamps", "drop-across-clamp-high", Rest::Drop(Path(1, 0, 0))),
    ("drop-along-battery-cable", "battery-cable-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("drop-across-main-fuse", "main-fuse-drop-high", Rest::Drop(Path(2, 0, 0))),
    ("drop-across-battery-isolator", "battery-isolator-drop-high", Rest::Drop(Path(0, 0, 1))),
    ("volts-at-fuse-box", "no-volts-at-fuse-box-live", Rest::Open),
    ("volts-at-fuse-box", "fuse-box-live-volts-low", Rest::Drop(Path(4, 1, 0))),
    // Inspection manual 4.4.4 and UN R48: 60 to 120 is allowed, both included; a person counts whole flashes.
    ("count-flashes", "indicators-flash-too-fast", Rest::WithinHigh { figure: "flash rate", step: 1.0 }),
    ("count-flashes", "indicators-flash-too-slow", Rest::WithinLow { figure: "flash rate", step: 1.0 }),
    // Testers' notice of 24 March 2016; for high lamps a beam-setter maker's sheet.
    (
        "measure-dip-drop-on-wall",
        "headlamp-aim-high",
        Rest::EdgeLow("dip edge below horizontal, lamp centre up to 850 mm"),
    ),
    (
        "measure-dip-drop-on-wall",
        "headlamp-aim-low",
        Rest::EdgeHigh("dip edge below horizontal, lamp centre up to 850 mm"),
    ),
    (
        "measure-dip-drop-on-wall-high-lamp",
        "headlamp-aim-high",
        Rest::EdgeLow("dip edge below horizontal, lamp centre over 850 mm"),
    ),
    (
        "measure-dip-drop-on-wall-high-lamp",
        "headlamp-aim-low",
        Rest::EdgeHigh("dip edge below horizontal, lamp centre over 850 mm"),
    ),
    // Inspection manual, edition of 2012, 8.3: damage that the circle holds is allowed; a tape shows whole millimetres.
    (
        "measure-damage-zone-a",
        "screen-damage-zone-a",
        Rest::WithinHigh { figure: "windscreen damage circle, zone A", step: 1.0 },
    ),
    (
        "measure-damage-sweep",
        "screen-damage-swept",
        Rest::WithinHigh { figure: "windscreen damage circle, rest of swept area", step: 1.0 },
    ),
    // Directive 97/24/EC, sheet P21/5W.
    ("current-of-position-lamp", "position-side-draws-too-much", Rest::SmallFilament),
    // Brakes: the inspection manual, the testers' notices of 2013, makers' limits.
    (
        "measure-brake-pipe",
        "brake-pipe-measures-thin",
        Rest::LimitLow("brake pipe of 4.75 mm, a third of the wall gone"),
    ),
    ("measure-brake-rod", "brake-rod-measures-thin", Rest::LimitHigh("brake rod, share of the thickness gone")),
    ("measure-brake-rod", "brake-linkage-worn", Rest::LimitHigh("brake rod, share of the thickness gone")),
    ("measure-drum", "drum-measures-oversize", Rest::LimitHigh("brake drum over its diameter when new")),
    ("measure-linings", "drum-lining-measures-thin", Rest::LimitLow("brake lining or pad, least")),
    (
        "measure-linings",
        "drum-lining-near-limit",
        Rest::Practice("how much is left before the limit is a matter of the next year's miles"),
    ),
    ("measure-linings", "brake-lining-below-limit", Rest::LimitLow("brake lining or pad, least")),
    ("measure-pads", "disc-pad-measures-thin", Rest::LimitLow("brake lining or pad, least")),
    (
        "measure-pads",
        "disc-pad-near-limit",
        Rest::Practice("how much is left before the limit is a matter of the next year's miles"),
    ),
    ("measure-pads", "brake-lining-below-limit", Rest::LimitLow("brake lining or pad, least")),
    ("measure-servo-vacuum", "servo-vacuum-low", Rest::AroundLow("vacuum for a brake servo, least")),
    ("time-servo-vacuum", "servo-reserve-lost", Rest::OutsideHigh("vacuum lost by a sound servo in 15 s")),
    (
        "test-brake-fluid-for-water",
        "brake-fluid-test-shows-water",
        Rest::BeforeHigh("water at which the wet boiling point is measured"),
    ),
    ("measure-stop-from-20-mph", "brake-measured-stop-long", Rest::LimitLow("service brake, one control")),
    ("measure-stop-from-20-mph", "brakes-weak", Rest::LimitLow("service brake, one control")),
    ("measure-stop-from-20-mph", "brake-efficiency-low", Rest::LimitLow("service brake, one control")),
    ("measure-stop-from-20-mph", "brake-efficiency-far-low", Rest::LimitLow("service brake, half the requirement")),
    (
        "measure-stop-with-one-control",
        "brake-control-two-stop-long",
        Rest::LimitLow("service brake, the better of two controls"),
    ),
    ("work-out-brake-imbalance", "brake-imbalance", Rest::LimitHigh("brake imbalance on an axle")),
    ("work-out-front-brake-imbalance", "brake-imbalance-front", Rest::LimitHigh("brake imbalance on an axle")),
    (
        "work-out-front-brake-imbalance",
        "brake-imbalance-gross",
        Rest::LimitHigh("brake imbalance, gross, on a steered axle"),
    ),
    ("measure-disc-round", "disc-thickness-varies", Rest::EdgeHigh("thickness of a brake disc, round the disc")),
    // Wheels, tyres, steering.
    ("measure-tread-depth", "tyre-tread-below-limit", Rest::LimitLow("tread, cars and light vans")),
    ("measure-tread-depth", "tyre-tread-low-not-illegal", Rest::Practice("a remark, not a limit")),
    ("measure-tread-depth-few-wheels", "tyre-tread-below-limit", Rest::LimitLow("tread, cars and light vans")),
    ("measure-tread-depth-few-wheels", "tyre-tread-low-not-illegal", Rest::Practice("a remark, not a limit")),
    ("measure-tread-depth-motorcycle", "tyre-tread-below-limit", Rest::LimitLow("tread, motorcycles")),
    ("measure-tread-depth-motorcycle", "tyre-tread-low-not-illegal", Rest::Practice("a remark, not a limit")),
    ("measure-rim-run-out", "run-out-sideways-high", Rest::LimitHigh("motorcycle rim, side run-out, steel")),
    ("measure-alloy-run-out", "run-out-sideways-high", Rest::LimitHigh("motorcycle rim, side run-out, alloy")),
    ("measure-rim-hop", "rim-hop-high", Rest::LimitHigh("motorcycle rim, eccentricity")),
    ("measure-hub-end-play", "hub-end-play-high", Rest::OutsideHigh("end play of a hub with taper bearings")),
    ("measure-hub-end-play", "hub-no-end-play", Rest::OutsideLow("end play of a hub with taper bearings")),
    ("measure-rim-play", "rim-play-over-limit-rack", Rest::EdgeHigh("play at the rim, rack, by number of joints")),
    ("measure-rim-play", "rim-play-over-limit-box", Rest::LimitHigh("play at the rim, other than rack")),
    // Engine and driveline.
    ("measure-chain-length", "chain-measures-long", Rest::BeforeHigh("roller chain, longer than new")),
    (
        "measure-co-no-catalyst",
        "co-found-high-on-analyser",
        Rest::EdgeHigh("CO without a catalyst, by date of first use"),
    ),
    ("five-minute-pool-test", "leak-makes-pool", Rest::LimitHigh("pool of a refused leak, across")),
    ("measure-points-gap", "points-gap-found-small", Rest::OutsideLow("gap of the contact-breaker points")),
    ("measure-points-gap", "points-gap-found-wide", Rest::OutsideHigh("gap of the contact-breaker points")),
    ("drop-across-closed-points", "points-drop-high-closed", Rest::Drop(Path(0, 0, 1))),
    ("drop-in-module-earth", "module-earth-drop-high", Rest::Drop(Path(1, 1, 0))),
    ("ohm-lambda-heater", "lambda-heater-found-open", Rest::OutsideHigh("lambda sensor heater")),
    ("ohm-plug-leads", "plug-lead-ohms-high", Rest::LimitHigh("plug lead, a metre")),
    ("ohm-temperature-sensor-cold", "sensor-ohms-low-when-cold", Rest::OutsideLow("temperature sensor at 20 C")),
    ("ohm-temperature-sensor-hot", "sensor-ohms-high-when-hot", Rest::OutsideHigh("temperature sensor at 80 C")),
    ("ohm-the-injectors", "injector-found-open", Rest::OutsideHigh("petrol injector at 20 C")),
];

// ------------------------------------------------------------------ holding them to it

/// The low pair of limits, bad and good, which the reading must have alone.
fn low(r: &CheckReading) -> (f64, f64) {
    assert!(r.limits.bad_above.is_none() && r.limits.good_below.is_none(), "{}: limits above", r.sign.id);
    (r.limits.bad_below.expect("bad-below"), r.limits.good_above.expect("good-above"))
}

/// The high pair of limits, good and bad, which the reading must have alone.
fn high(r: &CheckReading) -> (f64, f64) {
    assert!(r.limits.bad_below.is_none() && r.limits.good_above.is_none(), "{}: limits below", r.sign.id);
    (r.limits.good_below.expect("good-below"), r.limits.bad_above.expect("bad-above"))
}

/// Numbers in ascending order, equal ones allowed, rounding apart; says which are not.
fn ascending(numbers: &[(&str, f64)]) -> Result<(), String> {
    match numbers.windows(2).find(|p| p[0].1 > p[1].1 + 1e-9) {
        Some(pair) => Err(format!("{} {} is above {} {}", pair[0].0, pair[0].1, pair[1].0, pair[1].1)),
        None => Ok(()),
    }
}

/// Open-circuit volts at a share of charge, from the table's own row.
fn rested(percent: f64) -> f64 {
    most(&format!("battery at {percent} % charge, rested"))
}

fn holds(rest: &Rest, r: &CheckReading) -> Result<(), String> {
    match rest {
        Rest::Charge { bad, good, cells } => {
            let (b, g) = low(r);
            let (b, g) = (electrics::state_of_charge(b * 6.0 / cells), electrics::state_of_charge(g * 6.0 / cells));
            ascending(&[("least", bad.0), ("charge at bad", b), ("most", bad.1)])?;
            ascending(&[("least", good.0), ("charge at good", g), ("most", good.1)])
        }
        Rest::Gravity { bad, good } => {
            let row = |percent: f64| most(&format!("acid at {percent} % charge"));
            let (b, g) = low(r);
            ascending(&[("gravity at bad", row(*bad)), ("bad", b), ("gravity at bad", row(*bad))])?;
            ascending(&[("gravity at good", row(*good)), ("good", g), ("gravity at good", row(*good))])
        }
        Rest::CellShort { cells } => {
            let (b, g) = low(r);
            let (full_but_one, flat) = (rested(100.0) / 6.0 * (cells - 1.0), rested(0.0) / 6.0 * cells);
            ascending(&[("full but for a cell", full_but_one), ("bad", b), ("good", g), ("flat", flat)])
        }
        Rest::ChargingLow => {
            let (b, g) = low(r);
            let (hot, usual) = (
                range("charging voltage at the battery, hot to cold").0,
                range("charging voltage at the battery, usual").0,
            );
            ascending(&[("full at rest", rested(100.0)), ("bad", b), ("hot", hot), ("good", g), ("usual", usual)])
        }
        Rest::ChargingHigh => {
            let (g, b) = high(r);
            let (cold, usual) = (
                range("charging voltage at the battery, hot to cold").1,
                range("charging voltage at the battery, usual").1,
            );
            ascending(&[("usual", usual), ("good", g), ("cold", cold), ("bad", b)])
        }
        Rest::ChargingLoaded => {
            let (b, g) = low(r);
            let hot = range("charging voltage at the battery, hot to cold").0;
            ascending(&[("full at rest", rested(100.0)), ("bad", b), ("good", g), ("hot", hot)])
        }
        Rest::Drop(path) => {
            let (g, b) = high(r);
            let any = most("largest drop, any circuit");
            ascending(&[("good", g), ("allowed over the path", path.allowed()), ("bad", b), ("any circuit", any)])
        }
        Rest::Open => {
            let (g, b) = high(r);
            ascending(&[("any circuit", most("largest drop, any circuit")), ("good", g), ("bad", b)])
        }
        Rest::Left { from } => {
            let (b, g) = low(r);
            let shows_a_fault = from - most("largest drop, any circuit");
            let allowed = from - Path(1, 1, 1).allowed();
            ascending(&[
                ("left of a drop that shows a fault", shows_a_fault),
                ("bad", b),
                ("good", g),
                ("left of a good path", allowed),
            ])
        }
        Rest::WithinLow { figure, step } => {
            let (b, g) = low(r);
            let least = range(figure).0;
            ascending(&[("allowed", least), ("good", g), ("allowed", least)])?;
            ascending(&[("first not allowed", least - step), ("bad", b), ("first not allowed", least - step)])
        }
        Rest::WithinHigh { figure, step } => {
            let (g, b) = high(r);
            let limit = most(figure);
            ascending(&[("allowed", limit), ("good", g), ("allowed", limit)])?;
            ascending(&[("first not allowed", limit + step), ("bad", b), ("first not allowed", limit + step)])
        }
        Rest::EdgeLow(figure) => {
            let ((b, g), (least, greatest)) = (low(r), range(figure));
            ascending(&[("edge", least), ("bad", b), ("edge", least), ("good", g), ("other edge", greatest)])
        }
        Rest::EdgeHigh(figure) => {
            let ((g, b), (least, greatest)) = (high(r), range(figure));
            ascending(&[("other edge", least), ("good", g), ("edge", greatest), ("bad", b), ("edge", greatest)])
        }
        Rest::LimitLow(figure) => {
            let ((b, g), (limit, _)) = (low(r), range(figure));
            ascending(&[("limit", limit), ("bad", b), ("limit", limit), ("good", g)])
        }
        Rest::LimitHigh(figure) => {
            let ((g, b), limit) = (high(r), most(figure));
            ascending(&[("good", g), ("limit", limit), ("bad", b), ("limit", limit)])
        }
        Rest::OutsideLow(figure) => {
            let ((b, g), (least, _)) = (low(r), range(figure));
            ascending(&[("bad", b), ("good", g), ("allowed", least)])
        }
        Rest::OutsideHigh(figure) => {
            let ((g, b), greatest) = (high(r), most(figure));
            ascending(&[("allowed", greatest), ("good", g), ("bad", b)])
        }
        Rest::BeforeHigh(figure) => {
            let ((g, b), limit) = (high(r), most(figure));
            ascending(&[("good", g), ("bad", b), ("limit", limit)])
        }
        Rest::AroundLow(figure) => {
            let ((b, g), (least, _)) = (low(r), range(figure));
            ascending(&[("bad", b), ("least", least), ("good", g)])
        }
        Rest::Practice(why) => (!why.is_empty()).then_some(()).ok_or_else(|| "say why".to_owned()),
        Rest::SmallFilament => {
            let (g, b) = high(r);
            let of = |property: &str| {
                let row = rows("fuses-and-lamps.tsv", FUSES_AND_LAMPS)
                    .into_iter()
                    .find(|r| r["designation"] == "P21/5W" && r["property"] == property);
                let (large, small) = row.and_then(|r| r["value"].split_once('/')).expect("two filaments");
                (number(large), number(small))
            };
            let running = of("W at 13.5 V").1 * (1.0 + of("tolerance of W, per cent").1 / 100.0);
            let small = electrics::current(running, 13.5);
            let large = electrics::current(of("rated W at 12 V").0, 12.0);
            ascending(&[("small filament at its most", small), ("good", g), ("bad", b), ("large filament", large)])
        }
    }
}

fn published(check: &Check) -> bool {
    book().sources.get(&check.head.source.id).is_some_and(|s| s.kind == "published")
}

/// Readings of measured checks that cite a publication.
fn cited() -> impl Iterator<Item = (&'static Check, &'static CheckReading)> {
    let measured = book().checks.iter().filter(|c| c.measure.is_some() && published(c));
    measured.flat_map(|c| c.reads.iter().map(move |r| (c, r)))
}

#[test]
fn every_limit_that_cites_a_publication_agrees_with_its_figures() {
    let mut wrong = Vec::new();
    let mut held = BTreeSet::new();
    for (check, reading) in cited() {
        let (id, sign) = (check.head.id.as_str(), reading.sign.id.as_str());
        match RESTS.iter().find(|(c, s, _)| *c == id && *s == sign) {
            Some((.., rest)) => wrong.extend(holds(rest, reading).err().map(|why| format!("{id} / {sign}: {why}"))),
            None => wrong.push(format!("{id} / {sign} cites {} and is held to no figure", check.head.source.id)),
        }
        assert!(held.insert((id, sign)), "{id} reads {sign} twice");
    }
    for (check, sign, _) in RESTS {
        if !held.contains(&(*check, *sign)) {
            wrong.push(format!("{check} / {sign}: no such limit any more"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!("{} limits of measured checks held to published figures", held.len());
}

/// The two directions of drop while cranking that a battery-tester maker's sheet allows, and both together.
#[test]
fn drops_while_cranking_are_bad_from_what_the_tester_maker_allows_on() {
    for (check, figure, tolerance) in [
        ("drop-along-battery-cable", "positive side", 0.0),
        ("drop-battery-negative-to-engine", "earth side", 0.2),
        ("volts-at-starter-while-cranking", "both sides", 0.2),
    ] {
        let check = book().checks.get(check).unwrap_or_else(|| panic!("no check {check}"));
        let allowed = most(&format!("largest drop while cranking, {figure}"));
        let (good, bad) = high(&check.reads[0]);
        let ordered =
            ascending(&[("good", good), ("allowed", allowed), ("bad", bad), ("and no more than", allowed + tolerance)]);
        assert_eq!(ordered, Ok(()), "{}", check.head.id);
    }
}

#[test]
fn the_state_of_charge_tables_of_the_arithmetic_are_the_published_ones() {
    for percent in [0.0, 25.0, 50.0, 75.0, 100.0] {
        assert_eq!(electrics::state_of_charge(rested(percent)), percent);
        assert_eq!(electrics::state_of_charge_by_gravity(most(&format!("acid at {percent} % charge"))), percent);
    }
}

/// What sources.toml says of a publication, and the steps of checks say of a limit, name the same figures.
#[test]
fn figures_in_the_words_of_the_knowledge_are_the_published_ones() {
    let ends = |name: &str| (figure(name)["low"], figure(name)["high"]);
    let source = |id: &str| {
        let source = book().sources.get(id).unwrap_or_else(|| panic!("no source {id}"));
        format!("{}; {}", source.head.name, source.where_)
    };
    let (low, high) = ends("charging voltage at the battery, usual");
    assert!(source("charging-voltage-range").contains(&format!("{low} to {high} V")));
    let (hot, cold) = ends("charging voltage at the battery, hot to cold");
    assert!(source("charging-voltage-range").contains(&format!("{hot} V hot to {cold} V cold")));
    for percent in [25, 50, 75, 100] {
        let volts = figure(&format!("battery at {percent} % charge, rested"))["high"];
        assert!(source("battery-voltage-table").contains(&format!("{percent} % {volts} V")));
    }
    for (what, figure_name) in [
        ("connection", "high-current connection"),
        ("cable", "high-current cable"),
        ("contacts", "switch or solenoid contacts"),
    ] {
        let volts = figure(&format!("largest drop, {figure_name}"))["high"];
        assert!(source("sae-voltage-drops").contains(&format!("{what} {volts} V")), "{what}");
    }
    let (low, high) = ends("flash rate");
    assert!(source("flash-rate-r48").contains(&format!("{low} to {high} per minute")));
    let flash_items = book().items.iter().filter(|i| i.section == "4.4.4");
    assert!(
        flash_items.clone().count() >= 2 && flash_items.clone().all(|i| i.limit == format!("{low}-{high} per minute"))
    );
    let (low, high) = ends("dip edge below horizontal, lamp centre up to 850 mm");
    assert!(source("headlamp-aim-2016").contains(&format!("{low} to {high} %")));
    let (low, high) = ends("dip edge below horizontal, lamp centre over 850 mm");
    assert!(source("headlamp-aim-high-lamp").contains(&format!("{low} to {high} %")));
    let circle = |name: &str| figure(&format!("windscreen damage circle, {name}"))["high"];
    let zones = format!("zone A {} mm; rest of swept area {} mm", circle("zone A"), circle("rest of swept area"));
    for id in ["cars-3-2-a-i", "cars-3-2-a-ii"] {
        assert_eq!(book().items.get(id).map(|i| i.limit.as_str()), Some(zones.as_str()));
    }
    let zone = book().checks.get("measure-damage-zone-a").expect("the check of zone A");
    assert!(zone.steps.iter().any(|s| s.contains(&format!("{} mm wide", figure("width of zone A")["high"]))));
}
