//! How many of many runs hold, and how sure that is.

/// The confidence that intervals are stated for.
pub const CONFIDENCE: f64 = 0.95;

/// So many of a number of runs failed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share {
    /// Runs that failed, runs that could not be solved included.
    pub failing: usize,
    /// Runs.
    pub of: usize,
}

impl Share {
    /// Counts the runs that fail.
    pub fn count(failing: impl Iterator<Item = bool>) -> Self {
        let mut share = Self::default();
        for fails in failing {
            share.of += 1;
            share.failing += usize::from(fails);
        }
        share
    }

    /// The share that holds; 1 of no runs.
    pub fn holding(self) -> f64 {
        if self.of == 0 { 1.0 } else { (self.of - self.failing) as f64 / self.of as f64 }
    }

    /// In which the share that would hold of endlessly many runs lies with 95 % confidence
    /// (Clopper and Pearson, Biometrika 26 (1934): exact, never too narrow).
    pub fn interval(self) -> [f64; 2] {
        let tail = (1.0 - CONFIDENCE) / 2.0;
        if self.of == 0 {
            return [0.0, 1.0];
        }
        let holding = (self.of - self.failing) as f64;
        let failing = self.failing as f64;
        let low = if holding == 0.0 { 0.0 } else { beta_quantile(tail, holding, failing + 1.0) };
        let high =
            if failing == 0.0 { 1.0 } else { beta_quantile(1.0 - tail, holding + 1.0, failing) };
        [low, high]
    }

    /// With no failure in N runs at most 3/N fail, with 95 % confidence on that side alone: (1 - p)^N
    /// is 5 % at p = -ln(0.05)/N (the rule of three; Hanley and Lippman-Hand, JAMA 249 (1983)).
    pub fn rule_of_three(self) -> Option<f64> {
        (self.failing == 0 && self.of > 0).then(|| (3.0 / self.of as f64).min(1.0))
    }
}

/// Where the regularised incomplete beta function of these parameters reaches `p`.
fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    // Each halving gives a bit; what is left is below the spacing of numbers near 1.
    const HALVINGS: usize = 80;
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if incomplete_beta(middle, a, b) < p { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// The regularised incomplete beta function by its continued fraction (NIST Digital Library of
/// Mathematical Functions, 8.17.22), which converges fast below the mean; above it from the other
/// side (8.17.4).
fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 || x >= 1.0 {
        return x.clamp(0.0, 1.0);
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - incomplete_beta(1.0 - x, b, a);
    }
    let factor = a * x.ln() + b * (-x).ln_1p() + log_gamma(a + b) - log_gamma(a) - log_gamma(b);
    factor.exp() / (a * continued_fraction(x, a, b))
}

/// 1 + d1/(1 + d2/(1 + …)), from the front (Thompson and Barnett, J. Comput. Phys. 64 (1986)).
fn continued_fraction(x: f64, a: f64, b: f64) -> f64 {
    // Some √(a + b) terms are needed; a million runs take a thousand.
    const MOST_TERMS: usize = 20_000;
    const TINY: f64 = 1e-300;
    let (mut value, mut c, mut d) = (1.0, 1.0, 0.0);
    for n in 1..=MOST_TERMS {
        let m = (n / 2) as f64;
        let term = if n % 2 == 0 {
            m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m))
        } else {
            -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0))
        };
        let away_from_zero = |x: f64| if x.abs() < TINY { TINY } else { x };
        d = 1.0 / away_from_zero(1.0 + term * d);
        c = away_from_zero(1.0 + term / c);
        value *= c * d;
        if (c * d - 1.0).abs() < 1e-15 {
            break;
        }
    }
    value
}

/// Of a number above zero, by Stirling's series (NIST Digital Library of Mathematical Functions,
/// 5.11.1) from ten upwards.
fn log_gamma(x: f64) -> f64 {
    const FROM: f64 = 10.0;
    let (mut x, mut product) = (x, 1.0);
    while x < FROM {
        product *= x;
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    let series = 1.0 / 12.0 - y * (1.0 / 360.0 - y * (1.0 / 1260.0 - y * (1.0 / 1680.0)));
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series / x - product.ln()
}

#[cfg(test)]
mod tests {
    use super::super::random;
    use super::*;

    /// The share of runs whose two numbers hold.
    fn drawn(seed: u64, count: u64, holds: impl Fn(f64, f64) -> bool) -> Share {
        let fails =
            |run: u64| !holds(random::uniform(seed, "a", run), random::uniform(seed, "b", run));
        Share::count((1..=count).map(fails))
    }

    fn interval(holding: usize, of: usize) -> [f64; 2] {
        Share { failing: of - holding, of }.interval()
    }

    /// Without a failure the lower end is (α/2)^(1/N), with nothing but failures the upper end is
    /// 1 - (α/2)^(1/N).
    #[test]
    fn exact_intervals_of_no_failure_and_of_nothing_else() {
        for of in [1, 2, 10, 1000, 100_000, 1_000_000] {
            let end = 0.025_f64.powf(1.0 / of as f64);
            let [low, high] = interval(of, of);
            assert!((low - end).abs() < 1e-9 && high == 1.0, "{of}: {low} {end}");
            let [low, high] = interval(0, of);
            assert!(low == 0.0 && (high - (1.0 - end)).abs() < 1e-9, "{of}: {high}");
        }
    }

    /// Two of ten: 2.52 % to 55.61 %, five of ten: 18.71 % to 81.29 %; ten of a hundred: 4.90 % to
    /// 17.62 % (as in the common tables of exact binomial limits, e.g. Documenta Geigy; from memory,
    /// and worked out again with the beta distribution of scipy 1.x).
    #[test]
    fn published_exact_binomial_limits() {
        for (holding, of, low, high) in
            [(2, 10, 0.0252, 0.5561), (5, 10, 0.1871, 0.8129), (10, 100, 0.0490, 0.1762)]
        {
            let [a, b] = interval(holding, of);
            // Half of the last digit that is told.
            assert!((a - low).abs() < 6e-5 && (b - high).abs() < 6e-5, "{holding}/{of}: {a} {b}");
        }
    }

    /// At the ends of the interval the tail of the binomial distribution is 2.5 %: summed here.
    #[test]
    fn exact_tails_at_the_ends() {
        let (of, holding) = (60_usize, 51_usize);
        let [low, high] = interval(holding, of);
        let tail = |p: f64, from: usize, to: usize| -> f64 {
            let mut term = (1.0 - p).powi(60);
            let mut sum = 0.0;
            for k in 0..=of {
                if (from..=to).contains(&k) {
                    sum += term;
                }
                term *= (of - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
            }
            sum
        };
        assert!((tail(low, holding, of) - 0.025).abs() < 1e-12);
        assert!((tail(high, 0, holding) - 0.025).abs() < 1e-12);
    }

    #[test]
    fn no_failure_in_a_thousand_bounds_the_share_by_three_thousandths() {
        assert_eq!(Share { failing: 0, of: 1000 }.rule_of_three(), Some(0.003));
        assert_eq!(Share { failing: 1, of: 1000 }.rule_of_three(), None);
        assert_eq!(Share::default().interval(), [0.0, 1.0]);
    }

    /// Of a unit square the part with x + y ≤ 1.5 is 7/8. The interval of 300 runs must hold that in
    /// at least 93 % of 200 seeds: it is made to in 95 %, so that fewer than 186 have a chance of 8 %
    /// at that confidence; being exact, it holds it more often than that.
    #[test]
    fn exact_share_of_a_square_lies_in_nearly_all_intervals() {
        let inside = (1..=200_u64).filter(|seed| {
            let [low, high] = drawn(*seed, 300, |x, y| x + y <= 1.5).interval();
            (low..=high).contains(&0.875)
        });
        let inside = inside.count();
        assert!(inside >= 186, "{inside} of 200");
    }
}
