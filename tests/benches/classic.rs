//! The classic networks of `tests/reference/inference/classic`: files, nets and evidence; `classic.py` beside them says what stands where.

use std::path::Path;

use serde_json::Value;
use splitpin::graph::net::{Net, NetBuilder, Var};
use splitpin::inference::{Evidence, Finding};

/// Networks the folder must hold; a lost file is a lost test.
pub const NETS: [&str; 11] =
    ["alarm", "andes", "asia", "cancer", "child", "earthquake", "hepar2", "insurance", "sachs", "survey", "win95pts"];

/// The file of one network.
pub fn file(name: &str) -> Value {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/inference/classic");
    let text = std::fs::read_to_string(folder.join(format!("{name}.json"))).expect("a file of the folder");
    serde_json::from_str(&text).expect("sound JSON")
}

/// A list, which must be one.
pub fn list(value: &Value) -> &[Value] {
    value.as_array().expect("a list")
}

/// A bit by its number.
pub fn var(value: &Value) -> Var {
    Var(value.as_u64().expect("a number") as u32)
}

/// Bits by their numbers.
pub fn vars(value: &Value) -> Vec<Var> {
    list(value).iter().map(var).collect()
}

/// The table of a bit, written out: parents, and the chance of being present for each state of them.
fn table(bit: &Value) -> (Vec<Var>, Vec<f64>) {
    let earlier = vars(&bit["not"]);
    let groups: Vec<Vec<Var>> = list(&bit["of"]).iter().map(vars).collect();
    let figures: Vec<f64> = list(&bit["present"]).iter().map(|p| p.as_f64().expect("a number")).collect();
    assert_eq!(figures.len(), groups.iter().map(|g| g.len() + 1).product::<usize>());
    let parents: Vec<Var> = earlier.iter().chain(groups.iter().flatten()).copied().collect();
    let row = |state: usize| {
        let on = |i: usize| state >> (parents.len() - 1 - i) & 1 == 1;
        if (0..earlier.len()).any(on) {
            return 0.0;
        }
        let (mut first, mut at) = (earlier.len(), 0);
        for group in &groups {
            let present: Vec<usize> = (0..group.len()).filter(|i| on(first + i)).collect();
            if present.len() > 1 {
                return 0.0;
            }
            at = at * (group.len() + 1) + present.first().copied().unwrap_or(group.len());
            first += group.len();
        }
        figures[at]
    };
    let rows = (0..1 << parents.len()).map(row).collect();
    (parents, rows)
}

/// The net of a file.
pub fn net(file: &Value) -> Net {
    let mut builder = NetBuilder::new();
    for bit in list(&file["bits"]) {
        let (parents, rows) = table(bit);
        builder.add_table(&parents, &rows).expect("a table");
    }
    builder.build().expect("no loop")
}

/// The evidence of a case.
pub fn evidence(case: &Value) -> Evidence {
    let finding = |f: &Value| if f[1] == 1 { Finding::seen(var(&f[0])) } else { Finding::not_seen(var(&f[0])) };
    list(&case["evidence"]).iter().map(finding).collect()
}
