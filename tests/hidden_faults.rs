//! Plays cases with a hidden fault from the first complaint to the proved repair: the advice must find it in few steps.

use splitpin::advice::Person;
use splitpin::session::Trace;
use splitpin::simulate::{Draw, Ending, case, play, summary};
use splitpin::{embed, vehicle};

const TODAY: jiff::civil::Date = jiff::civil::date(2026, 11, 25);

#[test]
fn hidden_faults_are_found_in_few_steps() {
    // Many cases in a release build, a few in a debug build; `CASES` says how many on each vehicle.
    let asked = std::env::var("CASES").ok().and_then(|c| c.parse().ok());
    let cases: usize = asked.unwrap_or(if cfg!(debug_assertions) { 10 } else { 100 });
    let book = embed::book();
    let mut endings: Vec<Ending> = Vec::new();
    for name in vehicle::demo_names() {
        let van = vehicle::demo(name, &book).expect("a demo vehicle").vehicle;
        let mut trace = Trace::new(&book, &van, Person::default(), TODAY).expect("it fits");
        let mut draw = Draw(0x5EED_0001);
        let mut played = 0;
        while played < cases {
            let Some(case) = case(&mut trace, None, &mut draw) else { continue };
            played += 1;
            let ending = play(&mut trace, &case);
            if std::env::var_os("SHOW_CASES").is_some() {
                let (fault, symptom) = (trace.fitted.id(case.fault, &book), trace.fitted.id(case.symptom, &book));
                println!("{name} {fault} from {symptom}: {ending:?}");
            }
            endings.push(ending);
        }
    }
    let sum = summary(&endings);
    println!("{sum:?}");
    let mut steps: Vec<usize> = endings.iter().map(|e| e.steps).collect();
    steps.sort_unstable();
    assert!(sum.right >= 0.8, "{:.0} % put right", 100.0 * sum.right);
    assert!(steps[steps.len() / 2] <= 8, "half of the cases take more than {} steps", steps[steps.len() / 2]);
}
