//! Where a measurement is heading: a straight line through readings, how sure it is, and when it reaches a limit.
//!
//! Ordinary least squares (Gauss 1809; N. R. Draper and H. Smith, Applied Regression Analysis, 3rd edition 1998, chapter 1): slope, intercept,
//! residual standard deviation with n − 2 degrees of freedom; the range in which the line lies and the range of one further reading; the
//! range of the moment at which the line reaches a limit (E. C. Fieller, 1954). Student's distribution for whole degrees of freedom is summed
//! exactly (M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4).

use std::f64::consts::PI;

/// A line through points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// How many points.
    pub count: usize,
    /// Value at x = 0.
    pub intercept: f64,
    /// Rise of the value for one unit of x.
    pub slope: f64,
    /// Residual standard deviation; nothing for two points, which every line fits.
    pub deviation: Option<f64>,
    mean_x: f64,
    sum_xx: f64,
}

/// When a line reaches a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reaches {
    /// x at which the line is at the limit.
    pub at: f64,
    /// x between which that lies; an end that is open is nothing. Both are nothing where the readings do not say.
    pub between: Option<(Option<f64>, Option<f64>)>,
}

/// Fits a line by least squares. Nothing for fewer than two points, or where all have the same x.
pub fn fit(points: &[(f64, f64)]) -> Option<Line> {
    let count = points.len();
    let n = count as f64;
    let mean_x = points.iter().map(|p| p.0).sum::<f64>() / n;
    let mean_y = points.iter().map(|p| p.1).sum::<f64>() / n;
    let sum_xx: f64 = points.iter().map(|p| (p.0 - mean_x).powi(2)).sum();
    let sum_xy: f64 = points.iter().map(|p| (p.0 - mean_x) * (p.1 - mean_y)).sum();
    if count < 2 || sum_xx.is_nan() || sum_xx <= 0.0 {
        return None;
    }
    let slope = sum_xy / sum_xx;
    let intercept = mean_y - slope * mean_x;
    let residuals: f64 = points.iter().map(|p| (p.1 - mean_y - slope * (p.0 - mean_x)).powi(2)).sum();
    let deviation = (count > 2).then(|| (residuals / (n - 2.0)).sqrt());
    Some(Line { count, intercept, slope, deviation, mean_x, sum_xx })
}

impl Line {
    /// A line known beforehand through one point: `slope` is certain, as with an age.
    pub fn through(point: (f64, f64), slope: f64) -> Line {
        let intercept = point.1 - slope * point.0;
        Line { count: 1, intercept, slope, deviation: None, mean_x: point.0, sum_xx: 1.0 }
    }

    /// The value on the line at x.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    fn freedom(&self) -> usize {
        self.count.saturating_sub(2)
    }

    /// Standard error of the line at x.
    pub fn error_at(&self, x: f64) -> Option<f64> {
        self.deviation.map(|s| s * (1.0 / self.count as f64 + (x - self.mean_x).powi(2) / self.sum_xx).sqrt())
    }

    /// Standard error of one further reading at x.
    pub fn error_of_reading(&self, x: f64) -> Option<f64> {
        self.deviation.map(|s| s * (1.0 + 1.0 / self.count as f64 + (x - self.mean_x).powi(2) / self.sum_xx).sqrt())
    }

    /// Standard error of the slope.
    pub fn error_of_slope(&self) -> Option<f64> {
        self.deviation.map(|s| s / self.sum_xx.sqrt())
    }

    /// The range in which one further reading at x lies with a probability.
    pub fn reading_between(&self, x: f64, probability: f64) -> Option<(f64, f64)> {
        let reach = student_quantile(0.5 + probability / 2.0, self.freedom()) * self.error_of_reading(x)?;
        Some((self.at(x) - reach, self.at(x) + reach))
    }

    /// When the line is at a limit, with the range for a probability. Nothing for a level line.
    pub fn reaches(&self, limit: f64, probability: f64) -> Option<Reaches> {
        if self.slope == 0.0 {
            return None;
        }
        let at = (limit - self.intercept) / self.slope;
        let Some(s) = self.deviation else { return Some(Reaches { at, between: None }) };
        let t = student_quantile(0.5 + probability / 2.0, self.freedom());
        // Fieller: those x at which the limit lies within the range of the line. With u = x − mean x and d = the line's mean − limit:
        // (d + b u)² = t² s² (1/n + u²/Sxx), a quadratic in u.
        let d = self.at(self.mean_x) - limit;
        let q = (t * s).powi(2);
        let (a, b, c) = (self.slope.powi(2) - q / self.sum_xx, 2.0 * self.slope * d, d * d - q / self.count as f64);
        let inside = b * b - 4.0 * a * c;
        let between = if a > 0.0 && inside >= 0.0 {
            let root = inside.sqrt();
            (Some(self.mean_x + (-b - root) / (2.0 * a)), Some(self.mean_x + (-b + root) / (2.0 * a)))
        } else if a < 0.0 && inside >= 0.0 && c > 0.0 {
            // The slope may be nought: never is possible, and only the nearest moment is known.
            let root = inside.sqrt();
            let (low, high) = ((-b + root) / (2.0 * a), (-b - root) / (2.0 * a));
            if at >= self.mean_x { (Some(self.mean_x + high), None) } else { (None, Some(self.mean_x + low)) }
        } else {
            (None, None)
        };
        Some(Reaches { at, between: Some(between) })
    }

    /// The probability that the line at x is still above a limit (`falls`), or still below it. One or nought where there is no uncertainty.
    pub fn holds_at(&self, x: f64, limit: f64, falls: bool) -> f64 {
        let spare = if falls { self.at(x) - limit } else { limit - self.at(x) };
        match self.error_at(x).filter(|e| *e > 0.0) {
            Some(error) => student(spare / error, self.freedom()),
            None => f64::from(u8::from(spare >= 0.0)),
        }
    }
}

/// Student's distribution: the probability of a value up to `t`, for whole degrees of freedom from 1 up.
pub fn student(t: f64, freedom: usize) -> f64 {
    let n = freedom.max(1);
    let theta = (t / (n as f64).sqrt()).atan();
    let (sin, cos) = theta.sin_cos();
    let mut sum = 0.0;
    let inner = if n % 2 == 1 {
        let mut term = cos;
        let mut k = 1;
        while k + 1 < n {
            sum += term;
            k += 2;
            term *= cos * cos * (k - 1) as f64 / k as f64;
        }
        2.0 / PI * (theta + sin * sum)
    } else {
        let mut term = 1.0;
        let mut k = 0;
        while k + 1 < n {
            sum += term;
            k += 2;
            term *= cos * cos * (k - 1) as f64 / k as f64;
        }
        sin * sum
    };
    (0.5 + inner / 2.0).clamp(0.0, 1.0)
}

/// The value that Student's distribution stays below with a probability from 0 to 1, by halving.
pub fn student_quantile(probability: f64, freedom: usize) -> f64 {
    let p = probability.clamp(1e-9, 1.0 - 1e-9);
    let mut reach = 1.0;
    while student(reach, freedom) < p.max(1.0 - p) && reach < 1e12 {
        reach *= 2.0;
    }
    let (mut low, mut high) = (-reach, reach);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if student(middle, freedom) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// What is measured again and again, and the limit it runs towards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// Its name, as typed.
    pub what: &'static str,
    /// The unit of the limit.
    pub unit: &'static str,
    /// The limit; nothing where none is published, and the person must give it.
    pub limit: Option<f64>,
    /// Whether it falls towards the limit.
    pub falls: bool,
    /// What the limit is, and where it comes from.
    pub source: &'static str,
}

/// Measures with a known run.
pub const MEASURES: [Measure; 6] = [
    Measure {
        what: "tread",
        unit: "mm",
        limit: Some(1.6),
        falls: true,
        source: "The Highway Code, Annex 6: 1.6 mm for cars, light vans and light trailers; 1.0 mm for motorcycles (--limit 1)",
    },
    Measure {
        what: "lining",
        unit: "mm",
        limit: Some(1.5),
        falls: true,
        source: "MOT inspection manual 1.1.13, from memory: less than 1.5 mm is refused; the handbook may ask for more",
    },
    Measure {
        what: "pad",
        unit: "mm",
        limit: Some(1.5),
        falls: true,
        source: "MOT inspection manual 1.1.13, from memory: less than 1.5 mm is refused; the handbook may ask for more",
    },
    Measure {
        what: "cable-travel",
        unit: "clicks",
        limit: None,
        falls: false,
        source: "no figure is published: give the handbook's with --limit",
    },
    Measure {
        what: "battery-voltage",
        unit: "V",
        limit: Some(12.2),
        falls: true,
        source: "common practice: a 12 V battery that rests below 12.2 V is half flat or worn",
    },
    Measure {
        what: "fluid-age",
        unit: "months",
        limit: Some(24.0),
        falls: false,
        source: "common practice: brake fluid is changed every two years, unless the handbook says otherwise",
    },
];

/// The measure of a name.
pub fn measure(what: &str) -> Option<&'static Measure> {
    MEASURES.iter().find(|m| m.what == what)
}

/// From which reading on the present wear runs: behind the last one at which it went back by more than a quarter of the value before, which
/// means something new was fitted. Common practice.
pub fn since_renewal(values: &[f64], falls: bool) -> usize {
    (1..values.len())
        .rev()
        .find(|&i| {
            let (before, now) = (values[i - 1], values[i]);
            let back = if falls { now - before } else { before - now };
            back > 0.25 * before.abs()
        })
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b}");
    }

    /// Anscombe, F. J. (1973), Graphs in Statistical Analysis, The American Statistician 27, first set: intercept 3.00, slope 0.500, and in
    /// print a regression sum of squares of 27.50 and a residual one of 13.75, standard error of the slope 0.118.
    #[test]
    fn the_line_of_a_printed_example_comes_out() {
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
        let points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
        let line = fit(&points).expect("a line");
        near(line.slope, 0.500, 0.0005);
        near(line.intercept, 3.00, 0.005);
        near(line.deviation.expect("11 points").powi(2) * 9.0, 13.75, 0.02);
        near(line.error_of_slope().expect("11 points"), 0.118, 0.0005);
        // The range of one further reading at the mean of x, by hand: 2.262 (printed for 9 degrees of freedom) · 1.2366 · √(1 + 1/11).
        let (low, high) = line.reading_between(9.0, 0.95).expect("11 points");
        near((high - low) / 2.0, 2.9216, 0.001);
    }

    /// Statistical Reference Datasets, National Institute of Standards and Technology (USA): Norris, linear regression with certified values
    /// (intercept, slope, their standard deviations, residual standard deviation). Data and values written from memory; that they agree to
    /// eleven digits confirms both.
    #[test]
    fn a_certified_reference_set_comes_out() {
        let points = [
            (0.2, 0.1),
            (337.4, 338.8),
            (118.2, 118.1),
            (884.6, 888.0),
            (10.1, 9.2),
            (226.5, 228.1),
            (666.3, 668.5),
            (996.3, 998.5),
            (448.6, 449.1),
            (777.0, 778.9),
            (558.2, 559.2),
            (0.4, 0.3),
            (0.6, 0.1),
            (775.5, 778.1),
            (666.9, 668.8),
            (338.0, 339.3),
            (447.5, 448.9),
            (11.6, 10.8),
            (556.0, 557.7),
            (228.1, 228.3),
            (995.8, 998.0),
            (887.6, 888.8),
            (120.2, 119.6),
            (0.3, 0.3),
            (0.3, 0.6),
            (556.8, 557.6),
            (339.1, 339.3),
            (887.2, 888.0),
            (999.0, 998.5),
            (779.0, 778.9),
            (11.1, 10.2),
            (118.3, 117.6),
            (229.2, 228.9),
            (669.1, 668.4),
            (448.9, 449.2),
            (0.5, 0.2),
        ];
        let line = fit(&points).expect("a line");
        near(line.intercept, -0.262_323_073_774_029, 1e-11);
        near(line.slope, 1.002_116_818_020_45, 1e-13);
        near(line.error_at(0.0).expect("36 points"), 0.232_818_234_301_152, 1e-11);
        near(line.error_of_slope().expect("36 points"), 0.000_429_796_848_199_937, 1e-14);
        near(line.deviation.expect("36 points"), 0.884_796_396_144_373, 1e-11);
    }

    /// Percentage points of Student's distribution, printed in Abramowitz and Stegun, table 26.10, and every table since.
    #[test]
    fn percentage_points_agree_with_the_printed_table() {
        for (freedom, p, t) in [
            (1, 0.95, 6.314),
            (1, 0.975, 12.706),
            (2, 0.975, 4.303),
            (3, 0.95, 2.353),
            (5, 0.975, 2.571),
            (9, 0.975, 2.262),
            (10, 0.995, 3.169),
            (30, 0.95, 1.697),
            (120, 0.975, 1.980),
        ] {
            near(student_quantile(p, freedom), t, 0.0006);
            near(student(-t, freedom), 1.0 - p, 0.0002);
        }
    }

    #[test]
    fn the_range_of_the_moment_is_where_the_limit_leaves_the_range_of_the_line() {
        let points = [(0.0, 6.0), (100.0, 5.3), (200.0, 4.8), (300.0, 4.0), (400.0, 3.6)];
        let line = fit(&points).expect("a line");
        let reaches = line.reaches(1.6, 0.9).expect("it falls");
        near(line.at(reaches.at), 1.6, 1e-12);
        let Some((Some(early), Some(late))) = reaches.between else { panic!("both ends: {reaches:?}") };
        assert!(early < reaches.at && reaches.at < late);
        let t = student_quantile(0.95, 3);
        for x in [early, late] {
            near((line.at(x) - 1.6).abs(), t * line.error_at(x).expect("5 points"), 1e-9);
        }
        near(line.holds_at(early, 1.6, true), 0.95, 1e-6);
        near(line.holds_at(late, 1.6, true), 0.05, 1e-6);
    }

    #[test]
    fn readings_that_may_be_level_have_no_latest_moment() {
        let line = fit(&[(0.0, 5.0), (1.0, 5.4), (2.0, 4.7), (3.0, 5.0)]).expect("a line");
        let reaches = line.reaches(1.6, 0.9).expect("it falls a little");
        let Some((Some(early), None)) = reaches.between else { panic!("no latest: {reaches:?}") };
        assert!(early < reaches.at);
        let t = student_quantile(0.95, 2);
        near((line.at(early) - 1.6).abs(), t * line.error_at(early).expect("4 points"), 1e-9);
    }

    #[test]
    fn two_points_have_a_line_and_no_certainty_and_one_has_none() {
        assert_eq!(fit(&[(1.0, 2.0)]), None);
        assert_eq!(fit(&[(1.0, 2.0), (1.0, 3.0)]), None);
        let line = fit(&[(0.0, 4.0), (10.0, 3.0)]).expect("a line");
        assert_eq!((line.deviation, line.reading_between(5.0, 0.9)), (None, None));
        assert_eq!(line.reaches(2.0, 0.9), Some(Reaches { at: 20.0, between: None }));
        assert_eq!((line.holds_at(19.0, 2.0, true), line.holds_at(21.0, 2.0, true)), (1.0, 0.0));
    }

    #[test]
    fn a_new_tyre_begins_a_new_line() {
        assert_eq!(since_renewal(&[5.0, 4.0, 3.0, 8.0, 7.5], true), 3);
        assert_eq!(since_renewal(&[5.0, 4.9, 5.0, 4.7], true), 0);
        assert_eq!(since_renewal(&[20.0, 0.0], false), 1);
        assert_eq!(since_renewal(&[], true), 0);
    }
}
