//! `knowledge simulate`: what ways of choosing cost on hidden faults, as text and as JSON.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::advice::decision::policy::Way;
use crate::graph::net::Var;
use crate::inference::Limits;
use crate::session::Trace;
use crate::simulate::{Case, Draw, Ending, Summary, case, play, summary};

/// Version of the JSON form.
const SCHEMA: &str = "splitpin-simulate/1";

/// Work beyond which a case counts as too tangled for a way that is only compared with.
const TANGLED: Limits = Limits { cells: 1 << 13, effort: 0 };

/// What was played: each way with its endings, case by case the same.
pub(super) struct Played {
    seed: u64,
    vehicle: String,
    ways: Vec<(Way, Vec<Ending>)>,
}

/// Plays so many cases by every way, all from the same draws. With symptoms, they take turns.
pub(super) fn run(trace: &mut Trace<'_>, symptoms: &[Var], cases: usize, seed: u64, ways: &[Way]) -> Played {
    let mut draw = Draw(seed.max(1));
    let mut drawn: Vec<Case> = Vec::with_capacity(cases);
    let mut turn = symptoms.iter().copied().cycle();
    // A symptom that cannot be drawn is passed over, not waited for.
    for _ in 0..cases.saturating_mul(4) {
        if drawn.len() == cases {
            break;
        }
        drawn.extend(case(trace, turn.next(), &mut draw));
    }
    let usual = trace.limits;
    let ways = ways
        .iter()
        .map(|way| {
            trace.way = *way;
            // Ways that ask without end tangle the case; they are handed over then.
            trace.limits = if *way == Way::default() { usual } else { TANGLED };
            (*way, drawn.iter().map(|c| play(trace, c)).collect())
        })
        .collect();
    (trace.way, trace.limits) = (Way::default(), usual);
    trace.begin_again();
    Played { seed, vehicle: trace.fitted.vehicle.name.clone(), ways }
}

/// Mean of what another way costs more than the first, in pence, and half the width of its 95 % interval, case by case on the same draws.
fn dearer(first: &[Ending], other: &[Ending]) -> (f64, f64) {
    let differences = first.iter().zip(other).map(|(a, b)| Ending { cost: b.cost - a.cost, ..Ending::default() });
    let sum = summary(&differences.collect::<Vec<_>>());
    (sum.cost, sum.cost_within)
}

/// As JSON; costs in pence.
pub(super) fn as_json(played: &Played) -> Value {
    let first = played.ways.first().map(|w| w.1.as_slice()).unwrap_or_default();
    let ways = played.ways.iter().map(|(way, endings)| {
        let s = summary(endings);
        let (more, within) = dearer(first, endings);
        json!({
            "way": way.name(), "cases": s.cases, "cost": s.cost, "cost_within": s.cost_within, "dearer": more,
            "dearer_within": within, "steps": s.steps, "set_up_changes": s.changes, "right": s.right,
            "handed_over": s.handed_over, "unneeded_remedies": s.unneeded, "unneeded_parts": s.unneeded_parts,
        })
    });
    json!({ "schema": SCHEMA, "seed": played.seed, "vehicle": played.vehicle, "ways": ways.collect::<Vec<_>>() })
}

/// As text.
pub(super) fn as_text(played: &Played) -> String {
    let first = played.ways.first().map(|w| w.1.as_slice()).unwrap_or_default();
    let mut out = String::new();
    let cases = first.len();
    let _ = writeln!(out, "{}: {cases} hidden faults, seed {}; 95 % intervals", played.vehicle, played.seed);
    for (i, (way, endings)) in played.ways.iter().enumerate() {
        let Summary { cost, cost_within, steps, changes, right, handed_over, unneeded, unneeded_parts, .. } =
            summary(endings);
        let pounds = |p: f64| format!("{:.2}", p / 100.0);
        let _ = writeln!(out, "\n{}", way.name());
        let _ = write!(out, "  £{} ± {} a case", pounds(cost), pounds(cost_within));
        if i > 0 {
            let (more, within) = dearer(first, endings);
            let share = if cost > more { 100.0 * more / (cost - more) } else { 0.0 };
            let _ = write!(out, "; £{} ± {} dearer ({share:.0} %)", pounds(more), pounds(within));
        }
        let _ = writeln!(out);
        let _ = writeln!(out, "  {steps:.1} steps, {changes:.1} changes of set-up");
        let _ = writeln!(
            out,
            "  {:.1} % put right here, {:.1} % handed over; {unneeded:.2} needless repairs, £{} of parts",
            100.0 * right,
            100.0 * handed_over,
            pounds(unneeded_parts)
        );
    }
    out
}
