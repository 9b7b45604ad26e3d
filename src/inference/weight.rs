//! Weights of evidence: how much each answer moved each cause.
//!
//! Takes findings grouped into answers, gives for every answer and cause by how much the odds of the cause rose or fell: in turn, after the
//! answers before it, and besides all the others, which is what taking this one answer back would undo. Weights in turn add up to the whole
//! way from the prior to the posterior. Never a guess: every odds behind a weight is exact.
//!
//! The weight of evidence for H by E is the logarithm of P(E | H) / P(E | not H), and so of posterior odds over prior odds, in decibans (ten
//! times the decimal logarithm): Good, *Probability and the Weighing of Evidence* (1950), chapter 6; the unit is Turing's.

use super::Trouble;
use super::evidence::{Evidence, Finding};
use super::posterior::{Engine, Limits};
use crate::graph::net::Var;

/// How much one answer moved one cause, in decibans: 10 is ten times the odds, −10 a tenth of them. Infinite where the answer settled the
/// cause outright; nought where it was settled already.
#[derive(Copy, Clone, PartialEq, Debug, Default)]
pub struct Weight {
    /// Given the answers before it.
    pub in_turn: f64,
    /// Given all the other answers.
    pub besides: f64,
}

impl Weight {
    /// What the odds were multiplied by, in turn.
    pub fn times(&self) -> f64 {
        10_f64.powf(self.in_turn / 10.0)
    }
}

/// Above this probability odds are taken from the two sides of the evidence, since one less the probability has lost too many digits.
const NEAR_ONE: f64 = 1.0 - 1e-6;

impl Engine<'_> {
    /// By answer, by cause, how much the answer moved the cause. `answer_of` says for each finding which answer it belongs to, counted from 0
    /// and never falling; an answer that gave no finding weighs nothing.
    ///
    /// # Errors
    /// As [`posterior_of`](Self::posterior_of); [`Trouble::TooTangled`] where the odds are not exact within the limit.
    pub fn weights(
        &self,
        evidence: &Evidence,
        answer_of: &[usize],
        causes: &[Var],
        limits: &Limits,
    ) -> Result<Vec<Vec<Weight>>, Trouble> {
        let answers = answer_of.iter().max().map_or(0, |last| last + 1);
        let keep = |wanted: &dyn Fn(usize) -> bool| -> Evidence {
            evidence.iter().zip(answer_of).filter(|(_, answer)| wanted(**answer)).map(|(f, _)| *f).collect()
        };
        let mut before = self.log_odds(&Evidence::new(), causes, limits)?;
        let all = self.log_odds(evidence, causes, limits)?;
        let mut out = Vec::with_capacity(answers);
        for answer in 0..answers {
            if !answer_of.contains(&answer) {
                out.push(vec![Weight::default(); causes.len()]);
                continue;
            }
            let after = self.log_odds(&keep(&|a| a <= answer), causes, limits)?;
            let others = self.log_odds(&keep(&|a| a != answer), causes, limits)?;
            let weigh = |i: usize| Weight { in_turn: step(before[i], after[i]), besides: step(others[i], all[i]) };
            out.push((0..causes.len()).map(weigh).collect());
            before = after;
        }
        Ok(out)
    }

    /// Natural logarithm of the odds of each cause; infinite where it is settled.
    fn log_odds(&self, evidence: &Evidence, causes: &[Var], limits: &Limits) -> Result<Vec<f64>, Trouble> {
        let posterior = self.posterior_of(evidence, causes, limits)?;
        if !posterior.is_exact() {
            return Err(Trouble::TooTangled { cells: limits.cells.saturating_add(1) });
        }
        let odds = |(cause, p): (&Var, f64)| {
            if p <= NEAR_ONE {
                return Ok(p.ln() - (-p).ln_1p());
            }
            let side = |finding| match self.posterior_of(&evidence.with(&[finding]), &[], limits) {
                Ok(with) => Ok(with.ln_evidence),
                Err(Trouble::Clash { .. }) => Ok(f64::NEG_INFINITY),
                Err(other) => Err(other),
            };
            Ok(side(Finding::seen(*cause))? - side(Finding::not_seen(*cause))?)
        };
        causes.iter().zip(posterior.present.iter().map(|p| p.value())).map(odds).collect()
    }
}

/// From one log odds to another in decibans; nothing moved is nought, also at the ends.
fn step(from: f64, to: f64) -> f64 {
    if from == to { 0.0 } else { (to - from) * 10.0 / std::f64::consts::LN_10 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::{Effect, Gate, NetBuilder};

    /// A cause with a sensitive sign and a sign that proves it.
    fn net() -> (crate::graph::net::Net, [Var; 3]) {
        let mut b = NetBuilder::new();
        let x = b.add(Gate::Root { prior: 0.01 }).expect("sound");
        let soft = b.add(Gate::AnyOf { leak: 0.05 }).expect("sound");
        let proof = b.add(Gate::AnyOf { leak: 0.0 }).expect("sound");
        b.link(x, soft, 0.9, Effect::Causes).expect("sound");
        b.link(x, proof, 0.5, Effect::Causes).expect("sound");
        (b.build().expect("sound"), [x, soft, proof])
    }

    #[test]
    fn a_weight_is_the_likelihood_ratio_and_a_proof_is_without_end() {
        let (net, [x, soft, proof]) = net();
        let engine = Engine::new(&net);
        let limits = Limits::default();
        let evidence: Evidence = [Finding::seen(soft), Finding::not_seen(proof)].into_iter().collect();
        let weights = engine.weights(&evidence, &[0, 2], &[x], &limits).expect("exact");
        // P(soft | x) = 1 - 0.95 · 0.1, P(soft | not x) = 0.05; the unused answer 1 weighs nothing.
        assert!((weights[0][0].times() - 0.905 / 0.05).abs() < 1e-9);
        assert_eq!(weights[1][0], Weight::default());
        assert!((weights[2][0].times() - 0.5).abs() < 1e-12);
        assert!((weights[2][0].besides - weights[2][0].in_turn).abs() < 1e-9);
        let evidence: Evidence = [Finding::seen(proof), Finding::seen(soft)].into_iter().collect();
        let weights = engine.weights(&evidence, &[0, 1], &[x], &limits).expect("exact");
        assert_eq!(weights[0][0].in_turn, f64::INFINITY);
        assert_eq!(weights[1][0], Weight { in_turn: 0.0, besides: 0.0 });
    }
}
