"""Writes special.toml: special functions in every region that the code tells apart, at 40 digits with mpmath."""

from pathlib import Path

from mpmath import *
from scipy import stats

mp.dps = 40
HERE = Path(__file__).parent
E = []
HALF = mpf(1) / 2


def case(name, title):
    E.append(
        '[[case]]\nid = "special-%s"\nsource = "Own computation, 40 digits"\nclause = "special functions"\ntitle = "%s"\n'
        'status = "recomputed"\nrows = [' % (name, title)
    )


def row(ask, at, value, extra=""):
    if abs(value) < mpf(10) ** -290:
        return
    at = ", ".join(repr(float(x)) for x in at)
    E.append('  { by = "function", ask = "%s", at = [%s], value = "%s"%s },' % (ask, at, nstr(mpf(value), 25), extra))


def end():
    E.append("]\n")


def phi(z):
    return erfc(-z / sqrt(2)) / 2


def halving(f, low, high):
    """Where a rising f passes 0."""
    low, high = mpf(low), mpf(high)
    for _ in range(220):
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < 0 else (low, middle)
    return (low + high) / 2


def normal():
    case("normal", "normal law and error function")
    for x in map(mpf, [-5.5, -1.7, -0.3, 0.001, 0.45, 0.9, 1.3, 2.6, 3.4, 5.9]):
        row("erf", [x], erf(x))
        row("erfc", [x], erfc(x))
    for z in map(mpf, [-30, -8.5, -3.2, -0.6, 0.01, 0.7, 2.2, 6.1, 20]):
        row("normal_pdf", [z], npdf(z))
        row("normal_cdf", [z], phi(z))
        row("normal_sf", [z], phi(-z))
    for a, b in [(-1.5, 2.25), (0.5, 0.75), (3, 9), (-9, -4), (-0.001, 0.002), (6, 6.5)]:
        a, b = mpf(a), mpf(b)
        row("normal_interval", [a, b], phi(b) - phi(a))
    for p in map(mpf, [1e-300, 1e-40, 1e-9, 0.0012, 0.03, 0.2, 0.45, 0.52, 0.8, 0.97, 0.9995]):
        z = halving(lambda z: phi(z) - p, -40, 40)
        row("normal_quantile", [p], z)
        row("normal_quantile_upper", [p], -z)
    end()


def gammas():
    case("gamma", "gamma and beta functions")
    for x in [1e-5, 0.3, 0.97, 1.2, 1.6, 2.03, 2.8, 4.5, 7.5, 9.1, 12.5, 33.3, 171.4, 1e5, 3e9]:
        x = mpf(x)
        row("ln_gamma", [x], loggamma(x))
    for a, x in [(0.05, 1e-6), (0.3, 0.2), (0.5, 4.0), (1.0, 0.5), (2.5, 0.7), (2.5, 9.0), (8.0, 7.5), (12.0, 30.0), (40.0, 22.0), (60.0, 61.0), (150.0, 190.0), (900.0, 880.0)]:
        a, x = mpf(a), mpf(x)
        row("gamma_p", [a, x], gammainc(a, 0, x, regularized=True))
        row("gamma_q", [a, x], gammainc(a, x, inf, regularized=True))
    for a, b in [(0.2, 0.7), (1.0, 3.5), (2.5, 2.5), (14.0, 0.3), (20.0, 35.0), (300.0, 2.0), (1e4, 3e4)]:
        a, b = mpf(a), mpf(b)
        row("ln_beta", [a, b], loggamma(a) + loggamma(b) - loggamma(a + b))
    end()


SHAPES = [(0.3, 0.4), (0.5, 0.5), (1.0, 3.0), (4.0, 1.0), (2.5, 2.5), (0.2, 8.0), (15.0, 0.4), (12.0, 30.0), (80.0, 75.0), (3.0, 400.0)]


def betas():
    case("beta", "beta law: density, both tails, quantiles")
    for a, b in SHAPES:
        a, b = mpf(a), mpf(b)
        mean = a / (a + b)
        sd = sqrt(a * b / (a + b) ** 2 / (a + b + 1))
        places = [mean] + [x for x in (mean - 2 * sd, mean + 2 * sd, mean - 6 * sd, mean + 6 * sd) if 0 < x < 1]
        for x in places:
            x = mpf(float(x))
            row("beta_pdf", [x, a, b], exp((a - 1) * log(x) + (b - 1) * log1p(-x) - loggamma(a) - loggamma(b) + loggamma(a + b)))
            row("beta_inc", [x, a, b], betainc(a, b, 0, x, regularized=True))
            row("beta_inc_upper", [x, a, b], betainc(b, a, 0, 1 - x, regularized=True))
        for p in [1e-10, 0.08, 0.5, 0.9]:
            p = mpf(p)
            density = lambda x: exp((a - 1) * log(x) + (b - 1) * log1p(-x) - loggamma(a) - loggamma(b) + loggamma(a + b))
            x = mpf(stats.beta.ppf(float(p), float(a), float(b)))
            y = mpf(stats.beta.isf(1 - float(p), float(a), float(b)))
            if not (mpf(10) ** -290 < x and float(x) < 1 - 1e-10):
                continue
            # Newton, in the logarithm where x is near 0.
            for _ in range(5):
                x *= exp(-(betainc(a, b, 0, x, regularized=True) - p) / (x * density(x)))
            row("beta_quantile", [p, a, b], x)
            row("beta_quantile_above", [p, a, b], 1 - x)
    end()


def large_betas():
    """Shapes of which one is beyond 1e20: chances by quadrature over the density at 55 digits, in standard deviations."""
    case("beta-large", "beta law of very large shapes: both tails and quantiles")
    mp.dps = 55
    nine = ', digits = 9, note = "beyond 1e20 promised to nine digits"'
    for a, b in [(1e21, 2e21), (3e22, 1e20), (1e15, 5e20), (4e20, 7e13), (1e13, 1e21), (3e9, 1e21), (40.5, 1e21), (3e20, 0.7)]:
        a, b = mpf(a), mpf(b)
        n = a + b
        mean, sd = a / n, sqrt(a * b / (n + 1)) / n
        top = log_density(mean, a, b)
        # Where the law is far from normal its lower end is at 0; 60 standard deviations further the tail is gone.
        lowest, highest = max(-mean / sd, mpf(-40)), min((1 - mean) / sd, mpf(60))
        density = lambda s: exp(log_density(mean + s * sd, a, b) - top)

        def between(low, high):
            places = [low + (high - low) * (mpf(k) / 16) ** (3 if low == lowest and low > -40 else 1) for k in range(17)]
            return quad(density, places, method="gauss-legendre")

        if b < 1:
            chances = lambda y: (gammainc(b, -log1p(-y) * a, regularized=True), gammainc(b, 0, -log1p(-y) * a, regularized=True))
            y = mpf(float(mpf("0.4") / a))
            row("beta_inc", [y, b, a], chances(y)[1], nine)
            row("beta_inc_upper", [y, b, a], chances(y)[0], nine)
            continue
        whole = between(lowest, mpf(0)) + between(mpf(0), highest)
        lower = lambda s: between(lowest, s) / whole if s < 0 else 1 - between(s, highest) / whole
        upper = lambda s: between(s, highest) / whole if s > 0 else 1 - between(lowest, s) / whole
        for z in [-5, mpf("-0.8"), 0, mpf("1.3"), 7]:
            x = mpf(float(mean + z * sd))
            s = (x - mean) / sd
            if s <= lowest:
                continue
            row("beta_inc", [x, a, b], lower(s), nine)
            row("beta_inc_upper", [x, a, b], upper(s), nine)
        for p in [1e-12, 0.4, 0.75]:
            z = halving(lambda z: phi(z) - mpf(p), -40, 40)
            near = max(z + (z * z - 1) * 2 * (b - a) / n / (sd * n) / 6, lowest * mpf("0.999"))
            s = near
            for _ in range(7):
                chance = lower(s)
                s -= (log(chance) - log(mpf(p))) * chance * whole / density(s)
            assert abs(lower(s) / mpf(p) - 1) < mpf(10) ** -20
            row("beta_quantile", [p, a, b], mean + s * sd)
            row("beta_quantile_above", [p, a, b], (b / n) - s * sd)
    mp.dps = 40
    for p in [1e-30, 1e-12, 0.3]:
        u = halving(lambda u: gammainc(2, 0, exp(u), regularized=True) - mpf(p), -80, 10)
        row("beta_quantile", [p, 2.0, 1e21], exp(u) / mpf(1e21))
        row("beta_quantile_above", [1 - mpf(p) if p > 0.1 else mpf(p), 1e21, 2.0], (exp(u) if p > 0.1 else two_above(p)) / mpf(1e21))
    end()


def log_density(x, a, b):
    return (a - 1) * log(x) + (b - 1) * log1p(-x)


def two_above(p):
    """Above this a gamma quantity of shape 2 lies with chance p."""
    return findroot(lambda u: log1p(u) - u - log(mpf(p)), -log(mpf(p)) + 3)


def students():
    case("student", "Student's law: density, tails, quantiles, characteristic function")
    for nu in [0.4, 1.0, 1.7, 2.0, 3.0, 4.0, 4.6, 5.0, 9.0, 24.5, 130.0, 900.0]:
        nu = mpf(nu)
        top = exp(loggamma((nu + 1) / 2) - loggamma(nu / 2)) / sqrt(nu * pi)
        sf = lambda t: betainc(nu / 2, HALF, 0, nu / (nu + t * t), regularized=True) / 2
        for t in [0.01, 0.8, 1.9, 3.5, 12.0, 300.0]:
            t = mpf(t)
            row("student_t_pdf", [t, nu], top * exp(-(nu + 1) / 2 * log1p(t * t / nu)))
            row("student_t_sf", [t, nu], sf(t))
            row("student_t_cdf", [-t, nu], sf(t))
        row("student_t_cdf", [1.25, nu], 1 - sf(mpf("1.25")))
        for q in [1e-12, 0.004, 0.11, 0.3, 0.49]:
            q = mpf(q)
            t = mpf(stats.t.isf(float(q), float(nu)))
            for _ in range(5):
                t += (sf(t) - q) / (top * exp(-(nu + 1) / 2 * log1p(t * t / nu)))
            row("student_t_quantile_upper", [q, nu], t)
    for nu in [0.7, 1.0, 2.0, 3.0, 4.0, 5.0, 5.5, 11.0, 40.0, 77.7]:
        nu = mpf(nu)
        for t in [0.01, 0.4, 1.7, 6.0, 21.0]:
            z = sqrt(nu) * mpf(t)
            value = besselk(nu / 2, z) * z ** (nu / 2) / (gamma(nu / 2) * mpf(2) ** (nu / 2 - 1))
            row("student_t_cf", [t, nu], value, ', within = 4e-15, note = "promised to about 1e-15 of one"' if value < 0.003 else "")
    end()


def bessels():
    case("bessel", "Bessel functions; the law of Kolmogorov's distance")
    for x in [0.1, 1.0, 2.3, 5.1, 7.7, 14.0, 40.0, 1234.5]:
        row("bessel_j0", [x], besselj(0, mpf(x)))
    for nu in [0.0, 0.2, 0.5, 0.85, 1.0, 1.5, 2.3, 5.0, 12.25, 40.0]:
        for x in [0.02, 0.6, 1.9, 2.1, 6.0, 30.0]:
            row("bessel_k", [nu, x], besselk(mpf(nu), mpf(x)))
    for d, n in [(0.31, 5.0), (0.05, 100.0), (0.08, 100.0), (0.09, 120.0), (0.11, 100.0), (0.15, 100.0), (0.25, 100.0), (0.6, 4.0)]:
        root = sqrt(mpf(n))
        x = mpf(d) * (root + mpf("0.12") + mpf("0.11") / root)
        row("kolmogorov_sf", [d, n], 2 * nsum(lambda k: (-1) ** (int(k) - 1) * exp(-2 * k * k * x * x), [1, 60], method="d"))
    end()


normal()
gammas()
betas()
large_betas()
students()
bessels()
HEAD = """# Special functions in every region that the code tells apart; special.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "special.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
