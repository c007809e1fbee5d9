//! Random linear networks: in time against the matrix exponential, in frequency against direct complex solves,
//! both of nalgebra and from matrices stamped by hand.

use crate::bench::{BOTH, Bench};
use crate::network::{Network, Style};
use crate::networks::Random;
use nalgebra::DVector;
use railstep::analysis::operating_point;
use railstep::analysis::small_signal::{SmallSignal, s_of};

const STYLE: Style = Style { decades: 1.5, active: true, driven: true };
/// Networks that grow by more than this over the record are another kind of test: their errors grow alike.
const MOST_GROWTH: f64 = 2.0;
/// Errors of TR-BDF2 add up to 20 tolerances (of RODAS4P to two), and grow by e² = 7.4 where the network does.
const MOST_TOLERANCES: f64 = 100.0;
/// Most rad that anything turns through: an error in phase grows with them.
const MOST_RADIANS: f64 = 150.0;
/// Node tolerance in V.
const S: f64 = 1e-7;

/// A time over which this network shows what it does.
fn duration(network: &Network, random: &mut Random) -> Option<f64> {
    let poles = network.natural()?;
    let mut sizes: Vec<f64> = poles.iter().map(|s| s.norm()).collect();
    sizes.sort_by(f64::total_cmp);
    let growth = poles.iter().map(|s| s.re).fold(0.0, f64::max);
    let turning = poles.iter().map(|s| s.im.abs()).fold(network.hertz * 6.3, f64::max);
    let wished = random.decades(1.0) / sizes[sizes.len() / 2];
    Some(wished.min(MOST_GROWTH / growth.max(1e-300)).min(MOST_RADIANS / turning))
}

#[test]
fn exact_random_linear_networks_in_time_follow_the_matrix_exponential() {
    let mut random = Random(20_261_126);
    let (mut solved, mut worst) = (0, 0.0_f64);
    for _ in 0..60 {
        let network = Network::draw(&mut random, STYLE);
        // A loop of controlled sources may leave nothing determined, by chance or exactly.
        let Some(end) = duration(&network, &mut random) else { continue };
        let text = network.text(end);
        let bench = Bench::of(&text);
        let instants = [0.13, 0.41, 1.0].map(|share| share * end);
        for method in BOTH {
            let run = bench.solve("watch", method, S, &instants);
            for t in instants {
                let expected = network.at(t);
                let largest = expected.rows(0, network.nodes).amax().max(1.0);
                for node in 0..network.nodes {
                    let off = (run.at(&format!("n{}", node + 1), t) - expected[node]).abs();
                    worst = worst.max(off / (S * largest));
                    assert!(
                        off < MOST_TOLERANCES * S * largest,
                        "{method:?} n{} at {t:e}: {off:e} of {:e}\n{text}",
                        node + 1,
                        expected[node]
                    );
                }
            }
        }
        solved += 1;
    }
    assert!(solved > 50, "{solved}");
    println!("{solved} networks, worst error {worst:.1} tolerances");
}

#[test]
fn exact_random_linear_networks_over_frequency_are_direct_complex_solves() {
    let mut random = Random(7);
    let mut compared = 0;
    for _ in 0..150 {
        let network = Network::draw(&mut random, Style { decades: 3.0, ..STYLE });
        let text = network.text(1.0);
        let system = Bench::of(&text).system();
        let Ok(rest) = operating_point(&system, &system.pieces(-1.0), 0.0, None) else { continue };
        let mut small = SmallSignal::new(&system, &rest.z);
        // The first source is the one that varies.
        let drive = 0;
        let amplitude = network.b.column(1).amax();
        let input: DVector<f64> = network.b.column(1) / network.b.column(1).sum();
        assert!(amplitude > 0.0);
        for _ in 0..6 {
            let hertz = 1e5 * random.decades(5.0);
            let Some(expected) = network.amplitudes(hertz, &input) else { continue };
            small.set(s_of(hertz)).expect("regular where nalgebra finds it so");
            let found = small.respond_to_drive(drive).expect("regular");
            let largest =
                expected.rows(0, network.nodes).iter().map(|x| x.norm()).fold(0.0, f64::max);
            for node in 0..network.nodes {
                let u = crate::bench::unknown(&system, &format!("n{}", node + 1));
                let off = (found[u] - expected[node]).norm();
                // Values spread over twelve decades: what dense pivoting leaves of sixteen digits.
                assert!(
                    off <= 1e-9 * largest,
                    "{hertz:e} Hz n{}: {off:e} of {largest:e}\n{text}",
                    node + 1
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 3000, "{compared}");
}
