//! Draws: a small generator that gives the same numbers everywhere, and the state of a whole vehicle from its net.

use crate::graph::net::{Net, Var};

/// A small generator, so that the draws are the same everywhere (xorshift64*, Vigna 2016).
pub struct Draw(pub u64);

impl Draw {
    /// A number from 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Whether something of chance `p` happens.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }
}

/// Draws every variable from its parents; `certain` is there whatever its chance.
pub fn state(net: &Net, certain: Option<Var>, draw: &mut Draw) -> Vec<bool> {
    let mut present = vec![false; net.len()];
    for &var in net.order() {
        let p = net.present_given(var, |v| present[v.index()]);
        present[var.index()] = Some(var) == certain || draw.chance(p);
    }
    present
}
