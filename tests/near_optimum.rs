//! The plan followed to its end against the best plan there is, over the complaints of the knowledge whose case is small enough to solve.

use splitpin::advice::Person;
use splitpin::advice::decision::policy::{self, Reach, Way};
use splitpin::advice::decision::{optimum, worth};
use splitpin::graph::net::Var;
use splitpin::session::{Answer, Trace};
use splitpin::{embed, vehicle};

const TODAY: jiff::civil::Date = jiff::civil::date(2026, 11, 25);

/// A case is small if its optimum takes at most so many states.
const SMALL: usize = 3_000;

#[test]
fn lookahead_stays_near_the_optimum_of_every_small_case() {
    // Every complaint in a release build, a share of them in a debug build; `EVERY` says which share.
    let asked = std::env::var("EVERY").ok().and_then(|e| e.parse().ok());
    let every: usize = asked.unwrap_or(if cfg!(debug_assertions) { 23 } else { 1 });
    let book = embed::book();
    let reach = Reach { exact: 0, ..Reach::default() };
    let (mut gaps, mut simple, mut all) = (Vec::new(), Vec::new(), 0);
    for name in vehicle::demo_names() {
        let van = vehicle::demo(name, &book).expect("a demo vehicle").vehicle;
        let mut trace = Trace::new(&book, &van, Person::default(), TODAY).expect("it fits");
        let symptoms: Vec<Var> = trace.fitted.net.vars().filter(|v| trace.is_reportable(*v)).collect();
        for symptom in symptoms.into_iter().step_by(every) {
            trace.begin_again();
            trace.push(Answer::Stated { var: symptom, present: true });
            let Some(advice) = trace.assess().ok().and_then(|a| a.advice) else { continue };
            all += 1;
            let problem = advice.problem;
            let Some(best) = optimum(&problem, SMALL) else { continue };
            let followed = |reach: Reach| {
                worth(&problem, &mut |s| policy::lookahead(&problem, s, &reach), SMALL * 10).expect("a small case")
            };
            let by_ratio =
                worth(&problem, &mut |s| Way::OddsOverCost.rate(&problem, s)[0].action, SMALL * 10).expect("small");
            let gap = followed(reach) / best.cost - 1.0;
            if std::env::var_os("SHOW_CASES").is_some() {
                println!("{name} {}: {:.2} % over {:.0}", trace.fitted.id(symptom, &book), 100.0 * gap, best.cost);
            }
            gaps.push(gap);
            simple.push(by_ratio / best.cost - 1.0);
        }
    }
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    let most = |of: &[f64]| of.iter().copied().fold(0.0, f64::max);
    println!("{} of {all} complaints are small enough to solve", gaps.len());
    println!(
        "lookahead alone: {:.2} % over the optimum on average, {:.1} % at worst",
        100.0 * mean(&gaps),
        100.0 * most(&gaps)
    );
    println!(
        "probability over cost: {:.2} % on average, {:.1} % at worst",
        100.0 * mean(&simple),
        100.0 * most(&simple)
    );
    assert!(gaps.len() >= 5, "{} small cases", gaps.len());
    assert!(gaps.iter().all(|g| *g >= -1e-9), "better than the best plan");
    assert!(mean(&gaps) <= 0.03 && most(&gaps) <= 0.15, "{} {}", mean(&gaps), most(&gaps));
}
