//! Special functions and the distributions built on them.

mod bessel;
mod beta;
mod gamma;
mod kolmogorov;
mod normal;
mod student;
mod student_cf;
mod tail;

pub use bessel::{bessel_j0, bessel_j1, bessel_k};
pub use beta::{beta_inc, beta_quantile, ln_beta};
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
