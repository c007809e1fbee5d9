//! Random numbers that depend on seed, name and run alone: any run can be drawn again by itself, on
//! any machine, whatever else is drawn.

/// Step of SplitMix64 and multipliers of its mixing (Steele, Lea and Flood, Fast splittable
/// pseudorandom number generators, OOPSLA 2014).
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;
const FIRST: u64 = 0xbf58_476d_1ce4_e5b9;
const SECOND: u64 = 0x94d0_49bb_1331_11eb;
/// Bits of a number between 0 and 1: so many that it is exact, ends left out.
const BITS: u32 = 52;

/// The number of a run (counted from 1) for one quantity, above 0 and below 1: output `run` of a
/// SplitMix64 that starts where seed and name say.
pub(in crate::study) fn uniform(seed: u64, name: &str, run: u64) -> f64 {
    let start = mixed(mixed(seed.wrapping_add(STEP)) ^ hash(name));
    let bits = output(start, run) >> (64 - BITS);
    (bits as f64 + 0.5) / (1_u64 << BITS) as f64
}

/// Output `count` (from 1) of SplitMix64 from a start.
fn output(start: u64, count: u64) -> u64 {
    mixed(start.wrapping_add(count.wrapping_mul(STEP)))
}

fn mixed(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(FIRST);
    z = (z ^ (z >> 27)).wrapping_mul(SECOND);
    z ^ (z >> 31)
}

/// FNV-1a.
fn hash(name: &str) -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0100_0000_01b3;
    name.bytes().fold(OFFSET, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME))
}

/// The standard normal variable below which a share `p` lies, to 1e-16 of it (Wichura, Algorithm AS
/// 241, Applied Statistics 37 (1988), PPND16).
pub(super) fn normal_quantile(p: f64) -> f64 {
    const A: [f64; 8] = [
        3.387_132_872_796_366_5,
        1.331_416_678_917_843_8e2,
        1.971_590_950_306_551_3e3,
        1.373_169_376_550_946e4,
        4.592_195_393_154_987e4,
        6.726_577_092_700_87e4,
        3.343_057_558_358_813e4,
        2.509_080_928_730_122_7e3,
    ];
    const B: [f64; 8] = [
        1.0,
        4.231_333_070_160_091e1,
        6.871_870_074_920_579e2,
        5.394_196_021_424_751e3,
        2.121_379_430_158_659_7e4,
        3.930_789_580_009_271e4,
        2.872_908_573_572_194_3e4,
        5.226_495_278_852_854e3,
    ];
    const C: [f64; 8] = [
        1.423_437_110_749_683_5,
        4.630_337_846_156_546,
        5.769_497_221_460_691,
        3.647_848_324_763_204_5,
        1.270_458_252_452_368_4,
        2.417_807_251_774_506e-1,
        2.272_384_498_926_918_4e-2,
        7.745_450_142_783_414e-4,
    ];
    const D: [f64; 8] = [
        1.0,
        2.053_191_626_637_759,
        1.676_384_830_183_803_8,
        6.897_673_349_851e-1,
        1.481_039_764_274_800_8e-1,
        1.519_866_656_361_645_7e-2,
        5.475_938_084_995_345e-4,
        1.050_750_071_644_416_8e-9,
    ];
    const E: [f64; 8] = [
        6.657_904_643_501_103,
        5.463_784_911_164_114,
        1.784_826_539_917_291_3,
        2.965_605_718_285_048_7e-1,
        2.653_218_952_657_612_4e-2,
        1.242_660_947_388_078_4e-3,
        2.711_555_568_743_487_6e-5,
        2.010_334_399_292_288_1e-7,
    ];
    const F: [f64; 8] = [
        1.0,
        5.998_322_065_558_88e-1,
        1.369_298_809_227_358e-1,
        1.487_536_129_085_061_5e-2,
        7.868_691_311_456_133e-4,
        1.846_318_317_510_054_8e-5,
        1.421_511_758_316_446e-7,
        2.044_263_103_389_939_8e-15,
    ];
    let polynomial = |k: &[f64; 8], x: f64| k.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&A, r) / polynomial(&B, r);
    }
    let r = (-p.min(1.0 - p).ln()).sqrt();
    let tail = if r <= 5.0 {
        polynomial(&C, r - 1.6) / polynomial(&D, r - 1.6)
    } else {
        polynomial(&E, r - 5.0) / polynomial(&F, r - 5.0)
    };
    tail.copysign(q)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of SplitMix64 from 1234567, as commonly printed beside implementations of it
    /// (Rosetta Code, Pseudo-random numbers/Splitmix64; from memory).
    #[test]
    fn published_outputs_of_splitmix64() {
        let expected: [u64; 5] = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        for (k, expected) in (1..).zip(expected) {
            assert_eq!(output(1_234_567, k), expected);
        }
    }

    /// Percentage points of the normal distribution (Abramowitz and Stegun, Handbook of Mathematical
    /// Functions, tables 26.1 and 26.5; the last two from memory of the common tables).
    #[test]
    fn published_points_of_the_normal_distribution() {
        let points = [
            (0.5, 0.0, 1e-15),
            (0.975, 1.959_963_984_540_054, 1e-14),
            (0.025, -1.959_963_984_540_054, 1e-14),
            (0.995, 2.575_829_303_548_901, 1e-14),
            (0.9, 1.281_551_565_544_6, 1e-14),
            (0.998_650_101_968_37, 3.0, 1e-10),
            (1e-9, -5.997_807_015_007_69, 1e-12),
        ];
        for (p, z, within) in points {
            assert!((normal_quantile(p) - z).abs() <= within, "{p}: {}", normal_quantile(p));
        }
    }

    /// Mean 1/2 and variance 1/12 of the uniform, 0, 1, 0 and 3 of the standard normal distribution;
    /// allowed are five standard errors of each.
    #[test]
    fn exact_moments_of_both_distributions() {
        const COUNT: u32 = 100_000;
        for (seed, name) in [(1, "c_out"), (2, "c_out"), (1, "R_TOP.resistance"), (u64::MAX, "")] {
            let n = f64::from(COUNT);
            let drawn: Vec<f64> = (1..=COUNT).map(|k| uniform(seed, name, u64::from(k))).collect();
            let mean = drawn.iter().sum::<f64>() / n;
            assert!((mean - 0.5).abs() < 5.0 * (1.0 / 12.0 / n).sqrt(), "{mean}");
            let variance = drawn.iter().map(|u| (u - 0.5).powi(2)).sum::<f64>() / n;
            assert!((variance - 1.0 / 12.0).abs() < 5.0 * (1.0 / 180.0 / n).sqrt(), "{variance}");
            let moment =
                |power: i32| drawn.iter().map(|u| normal_quantile(*u).powi(power)).sum::<f64>() / n;
            // Variances of z, z², z³, z⁴ are 1, 2, 15 and 96.
            for (power, expected, variance) in
                [(1, 0.0, 1.0), (2, 1.0, 2.0), (3, 0.0, 15.0), (4, 3.0, 96.0)]
            {
                let error = (moment(power) - expected).abs();
                assert!(error < 5.0 * (variance / n).sqrt(), "{power}: {error}");
            }
        }
    }

    /// Of independent uniform numbers the correlation has the standard error 1/√n, and of 64 equal
    /// cells χ² has mean 63 and variance 126.
    #[test]
    fn seeds_names_and_neighbouring_runs_are_independent() {
        const COUNT: u32 = 65_536;
        let n = f64::from(COUNT);
        let series = |seed: u64, name: &str, shift: u64| -> Vec<f64> {
            (1..=COUNT).map(|k| uniform(seed, name, u64::from(k) + shift) - 0.5).collect()
        };
        let first = series(1, "v_ref", 0);
        for other in [series(2, "v_ref", 0), series(1, "c_out", 0), series(1, "v_ref", 1)] {
            let product: f64 = first.iter().zip(&other).map(|(a, b)| a * b).sum();
            assert!((12.0 * product / n).abs() < 5.0 / n.sqrt());
            let mut cells = [0.0; 64];
            for (a, b) in first.iter().zip(&other) {
                let cell = |x: f64| ((x + 0.5) * 8.0) as usize;
                cells[8 * cell(*a) + cell(*b)] += 1.0;
            }
            let expected = n / 64.0;
            let squares: f64 = cells.iter().map(|c| (c - expected).powi(2) / expected).sum();
            assert!((squares - 63.0).abs() < 5.0 * 126.0_f64.sqrt(), "{squares}");
        }
    }
}
