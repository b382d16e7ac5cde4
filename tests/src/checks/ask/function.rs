use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_numeric::special;

/// A function of `kerfwise-numeric` at the arguments of the row.
pub(super) fn answer(row: &Row) -> Got {
    let value = match (row.ask.as_str(), row.at.all()) {
        ("normal_cdf", &[z]) => special::normal_cdf(z),
        ("normal_sf", &[z]) => special::normal_sf(z),
        ("normal_interval", &[a, b]) => special::normal_interval(a, b),
        ("normal_quantile", &[p]) => special::normal_quantile(p),
        ("normal_quantile_upper", &[q]) => special::normal_quantile_upper(q),
        ("student_t_cdf", &[t, nu]) => special::student_t_cdf(t, nu),
        ("student_t_sf", &[t, nu]) => special::student_t_sf(t, nu),
        ("student_t_quantile_upper", &[q, nu]) => special::student_t_quantile_upper(q, nu),
        // The factor of a two-sided interval, as JCGM 100, table G.2, has it.
        ("t_factor", &[p, nu]) => special::student_t_quantile_upper(0.5 * (1.0 - p), nu),
        ("beta_inc", &[x, a, b]) => special::beta_inc(x, a, b).0,
        ("erf", &[x]) => special::erf(x),
        ("erfc", &[x]) => special::erfc(x),
        ("normal_pdf", &[z]) => special::normal_pdf(z),
        ("student_t_pdf", &[t, nu]) => special::student_t_pdf(t, nu),
        ("student_t_cf", &[t, nu]) => special::student_t_cf(t, nu),
        ("ln_beta", &[a, b]) => special::ln_beta(a, b),
        ("beta_pdf", &[x, a, b]) => special::beta_pdf(x, a, b),
        ("beta_inc_upper", &[x, a, b]) => special::beta_inc(x, a, b).1,
        ("beta_quantile_above", &[p, a, b]) => special::beta_quantile_pair(p, a, b).1,
        ("beta_quantile", &[p, a, b]) => special::beta_quantile(p, a, b),
        ("gamma_p", &[a, x]) => special::gamma_p(a, x),
        ("gamma_q", &[a, x]) => special::gamma_q(a, x),
        ("ln_gamma", &[x]) => special::ln_gamma(x),
        ("bessel_j0", &[x]) => special::bessel_j0(x),
        ("bessel_k", &[nu, x]) => special::bessel_k(nu, x),
        ("kolmogorov_sf", &[d, n]) => special::kolmogorov_sf(d, n as usize),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
