//! The engine against published worked examples and against seeded nets with stored exact answers.
//!
//! The nets in `reference/inference/nets` are ours: seeded noisy-OR nets of two to four layers, eight
//! cases each, their answers computed by two independent methods (subset recursion or chains of ORs,
//! and the rank-two form; up to ten positives also in sixty-digit arithmetic). Worked examples name
//! their source beside the check; exact values were recomputed in exact fractions, and the published
//! figure, where there is one, is checked to the digits it was printed with.

#![allow(clippy::unwrap_used)]

use serde_json::Value;
use splitpin::graph::net::{Effect, Gate, Net, NetBuilder, Var};
use splitpin::inference::{Engine, Evidence, Finding, Limits, Posterior};

const EXACT: f64 = 1e-9;

// ------------------------------------------------------------------ building

#[derive(Default)]
struct Draft {
    builder: NetBuilder,
}

impl Draft {
    fn root(&mut self, prior: f64) -> Var {
        self.builder.add(Gate::Root { prior }).unwrap()
    }

    fn any_of(&mut self, leak: f64, causes: &[(Var, f64)]) -> Var {
        let v = self.builder.add(Gate::AnyOf { leak }).unwrap();
        for (p, s) in causes {
            self.builder.link(*p, v, *s, Effect::Causes).unwrap();
        }
        v
    }

    /// Any table over binary parents. For each row a gate that holds exactly in that row (all that
    /// must be present, none that must not), and one noisy-OR over the rows. `chance` gets the
    /// parents' states in order.
    fn table(&mut self, parents: &[Var], chance: impl Fn(&[bool]) -> f64) -> Var {
        let mut rows = Vec::new();
        for bits in 0..1_u32 << parents.len() {
            let states: Vec<bool> = (0..parents.len()).map(|i| bits >> i & 1 == 1).collect();
            let row = self.builder.add(Gate::AllOf { leak: 0.0 }).unwrap();
            for (p, s) in parents.iter().zip(&states) {
                let effect = if *s { Effect::Causes } else { Effect::Inhibits };
                self.builder.link(*p, row, 1.0, effect).unwrap();
            }
            rows.push((row, chance(&states)));
        }
        self.any_of(0.0, &rows)
    }

    /// A child of one parent: chance when the parent is present, and when absent.
    fn after(&mut self, parent: Var, present: f64, absent: f64) -> Var {
        self.table(&[parent], |s| if s[0] { present } else { absent })
    }

    fn done(self) -> Net {
        self.builder.build().unwrap()
    }
}

/// Evidence: these seen, those not.
fn given(seen: &[Var], not_seen: &[Var]) -> Evidence {
    let yes = seen.iter().map(|v| Finding::seen(*v));
    yes.chain(not_seen.iter().map(|v| Finding::not_seen(*v))).collect()
}

fn posterior(net: &Net, evidence: &Evidence) -> Posterior {
    let p = Engine::new(net).posterior(evidence, &Limits::default()).unwrap();
    assert!(p.is_exact());
    p
}

fn p(net: &Net, of: Var, evidence: &Evidence) -> f64 {
    posterior(net, evidence).present[of.index()].value()
}

fn chance(net: &Net, evidence: &Evidence) -> f64 {
    posterior(net, evidence).ln_evidence.exp()
}

#[track_caller]
fn exactly(got: f64, wanted: f64) {
    assert!((got - wanted).abs() < EXACT, "{got}, wanted {wanted}");
}

/// Within half a unit of the last printed digit.
#[track_caller]
fn printed(got: f64, figure: &str) {
    let digits = figure.split('.').nth(1).map_or(0, str::len) as i32;
    let wanted: f64 = figure.parse().unwrap();
    assert!((got - wanted).abs() <= 0.501 * 10.0_f64.powi(-digits), "{got}, printed {figure}");
}

// ------------------------------------------------------------ worked examples

/// Russell and Norvig, *Artificial Intelligence: A Modern Approach*, the fever noisy-OR; table as
/// printed in lecture slides.
#[test]
fn e01_fever() {
    let mut d = Draft::default();
    let (cold, flu, malaria) = (d.root(0.1), d.root(0.1), d.root(0.1));
    let fever = d.any_of(0.0, &[(cold, 0.4), (flu, 0.8), (malaria, 0.9)]);
    let net = d.done();
    for (on, wanted) in [
        (vec![malaria], 0.9),
        (vec![flu], 0.8),
        (vec![flu, malaria], 0.98),
        (vec![cold], 0.4),
        (vec![cold, malaria], 0.94),
        (vec![cold, flu], 0.88),
        (vec![cold, flu, malaria], 0.988),
        (vec![], 0.0),
    ] {
        let off: Vec<Var> = [cold, flu, malaria].into_iter().filter(|v| !on.contains(v)).collect();
        exactly(p(&net, fever, &given(&on, &off)), wanted);
    }
}

/// Strengths are net of the leak; the compound convention must be converted. Figures measured with a
/// general-purpose library that offers both.
#[test]
fn e02_net_and_compound_leak() {
    for (a, b, wanted) in [(0.5, 0.7, 0.865), (1.0 - 0.5 / 0.9, 1.0 - 0.3 / 0.9, 0.8333333333333334)] {
        let mut d = Draft::default();
        let (x, y) = (d.root(0.5), d.root(0.5));
        let z = d.any_of(0.1, &[(x, a), (y, b)]);
        let net = d.done();
        exactly(p(&net, z, &given(&[x, y], &[])), wanted);
    }
}

/// Russell and Norvig, the burglary alarm: posterior from memory of the book, forward chances from
/// the archived wiki page tme2073, the joint from Vidakovic, *Statistics for Bioengineering
/// Sciences*, p. 94; the older table from lecture slides of IIT Kharagpur.
#[test]
fn e03_burglary() {
    let build = |alarm: [f64; 4]| {
        let mut d = Draft::default();
        let (b, e) = (d.root(0.001), d.root(0.002));
        let a = d.table(&[b, e], |s| alarm[usize::from(s[0]) + 2 * usize::from(s[1])]);
        let (j, m) = (d.after(a, 0.9, 0.05), d.after(a, 0.7, 0.01));
        (d.done(), [b, e, a, j, m])
    };
    let (net, [b, e, a, j, m]) = build([0.001, 0.94, 0.29, 0.95]);
    let both = p(&net, b, &given(&[j, m], &[]));
    exactly(both, 0.28417183536439294);
    printed(both, "0.284");
    exactly(chance(&net, &given(&[j, m, a], &[b, e])), 0.00062811126);
    exactly(p(&net, a, &given(&[b], &[])), 0.94002);
    exactly(p(&net, j, &given(&[b], &[])), 0.849017);
    exactly(p(&net, m, &given(&[b], &[])), 0.6586138);
    exactly(chance(&net, &given(&[j, m, b], &[])) / 0.001, 0.59224259);
    exactly(p(&net, b, &given(&[a], &[])), 0.373551228281836);
    exactly(p(&net, b, &given(&[a, e], &[])), 0.0032684235876969656);
    exactly(p(&net, b, &given(&[j], &[])), 0.016283729946769937);
    exactly(p(&net, e, &given(&[j, m], &[])), 0.17606683840507922);
    exactly(p(&net, a, &given(&[j], &[e])), 0.033788238300887834);
    let (net, [b, _, a, _, _]) = build([0.001, 0.95, 0.29, 0.95]);
    let older = p(&net, b, &given(&[a], &[]));
    exactly(older, 0.3760258579128902);
    printed(older, "0.376");
}

/// Lauritzen and Spiegelhalter 1988, the chest clinic; tables as in BUGS examples vol. 2, marginals
/// from memory.
#[test]
fn e05_chest_clinic() {
    let mut d = Draft::default();
    let (asia, smoke) = (d.root(0.01), d.root(0.5));
    let tub = d.after(asia, 0.05, 0.01);
    let lung = d.after(smoke, 0.1, 0.01);
    let bronc = d.after(smoke, 0.6, 0.3);
    let either = d.any_of(0.0, &[(tub, 1.0), (lung, 1.0)]);
    let xray = d.after(either, 0.98, 0.05);
    let dysp = d.table(&[either, bronc], |s| [0.1, 0.7, 0.8, 0.9][usize::from(s[0]) + 2 * usize::from(s[1])]);
    let net = d.done();
    let alone = posterior(&net, &Evidence::new());
    for (v, wanted) in
        [(tub, 0.0104), (lung, 0.055), (bronc, 0.45), (either, 0.064828), (xray, 0.11029004), (dysp, 0.4359706)]
    {
        exactly(alone.present[v.index()].value(), wanted);
    }
    let sick = posterior(&net, &given(&[asia, dysp], &[]));
    for (v, wanted) in [
        (tub, 0.08775096498292188),
        (lung, 0.09952514509455444),
        (bronc, 0.8114020715892366),
        (either, 0.1822998528227486),
        (xray, 0.2195388631251562),
        (smoke, 0.6259198578212213),
    ] {
        exactly(sick.present[v.index()].value(), wanted);
    }
    let shadow = posterior(&net, &given(&[asia, dysp, xray], &[]));
    for (v, wanted) in [(tub, 0.39171172000757926), (lung, 0.44427050775543164), (bronc, 0.6288217759739857)] {
        exactly(shadow.present[v.index()].value(), wanted);
    }
    let clear = posterior(&net, &given(&[asia, dysp, smoke], &[xray]));
    for (v, wanted) in [(tub, 0.0019305564711311178), (lung, 0.0038611129422622356), (bronc, 0.9215958639004774)] {
        exactly(clear.present[v.index()].value(), wanted);
    }
}

/// N. Fenton, Queen Mary University of London, page on explaining away: train strike.
#[test]
fn e06_train_strike() {
    let mut d = Draft::default();
    let (strike, overslept) = (d.root(0.1), d.root(0.4));
    let martin = d.table(&[overslept, strike], |s| [0.5, 0.5, 0.6, 0.8][usize::from(s[0]) + 2 * usize::from(s[1])]);
    let norman = d.after(strike, 0.8, 0.1);
    let net = d.done();
    for (seen, of, wanted, figure) in [
        (vec![martin], strike, 0.13127413127413126, "0.13"),
        (vec![martin], overslept, 0.4092664092664093, "0.41"),
        (vec![martin, norman], strike, 0.5472837022132797, ""),
        (vec![martin, norman], overslept, 0.4386317907444668, "0.44"),
    ] {
        let got = p(&net, of, &given(&seen, &[]));
        exactly(got, wanted);
        if !figure.is_empty() {
            printed(got, figure);
        }
    }
}

/// K. Murphy, introduction to graphical models: the sprinkler (figures from memory).
#[test]
fn e07_sprinkler() {
    let mut d = Draft::default();
    let cloudy = d.root(0.5);
    let sprinkler = d.after(cloudy, 0.1, 0.5);
    let rain = d.after(cloudy, 0.8, 0.2);
    let wet = d.any_of(0.0, &[(sprinkler, 0.9), (rain, 0.9)]);
    let net = d.done();
    exactly(chance(&net, &given(&[wet], &[])), 0.6471);
    for (seen, of, wanted, figure) in [
        (vec![wet], sprinkler, 0.4297635605006954, "0.4298"),
        (vec![wet], rain, 0.7079276773296245, "0.7079"),
        (vec![wet, rain], sprinkler, 0.1944990176817289, "0.1945"),
    ] {
        let got = p(&net, of, &given(&seen, &[]));
        exactly(got, wanted);
        printed(got, figure);
    }
}

/// Poole and Mackworth, *Artificial Intelligence: Foundations of Computational Agents*: the fire
/// alarm (the first figure read in a worked sum, the others from memory).
#[test]
fn e08_fire_alarm() {
    let mut d = Draft::default();
    let (tampering, fire) = (d.root(0.02), d.root(0.01));
    let alarm = d.table(&[fire, tampering], |s| [0.0001, 0.99, 0.85, 0.5][usize::from(s[0]) + 2 * usize::from(s[1])]);
    let smoke = d.after(fire, 0.9, 0.01);
    let leaving = d.after(alarm, 0.88, 0.001);
    let report = d.after(leaving, 0.75, 0.01);
    let net = d.done();
    for (seen, not, of, wanted, figure) in [
        (vec![report], vec![], tampering, 0.3991689039295811, "0.399"),
        (vec![report], vec![], fire, 0.23050460142859872, "0.2305"),
        (vec![report], vec![], smoke, 0.21514909527145284, "0.215"),
        (vec![smoke], vec![], fire, 0.47619047619047616, "0.476"),
        (vec![smoke], vec![], tampering, 0.02, "0.02"),
        (vec![smoke], vec![], report, 0.32017553028, "0.320"),
        (vec![report, smoke], vec![], tampering, 0.028435714597046188, "0.0284"),
        (vec![report, smoke], vec![], fire, 0.964234318643054, "0.964"),
        (vec![report], vec![smoke], tampering, 0.5007970090785232, "0.501"),
        (vec![report], vec![smoke], fire, 0.029369221598632457, "0.0294"),
    ] {
        let got = p(&net, of, &given(&seen, &not));
        exactly(got, wanted);
        printed(got, figure);
    }
}

/// F. V. Jensen, wet grass (figures from memory).
#[test]
fn e09_wet_grass() {
    let mut d = Draft::default();
    let (rain, sprinkler) = (d.root(0.2), d.root(0.1));
    let watson = d.any_of(0.2, &[(rain, 1.0)]);
    let holmes = d.any_of(0.0, &[(rain, 1.0), (sprinkler, 0.9)]);
    let net = d.done();
    exactly(p(&net, rain, &given(&[holmes], &[])), 0.7352941176470589);
    exactly(p(&net, sprinkler, &given(&[holmes], &[])), 0.3382352941176471);
    exactly(p(&net, rain, &given(&[holmes, watson], &[])), 0.9328358208955224);
    exactly(p(&net, sprinkler, &given(&[holmes, watson], &[])), 0.16044776119402984);
}

/// F. V. Jensen, *Bayesian Networks and Decision Graphs*: the car that does not start (figures from
/// memory). The fuel gauge has three readings; each is evidence on the fuel alone.
#[test]
fn e10_car_start() {
    let mut d = Draft::default();
    let (no_fuel, bad_plugs) = (d.root(0.02), d.root(0.04));
    // Starts with .99; with bad plugs .01 of the time; never without fuel.
    let start = d.table(&[no_fuel, bad_plugs], |s| match (s[0], s[1]) {
        (true, _) => 0.0,
        (false, true) => 0.01,
        (false, false) => 0.99,
    });
    let net = d.done();
    let no_start = given(&[], &[start]);
    exactly(chance(&net, &no_start), 0.068216);
    for (gauge, plugs, fuel) in [
        (None, 0.5806262460419843, 0.2931863492435792),
        (Some((0.60, 0.001)), 0.8043496283195622, 0.0006908558322049355),
        (Some((0.01, 0.998)), 0.05804083325832495, f64::NAN),
    ] {
        let mut e = no_start.clone();
        if let Some((if_absent, if_present)) = gauge {
            e.push(Finding { var: no_fuel, if_absent, if_present });
        }
        exactly(p(&net, bad_plugs, &e), plugs);
        if !fuel.is_nan() {
            exactly(p(&net, no_fuel, &e), fuel);
        }
    }
}

/// One test with sensitivity and specificity: prevalence, sensitivity, false alarms. Inputs and
/// figures: lecture handout (first), homework page (second), Kruschke's blog (third), computational
/// physics notes (fourth).
#[test]
fn e11_one_test() {
    for (prevalence, sensitivity, false_alarm, wanted, figure) in [
        (0.01, 0.8, 0.096, 0.07763975155279502, "0.0776"),
        (0.0238, 0.85, 0.05, 0.29301853997682503, "0.29301854"),
        (0.01, 0.97, 0.05, 0.16385135135135134, "0.16"),
        (0.004, 0.8, 0.1, 0.0311284046692607, "0.031"),
        (0.08, 0.75, 0.04, 0.6198347107438017, "0.6198"),
    ] {
        let mut d = Draft::default();
        let ill = d.root(prevalence);
        let net = d.done();
        let e = vec![Finding::reading(ill, true, sensitivity, 1.0 - false_alarm)].into();
        let got = p(&net, ill, &e);
        exactly(got, wanted);
        printed(got, figure);
    }
    let mut d = Draft::default();
    let ill = d.root(0.08);
    let net = d.done();
    exactly(p(&net, ill, &vec![Finding::reading(ill, false, 0.75, 0.96)].into()), 0.022143489813994686);
    let mut d = Draft::default();
    let ill = d.root(0.01);
    let net = d.done();
    let twice = vec![Finding::reading(ill, true, 0.8, 0.904); 2].into();
    exactly(p(&net, ill, &twice), 0.41226912928759896);
}

/// TU Delft thesis, p. 58: four parts, prior .01 each.
#[test]
fn e14_independent_parts() {
    let mut d = Draft::default();
    let parts: Vec<Var> = (0..4).map(|_| d.root(0.01)).collect();
    let net = d.done();
    exactly(chance(&net, &given(&[], &parts)), 0.96059601);
    exactly(chance(&net, &given(&parts[..1], &parts[1..])), 0.00970299);
}

/// De Kleer and Williams 1987, the polybox; its two conflicts as certain ORs, prior .01 (ours).
#[test]
fn e15_polybox() {
    let mut d = Draft::default();
    let c: Vec<Var> = (0..5).map(|_| d.root(0.01)).collect();
    let (a1, a2, m1, m2, m3) = (c[0], c[1], c[2], c[3], c[4]);
    let first = d.any_of(0.0, &[(a1, 1.0), (m1, 1.0), (m2, 1.0)]);
    let second = d.any_of(0.0, &[(a1, 1.0), (a2, 1.0), (m1, 1.0), (m3, 1.0)]);
    let net = d.done();
    let got = posterior(&net, &given(&[first, second], &[]));
    for (v, wanted) in [
        (a1, 0.4976352398285111),
        (a2, 0.014780264258146608),
        (m1, 0.4976352398285111),
        (m2, 0.019608814013850253),
        (m3, 0.014780264258146608),
    ] {
        exactly(got.present[v.index()].value(), wanted);
    }
}

/// Ours: a reading with sensitivity .95 and specificity .90, once and twice on the same sign.
#[test]
fn e30_and_e31_readings_of_a_sign() {
    let mut d = Draft::default();
    let (a, b) = (d.root(0.02), d.root(0.05));
    let s = d.any_of(0.01, &[(a, 0.9), (b, 0.6)]);
    let net = d.done();
    let reading = |yes| Finding::reading(s, yes, 0.95, 0.90);
    let yes = posterior(&net, &vec![reading(true)].into());
    exactly(yes.present[a.index()].value(), 0.11700196695459687);
    exactly(yes.present[b.index()].value(), 0.208659679802131);
    let no = posterior(&net, &vec![reading(false)].into());
    exactly(no.present[a.index()].value(), 0.0030913882166311215);
    exactly(no.present[b.index()].value(), 0.022343705847701754);
    exactly(p(&net, a, &vec![reading(true); 2].into()), 0.26841943635410753);
}

/// Korb and Nicholson, *Bayesian Artificial Intelligence*: the cancer net (figures from memory).
#[test]
fn e32_cancer() {
    let mut d = Draft::default();
    let (pollution, smoker) = (d.root(0.1), d.root(0.3));
    let cancer =
        d.table(&[pollution, smoker], |s| [0.001, 0.02, 0.03, 0.05][usize::from(s[0]) + 2 * usize::from(s[1])]);
    let _xray = d.after(cancer, 0.9, 0.2);
    let dyspnoea = d.after(cancer, 0.65, 0.3);
    let net = d.done();
    for (seen, of, wanted) in [
        (vec![], cancer, 0.01163),
        (vec![dyspnoea], cancer, 0.024861010851101966),
        (vec![smoker], cancer, 0.032),
        (vec![smoker, dyspnoea], cancer, 0.06683804627249357),
        (vec![dyspnoea], smoker, 0.30703405953553536),
        (vec![dyspnoea], pollution, 0.10199937185619783),
    ] {
        exactly(p(&net, of, &given(&seen, &[])), wanted);
    }
}

/// Ours: a noisy-AND that reaches .9 when all hold, and an inhibitor on a leaky OR.
#[test]
fn e33_noisy_and_and_inhibitor() {
    let mut d = Draft::default();
    let (a, b) = (d.root(0.3), d.root(0.2));
    // The .9 is one more thing that must hold.
    let ready = d.root(0.9);
    let y = d.builder.add(Gate::AllOf { leak: 0.0 }).unwrap();
    for (v, s) in [(a, 0.9), (b, 0.8), (ready, 1.0)] {
        d.builder.link(v, y, s, Effect::Causes).unwrap();
    }
    let z = d.any_of(0.02, &[]);
    // Net of the leak: .8 in all.
    d.builder.link(a, z, 1.0 - 0.2 / 0.98, Effect::Causes).unwrap();
    d.builder.link(b, z, 0.7, Effect::Inhibits).unwrap();
    let net = d.done();
    exactly(chance(&net, &given(&[y], &[])), 0.11988);
    exactly(p(&net, a, &given(&[y], &[])), 0.8108108108108109);
    exactly(chance(&net, &given(&[z], &[])), 0.21844);
    exactly(p(&net, b, &given(&[], &[z])), 0.23639899687803878);
    exactly(p(&net, a, &given(&[b], &[z])), 0.2468066681099805);
}

// ----------------------------------------------------------------- seeded nets

struct Seeded {
    net: Net,
    roots: Vec<Var>,
    cases: Value,
    exact: Value,
}

fn read(file: &str) -> Value {
    let path = format!("{}/tests/reference/inference/nets/{file}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn vars(v: &Value) -> Vec<Var> {
    v.as_array().unwrap().iter().map(|x| Var(x.as_u64().unwrap() as u32)).collect()
}

fn pairs(v: &Value) -> Vec<(Var, f64)> {
    let pair = |x: &Value| (Var(x[0].as_u64().unwrap() as u32), x[1].as_f64().unwrap());
    v.as_array().unwrap().iter().map(pair).collect()
}

/// Priors and leaks may be made rarer by a factor.
fn seeded(name: &str, rarer_prior: f64, rarer_leak: f64) -> Seeded {
    let file = read(name);
    let mut d = Draft::default();
    let roots = numbers(&file["prior"]).into_iter().map(|p| d.root(p * rarer_prior)).collect();
    for node in file["node"].as_array().unwrap() {
        let links: Vec<(Var, f64)> = vars(&node[1]).into_iter().zip(numbers(&node[2])).collect();
        d.any_of(node[0].as_f64().unwrap() * rarer_leak, &links);
    }
    Seeded { net: d.done(), roots, cases: file["cases"].clone(), exact: read(&format!("exact_{name}")) }
}

fn case_evidence(case: &Value) -> Evidence {
    given(&vars(&case["pos"]), &vars(&case["neg"]))
}

/// Every case: logarithm of the evidence, and the posterior of every cause.
fn causes_agree(name: &str) {
    let s = seeded(name, 1.0, 1.0);
    let engine = Engine::new(&s.net);
    for (case, exact) in s.cases.as_array().unwrap().iter().zip(s.exact.as_array().unwrap()) {
        let got = engine.posterior_of(&case_evidence(case), &s.roots, &Limits::default()).unwrap();
        assert!(got.is_exact());
        exactly(got.ln_evidence, exact["logpe"].as_f64().unwrap());
        let moved = pairs(&exact["post"]);
        let mut next = moved.iter().peekable();
        for (v, got) in s.roots.iter().zip(&got.present) {
            let wanted = match next.next_if(|m| m.0 == *v) {
                Some(m) => m.1,
                None => match s.net.gate(*v) {
                    Gate::Root { prior } => prior,
                    _ => unreachable!("roots come first"),
                },
            };
            exactly(got.value(), wanted);
        }
        assert!(next.next().is_none());
    }
}

/// Candidate signs: chance of being absent, by posterior and by sweep, in cases of up to `most`
/// positive findings.
fn candidates_agree(name: &str, most: u64) {
    let s = seeded(name, 1.0, 1.0);
    let engine = Engine::new(&s.net);
    for (case, exact) in s.cases.as_array().unwrap().iter().zip(s.exact.as_array().unwrap()) {
        if case["k"].as_u64().unwrap() > most {
            continue;
        }
        let evidence = case_evidence(case);
        let wanted = pairs(&exact["p_absent"]);
        let signs: Vec<Var> = wanted.iter().map(|w| w.0).collect();
        let got = engine.posterior_of(&evidence, &signs, &Limits::default()).unwrap();
        for (got, (_, wanted)) in got.present.iter().zip(&wanted) {
            // The stored figures have eleven digits.
            assert!(got.is_exact());
            exactly(1.0 - got.value(), *wanted);
        }
        let prepared = engine.prepare(&evidence, &Limits::default()).unwrap();
        let swept = prepared.sweep(&signs, &[]).unwrap();
        for (got, (sign, wanted)) in swept.iter().zip(&wanted) {
            assert_eq!(got.check, *sign);
            exactly(1.0 - got.present, *wanted);
        }
        // Look-ahead is plain arithmetic: every fifteenth sign both ways, against what would be shown.
        const QUICK: f64 = 1e-7;
        let targets: Vec<Var> = s.roots.iter().copied().step_by(s.roots.len() / 8).collect();
        let swept = prepared.sweep(&signs, &targets).unwrap();
        for (i, pair) in swept.iter().enumerate().step_by(15) {
            for (finding, quick) in
                [(Finding::seen(signs[i]), &pair.given_present), (Finding::not_seen(signs[i]), &pair.given_absent)]
            {
                let glance = prepared.glance(&[finding], &targets).unwrap();
                let shown = engine.posterior_of(&evidence.with(&[finding]), &targets, &Limits::default()).unwrap();
                let chance = if finding.if_present > 0.0 { pair.present } else { 1.0 - pair.present };
                assert!((glance.probability - chance).abs() < QUICK);
                for ((a, b), c) in glance.present.iter().zip(quick).zip(&shown.present) {
                    assert!((a - c.value()).abs() < QUICK && (b - c.value()).abs() < QUICK, "{a} {b} {c:?}");
                }
            }
        }
    }
}

#[test]
fn tiny12x20_agrees() {
    causes_agree("tiny12x20");
    candidates_agree("tiny12x20", 15);
}

/// Every case: the most probable sets of causes, in order. The stored sets settle all causes, ours those the evidence bears on; so those stored
/// sets are compared that hold no other cause, and the absence of the others is multiplied in.
#[test]
fn tiny12x20_is_explained_by_the_same_sets() {
    let s = seeded("tiny12x20", 1.0, 1.0);
    let engine = Engine::new(&s.net);
    let mut compared = 0;
    for (case, exact) in s.cases.as_array().unwrap().iter().zip(s.exact.as_array().unwrap()) {
        let evidence = case_evidence(case);
        let bears = |root: Var| s.net.children(root).any(|(sign, _)| evidence.iter().any(|f| f.var == sign));
        let others = s.roots.iter().filter(|r| !bears(**r)).map(|r| match s.net.gate(*r) {
            Gate::Root { prior } => 1.0 - prior,
            _ => unreachable!("a cause is a root"),
        });
        let others: f64 = others.product();
        let stored = exact["best_sets"].as_array().unwrap().iter();
        let wanted: Vec<(Vec<Var>, f64)> = stored.map(|w| (vars(&w[0]), w[1].as_f64().unwrap())).collect();
        let wanted: Vec<_> = wanted.into_iter().filter(|w| w.0.iter().all(|v| bears(*v))).collect();
        let best = engine.explanations(&evidence, wanted.len(), &Limits::default()).unwrap();
        for (got, wanted) in best.iter().zip(&wanted) {
            assert_eq!(got.present, wanted.0);
            exactly(got.probability * others, wanted.1);
            compared += 1;
        }
    }
    assert!(compared >= 30, "{compared} sets compared");
}

#[test]
fn small40x60_agrees() {
    causes_agree("small40x60");
    candidates_agree("small40x60", 15);
}

#[test]
fn workshop500_agrees() {
    causes_agree("workshop500");
}

#[test]
fn workshop500_candidates_agree() {
    candidates_agree("workshop500", 15);
}

#[test]
fn flat3_300_agrees() {
    causes_agree("flat3_300");
}

#[test]
fn flat3_300_candidates_agree() {
    // Not the hardest two cases, for the sake of unoptimised builds.
    candidates_agree("flat3_300", 10);
}

#[test]
fn qmr600x4000_agrees() {
    causes_agree("qmr600x4000");
    candidates_agree("qmr600x4000", 15);
}

/// Two layers, by recursion over the subsets of positive findings explained so far: no subtraction,
/// so nothing cancels. Log of the evidence and posteriors of all roots.
fn subset_recursion(net: &Net, roots: &[Var], seen: &[Var], not_seen: &[Var]) -> (f64, Vec<f64>) {
    let size = 1 << seen.len();
    let leak = |v: Var| match net.gate(v) {
        Gate::AnyOf { leak } => leak,
        _ => 0.0,
    };
    let mut log = 0.0;
    let mut weights = Vec::new();
    for r in roots {
        let Gate::Root { prior } = net.gate(*r) else { unreachable!("roots only") };
        let no: f64 = net.children(*r).filter(|(c, _)| not_seen.contains(c)).map(|(_, a)| 1.0 - a.strength).product();
        let (absent, present) = (1.0 - prior, prior * no);
        log += (absent + present).ln();
        weights.push((absent / (absent + present), present / (absent + present)));
    }
    log += not_seen.iter().map(|v| (1.0 - leak(*v)).ln()).sum::<f64>();
    let links = |r: Var| {
        let place = |c: Var| seen.iter().position(|s| *s == c);
        net.children(r).filter_map(move |(c, a)| place(c).map(|i| (i, a.strength))).collect::<Vec<_>>()
    };
    let mut start = vec![0.0; size];
    start[0] = 1.0;
    for (i, v) in seen.iter().enumerate() {
        for set in (0..size).filter(|s| s >> i & 1 == 0) {
            let x: f64 = start[set];
            start[set | 1 << i] += x * leak(*v);
            start[set] *= 1.0 - leak(*v);
        }
    }
    let explain = |table: &mut Vec<f64>, list: &[(usize, f64)]| {
        for (i, s) in list {
            for set in (0..size).filter(|x| x >> i & 1 == 0) {
                let x = table[set];
                table[set | 1 << i] += x * s;
                table[set] = x * (1.0 - s);
            }
        }
    };
    // Every root forced present in turn.
    let run = |forced: Option<usize>| {
        let mut table = start.clone();
        for (i, r) in roots.iter().enumerate() {
            let list = links(*r);
            if list.is_empty() && forced != Some(i) {
                continue;
            }
            let mut with = table.clone();
            explain(&mut with, &list);
            let (a, b) = weights[i];
            let a = if forced == Some(i) { 0.0 } else { a };
            table.iter_mut().zip(&with).for_each(|(t, w)| *t = a * *t + b * w);
        }
        table[size - 1]
    };
    let total = run(None);
    (log + total.ln(), (0..roots.len()).map(|i| run(Some(i)) / total).collect())
}

/// Priors a thousandth, leaks a ten-thousandth: plain signed arithmetic loses six digits here.
#[test]
fn very_rare_faults_keep_their_digits() {
    let s = seeded("small40x60", 1e-3, 1e-4);
    let engine = Engine::new(&s.net);
    for case in s.cases.as_array().unwrap().iter().filter(|c| c["k"].as_u64().unwrap() <= 10) {
        let (seen, not) = (vars(&case["pos"]), vars(&case["neg"]));
        let (log, wanted) = subset_recursion(&s.net, &s.roots, &seen, &not);
        let got = engine.posterior_of(&given(&seen, &not), &s.roots, &Limits::default()).unwrap();
        exactly(got.ln_evidence, log);
        for (g, w) in got.present.iter().zip(&wanted) {
            assert!(g.is_exact());
            exactly(g.value(), *w);
        }
    }
}

/// The yardstick of the test above against the stored answers.
#[test]
fn subset_recursion_agrees_with_the_stored_answers() {
    let s = seeded("small40x60", 1.0, 1.0);
    let (case, exact) = (&s.cases[2], &s.exact[2]);
    let (log, got) = subset_recursion(&s.net, &s.roots, &vars(&case["pos"]), &vars(&case["neg"]));
    exactly(log, exact["logpe"].as_f64().unwrap());
    for (v, wanted) in pairs(&exact["post"]) {
        exactly(got[v.index()], wanted);
    }
}
