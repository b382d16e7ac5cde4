"""Writes decisions.toml: risks of JCGM 106, 9.5, and what test pieces say, by closed form and quadrature at 30 digits."""

from pathlib import Path

from mpmath import *

# Prior mean and standard deviation of the offset, standard deviation of a piece, readings, band.
NORMAL = {
    1: (0.0, 0.003, 0.001, [0.0021], [-0.002, 0.002]),
    2: (0.0, 0.003, 0.001, [0.0021, 0.0035, 0.0028], [-0.002, 0.002]),
    3: (0.001, 0.0005, 0.002, [0.004, 0.0055, 0.0035, 0.005, 0.0045], [0.0, 0.006]),
    4: (0.0, 0.01, 0.0008, [-0.0062, -0.0071], [-0.002, 0.002]),
    6: (0.0, 1000.0, 0.001, [0.0021, 0.0035, 0.0028], [-0.002, 0.002]),
}
# Limits of the offset, standard deviation of a piece, readings, step of the gauge, band.
ROUNDED = {
    1: ([-0.004, 0.004], 0.0008, [0.002], 0.001, [-0.002, 0.002]),
    2: ([-0.004, 0.004], 0.0008, [0.002, 0.003, 0.003], 0.001, [-0.002, 0.002]),
    3: ([-0.004, 0.004], 0.0002, [0.002, 0.002, 0.002, 0.002], 0.001, [0.0015, 0.0025]),
    4: ([0.0, 0.003], 0.0012, [0.004, 0.005, 0.003], 0.001, [0.001, 0.004]),
    5: ([-0.002, 0.002], 0.0003, [0.001, 0.0, 0.001, 0.001, 0.0], 0.001, [-0.001, 0.002]),
    6: ([-0.01, 0.01], 0.0015, [0.0, 0.0025, 0.0015, 0.002], 0.0005, [-0.003, 0.003]),
}

out = ["""# Decisions: conformity of measured pieces (JCGM 106), and what test pieces say of a set-up.
# Printed values read in the document; the others by closed form or quadrature at 30 digits.
# at: the step of the gauge, then readings or acceptance limits, in inches. The outcome "shown" is what the gauge shows.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.
"""]


def num(x):
    return repr(float(x))


def thou(x):
    return f'"{float(x):.17g} in"'


out.append("""[[case]]
id = "judge-resistors"
source = "JCGM 106:2012"
clause = "9.5.3.2"
title = "resistors of 1500 ohm, process 0.12 ohm, reading 0.04 ohm, tolerance 0.2 and acceptance 0.18 about the nominal value; inches for ohm"
status = "published"
sources.process = { normal = "0.12 in" }
sources.reading = { normal = "0.04 in" }
outcomes.fit = { expression = "process", at_least = "-0.2 in", at_most = "0.2 in" }
outcomes.shown = "process + reading"
rows = [
  { by = "judge", ask = "conforming", at = [0.0, -0.18, 0.18], printed = "0.90", value = "0.904419295454370584" },
  { by = "judge", ask = "accepted", at = [0.0, -0.18, 0.18], value = "0.845271076514621501" },
  { by = "judge", ask = "consumer's risk", at = [0.0, -0.18, 0.18], printed = "0.01", value = "0.00987829152177229316" },
  { by = "judge", ask = "producer's risk", at = [0.0, -0.18, 0.18], printed = "0.07", value = "0.069026510461521376" },
  { by = "judge", ask = "inside", at = [0.0, 0.18], value = "0.%s", note = "conformance probability of one reading, JCGM 106, 7.2 with 6.6.3" },
  { by = "judge", ask = "measurement capability", at = [0.0], value = "2.5" },
]
""")
for cm, um, rc, rp, pc, pp in [
    (2, "0.125", "0.000981580923489100316", "0.0146768567094211702", "0.1", "1.5"),
    (10, "0.025", "0.000408131088307188433", "0.000717412701117309376", "0.04", "0.07"),
]:
    out.append(f"""[[case]]
id = "judge-capability-{cm}"
source = "JCGM 106:2012"
clause = "9.5.6, figure 17"
title = "risks in percent without a guard band, process T/6, measurement capability {cm}; readings of a graph"
status = "published"
sources.process = {{ estimate = "0 in", normal = "{1/6:.17g} in" }}
sources.reading = {{ normal = "{float(um)/1:.17g} in" }}
outcomes.fit = {{ expression = "process", at_least = "-0.5 in", at_most = "0.5 in" }}
outcomes.shown = "process + reading"
rows = [
  {{ by = "judge", ask = "consumer's risk", at = [0.0, -0.5, 0.5], times = 100.0, printed = "{pc}", value = "@RC{cm}@" }},
  {{ by = "judge", ask = "producer's risk", at = [0.0, -0.5, 0.5], times = 100.0, printed = "{pp}", value = "@RP{cm}@" }},
  {{ by = "judge", ask = "measurement capability", at = [0.0], value = "{cm}.0" }},
]
""")
mp.dps = 30


def P(a, b):
    return ncdf(b) - ncdf(a)


def risks(u0, um, T, A):
    f = lambda y: npdf(y / u0) / u0 * (ncdf((A - y) / um) - ncdf((-A - y) / um))
    ag = quad(f, [-T + 2 * T * mpf(k) / 64 for k in range(65)])
    s = sqrt(u0 * u0 + um * um)
    acc = P(-A / s, A / s)
    pc = P(-T / u0, T / u0)
    return acc - ag, pc - ag


text = "\n".join(out)
for cm, um in ((2, mpf(1) / 8), (10, mpf(1) / 40)):
    rc, rp = risks(mpf(1) / 6, um, mpf("0.5"), mpf("0.5"))
    text = text.replace(f"@RC{cm}@", nstr(100 * rc, 18)).replace(f"@RP{cm}@", nstr(100 * rp, 18))
# one reading
u0, um = mpf("0.12"), mpf("0.04")
v = 1 / (1 / u0**2 + 1 / um**2)
m = v * mpf("0.18") / um**2
inside = P((-mpf("0.2") - m) / sqrt(v), (mpf("0.2") - m) / sqrt(v))
text = text.replace("0.%s", nstr(inside, 18))
for k, (m0, t, s, r, band) in NORMAL.items():
    i = {"prior_mean": m0, "prior_sd": t, "sigma": s, "readings": r, "band": band}
    at = ", ".join(num(x) for x in [0.0] + i["readings"])
    lo, hi = i["band"]
    m0, t, s = [mpf(str(x)) for x in (i["prior_mean"], i["prior_sd"], i["sigma"])]
    r = [mpf(str(x)) for x in i["readings"]]
    prec = 1 / t**2 + len(r) / s**2
    mean = (m0 / t**2 + sum(r) / s**2) / prec
    sd = 1 / sqrt(prec)
    ps = sqrt(sd**2 + s**2)
    p = P((mpf(str(lo)) - mean) / ps, (mpf(str(hi)) - mean) / ps)
    small = ', within = 1e-14, note = "a small chance is good to 14 decimals, not to 12 digits"' if p < 1e-3 else ""
    text += f"""
[[case]]
id = "test-cut-normal-{k}"
source = "Own computation, closed form"
clause = "conjugate normal model"
title = "offset of a set-up {i['prior_mean']} with {i['prior_sd']}, pieces {i['sigma']}, {len(r)} test pieces"
status = "recomputed"
sources.offset = {{ estimate = {thou(i['prior_mean'])}, normal = {thou(i['prior_sd'])} }}
sources.piece = {{ normal = {thou(i['sigma'])}, event = "piece" }}
outcomes.fit = {{ expression = "offset + piece", at_least = {thou(lo)}, at_most = {thou(hi)} }}
outcomes.shown = "offset + piece"
rows = [
  {{ by = "test-cut", ask = "offset", at = [{at}], value = "{nstr(mean,18)}" }},
  {{ by = "test-cut", ask = "u of the offset", at = [{at}], value = "{nstr(sd,18)}" }},
  {{ by = "test-cut", ask = "inside", at = [{at}], value = "{nstr(p,18)}"{small} }},
]
"""
for k, (prior, s, r, step, band) in ROUNDED.items():
    i = {"prior": prior, "sigma": s, "readings": r, "resolution": step, "band": band}
    at = ", ".join(num(x) for x in [i["resolution"]] + i["readings"])
    lo, hi = [mpf(str(x)) for x in i["band"]]
    a, b = [mpf(str(x)) for x in i["prior"]]
    s = mpf(str(i["sigma"]))
    h = mpf(str(i["resolution"])) / 2
    r = [mpf(str(x)) for x in i["readings"]]
    L = lambda d: fprod(P((y - h - d) / s, (y + h - d) / s) for y in r)
    pts = [a + (b - a) * mpf(j) / 80 for j in range(81)]
    z = quad(L, pts)
    mean = quad(lambda d: d * L(d), pts) / z
    var = quad(lambda d: (d - mean) ** 2 * L(d), pts) / z
    p = quad(lambda d: L(d) * P((lo - d) / s, (hi - d) / s), pts) / z
    text += f"""
[[case]]
id = "test-cut-rounded-{k}"
source = "Own computation, quadrature"
clause = "readings rounded to the step of the gauge"
title = "offset of a set-up anywhere in {i['prior']}, pieces {i['sigma']}, {len(r)} test pieces in steps of {i['resolution']}"
status = "recomputed"
sources.offset = {{ estimate = {thou((a+b)/2)}, rectangular = {thou((b-a)/2)} }}
sources.piece = {{ normal = {thou(i['sigma'])}, event = "piece" }}
outcomes.fit = {{ expression = "offset + piece", at_least = {thou(lo)}, at_most = {thou(hi)} }}
outcomes.shown = "offset + piece"
rows = [
  {{ by = "test-cut", ask = "offset", at = [{at}], value = "{nstr(mean,18)}" }},
  {{ by = "test-cut", ask = "u of the offset", at = [{at}], value = "{nstr(sqrt(var),18)}" }},
  {{ by = "test-cut", ask = "inside", at = [{at}], value = "{nstr(p,18)}" }},
]
"""
Path(__file__).with_name("decisions.toml").write_text(text)
