//! Quantiles that are dear to compute, as tables for the sampler.

use super::law::Law;
use kerfwise_numeric::columns::QuantileTable;
use std::fmt;
use std::sync::{Arc, OnceLock};

/// A table of a law's quantile, made at the first draw and shared by all clones.
///
/// A law with a table is the same law: all tables compare equal.
#[derive(Clone, Default)]
pub(super) struct Table(Arc<OnceLock<QuantileTable>>);

impl Table {
    /// Uniform numbers become draws of the law.
    pub(super) fn draws(&self, law: &impl Law, column: &mut [f64]) {
        self.0
            .get_or_init(|| {
                QuantileTable::two_sided(|p| law.quantile(p), |q| law.quantile_upper(q))
            })
            .map(column, |u| law.quantile(u));
    }

    /// Uniform numbers become draws of a law that is symmetric about 0, told by its quantile for p up to 1/2.
    pub(super) fn symmetric_draws(&self, lower: impl Fn(f64) -> f64, column: &mut [f64]) {
        let quantile = |u: f64| {
            if u <= 0.5 { lower(u) } else { -lower(1.0 - u) }
        };
        self.0
            .get_or_init(|| QuantileTable::symmetric(&lower))
            .map(column, quantile);
    }
}

impl PartialEq for Table {
    fn eq(&self, _other: &Self) -> bool {
        true
    }
}

impl fmt::Debug for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Table")
    }
}
