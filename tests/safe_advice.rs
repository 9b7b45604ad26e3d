//! Whatever is drawn and whatever is answered: nothing is proposed that the person cannot do, and no road test where driving may be unsafe.

use splitpin::advice::{Costs, Gate, Person, Step};
use splitpin::graph::What;
use splitpin::graph::net::Var;
use splitpin::knowledge::book::{Node, Skill};
use splitpin::session::{Answer, Said, Trace};
use splitpin::simulate::Draw;
use splitpin::{embed, vehicle};

/// Steps looked at in each case.
const STEPS: usize = 4;

#[test]
fn nothing_is_proposed_that_is_unsafe_or_cannot_be_done() {
    let book = embed::book();
    let bare = Person {
        skill: Skill::Anyone,
        lacks: book.kit.iter().map(|k| k.head.id.clone()).collect(),
        ..Person::default()
    };
    let mut draw = Draw(11);
    let (mut checks, mut closed) = (0, 0);
    for name in vehicle::demo_names() {
        let loaded = vehicle::demo(name, &book).expect("a demo vehicle");
        for person in [Person::default(), bare.clone()] {
            let mut trace =
                Trace::new(&book, &loaded.vehicle, person, jiff::civil::date(2026, 11, 25)).expect("it fits");
            let reportable = |v: &Var| match trace.fitted.placed(*v).what {
                What::Entry(Node::Sign(s)) => book.signs.at(s).not_in_book.is_some(),
                _ => false,
            };
            let symptoms: Vec<Var> = trace.fitted.net.vars().filter(reportable).collect();
            for _ in 0..6 {
                trace.begin_again();
                let var = symptoms[(draw.unit() * symptoms.len() as f64) as usize];
                trace.push(Answer::Stated { var, present: true });
                for _ in 0..STEPS {
                    let Some((gate, step)) = trace.assess().ok().and_then(|a| Some((a.gate, a.advice?.step))) else {
                        break;
                    };
                    let unsafe_to_drive = matches!(gate, Gate::DoNotDrive { .. });
                    closed += usize::from(unsafe_to_drive);
                    match step {
                        Step::Check { check, reading } => {
                            let entry = book.checks.at(trace.fitted.checks[check].check);
                            let costs = Costs { book: &book, person: &trace.person };
                            checks += 1;
                            let id = &entry.head.id;
                            assert!(trace.is_open(check) || costs.can_check(entry), "{id} lacks kit, skill or set-up");
                            assert!(!(unsafe_to_drive && entry.set_up.id == "on-the-road"), "{id} on the road");
                            let said = if draw.unit() < 0.5 { Said::Present } else { Said::Absent };
                            trace.push(Answer::Reading { check, reading, said });
                        }
                        Step::Repair { cause, remedy, place } => {
                            trace.push(Answer::Tried { cause, remedy, place, cured: false });
                        }
                        Step::Specialist => break,
                    }
                }
            }
        }
    }
    assert!(checks > 10 && closed > 0, "{checks} checks, {closed} with the gate closed");
}
