//! Lines are computed side by side.

use super::cases::{network, of};

#[test]
fn no_number_of_threads_changes_a_byte() {
    let by = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| serde_json::to_string(&of(network())).unwrap())
    };
    let alone = by(1);
    assert!(alone.len() > 10_000, "{alone}");
    for threads in [2, 5] {
        assert_eq!(by(threads), alone, "{threads} threads");
    }
}
