//! Random streams addressed by (seed, key, block).

const LANES: usize = 8;

/// A 64-bit key of a name: FNV-1a, fixed for ever.
#[must_use]
pub fn name_key(name: &str) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for byte in name.bytes() {
        hash ^= u64::from(byte);
        hash = hash.wrapping_mul(0x0000_0100_0000_01b3);
    }
    hash
}

fn mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Eight lanes of xoshiro256++.
#[derive(Debug, Clone, PartialEq)]
pub struct Stream {
    state: [[u64; LANES]; 4],
    words: [u64; LANES],
    taken: usize,
}

impl Stream {
    /// The stream of this seed, key and block.
    #[must_use]
    pub fn new(seed: u64, key: u64, block: u64) -> Self {
        let mut s = seed;
        s = mix(&mut s) ^ key;
        s = mix(&mut s) ^ block;
        let mut state = [[0; LANES]; 4];
        for lane in 0..LANES {
            for row in &mut state {
                row[lane] = mix(&mut s);
            }
        }
        Self {
            state,
            words: [0; LANES],
            taken: LANES,
        }
    }

    #[inline]
    fn step(&mut self) -> [u64; LANES] {
        let [s0, s1, s2, s3] = &mut self.state;
        let mut out = [0; LANES];
        for i in 0..LANES {
            out[i] = s0[i]
                .wrapping_add(s3[i])
                .rotate_left(23)
                .wrapping_add(s0[i]);
            let t = s1[i] << 17;
            s2[i] ^= s0[i];
            s3[i] ^= s1[i];
            s1[i] ^= s2[i];
            s0[i] ^= s3[i];
            s2[i] ^= t;
            s3[i] = s3[i].rotate_left(45);
        }
        out
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

    /// Fills the slice with words.
    pub fn fill_words(&mut self, words: &mut [u64]) {
        for word in words {
            *word = self.next_word();
        }
    }

    /// Fills the slice with numbers above 0 and below 1.
    pub fn fill_open01(&mut self, numbers: &mut [f64]) {
        for number in numbers {
            *number = f64::from_bits((self.next_word() >> 12) | 0x3ff0_0000_0000_0000)
                - (1.0 - 0.5 * f64::EPSILON);
        }
    }
}
