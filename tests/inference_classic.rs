//! The classic networks against values on which two general-purpose libraries agree.
//!
//! The files of `reference/inference/classic` are written by `classic.py` beside them, which describes their form and names sources: nets of
//! many-valued variables made binary by breaking a stick, cases, posteriors and chances of the evidence.

#![allow(clippy::unwrap_used)]

use serde_json::Value;
use splitpin::inference::{Engine, Limits};

#[path = "benches/classic.rs"]
mod classic;

use classic::{NETS, evidence, file, list, net, var, vars};

const EXACT: f64 = 1e-9;

/// Every value of one network; says how many posteriors were compared.
fn check(name: &str) -> usize {
    let file = file(name);
    let net = net(&file);
    let engine = Engine::new(&net);
    let mut compared = 0;
    for case in list(&file["cases"]) {
        let (evidence, targets) = (evidence(case), vars(&case["targets"]));
        let found = engine.posterior_of(&evidence, &targets, &Limits::default()).unwrap();
        let says = &case["says"];
        assert!(found.is_exact(), "{name} {says}: {:?}", found.work);
        let (chance, wanted) = (found.ln_evidence.exp(), case["chance"].as_f64().unwrap());
        assert!((chance - wanted).abs() <= EXACT * wanted, "{name} {says}: chance {chance}, wanted {wanted}");
        assert_eq!(targets.len(), list(&case["present"]).len());
        for ((target, got), wanted) in targets.iter().zip(&found.present).zip(list(&case["present"])) {
            let (got, wanted) = (got.value(), wanted.as_f64().unwrap());
            let bit = &file["bits"][target.index()]["name"];
            assert!((got - wanted).abs() <= EXACT, "{name} {says}: {bit} {got}, wanted {wanted}");
            compared += 1;
        }
    }
    compared
}

#[test]
fn classic_networks_give_the_values_of_two_libraries() {
    let compared: usize = NETS.iter().map(|name| check(name)).sum();
    assert!(compared > 1500, "{compared}");
}

/// Figures two libraries gave earlier, or that were printed: the files have not drifted.
#[test]
fn tabled_figures_stand_in_the_files() {
    let figure = |name: &str, says: &[(&str, &str)], bit: &str| {
        let file = file(name);
        let same = |c: &&Value| {
            let given = c["says"].as_object().unwrap();
            given.len() == says.len() && says.iter().all(|(k, v)| given.get(*k).is_some_and(|x| x == v))
        };
        let case = list(&file["cases"]).iter().find(same).unwrap().clone();
        if bit.is_empty() {
            return case["chance"].as_f64().unwrap();
        }
        let at = list(&case["targets"]).iter().position(|t| file["bits"][var(t).index()]["name"] == bit).unwrap();
        case["present"][at].as_f64().unwrap()
    };
    let no_output = [("Problem1", "No_Output")];
    let liver = [("jaundice", "present"), ("fatigue", "present"), ("itching", "present")];
    for (name, says, bit, wanted) in [
        ("win95pts", &no_output[..], "", 0.427446035951),
        ("win95pts", &[("Problem2", "Too_Long")][..], "", 0.0520950667126),
        ("hepar2", &liver[..], "", 0.073185874756),
        ("hepar2", &liver[..], "PBC=present", 0.551317336373),
        ("alarm", &[("HRBP", "HIGH"), ("CO", "LOW"), ("BP", "LOW")][..], "", 0.0956018695615),
        ("earthquake", &[("JohnCalls", "True"), ("MaryCalls", "True")][..], "Burglary=True", 0.556522062157),
        ("asia", &[("asia", "yes"), ("dysp", "yes")][..], "tub=yes", 0.0877509649829),
        ("cancer", &[("Dyspnoea", "True")][..], "Smoker=True", 0.307034059536),
    ] {
        let got = figure(name, says, bit);
        assert!((got - wanted).abs() < 1e-9, "{name} {bit}: {got}, wanted {wanted}");
    }
}
