"""Writes uneven.toml: restricted likelihood by dense covariance matrices, large-sample intervals, at 30 digits."""

import csv
from pathlib import Path

from mpmath import *
from scipy import stats

mp.dps = 30
HERE = Path(__file__).parent
HALF = mpf("0.025")
E = []


def case(id, clause, title, data):
    E.append(
        '[[case]]\nid = "%s"\nsource = "Own computation, 25 digits"\nclause = "%s"\ntitle = "%s"\n'
        'status = "recomputed"\ndata = { %s }\nrows = [' % (id, clause, title, data)
    )


def row(ask, value):
    E.append('  { by = "evidence", ask = "%s", value = "%s" },' % (ask, nstr(mpf(value), 19)))


def end():
    E.append("]\n")


def load(file, columns):
    with open(HERE / "data" / file) as lines:
        return [[line[c] for c in columns] for line in csv.DictReader(lines)]


def chi_upper(upper, nu):
    """The value that a chi-square variable exceeds with this chance; the start from scipy, the root from mpmath."""
    start = stats.chi2.isf(float(upper), nu)
    return findroot(lambda x: gammainc(mpf(nu) / 2, x / 2, inf, regularized=True) - upper, start)


def f_upper(upper, a, b):
    start = stats.f.isf(float(upper), a, b)
    tail = lambda x: betainc(mpf(b) / 2, mpf(a) / 2, 0, b / (b + a * x), regularized=True)
    return findroot(lambda x: tail(x) - upper, start)


def same(labels):
    """1 where two readings have the same label: the covariance of a group of variance 1."""
    n = len(labels)
    return matrix([[int(labels[i] == labels[j]) for j in range(n)] for i in range(n)])


def restricted_likelihood(labellings, y, start):
    """Variances of the groups and of what is left, by Fisher scoring of the restricted likelihood."""
    n = len(y)
    ones = matrix([1] * n)
    parts = [same(labels) for labels in labellings] + [eye(n)]
    y = matrix(y)
    theta = matrix(start)
    for _ in range(60):
        covariance = zeros(n)
        for part, variance in zip(parts, theta):
            covariance += variance * part
        inverse = covariance**-1
        w = inverse * ones
        projection = inverse - (w * w.T) / (ones.T * w)[0]
        py = projection * y
        kp = [part * projection for part in parts]
        m = len(parts)
        score, information = matrix(m, 1), zeros(m)
        for a in range(m):
            score[a] = (py.T * parts[a] * py)[0] - sum(kp[a][i, i] for i in range(n))
            for b in range(m):
                information[a, b] = fsum(kp[a][i, j] * kp[b][j, i] for i in range(n) for j in range(n))
        step = lu_solve(information, score)
        theta = theta + step
        if norm(step) < mpf(10) ** -24:
            assert all(t > 0 for t in theta), theta
            return list(theta)
    raise SystemExit("the scoring does not end")


def uneven_groups():
    lines = load("uneven-groups.csv", ["group", "y"])
    names = sorted({name for name, _ in lines})
    groups = [[mpf(y) for name, y in lines if name == of] for of in names]
    between, within = restricted_likelihood([[name for name, _ in lines]], [mpf(y) for _, y in lines], [1, mpf("0.3")])
    case(
        "uneven-groups",
        "restricted maximum likelihood",
        "groups of 3, 2, 5 and 4 readings: scoring with the whole covariance matrix; intervals by the modified "
        "large-sample formulas (Burdick and Graybill 1992, 4.5)",
        'file = "uneven-groups.csv", column = "y", group = "group"',
    )
    row("variance between", between)
    row("variance within", within)
    row("variance of one reading", between + within)
    k, total = len(groups), len(lines)
    means = [fsum(g) / len(g) for g in groups]
    n1, n2 = k - 1, total - k
    s2 = fsum((x - m) ** 2 for g, m in zip(groups, means) for x in g) / n2
    size = k / fsum(mpf(1) / len(g) for g in groups)
    mean = fsum(means) / k
    s1 = size * fsum((m - mean) ** 2 for m in means) / n1
    row("mean of the group means", mean)
    row("u of the mean", sqrt(s1 / size / k))
    g1, g2 = 1 - n1 / chi_upper(HALF, n1), 1 - n2 / chi_upper(HALF, n2)
    h1, h2 = n1 / chi_upper(1 - HALF, n1) - 1, n2 / chi_upper(1 - HALF, n2) - 1
    fu, fl = f_upper(HALF, n1, n2), f_upper(1 - HALF, n1, n2)
    g12 = ((fu - 1) ** 2 - g1**2 * fu**2 - h2**2) / fu
    h12 = ((1 - fl) ** 2 - h1**2 * fl**2 - g2**2) / fl
    estimate = (s1 - s2) / size
    down = sqrt(g1**2 * s1**2 + h2**2 * s2**2 + g12 * s1 * s2) / size
    up = sqrt(h1**2 * s1**2 + g2**2 * s2**2 + h12 * s1 * s2) / size
    row("variance between, lower", max(0, estimate - down))
    row("variance between, upper", estimate + up)
    a, b = s1 / size, (1 - 1 / size) * s2
    row("variance of one reading, lower", a + b - sqrt((g1 * a) ** 2 + (g2 * b) ** 2))
    row("variance of one reading, upper", a + b + sqrt((h1 * a) ** 2 + (h2 * b) ** 2))
    end()


def uneven_log():
    lines = load("uneven-log.csv", ["set_up", "piece", "y"])
    set_ups, pieces, y = zip(*lines)
    found = restricted_likelihood([set_ups, list(zip(set_ups, pieces))], [mpf(v) for v in y], [1, mpf("0.3"), mpf("0.05")])
    case(
        "uneven-log",
        "restricted maximum likelihood",
        "four set-ups, ten pieces read once to three times: scoring with the whole covariance matrix",
        'file = "uneven-log.csv", column = "y", group = "set_up", piece = "piece"',
    )
    for name, variance in zip(["set-ups", "pieces", "repeats"], found):
        row("variance of " + name, variance)
    pieces_of = {}
    for key, v in zip(zip(set_ups, pieces), y):
        pieces_of.setdefault(key, []).append(mpf(v))
    of_set_up = {}
    for (set_up, _), v in pieces_of.items():
        of_set_up.setdefault(set_up, []).append(fsum(v) / len(v))
    k, n = len(of_set_up), len(pieces_of)
    means = [fsum(v) / len(v) for v in of_set_up.values()]
    mean = fsum(means) / k
    u = sqrt(fsum((m - mean) ** 2 for m in means) / (k - 1) / k)
    t = sqrt(f_upper(2 * HALF, 1, k - 1))
    row("mean", mean)
    row("u of the mean", u)
    row("mean, lower", mean - t * u)
    row("mean, upper", mean + t * u)
    within = fsum((x - m) ** 2 for v, m in zip(of_set_up.values(), means) for x in v) / (n - k)
    repeats = n / fsum(mpf(1) / len(v) for v in pieces_of.values())
    again = fsum((x - fsum(v) / len(v)) ** 2 for v in pieces_of.values() for x in v) / (len(y) - n)
    combined("pieces", [(1, within, n - k), (-1 / repeats, again, len(y) - n)])
    size = k / fsum(mpf(1) / len(v) for v in of_set_up.values())
    between = size * u * u * k
    combined("set-ups", [(1 / size, between, k - 1), (-1 / size, within, n - k)])
    row("variance of repeats, lower", again * (len(y) - n) / chi_upper(HALF, len(y) - n))
    row("variance of repeats, upper", again * (len(y) - n) / chi_upper(1 - HALF, len(y) - n))
    row("source: estimate: mean", mean)
    row("source: u: mean", u)
    row("source: degrees of freedom: mean", k - 1)
    row("source: u: set-ups", sqrt(found[0]))
    row("source: u: pieces", sqrt(found[1]))
    row("source: upper limit: pieces", mpf("2.5") * sqrt(found[1]))
    end()


def chi_down(nu):
    """How far below its mean square a variance may lie, as a share of it."""
    return 1 - nu / chi_upper(HALF, nu)


def chi_up(nu):
    return nu / chi_upper(1 - HALF, nu) - 1


def reach(down, up):
    """Modified large-sample distance (Burdick and Graybill 1992, 3.3): terms are a size and its degrees of freedom."""
    total = fsum((chi_down(n) * a) ** 2 for a, n in down) + fsum((chi_up(n) * a) ** 2 for a, n in up)
    for a, n in down:
        for b, m in up:
            f = f_upper(HALF, n, m)
            total += ((f - 1) ** 2 - (chi_down(n) * f) ** 2 - chi_up(m) ** 2) / f * a * b
    if up and len(down) > 1:
        for i, (a, n) in enumerate(down):
            for b, m in down[i + 1 :]:
                both = (1 - (n + m) / chi_upper(HALF, n + m)) ** 2 * mpf(n + m) ** 2 / (n * m)
                total += (both - chi_down(n) ** 2 * mpf(n) / m - chi_down(m) ** 2 * mpf(m) / n) * a * b / (len(down) - 1)
    return sqrt(max(total, 0))


def combined(name, terms, prefix=""):
    """Ends and Satterthwaite's degrees of freedom of a sum of (coefficient, mean square, degrees of freedom)."""
    plus = [(c * s, n) for c, s, n in terms if c > 0]
    minus = [(-c * s, n) for c, s, n in terms if c < 0]
    value = fsum(c * s for c, s, _ in terms)
    row(prefix + "variance of %s, lower" % name, max(0, value - reach(plus, minus)))
    row(prefix + "variance of %s, upper" % name, value + reach(minus, plus))
    freedom = value**2 / fsum((c * s) ** 2 / n for c, s, n in terms)
    row(prefix + "degrees of freedom of " + name, max(1, freedom))


def crossed():
    lines = load("uneven-crossed.csv", ["part", "person", "y"])
    parts, people, y = zip(*lines)
    y = [mpf(v) for v in y]
    cells = list(zip(parts, people))
    case(
        "uneven-crossed",
        "restricted maximum likelihood; unweighted means",
        "four parts, three people, each pair read once to three times; intervals by the modified large-sample formulas",
        'file = "uneven-crossed.csv", column = "y", group = "part", person = "person"',
    )
    of = {c: [v for d, v in zip(cells, y) if d == c] for c in dict.fromkeys(cells)}
    means = {c: fsum(v) / len(v) for c, v in of.items()}
    p, o = len(set(parts)), len(set(people))
    size = p * o / fsum(mpf(1) / len(v) for v in of.values())
    grand = fsum(means.values()) / (p * o)
    by_part = {a: fsum(m for (b, _), m in means.items() if b == a) / o - grand for a in parts}
    by_person = {a: fsum(m for (_, b), m in means.items() if b == a) / p - grand for a in people}
    rest = fsum((m - grand - by_part[a] - by_person[b]) ** 2 for (a, b), m in means.items())
    inside = fsum((v - means[c]) ** 2 for c, v in zip(cells, y))
    nr, ni, np_, no = len(y) - p * o, (p - 1) * (o - 1), p - 1, o - 1
    sr, si = inside / nr, size * rest / ni
    sp = size * o * fsum(v * v for v in by_part.values()) / np_
    so = size * p * fsum(v * v for v in by_person.values()) / no
    row("mean square of parts", sp)
    row("mean square of people", so)
    row("mean square of the interaction", si)
    row("mean square of repeats", sr)
    for prefix, found in [
        ("", restricted_likelihood([parts, people, cells], y, [3, mpf("0.2"), mpf("0.05"), mpf("0.03")])),
        ("pooled ", restricted_likelihood([parts, people], y, [3, mpf("0.2"), mpf("0.1")])),
    ]:
        if prefix:
            part, person, repeats = found
            interaction = mpf(0)
            base = ((si * ni + sr * nr) / (ni + nr), ni + nr)
        else:
            part, person, interaction, repeats = found
            base = (si, ni)
            row("variance of the interaction", interaction)
        row(prefix + "variance of repeats", repeats)
        row(prefix + "variance of people", person)
        row(prefix + "variance of parts", part)
        row(prefix + "variance of people and interaction", person + interaction)
        row(prefix + "variance of the gauge", person + interaction + repeats)
        row(prefix + "variance of one reading", person + interaction + repeats + part)
        row(prefix + "distinct classes", sqrt(2 * part / (person + interaction + repeats)))
        a, b, c = 1 / (o * size), 1 / (p * size), 1 / size
        combined("parts", [(a, sp, np_), (-a, *base)], prefix)
        combined("people", [(b, so, no), (-b, *base)], prefix)
        if prefix:
            combined("the gauge", [(b, so, no), (1 - b, *base)], prefix)
            combined("one reading", [(a, sp, np_), (b, so, no), (1 - a - b, *base)], prefix)
        else:
            combined("the interaction", [(c, si, ni), (-c, sr, nr)])
            combined("people and interaction", [(b, so, no), (c - b, si, ni), (-c, sr, nr)])
            combined("the gauge", [(b, so, no), (c - b, si, ni), (1 - c, sr, nr)])
            combined("one reading", [(a, sp, np_), (b, so, no), (c - b - a, si, ni), (1 - c, sr, nr)])
    end()


uneven_groups()
uneven_log()
crossed()
HEAD = """# Spreads from readings in groups of uneven sizes, by dense matrices in mpmath at 30 digits.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make; uneven.py wrote this.

"""
(HERE / "uneven.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
