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
    end()


uneven_groups()
uneven_log()
HEAD = """# Spreads from readings in groups of uneven sizes, by dense matrices in mpmath at 30 digits.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make; uneven.py wrote this.

"""
(HERE / "uneven.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
