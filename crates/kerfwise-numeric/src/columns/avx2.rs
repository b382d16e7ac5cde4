//! Quantile tables read with AVX2: a piece in two loads, four pieces turned into four columns. A compiler gathers them number
//! by number, which takes half as long again.

use std::arch::x86_64::{
    __m128d, __m256d, _CMP_GT_OQ, _mm_cvtsd_f64, _mm_setr_pd, _mm_unpackhi_pd, _mm256_add_pd,
    _mm256_and_pd, _mm256_castpd256_pd128, _mm256_cmp_pd, _mm256_extractf128_pd, _mm256_mul_pd,
    _mm256_set1_pd, _mm256_setr_m128d, _mm256_setr_pd, _mm256_setzero_pd, _mm256_unpackhi_pd,
    _mm256_unpacklo_pd, _mm256_xor_pd,
};

/// The same as `super::draw_each`, to the bit.
#[inline]
#[target_feature(enable = "avx2")]
pub(super) fn draw_each<const N: usize, const MIRRORED: bool>(
    cells: &[f64; N],
    places: &[u64],
    numbers: &[f64],
    chunk: &mut [f64],
) -> bool {
    let mut sum = _mm256_setzero_pd();
    let places = places.as_chunks::<4>().0;
    let numbers = numbers.as_chunks::<4>().0;
    let fours = chunk.as_chunks_mut::<4>().0;
    for ((four, places), numbers) in fours.iter_mut().zip(places).zip(numbers) {
        let [a, b, c, d] = columns(cells, places.map(|place| place as usize & (N - 4)));
        let s = load(four);
        let mut draw = _mm256_add_pd(_mm256_mul_pd(d, s), c);
        draw = _mm256_add_pd(_mm256_mul_pd(draw, s), b);
        draw = _mm256_add_pd(_mm256_mul_pd(draw, s), a);
        sum = _mm256_add_pd(sum, draw);
        if MIRRORED {
            let upper = _mm256_cmp_pd::<_CMP_GT_OQ>(load(numbers), _mm256_set1_pd(0.5));
            draw = _mm256_xor_pd(draw, _mm256_and_pd(upper, _mm256_set1_pd(-0.0)));
        }
        *four = store(draw);
    }
    store(sum).iter().all(|sum| !sum.is_nan())
}

/// Four pieces become the four columns of their coefficients.
#[inline]
#[target_feature(enable = "avx2")]
fn columns<const N: usize>(cells: &[f64; N], places: [usize; 4]) -> [__m256d; 4] {
    let [r0, r1, r2, r3] =
        places.map(|i| halves([cells[i], cells[i + 1], cells[i + 2], cells[i + 3]]));
    let [even, odd] = [
        _mm256_setr_m128d(r0[0], r2[0]),
        _mm256_setr_m128d(r1[0], r3[0]),
    ];
    let [even2, odd2] = [
        _mm256_setr_m128d(r0[1], r2[1]),
        _mm256_setr_m128d(r1[1], r3[1]),
    ];
    [
        _mm256_unpacklo_pd(even, odd),
        _mm256_unpackhi_pd(even, odd),
        _mm256_unpacklo_pd(even2, odd2),
        _mm256_unpackhi_pd(even2, odd2),
    ]
}

#[inline]
#[target_feature(enable = "avx2")]
fn halves([a, b, c, d]: [f64; 4]) -> [__m128d; 2] {
    [_mm_setr_pd(a, b), _mm_setr_pd(c, d)]
}

#[inline]
#[target_feature(enable = "avx2")]
fn load(&[a, b, c, d]: &[f64; 4]) -> __m256d {
    _mm256_setr_pd(a, b, c, d)
}

#[inline]
#[target_feature(enable = "avx2")]
fn store(numbers: __m256d) -> [f64; 4] {
    let low = _mm256_castpd256_pd128(numbers);
    let high = _mm256_extractf128_pd::<1>(numbers);
    [
        _mm_cvtsd_f64(low),
        _mm_cvtsd_f64(_mm_unpackhi_pd(low, low)),
        _mm_cvtsd_f64(high),
        _mm_cvtsd_f64(_mm_unpackhi_pd(high, high)),
    ]
}
