//! The random numbers of resampling: a function of seed and replicate alone.
//!
//! Every replicate has its own xoshiro256++ generator (Blackman and Vigna), filled by
//! SplitMix64 (Steele, Lea and Flood) from the seed and the number of the replicate. Whichever
//! thread computes a replicate, and in whatever order, draws the same numbers.

/// SplitMix64: turns any 64 bits into a stream of well-mixed ones.
struct SplitMix64(u64);

impl SplitMix64 {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// Places drawn before any is used: few enough to stay in the nearest cache.
const BLOCK: usize = 1_024;

/// xoshiro256++ of one replicate.
pub(super) struct Draws {
    state: [u64; 4],
}

impl Draws {
    pub(super) fn of_replicate(seed: u64, replicate: u64) -> Self {
        let mixed = SplitMix64(replicate).next();
        let mut fill = SplitMix64(seed ^ mixed);
        Self { state: [fill.next(), fill.next(), fill.next(), fill.next()] }
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// A place below `n`, by the high half of a 128-bit product; the bias is below n/2⁶⁴.
    pub(super) fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }

    /// `count` places below `n`, handed to `visit` block by block.
    ///
    /// Every draw gives two places, each by the high half of the product of `n` with 32 bits; a
    /// product that would favour some places is left out (Lemire), so there is no bias.
    pub(super) fn places(&mut self, n: u32, count: usize, mut visit: impl FnMut(&[u32])) {
        let mut block = [0; BLOCK];
        let mut left = count;
        while left > 0 {
            let part = &mut block[..left.min(BLOCK)];
            self.fill(u64::from(n.max(1)), part);
            visit(part);
            left -= part.len();
        }
    }

    fn fill(&mut self, n: u64, part: &mut [u32]) {
        // 2³² mod n: products whose low half lies below it come once too often.
        let uneven = (1 << 32) % n;
        let mut filled = 0;
        while filled < part.len() {
            let draw = self.next();
            for half in [draw >> 32, draw & 0xffff_ffff] {
                let product = half * n;
                // Written before it is known to count: a branch would cost more.
                if let Some(place) = part.get_mut(filled) {
                    *place = (product >> 32) as u32;
                    filled += usize::from((product & 0xffff_ffff) >= uneven);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generators_are_the_published_ones() {
        // SplitMix64 from seed 1234567, a widely printed sequence (from memory).
        let mut fill = SplitMix64(1_234_567);
        assert_eq!(fill.next(), 6_457_827_717_110_365_317);
        assert_eq!(fill.next(), 3_203_168_211_198_807_973);
        assert_eq!(fill.next(), 9_817_491_932_198_370_423);
        // xoshiro256++ from the state 1, 2, 3, 4, as in the tests of the Rust rand crates
        // (from memory).
        let mut draws = Draws { state: [1, 2, 3, 4] };
        let expected = [41_943_041, 58_720_359, 3_588_806_011_781_223];
        for value in expected {
            assert_eq!(draws.next(), value);
        }
    }

    #[test]
    fn places_are_even_and_replicates_differ() {
        let mut hits = [0_u32; 7];
        for replicate in 0..1_000 {
            let mut draws = Draws::of_replicate(42, replicate);
            for _ in 0..70 {
                hits[draws.below(7)] += 1;
            }
        }
        let mut pairs = [0_u32; 7];
        for replicate in 0..1_000 {
            Draws::of_replicate(43, replicate).places(7, 70, |block| {
                block.iter().for_each(|place| pairs[*place as usize] += 1);
            });
        }
        // 10,000 expected a place, standard deviation 93: five of them.
        assert!(pairs.iter().all(|hit| hit.abs_diff(10_000) < 470), "{pairs:?}");
        assert!(hits.iter().all(|hit| hit.abs_diff(10_000) < 470), "{hits:?}");
        assert_ne!(Draws::of_replicate(1, 0).next(), Draws::of_replicate(1, 1).next());
        assert_ne!(Draws::of_replicate(1, 0).next(), Draws::of_replicate(2, 0).next());
    }
}
