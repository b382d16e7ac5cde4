"""Writes steps.toml: a law in steps and one or two others: densities, quantiles, intervals; each is a sum over the steps, 25 digits."""

from pathlib import Path

from mpmath import *

mp.dps = 25
HERE = Path(__file__).parent
E = []
STEPS = [(mpf(-0.004), mpf(0.25)), (mpf(0), mpf(0.5)), (mpf(0.008), mpf(0.25))]


def uniform_normal(half, sd):
    g = lambda z: z * ncdf(z) + npdf(z)
    cdf = lambda x: sd / (2 * half) * (g((x + half) / sd) - g((x - half) / sd))
    pdf = lambda x: (ncdf((x + half) / sd) - ncdf((x - half) / sd)) / (2 * half)
    return cdf, pdf


def exponential(mean):
    return lambda x: -expm1(-x / mean) if x > 0 else mpf(0), lambda x: exp(-x / mean) / mean if x > 0 else mpf(0)


def case(id, title, sources, expression, cdf, pdf, places):
    E.append('[[case]]\nid = "steps-and-%s"\nsource = "Own computation, 40 digits"\nclause = "a law in steps and others"\ntitle = "%s"\nstatus = "recomputed"' % (id, title))
    E.append("sources.a = { discrete = [[-0.004, 0.25], [0.0, 0.5], [0.008, 0.25]] }\n%s\noutcomes.y = \"%s\"\nrows = [" % (sources, expression))
    whole = lambda f: lambda x: fsum(p * f(x - a) for a, p in STEPS)
    row = lambda ask, value, extra: E.append('  { by = "exact", ask = "%s"%s, value = "%s" },' % (ask, extra, nstr(value, 18)))
    for x in places:
        row("density", whole(pdf)(mpf(x)), ", at = %r" % x)

    def quantile(p):
        low, high = mpf(-0.1), mpf(0.1)
        for _ in range(80):
            middle = (low + high) / 2
            low, high = (middle, high) if whole(cdf)(middle) < p else (low, middle)
        return low

    for p in (0.001, 0.2, 0.6, 0.95, 0.9995):
        row("quantile", quantile(mpf(p)), ", at = %r" % p)
    row("lower", quantile(mpf("0.005")), ", level = 0.99")
    row("upper", quantile(mpf("0.995")), ", level = 0.99")
    E.append("]\n")


s = mpf(0.0005)
case("normal", "steps + normal", "sources.b = { normal = 0.0005 }", "a + b", lambda x: ncdf(x / s), lambda x: npdf(x / s) / s, [-0.0045, 0.0002, 0.0079, 0.0095])
case("exponential", "steps + exponential", "sources.b = { exponential = { origin = 0.0, mean_excess = 0.0005 } }", "a + b", *exponential(s), [-0.0035, 0.001, 0.009])
case("two", "steps + rectangle + normal", "sources.b = { rectangular = 0.001 }\nsources.c = { normal = 0.0005 }", "a + b + c", *uniform_normal(mpf(0.001), s), [-0.0045, 0.0002, 0.0079, 0.0095])
HEAD = """# A law in steps and others; steps.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "steps.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
