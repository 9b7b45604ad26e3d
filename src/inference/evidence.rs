//! What has been answered: findings, their order, and the state they leave each variable in.
//!
//! Takes likelihoods, gives a [`Case`]: which variables are settled outright, which are only
//! weighted, and by how much. Answers on one variable multiply, so the same sign read twice counts
//! as two readings of one sign, never as two signs.

use super::Trouble;
use super::clash;
use super::logic::{Logic, lit};
use super::number::{Number, Wide};
use super::relevance::ancestors;
use crate::graph::net::{Net, Var};

/// One answer: how likely it is if the variable is absent, and if it is present.
///
/// Likelihoods are finite and not negative; only their ratio moves posteriors, their size enters
/// the probability of the evidence. A nought on one side settles the variable outright.
#[derive(Copy, Clone, PartialEq, Debug)]
pub struct Finding {
    /// The variable it speaks of.
    pub var: Var,
    /// Likelihood of this answer when the variable is absent.
    pub if_absent: f64,
    /// Likelihood of this answer when the variable is present.
    pub if_present: f64,
}

impl Finding {
    /// Seen for certain.
    pub fn seen(var: Var) -> Finding {
        Finding { var, if_absent: 0.0, if_present: 1.0 }
    }

    /// Certainly not there.
    pub fn not_seen(var: Var) -> Finding {
        Finding { var, if_absent: 1.0, if_present: 0.0 }
    }

    /// The outcome of a check with the given sensitivity (chance of yes when present) and
    /// specificity (chance of no when absent), both 0 to 1.
    pub fn reading(var: Var, yes: bool, sensitivity: f64, specificity: f64) -> Finding {
        if yes {
            Finding { var, if_absent: 1.0 - specificity, if_present: sensitivity }
        } else {
            Finding { var, if_absent: specificity, if_present: 1.0 - sensitivity }
        }
    }

    /// What the finding settles outright, if anything.
    fn settles(&self) -> Option<bool> {
        match (self.if_absent == 0.0, self.if_present == 0.0) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    }
}

/// Findings in the order they were given.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Evidence {
    findings: Vec<Finding>,
}

impl Evidence {
    /// Nothing known.
    pub fn new() -> Evidence {
        Evidence::default()
    }

    /// Adds a finding at the end.
    pub fn push(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Takes the last finding back.
    pub fn pop(&mut self) -> Option<Finding> {
        self.findings.pop()
    }

    /// Keeps the first `len` findings.
    pub fn truncate(&mut self, len: usize) {
        self.findings.truncate(len);
    }

    /// How many findings there are.
    pub fn len(&self) -> usize {
        self.findings.len()
    }

    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        self.findings.is_empty()
    }

    /// The findings in order.
    pub fn iter(&self) -> std::slice::Iter<'_, Finding> {
        self.findings.iter()
    }

    /// The findings in order.
    pub fn as_slice(&self) -> &[Finding] {
        &self.findings
    }

    /// These findings followed by others.
    pub fn with(&self, extra: &[Finding]) -> Evidence {
        let mut findings = Vec::with_capacity(self.len() + extra.len());
        findings.extend_from_slice(&self.findings);
        findings.extend_from_slice(extra);
        Evidence { findings }
    }
}

impl From<Vec<Finding>> for Evidence {
    fn from(findings: Vec<Finding>) -> Evidence {
        Evidence { findings }
    }
}

impl FromIterator<Finding> for Evidence {
    fn from_iter<I: IntoIterator<Item = Finding>>(findings: I) -> Evidence {
        Evidence { findings: findings.into_iter().collect() }
    }
}

impl Extend<Finding> for Evidence {
    fn extend<I: IntoIterator<Item = Finding>>(&mut self, findings: I) {
        self.findings.extend(findings);
    }
}

impl<'a> IntoIterator for &'a Evidence {
    type Item = &'a Finding;
    type IntoIter = std::slice::Iter<'a, Finding>;
    fn into_iter(self) -> Self::IntoIter {
        self.findings.iter()
    }
}

/// Evidence folded onto the net.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    /// Settled by a finding, or forced by logic from what findings settle.
    pub known: Vec<Option<bool>>,
    /// Likelihoods of a variable that carries findings: if absent, if present.
    pub weight: Vec<Option<[Wide; 2]>>,
    /// Variables that carry findings or are forced, each once.
    pub touched: Vec<Var>,
}

impl Case {
    /// Checks the findings, folds them, and draws the plain logical consequences.
    pub(crate) fn new(net: &Net, findings: &[Finding]) -> Result<Case, Trouble> {
        match Case::fold(net, findings)? {
            Ok(case) => Ok(case),
            Err(logic) => Err(Trouble::Clash { findings: clash::smallest(&logic, findings) }),
        }
    }

    /// The same, with nothing for impossible findings.
    pub(crate) fn possible(net: &Net, findings: &[Finding]) -> Result<Option<Case>, Trouble> {
        match Case::fold(net, findings) {
            Ok(case) => Ok(case.ok()),
            Err(Trouble::Clash { .. }) => Ok(None),
            Err(other) => Err(other),
        }
    }

    fn fold(net: &Net, findings: &[Finding]) -> Result<Result<Case, Logic>, Trouble> {
        let mut known: Vec<Option<bool>> = vec![None; net.len()];
        let mut weight: Vec<Option<[Wide; 2]>> = vec![None; net.len()];
        let mut touched = Vec::new();
        let mut conflict = false;
        for (position, f) in findings.iter().enumerate() {
            if !net.contains(f.var) {
                return Err(Trouble::UnknownVariable { finding: position });
            }
            for l in [f.if_absent, f.if_present] {
                if !(l.is_finite() && l >= 0.0) {
                    return Err(Trouble::NotALikelihood { finding: position, value: l });
                }
            }
            if f.if_absent == 0.0 && f.if_present == 0.0 {
                return Err(Trouble::Clash { findings: vec![position] });
            }
            let at = f.var.index();
            if let Some(v) = f.settles() {
                conflict |= known[at] == Some(!v);
                known[at] = Some(v);
            }
            let own = [Wide::from_f64(f.if_absent), Wide::from_f64(f.if_present)];
            match &mut weight[at] {
                Some(w) => *w = [w[0].times(own[0]), w[1].times(own[1])],
                empty => {
                    *empty = Some(own);
                    touched.push(f.var);
                }
            }
        }
        let hard: Vec<Var> = touched.iter().copied().filter(|v| known[v.index()].is_some()).collect();
        // Roots that cannot vary (prior 0 or 1) above soft findings matter to logic as well.
        let logic = Logic::new(net, &ancestors(net, touched.iter().copied()));
        let literals: Vec<u32> = hard.iter().filter_map(|v| known[v.index()].map(|p| lit(*v, p))).collect();
        let forced = if conflict { None } else { logic.forced(&literals) };
        let Some(forced) = forced.filter(|_| !logic.refutes(&literals)) else {
            return Ok(Err(logic));
        };
        for (var, present) in forced {
            if known[var.index()].is_none() {
                known[var.index()] = Some(present);
                if weight[var.index()].is_none() {
                    touched.push(var);
                }
            }
        }
        Ok(Ok(Case { known, weight, touched }))
    }

    /// Logarithm of the most the evidence can weigh, whatever is true.
    pub(crate) fn ln_most(&self) -> f64 {
        let most = |w: &[Wide; 2]| w[0].ln().max(w[1].ln());
        self.weight.iter().flatten().map(most).sum()
    }

    /// Likelihood of what is known of `var`, were it in the given state.
    pub(crate) fn likelihood(&self, var: Var, present: bool) -> Wide {
        match self.weight[var.index()] {
            Some(w) => w[usize::from(present)],
            None => Wide::ONE,
        }
    }
}

pub(crate) fn settled(finding: &Finding) -> Option<(Var, bool)> {
    finding.settles().map(|p| (finding.var, p))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::{Effect, Gate, NetBuilder};

    #[test]
    fn answers_on_one_variable_multiply_and_consequences_are_drawn() {
        let mut b = NetBuilder::new();
        let x = b.add(Gate::Root { prior: 0.1 }).expect("sound");
        let y = b.add(Gate::AnyOf { leak: 0.2 }).expect("sound");
        b.link(x, y, 1.0, Effect::Causes).expect("sound");
        let net = b.build().expect("sound");
        let reading = Finding::reading(y, false, 0.9, 0.8);
        let case = Case::new(&net, &[reading, Finding::not_seen(y), reading]).expect("possible");
        assert_eq!(case.known, vec![Some(false), Some(false)]);
        assert!((case.likelihood(y, false).to_f64() - 0.64).abs() < 1e-15);
        assert!(case.likelihood(y, true).is_zero());
        assert!(Case::possible(&net, &[Finding::not_seen(y), Finding::seen(x)]).expect("sound").is_none());
    }

    #[test]
    fn evidence_keeps_its_order_and_can_be_taken_back() {
        let mut e: Evidence = (0..4).map(|i| Finding::seen(Var(i))).collect();
        assert_eq!(e.pop(), Some(Finding::seen(Var(3))));
        e.truncate(2);
        e.push(Finding::not_seen(Var(7)));
        let vars: Vec<u32> = e.iter().map(|f| f.var.0).collect();
        assert_eq!(vars, [0, 1, 7]);
    }
}
