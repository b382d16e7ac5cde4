"""Writes kinks.toml: what the law of propagation is doubted for, and where the worst case is met; sums with a pencil."""

from math import e, sqrt
from pathlib import Path

HERE = Path(__file__).parent
E = []


def case(id, clause, title, sources, expression):
    E.append(
        '[[case]]\nid = "kinks-%s"\nsource = "Own computation, closed form"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"' % (id, clause, title)
    )
    for name, keys in sources.items():
        E.append("sources.%s = { %s }" % (name, keys))
    E.append('outcomes.y = "%s"\nrows = [' % expression)


def row(by, ask, value, extra=""):
    E.append('  { by = "%s", ask = "%s", value = "%r"%s },' % (by, ask, value, extra))


def end():
    E.append("]\n")


ONE = ', within = 0.05, note = "told to one decimal"'
WHOLE = ', within = 0.5, note = "told in whole percent"'
DOUBT = "how many standard uncertainties off a kink is"


def kinks():
    two = {"a": "estimate = 0.01, normal = 0.003", "b": "estimate = 0.004, normal = 0.004"}
    for word in ("max", "min"):
        case(word, DOUBT, "0.010 with 0.003 against 0.004 with 0.004", two, word + "(a, b)")
        row("rss", "doubt: kink", 0.006 / 0.005, ONE)
        end()
    case("factors", DOUBT, "three times one against two times another and a constant", two, "max(0.013 + b, 3 * a)")
    row("rss", "doubt: kink", 0.013 / sqrt(0.009**2 + 0.004**2), ONE)
    end()
    case("size", DOUBT, "size of a difference", {"a": "estimate = 0.02, normal = 0.004", "b": "estimate = 0.0055, normal = 0.001"}, "abs(a - 2 * b)")
    row("rss", "doubt: kink", 0.009 / sqrt(0.004**2 + 0.002**2), ONE)
    end()
    case("nearest", DOUBT, "two kinks, the nearer one counts", two | {"c": "estimate = 0.002, normal = 0.001"}, "min(a, b + abs(c))")
    row("rss", "doubt: kink", 0.004 / sqrt(0.003**2 + 0.004**2 + 0.001**2), ONE)
    end()


def curves():
    share = "second-order terms (JCGM 100, 5.1.2, note) beside the first-order variance"
    for id, title, sources, expression, value in [
        ("square", "square of 1 with 0.4", {"a": "estimate = 1, normal = 0.4"}, "a^2", 2 * 0.4**4 / (4 * 0.4**2)),
        ("product", "0.3 with 0.2 times 0.2 with 0.3", {"a": "estimate = 0.3, normal = 0.2", "b": "estimate = 0.2, normal = 0.3"}, "a * b", 0.0036 / (0.2**4 + 0.3**4)),
        ("exponential", "e to the power of 0 with 0.4", {"a": "normal = 0.4"}, "exp(a)", 1.5 * 0.4**2),
        ("reciprocal", "1 over 2 with 0.4", {"a": "estimate = 2, normal = 0.4"}, "1 / a", (0.5 * (2 / 8) ** 2 + (1 / 4) * (6 / 16)) * 0.4**2 / (1 / 16)),
    ]:
        case(id, share, title, sources, expression)
        row("rss", "doubt: second order, %", 100 * value, WHOLE)
        end()
    case("one-source", "one source makes more than half of the variance", "a rectangle within 0.003 and a normal error of 0.001", {"a": "rectangular = 0.003", "b": "normal = 0.001"}, "a - b")
    row("rss", "doubt: one source, %", 75.0, WHOLE)
    end()


def corners():
    """Where the worst case is met: corners by the signs of the slopes, inner places by their being zero."""
    clause = "worst case: the values at which it is met"
    case("ratio", clause, "x y / z, all above zero", {"x": "estimate = 2, rectangular = 0.5", "y": "estimate = 3, rectangular = 0.25", "z": "estimate = 4, rectangular = 1"}, "x * y / z + exp(x)")
    for ask, x, y, z in [("lower", 1.5, 2.75, 5.0), ("upper", 2.5, 3.25, 3.0)]:
        row("worst-case", ask, x * y / z + e**x)
        for name, value in [("x", x), ("y", y), ("z", z)]:
            row("worst-case", ask + " at", value, ', with = "%s"' % name)
    end()
    case("sum", clause, "a sum of what has its extremes inside and at corners", {"x": "estimate = 0.5, rectangular = 2", "y": "estimate = 1, rectangular = 0.5"}, "(x - 1)^2 + y^2 - 0.25 * abs(x)")
    # (x - 1)^2 - |x|/4 is least at 1 + 1/8; at the corners -1.5 and 2.5 it is 5.875 and 1.625.
    row("worst-case", "lower", 1 / 64 - 1.125 / 4 + 0.25, ', within = 6e-6, note = "1e-6 of the width, promised"')
    row("worst-case", "upper", 5.875 + 2.25)
    row("worst-case", "upper at", -1.5, ', with = "x"')
    row("worst-case", "upper at", 1.5, ', with = "y"')
    row("worst-case", "lower at", 0.5, ', with = "y"')
    row("worst-case", "upper bound", 8.125, ', within = 9e-6, note = "1e-6 of the width, promised"')
    row("worst-case", "lower bound", 1 / 64 - 1.125 / 4 + 0.25, ', within = 9e-6, note = "1e-6 of the width, promised"')
    end()


kinks()
curves()
corners()
HEAD = """# What the law of propagation is doubted for, and where the worst case is met; kinks.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "kinks.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
