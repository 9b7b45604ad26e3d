//! The numbers the elimination is carried out in.
//!
//! One trait, [`Number`], and four kinds:
//! - `f64`, quick, for look-ahead;
//! - [`Dd`], double-double, about 32 digits, for every posterior that is shown. The hidden bits of a
//!   noisy-OR carry signs and cancel; plain `f64` was seen to lose up to 4e-6 with very rare faults;
//! - [`Lanes`], several `f64` side by side, to score many checks in one pass;
//! - [`Wide`], double-double with an exponent of its own, for cases at the edge of the range.
//!
//! Error-free sum: Knuth, *The Art of Computer Programming* vol. 2; error-free product and split:
//! Dekker 1971; double-double sums and products as in Hida, Li and Bailey 2001.

/// What the elimination needs of a number.
pub(crate) trait Number: Copy + By<Self> {
    /// Nought.
    const ZERO: Self;
    /// One.
    const ONE: Self;
    /// The power of two taken out of a table.
    type Scale: Copy;
    /// Sum.
    fn plus(self, other: Self) -> Self;
    /// Product.
    fn times(self, other: Self) -> Self;
    /// One over the number; nought for nought.
    fn inverse(self) -> Self;
    /// The nearest number of this kind.
    fn from_wide(value: Wide) -> Self;
    /// `1 - strength`.
    fn complement(strength: f64) -> Self;
    /// Takes the power of two of the largest cell out of all of them, where that is worth while.
    fn rescale(cells: &mut [Self]) -> Self::Scale;
    /// Two to the minus `scale`: what [`rescale`](Number::rescale) multiplied by.
    fn unscale(scale: Self::Scale) -> Self;
    /// `self` times two to the `scale`, on the wide range.
    fn widen(self, scale: Self::Scale) -> Wide;
}

/// Multiplication by a number of another kind.
pub(crate) trait By<S: Copy>: Copy {
    /// Product.
    fn by(self, other: S) -> Self;
}

impl By<f64> for f64 {
    #[inline(always)]
    fn by(self, other: f64) -> f64 {
        self * other
    }
}

impl By<Dd> for Dd {
    #[inline(always)]
    fn by(self, other: Dd) -> Dd {
        self.times(other)
    }
}

impl By<Wide> for Wide {
    #[inline(always)]
    fn by(self, other: Wide) -> Wide {
        self.times(other)
    }
}

impl<const N: usize> By<f64> for Lanes<N> {
    #[inline(always)]
    fn by(self, other: f64) -> Self {
        let mut r = self;
        for x in &mut r.0 {
            *x *= other;
        }
        r
    }
}

/// Two to the `e`; nought or infinite beyond the range.
#[inline]
pub(crate) fn pow2(e: i32) -> f64 {
    if (-1022..=1023).contains(&e) {
        f64::from_bits(((e + 1023) as u64) << 52)
    } else if e > 1023 {
        f64::INFINITY
    } else if e >= -1074 {
        f64::from_bits(1 << (e + 1074))
    } else {
        0.0
    }
}

/// The `e` for which `|x|` lies in `[2^e, 2^(e+1))`; `x` must be finite and not nought.
#[inline]
fn exponent(x: f64) -> i32 {
    let field = (x.to_bits() >> 52 & 0x7ff) as i32;
    if field == 0 {
        let up = x * pow2(64);
        (up.to_bits() >> 52 & 0x7ff) as i32 - 1023 - 64
    } else {
        field - 1023
    }
}

/// Tables are rescaled only outside this many powers of two either way.
const QUIET: i32 = 40;

#[inline]
fn scale_for(max: f64) -> i32 {
    if max == 0.0 || !max.is_finite() {
        return 0;
    }
    let e = exponent(max);
    if (-QUIET..=QUIET).contains(&e) { 0 } else { e }
}

impl Number for f64 {
    const ZERO: f64 = 0.0;
    const ONE: f64 = 1.0;
    type Scale = i32;
    #[inline(always)]
    fn plus(self, other: f64) -> f64 {
        self + other
    }
    #[inline(always)]
    fn times(self, other: f64) -> f64 {
        self * other
    }
    fn inverse(self) -> f64 {
        if self == 0.0 { 0.0 } else { 1.0 / self }
    }
    fn from_wide(value: Wide) -> f64 {
        value.to_f64()
    }
    #[inline(always)]
    fn complement(strength: f64) -> f64 {
        1.0 - strength
    }
    fn rescale(cells: &mut [f64]) -> i32 {
        let max = cells.iter().fold(0.0_f64, |m, c| m.max(c.abs()));
        let e = scale_for(max);
        if e != 0 {
            let by = pow2(-e);
            cells.iter_mut().for_each(|c| *c *= by);
        }
        e
    }
    fn unscale(scale: i32) -> f64 {
        pow2(-scale)
    }
    fn widen(self, scale: i32) -> Wide {
        Wide::new(Dd::from(self), i64::from(scale))
    }
}

/// A double-double: the unevaluated sum of two `f64`.
#[derive(Copy, Clone, Debug, PartialEq)]
pub(crate) struct Dd {
    pub hi: f64,
    pub lo: f64,
}

#[inline(always)]
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let bb = s - a;
    (s, (a - (s - bb)) + (b - bb))
}

#[inline(always)]
fn quick_two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    (s, b - (s - a))
}

#[inline(always)]
fn two_prod(a: f64, b: f64) -> (f64, f64) {
    let p = a * b;
    if cfg!(target_feature = "fma") {
        (p, a.mul_add(b, -p))
    } else {
        // Without the instruction a fused multiply is a slow call; Dekker's split is exact too.
        let (ah, al) = split(a);
        let (bh, bl) = split(b);
        (p, ((ah * bh - p) + ah * bl + al * bh) + al * bl)
    }
}

#[inline(always)]
fn split(a: f64) -> (f64, f64) {
    let t = 134_217_729.0 * a;
    let hi = t - (t - a);
    (hi, a - hi)
}

impl From<f64> for Dd {
    #[inline(always)]
    fn from(hi: f64) -> Dd {
        Dd { hi, lo: 0.0 }
    }
}

impl Dd {
    #[inline(always)]
    fn shift(self, by: f64) -> Dd {
        Dd { hi: self.hi * by, lo: self.lo * by }
    }

    pub(crate) fn is_finite(self) -> bool {
        self.hi.is_finite() && self.lo.is_finite()
    }
}

impl Number for Dd {
    const ZERO: Dd = Dd { hi: 0.0, lo: 0.0 };
    const ONE: Dd = Dd { hi: 1.0, lo: 0.0 };
    type Scale = i32;
    #[inline(always)]
    fn plus(self, o: Dd) -> Dd {
        let (s, e) = two_sum(self.hi, o.hi);
        let (t, f) = two_sum(self.lo, o.lo);
        let (s, e) = quick_two_sum(s, e + t);
        let (hi, lo) = quick_two_sum(s, e + f);
        Dd { hi, lo }
    }
    #[inline(always)]
    fn times(self, o: Dd) -> Dd {
        let (p, e) = two_prod(self.hi, o.hi);
        let (hi, lo) = quick_two_sum(p, e + (self.hi * o.lo + self.lo * o.hi));
        Dd { hi, lo }
    }
    fn inverse(self) -> Dd {
        if self.hi == 0.0 {
            return Dd::ZERO;
        }
        let q = Dd::from(1.0 / self.hi);
        // Two Newton steps: 53, 106 bits and a last one for the rounding.
        let minus = Dd { hi: -self.hi, lo: -self.lo };
        let q = q.plus(q.times(Dd::ONE.plus(minus.times(q))));
        q.plus(q.times(Dd::ONE.plus(minus.times(q))))
    }
    fn from_wide(value: Wide) -> Dd {
        value.m.shift_by(value.e)
    }
    #[inline(always)]
    fn complement(strength: f64) -> Dd {
        let (hi, lo) = two_sum(1.0, -strength);
        Dd { hi, lo }
    }
    fn rescale(cells: &mut [Dd]) -> i32 {
        let max = cells.iter().fold(0.0_f64, |m, c| m.max(c.hi.abs()));
        let e = scale_for(max);
        if e != 0 {
            let by = pow2(-e);
            cells.iter_mut().for_each(|c| *c = c.shift(by));
        }
        e
    }
    fn unscale(scale: i32) -> Dd {
        Dd::from(pow2(-scale))
    }
    fn widen(self, scale: i32) -> Wide {
        Wide::new(self, i64::from(scale))
    }
}

impl Dd {
    fn shift_by(self, e: i64) -> Dd {
        let mut r = self;
        let mut left = e.clamp(-4000, 4000) as i32;
        while left != 0 {
            let step = left.clamp(-1000, 1000);
            r = r.shift(pow2(step));
            left -= step;
        }
        r
    }
}

/// A double-double mantissa with an exponent that cannot run out.
#[derive(Copy, Clone, Debug, PartialEq)]
pub(crate) struct Wide {
    m: Dd,
    e: i64,
}

impl Wide {
    /// `m` times two to the `e`.
    #[inline]
    pub(crate) fn new(m: Dd, e: i64) -> Wide {
        if m.hi == 0.0 || !m.hi.is_finite() {
            return Wide { m, e: 0 };
        }
        let x = exponent(m.hi);
        if x == 0 {
            return Wide { m, e };
        }
        Wide { m: m.shift_by(-i64::from(x)), e: e + i64::from(x) }
    }

    pub(crate) fn from_f64(x: f64) -> Wide {
        Wide::new(Dd::from(x), 0)
    }

    pub(crate) fn is_zero(self) -> bool {
        self.m.hi == 0.0
    }

    pub(crate) fn is_positive(self) -> bool {
        self.m.hi > 0.0 && self.m.hi.is_finite()
    }

    pub(crate) fn to_f64(self) -> f64 {
        let d = self.m.shift_by(self.e);
        d.hi + d.lo
    }

    pub(crate) fn negated(self) -> Wide {
        Wide { m: Dd { hi: -self.m.hi, lo: -self.m.lo }, e: self.e }
    }

    pub(crate) fn minus(self, o: Wide) -> Wide {
        self.plus(o.negated())
    }

    /// The power of two of the number; `None` for nought.
    pub(crate) fn magnitude(self) -> Option<i64> {
        (!self.is_zero()).then_some(self.e)
    }

    /// `self` times two to the minus `e`.
    pub(crate) fn lowered(self, e: i64) -> Wide {
        if self.is_zero() { self } else { Wide { m: self.m, e: self.e - e } }
    }

    /// Natural logarithm; minus infinity for nought.
    pub(crate) fn ln(self) -> f64 {
        if self.is_zero() {
            return f64::NEG_INFINITY;
        }
        // Near one the mantissa's own logarithm carries the digits.
        let m = if self.m.hi > 1.5 { (self.m.shift(0.5), self.e + 1) } else { (self.m, self.e) };
        let off = m.0.plus(Dd::from(-1.0));
        (off.hi + off.lo).ln_1p() + m.1 as f64 * std::f64::consts::LN_2
    }
}

impl Number for Wide {
    const ZERO: Wide = Wide { m: Dd::ZERO, e: 0 };
    const ONE: Wide = Wide { m: Dd::ONE, e: 0 };
    type Scale = ();
    fn plus(self, o: Wide) -> Wide {
        if self.is_zero() {
            return o;
        }
        if o.is_zero() {
            return self;
        }
        let (a, b) = if self.e >= o.e { (self, o) } else { (o, self) };
        let gap = b.e - a.e;
        if gap < -250 {
            return a;
        }
        Wide::new(a.m.plus(b.m.shift(pow2(gap as i32))), a.e)
    }
    fn times(self, o: Wide) -> Wide {
        Wide::new(self.m.times(o.m), self.e + o.e)
    }
    fn inverse(self) -> Wide {
        if self.is_zero() { Wide::ZERO } else { Wide::new(self.m.inverse(), -self.e) }
    }
    fn from_wide(value: Wide) -> Wide {
        value
    }
    fn complement(strength: f64) -> Wide {
        Wide::new(Dd::complement(strength), 0)
    }
    fn rescale(_: &mut [Wide]) {}
    fn unscale((): ()) -> Wide {
        Wide::ONE
    }
    fn widen(self, (): ()) -> Wide {
        self
    }
}

/// Several `f64` side by side, each its own case.
#[derive(Copy, Clone, Debug)]
#[repr(align(32))]
pub(crate) struct Lanes<const N: usize>(pub [f64; N]);

impl<const N: usize> Lanes<N> {
    pub(crate) fn splat(x: f64) -> Self {
        Lanes([x; N])
    }
}

impl<const N: usize> Lanes<N> {
    pub(crate) const ZERO: Self = Lanes([0.0; N]);

    #[inline(always)]
    pub(crate) fn plus(self, o: Self) -> Self {
        let mut r = self;
        for (x, y) in r.0.iter_mut().zip(o.0) {
            *x += y;
        }
        r
    }
}

impl<const N: usize> By<Lanes<N>> for Lanes<N> {
    #[inline(always)]
    fn by(self, o: Self) -> Self {
        let mut r = self;
        for (x, y) in r.0.iter_mut().zip(o.0) {
            *x *= y;
        }
        r
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn double_double_keeps_what_f64_loses() {
        let tiny = 1e-25;
        let x = Dd::ONE.plus(Dd::from(tiny));
        let y = x.plus(Dd::from(-1.0));
        assert!((y.hi - tiny).abs() < 1e-40);
        let third = Dd::from(3.0).inverse();
        let back = third.times(Dd::from(3.0)).plus(Dd::from(-1.0));
        assert!(back.hi.abs() < 1e-31, "{back:?}");
    }

    #[test]
    fn products_are_error_free() {
        for (a, b) in [(0.1, 0.3), (1.0 / 3.0, 1e-17), (123456.789, 0.987654321)] {
            let (p, e) = two_prod(a, b);
            assert_eq!(e, f64::mul_add(a, b, -p));
        }
    }

    #[test]
    fn wide_numbers_do_not_run_out() {
        let tiny = Wide::from_f64(5e-324);
        let mut x = Wide::ONE;
        for _ in 0..1000 {
            x = x.times(tiny);
        }
        assert!((x.ln() + 1000.0 * 744.4400719213812).abs() < 1e-6);
        let back = (0..1000).fold(x, |y, _| y.times(tiny.inverse()));
        assert!((back.to_f64() - 1.0).abs() < 1e-20);
        assert_eq!(Wide::ONE.plus(x).to_f64(), 1.0);
    }

    #[test]
    fn logarithm_near_one_keeps_its_digits() {
        let x = Wide::ONE.minus(Wide::from_f64(1e-20));
        assert!((x.ln() + 1e-20).abs() < 1e-35);
    }

    #[test]
    fn powers_of_two_cover_the_range() {
        assert_eq!(pow2(-1074), f64::from_bits(1));
        assert_eq!(pow2(1023), 2.0_f64.powi(1023));
        assert_eq!(exponent(5e-324), -1074);
        assert_eq!(exponent(1.0), 0);
        assert_eq!(exponent(0.75), -1);
    }
}
