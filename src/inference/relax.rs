//! One answer's factor, bounded from above by a product of weights on single parents.
//!
//! Takes an answer on a gate, gives a [`Relaxed`]: a constant and a weight on each open parent, whose product is never below the answer's
//! own factor. Put in its place the answer joins no variables any more, which untangles the net at the price of a bound. An "or" that is
//! known to be present weighs `1 - exp(-z)` with `z` a sum over parents; its logarithm is concave and lies below each of its tangents
//! (Jaakkola and Jordan, JAIR 10, 1999). A sum without minus signs is convex there and lies below its chord. Where the tangent has passed
//! nought it is cut off, since no answer weighs more than one. Never gives a number below the true factor.

use super::evidence::Case;
use super::gates::{Form, Weight};
use super::number::{Number, Wide};
use crate::graph::net::{Gate, Net, Var};

/// An upper bound on an answer's factor.
#[derive(Clone, Debug)]
pub(crate) struct Relaxed {
    pub constant: Wide,
    /// Weights of a parent absent and present.
    pub weights: Vec<(Var, [Wide; 2])>,
}

/// Rounding allowed for in a constant.
const SLACK: f64 = 1e-10;
/// The steepest tangent: beyond it the bound gains nothing.
const STEEPEST: f64 = 1e9;

/// The sum `z` of an answer whose factor is `1 - exp(-z)`: what it is without any parent, and each parent's part.
struct Sum {
    base: f64,
    parts: Vec<(Weight, f64)>,
}

/// An answer's factor as `most · (1 - exp(-z))`, or as something else.
enum Curve {
    /// Concave; and weights that stay as they are.
    Rising(Wide, Sum, Vec<Weight>),
    /// `low + height · exp(-z)`.
    Falling(f64, f64, Sum),
    /// A product already: it joins nothing.
    Product,
    /// No curve of a kind known here.
    Other,
}

fn sum(c: f64, causes: &[Weight]) -> Sum {
    let parts = causes.iter().map(|w| (*w, -(-w.strength).ln_1p())).collect();
    Sum { base: -c.ln(), parts }
}

fn curve(net: &Net, case: &Case, var: Var) -> Curve {
    if matches!(net.gate(var), Gate::Root { .. } | Gate::Table { .. }) {
        return Curve::Other;
    }
    let f = Form::new(net, var, &case.known);
    let (alpha, beta) = (f.alpha, f.beta);
    let scaled = |absent: Wide, present: Wide| {
        // absent · (1 - p) + present · p with p = alpha + beta · product.
        let rise = present.minus(absent);
        (absent.plus(rise.times(alpha)), rise.times(beta))
    };
    let (a, b, kept) = match case.known[var.index()] {
        Some(true) => (alpha, beta, f.inhibitors.clone()),
        Some(false) if f.inhibitors.is_empty() => (Wide::ONE.minus(alpha), beta.negated(), Vec::new()),
        None if f.inhibitors.is_empty() => {
            let (a, b) = scaled(case.likelihood(var, false), case.likelihood(var, true));
            (a, b, Vec::new())
        }
        _ => return Curve::Other,
    };
    if f.causes.len() < 2 || !a.is_positive() {
        return Curve::Product;
    }
    if b.is_positive() {
        return if kept.is_empty() {
            Curve::Falling(a.to_f64(), b.to_f64(), sum(1.0, &f.causes))
        } else {
            Curve::Other
        };
    }
    let c = b.negated().times(a.inverse()).to_f64();
    if c > 0.0 && c <= 1.0 { Curve::Rising(a, sum(c, &f.causes), kept) } else { Curve::Other }
}

/// Whether an answer's factor joins its parents, so that leaving it out untangles them.
pub(crate) fn joins(net: &Net, case: &Case, var: Var) -> bool {
    !matches!(curve(net, case, var), Curve::Product)
}

/// Where to lay the tangent: the expected sum, given each parent's probability of being present. At least `1e-6`.
pub(crate) fn touch(net: &Net, case: &Case, var: Var, present: impl Fn(Var) -> f64) -> f64 {
    let Curve::Rising(_, sum, _) = curve(net, case, var) else { return 1.0 };
    let expected = |(w, part): &(Weight, f64)| {
        let p = present(w.var);
        part.min(40.0) * if w.at { p } else { 1.0 - p }
    };
    (sum.base + sum.parts.iter().map(expected).sum::<f64>()).clamp(1e-6, 60.0)
}

/// Bounds the factor of an answer, likelihoods of a certain answer left aside; `touch` is where a tangent is laid. `None`: it is no curve of
/// a kind known here.
pub(crate) fn relax(net: &Net, case: &Case, var: Var, touch: f64) -> Option<Relaxed> {
    match curve(net, case, var) {
        Curve::Product | Curve::Other => None,
        Curve::Rising(most, sum, kept) => {
            let slope = touch.exp_m1().recip().min(STEEPEST);
            // ln(1 - exp(-z)) <= slope · z - conjugate.
            let conjugate = (slope + 1.0) * slope.ln_1p() - slope * slope.ln();
            let start = slope * sum.base - conjugate;
            if !(start.is_finite() && start < 0.0) {
                return Some(Relaxed { constant: most, weights: weigh(&kept) });
            }
            let part = |(w, theta): &(Weight, f64)| side(w, Wide::from_f64((slope * theta).min(-start).exp()));
            let mut weights: Vec<(Var, [Wide; 2])> = sum.parts.iter().map(part).collect();
            weights.extend(weigh(&kept));
            Some(Relaxed { constant: most.times(Wide::from_f64(start.exp() * (1.0 + SLACK))), weights })
        }
        Curve::Falling(low, height, sum) => {
            let end = sum.parts.iter().map(|p| p.1).sum::<f64>();
            if !end.is_finite() {
                return Some(Relaxed { constant: Wide::from_f64((low + height) * (1.0 + SLACK)), weights: Vec::new() });
            }
            let at = |z: f64| (low + height * (-z).exp()).ln();
            let slope = (at(end) - at(0.0)) / end;
            let part = |(w, theta): &(Weight, f64)| side(w, Wide::from_f64((slope * theta).exp()));
            let weights = sum.parts.iter().map(part).collect();
            Some(Relaxed { constant: Wide::from_f64((low + height) * (1.0 + SLACK)), weights })
        }
    }
}

fn side(w: &Weight, by: Wide) -> (Var, [Wide; 2]) {
    (w.var, if w.at { [Wide::ONE, by] } else { [by, Wide::ONE] })
}

fn weigh(kept: &[Weight]) -> Vec<(Var, [Wide; 2])> {
    kept.iter().map(|w| side(w, Wide::complement(w.strength))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::net::{Effect, NetBuilder};
    use crate::inference::Finding;

    #[test]
    fn a_bound_is_never_below_the_factor_and_touches_it() {
        for (gate, leak) in [(true, 0.07), (true, 0.0), (false, 0.0), (false, 0.2)] {
            for finding in 0..4 {
                let mut b = NetBuilder::new();
                let parents: Vec<Var> = (0..4).map(|_| b.add(Gate::Root { prior: 0.1 }).expect("sound")).collect();
                let y = b.add(if gate { Gate::AnyOf { leak } } else { Gate::AllOf { leak } }).expect("sound");
                for (p, s) in parents.iter().zip([0.2, 0.5, 0.9, 1.0]) {
                    b.link(*p, y, s, Effect::Causes).expect("sound");
                }
                let net = b.build().expect("sound");
                let finding = match finding {
                    0 => Finding::seen(y),
                    1 => Finding::not_seen(y),
                    2 => Finding::reading(y, true, 0.9, 0.8),
                    _ => Finding::reading(y, false, 0.9, 0.8),
                };
                let case = Case::new(&net, &[finding]).expect("possible");
                for touch in [1e-3, 0.3, 2.0, 9.0] {
                    let Some(relaxed) = relax(&net, &case, y, touch) else { continue };
                    let mut nearest = f64::INFINITY;
                    for states in 0..16_u32 {
                        let p = net.present_given(y, |v| states >> v.0 & 1 == 1);
                        let own = finding.if_present * p + finding.if_absent * (1.0 - p);
                        let bound = relaxed
                            .weights
                            .iter()
                            .fold(relaxed.constant, |product, (v, w)| product.times(w[(states >> v.0 & 1) as usize]));
                        let bound = bound.to_f64();
                        assert!(
                            bound >= own * (1.0 - 1e-12),
                            "{gate} {leak} {finding:?} {touch} {states}: {bound} < {own}"
                        );
                        nearest = nearest.min(bound / own);
                    }
                    assert!(nearest < 1.6, "{gate} {leak} {finding:?} {touch}: {nearest}");
                }
            }
        }
    }
}
