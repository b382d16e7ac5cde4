//! Random streams that any thread can open at any place: addressed by seed, key and block.
//!
//! A [`Stream`] is eight lanes of xoshiro256++ (Blackman and Vigna 2021), started by `SplitMix64` from the three numbers. The key is a hash of
//! a source's name, so that adding a source to a plan leaves the draws of the others unchanged; the block is a run of trials, so that
//! threads do not matter. Not for secrets.

#[cfg(target_arch = "x86_64")]
mod avx2;

use multiversion::multiversion;
use multiversion::target::match_target;

const LANES: usize = 8;

/// Row i holds word i of the state of each lane.
type State = [[u64; LANES]; 4];

/// The 64-bit key of a name: FNV-1a (Fowler, Noll, Vo) of its UTF-8 bytes. It will never change.
///
/// ```
/// use kerfwise_numeric::stream::name_key;
/// assert_eq!(name_key("foobar"), 0x8594_4171_f739_67e8);
/// ```
#[must_use]
pub const fn name_key(name: &str) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let bytes = name.as_bytes();
    let mut i = 0;
    while i < bytes.len() {
        hash = (hash ^ bytes[i] as u64).wrapping_mul(0x0000_0100_0000_01b3);
        i += 1;
    }
    hash
}

/// `SplitMix64` (Steele, Lea and Flood 2014): steps the state and gives a word.
#[inline]
fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A stream of random words. Word 8 i + j of the stream is word i of lane j, in whatever portions it is taken.
///
/// ```
/// use kerfwise_numeric::stream::{Stream, name_key};
/// let mut stream = Stream::new(7, name_key("kerf"), 0);
/// let mut draws = [0.0; 4];
/// stream.fill_open01(&mut draws);
/// assert!(draws.iter().all(|&u| 0.0 < u && u < 1.0));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stream {
    state: State,
    /// Words made and not yet taken: those from `taken` on.
    words: [u64; LANES],
    taken: usize,
}

impl Stream {
    /// The stream of this seed, key (see [`name_key`]) and block, from its beginning.
    ///
    /// Different triples give unrelated streams: the three are mixed one after another, and 32 further words
    /// start the lanes.
    #[must_use]
    pub fn new(seed: u64, key: u64, block: u64) -> Self {
        let mut mixer = seed;
        mixer = split_mix(&mut mixer) ^ key;
        mixer = split_mix(&mut mixer) ^ block;
        mixer = split_mix(&mut mixer);
        let mut state = [[0; LANES]; 4];
        for lane in 0..LANES {
            for row in &mut state {
                row[lane] = split_mix(&mut mixer);
            }
        }
        Self {
            state,
            words: [0; LANES],
            taken: LANES,
        }
    }

    /// One step of all lanes.
    #[inline(always)]
    fn step(&mut self) -> [u64; LANES] {
        step(&mut self.state)
    }

    /// The next word.
    #[inline]
    pub fn next_word(&mut self) -> u64 {
        if self.taken == LANES {
            self.words = self.step();
            self.taken = 0;
        }
        self.taken += 1;
        self.words[self.taken - 1]
    }

    /// Hands the next words to `put`, one array element each; whole steps are made by `make`.
    #[inline(always)]
    fn fill<T>(
        &mut self,
        slots: &mut [T],
        put: impl Fn(u64) -> T,
        make: impl FnOnce(&mut State, &mut [[T; LANES]]),
    ) {
        let waiting = (LANES - self.taken).min(slots.len());
        let (first, rest) = slots.split_at_mut(waiting);
        for slot in first {
            *slot = put(self.next_word());
        }
        let (steps, last) = rest.as_chunks_mut();
        make(&mut self.state, steps);
        for slot in last {
            *slot = put(self.next_word());
        }
    }

    /// Fills the slice with the next words.
    pub fn fill_words(&mut self, words: &mut [u64]) {
        wide_words(self, words);
    }

    /// Fills the slice with uniform numbers above 0 and below 1, one word each.
    ///
    /// The upper 52 bits of a word w give (2 (w >> 12) + 1) / 2^53: never 0 or 1, symmetric about 1/2, all equally likely, exact.
    pub fn fill_open01(&mut self, numbers: &mut [f64]) {
        wide_open01(self, numbers);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_words(stream: &mut Stream, words: &mut [u64]) {
    match_target! {
        "x86_64+avx2" => stream.fill(words, |word| word, |state, steps| avx2::steps(state, steps, |word| word)),
        _ => stream.fill(words, |word| word, |state, steps| plain_steps(state, steps, |word| word)),
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_open01(stream: &mut Stream, numbers: &mut [f64]) {
    match_target! {
        "x86_64+avx2" => stream.fill(numbers, open01, |state, steps| avx2::steps(state, steps, open01)),
        _ => stream.fill(numbers, open01, |state, steps| plain_steps(state, steps, open01)),
    }
}

/// Steps of all lanes.
#[inline(always)]
fn plain_steps<T>(state: &mut State, steps: &mut [[T; LANES]], put: impl Fn(u64) -> T) {
    // In place: of a local copy the compiler makes 32 single numbers, and no vectors.
    for eight in steps {
        let words = step(state);
        for i in 0..LANES {
            eight[i] = put(words[i]);
        }
    }
}

/// One step of xoshiro256++ in each lane.
#[inline(always)]
fn step(state: &mut State) -> [u64; LANES] {
    let [s0, s1, s2, s3] = state;
    let mut out = [0; LANES];
    for i in 0..LANES {
        out[i] = s0[i]
            .wrapping_add(s3[i])
            .rotate_left(23)
            .wrapping_add(s0[i]);
        let shifted = s1[i] << 17;
        s2[i] ^= s0[i];
        s3[i] ^= s1[i];
        s1[i] ^= s2[i];
        s0[i] ^= s3[i];
        s2[i] ^= shifted;
        s3[i] = s3[i].rotate_left(45);
    }
    out
}

/// A float in [1, 2) minus (1 - 2^-53).
#[inline(always)]
pub(crate) fn open01(word: u64) -> f64 {
    f64::from_bits((word >> 12) | 0x3ff0_0000_0000_0000) - (1.0 - 0.5 * f64::EPSILON)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::special::kolmogorov_sf;
    use proptest::prelude::*;
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::{Rng, SeedableRng};

    // Published by Noll with the definition of FNV-1a (draft-eastlake-fnv, test vectors).
    #[test]
    fn name_key_is_fnv_1a() {
        assert_eq!(name_key(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(name_key("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(name_key("foobar"), 0x8594_4171_f739_67e8);
    }

    // Published with the reference code of SplitMix64 (Vigna): the first words from state 1234567.
    #[test]
    fn mixer_is_split_mix_64() {
        let mut state = 1_234_567;
        let words = [(); 3].map(|()| split_mix(&mut state));
        assert_eq!(
            words,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423
            ]
        );
    }

    #[test]
    fn every_lane_is_xoshiro_256_plus_plus() {
        let mut stream = Stream::new(3, 4, 5);
        let mut oracles: Vec<_> = (0..LANES)
            .map(|lane| {
                let bytes: Vec<u8> = stream
                    .state
                    .iter()
                    .flat_map(|row| row[lane].to_le_bytes())
                    .collect();
                Xoshiro256PlusPlus::from_seed(bytes.try_into().expect("four words are 32 bytes"))
            })
            .collect();
        let mut words = [0; 800];
        stream.fill_words(&mut words);
        for (i, &word) in words.iter().enumerate() {
            assert_eq!(word, oracles[i % LANES].next_u64(), "word {i}");
        }
    }

    #[test]
    fn all_instruction_sets_give_the_same_bits() {
        let (mut plain, mut wide) = (vec![0.0; 1003], vec![0.0; 1003]);
        Stream::new(5, 6, 7).fill(&mut plain, open01, |state, steps| {
            plain_steps(state, steps, open01);
        });
        Stream::new(5, 6, 7).fill_open01(&mut wide);
        assert_eq!(plain, wide);
    }

    /// Recorded when the stream was first made: these may never change, or every stored seed gives other draws.
    #[test]
    fn recorded_words() {
        let mut stream = Stream::new(20_240_229, name_key("tenon.thickness"), 3);
        let mut words = [0; 9];
        stream.fill_words(&mut words);
        assert_eq!(words, RECORDED);
        let mut numbers = [0.0; 2];
        Stream::new(20_240_229, name_key("tenon.thickness"), 3).fill_open01(&mut numbers);
        assert_eq!(numbers, RECORDED_NUMBERS);
    }

    #[test]
    fn numbers_are_open_and_symmetric() {
        assert_eq!(open01(0), 0.5 * f64::EPSILON);
        assert_eq!(open01(u64::MAX), 1.0 - 0.5 * f64::EPSILON);
        assert_eq!(open01(1 << 63), 0.5 + 0.5 * f64::EPSILON);
    }

    #[test]
    fn numbers_are_uniform() {
        let mut numbers = vec![0.0; 100_000];
        Stream::new(1, name_key("blade.kerf"), 0).fill_open01(&mut numbers);
        numbers.sort_by(f64::total_cmp);
        let n = numbers.len() as f64;
        let distance = numbers
            .iter()
            .enumerate()
            .map(|(i, u)| (u - i as f64 / n).max((i + 1) as f64 / n - u))
            .fold(0.0, f64::max);
        // because: a right sampler fails at this fixed seed with chance 1e-3; it was not chosen among seeds
        assert!(
            kolmogorov_sf(distance, numbers.len()) > 1e-3,
            "distance {distance}"
        );
    }

    #[test]
    fn neighbouring_addresses_are_unrelated() {
        let first = |s, k, b| Stream::new(s, k, b).next_word();
        let base = first(0, 0, 0);
        for other in [
            first(1, 0, 0),
            first(0, 1, 0),
            first(0, 0, 1),
            first(1, 1, 0),
            first(0, 1, 1),
        ] {
            let differing = (base ^ other).count_ones();
            // because: 32 +- 4 of 64 bits differ by chance; 12..=52 is five standard deviations
            assert!((12..=52).contains(&differing), "{differing} bits differ");
        }
    }

    proptest! {
        #[test]
        fn portions_do_not_matter(seed: u64, key: u64, block: u64, cuts in prop::collection::vec(0_usize..20, 1..12)) {
            let mut whole = vec![0; cuts.iter().sum()];
            Stream::new(seed, key, block).fill_words(&mut whole);
            let mut stream = Stream::new(seed, key, block);
            let mut parts = Vec::new();
            for (i, &n) in cuts.iter().enumerate() {
                let mut part = vec![0; n];
                if i % 2 == 0 { stream.fill_words(&mut part) } else { part.iter_mut().for_each(|w| *w = stream.next_word()) }
                parts.extend(part);
            }
            prop_assert_eq!(whole, parts);
        }

        #[test]
        fn numbers_follow_the_words(seed: u64, n in 0_usize..40) {
            let (mut words, mut numbers) = (vec![0; n], vec![0.0; n]);
            Stream::new(seed, 1, 2).fill_words(&mut words);
            Stream::new(seed, 1, 2).fill_open01(&mut numbers);
            for (w, u) in words.into_iter().zip(numbers) {
                prop_assert_eq!(u, ((w >> 12) as f64 + 0.5) / (1_u64 << 52) as f64);
                prop_assert_eq!(1.0 - u, ((!w >> 12) as f64 + 0.5) / (1_u64 << 52) as f64);
            }
        }
    }

    const RECORDED: [u64; 9] = [
        1_163_556_335_060_425_100,
        6_097_727_589_134_664_457,
        15_174_423_893_622_544_636,
        3_414_279_270_835_445_892,
        7_979_098_844_043_670_001,
        761_823_718_443_088_222,
        10_681_847_811_786_525_421,
        16_325_346_640_456_086_359,
        7_158_817_895_925_581_946,
    ];
    const RECORDED_NUMBERS: [f64; 2] = [0.0630765153140892, 0.3305584749682301];
}
