//! Special functions and the distributions built on them.

mod bessel;
mod beta;
mod beta_quantile;
mod gamma;
mod kolmogorov;
mod normal;
mod student;
mod student_cf;
mod student_column;
mod tail;

pub use bessel::{bessel_j0, bessel_k};
pub use beta::{beta_inc, beta_pdf, ln_beta};
pub use beta_quantile::{beta_quantile, beta_quantile_pair};
pub use gamma::{gamma_p, gamma_q, ln_gamma};
pub use kolmogorov::kolmogorov_sf;
pub use normal::{
    erf, erfc, normal_cdf, normal_interval, normal_pdf, normal_quantile, normal_quantile_upper,
    normal_sf,
};
pub use student::{
    student_t_cdf, student_t_pdf, student_t_quantile, student_t_quantile_upper, student_t_sf,
};
pub use student_cf::{StudentCf, student_t_cf};

#[cfg(test)]
mod testing {
    /// Fails unless `got` is within `relative` of `want`; an expected 0 must be 0.
    pub(super) fn assert_close(got: f64, want: f64, relative: f64, what: impl std::fmt::Debug) {
        assert!(
            (got - want).abs() <= relative * want.abs(),
            "{what:?}: got {got:e}, want {want:e}"
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Positive numbers of every size, down to the smallest and up to the largest.
    fn positive() -> impl Strategy<Value = f64> {
        prop_oneof![
            (-10.0..10.0_f64).prop_map(crate::float::exp),
            (1_u64..=f64::MAX.to_bits()).prop_map(f64::from_bits),
            prop::sample::select(vec![
                5e-324,
                f64::MIN_POSITIVE,
                0.5,
                1.0,
                1e16,
                1e24,
                f64::MAX
            ]),
        ]
    }

    proptest! {
        #[test]
        fn no_valid_argument_is_too_strange(a in positive(), b in positive(), p in 0.0..=1.0) {
            // because: the two tails of a distribution are rounded apart
            let one = 1.0 + 1e-13;
            let (lower, upper) = beta_inc(p, a, b);
            for chance in [lower, upper, gamma_p(a, b), gamma_q(a, b), student_t_sf(b, a), student_t_cf(b, a)] {
                prop_assert!((0.0..=one).contains(&chance), "{}", chance);
            }
            let (x, y) = beta_quantile_pair(p, a, b);
            prop_assert!((0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y));
            prop_assert!(beta_pdf(p, a.min(1e20), b.min(1e20)) >= 0.0);
            prop_assert!((0.0..0.4).contains(&student_t_pdf(b, a)));
            prop_assert!(!student_t_quantile(p, a).is_nan() && !ln_beta(a, b).is_nan());
            prop_assert!(bessel_k(a, b) >= 0.0 && (0.0..=one).contains(&normal_interval(-a, b)));
        }
    }
}
