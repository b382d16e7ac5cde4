//! The steps of a stream with the state in AVX2 registers, where no compiler keeps it by itself: twice as fast.

use super::{LANES, State};
use std::arch::x86_64::{
    __m256i, _mm256_add_epi64, _mm256_extract_epi64, _mm256_or_si256, _mm256_set_epi64x,
    _mm256_slli_epi64, _mm256_srli_epi64, _mm256_xor_si256,
};

/// Lanes in a register.
const HALF: usize = LANES / 2;

/// Steps of all lanes: the same words as one lane at a time.
#[target_feature(enable = "avx2")]
pub(super) fn steps<T>(state: &mut State, steps: &mut [[T; LANES]], put: impl Fn(u64) -> T) {
    let mut halves = [0, 1].map(|half| state.map(|row| load(&row, half)));
    for eight in steps {
        for (half, rows) in halves.iter_mut().enumerate() {
            let words = store(step(rows));
            for (i, word) in words.into_iter().enumerate() {
                eight[HALF * half + i] = put(word);
            }
        }
    }
    for (half, rows) in halves.into_iter().enumerate() {
        for (row, lanes) in state.iter_mut().zip(rows) {
            row[HALF * half..][..HALF].copy_from_slice(&store(lanes));
        }
    }
}

/// One step of xoshiro256++ in each of four lanes.
#[inline]
#[target_feature(enable = "avx2")]
fn step(rows: &mut [__m256i; 4]) -> __m256i {
    let [s0, s1, s2, s3] = *rows;
    let sum = _mm256_add_epi64(s0, s3);
    let turned = _mm256_or_si256(_mm256_slli_epi64(sum, 23), _mm256_srli_epi64(sum, 41));
    let (t2, t3) = (_mm256_xor_si256(s2, s0), _mm256_xor_si256(s3, s1));
    *rows = [
        _mm256_xor_si256(s0, t3),
        _mm256_xor_si256(s1, t2),
        _mm256_xor_si256(t2, _mm256_slli_epi64(s1, 17)),
        _mm256_or_si256(_mm256_slli_epi64(t3, 45), _mm256_srli_epi64(t3, 19)),
    ];
    _mm256_add_epi64(turned, s0)
}

#[inline]
#[target_feature(enable = "avx2")]
fn load(row: &[u64; LANES], half: usize) -> __m256i {
    let word = |i: usize| row[HALF * half + i].cast_signed();
    _mm256_set_epi64x(word(3), word(2), word(1), word(0))
}

#[inline]
#[target_feature(enable = "avx2")]
fn store(lanes: __m256i) -> [u64; HALF] {
    [
        _mm256_extract_epi64(lanes, 0),
        _mm256_extract_epi64(lanes, 1),
        _mm256_extract_epi64(lanes, 2),
        _mm256_extract_epi64(lanes, 3),
    ]
    .map(i64::cast_unsigned)
}
