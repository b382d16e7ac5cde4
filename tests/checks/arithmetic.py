"""Writes arithmetic.toml: integrals, roots, intervals, columns and streams, by mpmath at 40 digits and whole numbers."""

from pathlib import Path

from mpmath import *

mp.dps = 40
E = []


def case(id, title, clause="by mpmath"):
    E.append(
        '[[case]]\nid = "arithmetic-%s"\nsource = "Own computation, 40 digits"\nclause = "%s"\ntitle = "%s"\n'
        'status = "recomputed"\nrows = [' % (id, clause, title)
    )


def row(ask, of, at, value, extra=""):
    of = ', of = "%s"' % of if of else ""
    at = ", ".join(repr(float(x)) for x in at)
    E.append(
        '  { by = "arithmetic", ask = "%s"%s, at = [%s], value = "%s"%s },' % (ask, of, at, nstr(mpf(value), 20), extra)
    )


def end():
    E.append("]\n")


def polynomial(n, x):
    """Legendre's, by the recurrence."""
    before, p = mpf(0), mpf(1)
    for k in range(n):
        before, p = p, ((2 * k + 1) * x * p - k * before) / (k + 1)
    return p


def integrals():
    case("integrals", "integrals that have closed forms")
    for ask in ["integral by halving", "integral by tanh-sinh"]:
        row(ask, "exp x", [-1, 2], exp(2) - exp(-1))
        row(ask, "1/(1 + 25 x^2)", [-1, 3], (atan(15) + atan(5)) / 5)
        row(ask, "sin x", [3, 0.5], cos(3) - cos(mpf("0.5")))
    # The place of the kink is the number 1/3 as binary floating point has it.
    row("integral by halving", "|x - 1/3|", [0, 1], (mpf(1 / 3) ** 2 + (1 - mpf(1 / 3)) ** 2) / 2)
    row("integral by tanh-sinh", "1/sqrt(x)", [0, 2], 2 * sqrt(2))
    row("integral by tanh-sinh", "ln x", [0, 3], 3 * log(3) - 3)
    row("integral by tanh-sinh", "sqrt(1 - x^2)", [-1, 1], pi / 2)
    row("integral by Gauss-Legendre", "x^7", [0.5, 2, 4], (mpf(2) ** 8 - mpf("0.5") ** 8) / 8)
    row("integral by Gauss-Legendre", "exp x", [-1, 2, 16], exp(2) - exp(-1))
    for n, i in [(3, 0), (3, 1), (8, 6), (16, 0), (64, 40), (65, 32)]:
        x = mpf(0)
        if 2 * i + 1 != n:
            near = -cos(pi * (i + mpf("0.75")) / (n + mpf("0.5")))
            x = findroot(lambda x: polynomial(n, x), (near, near * (1 - mpf(10) ** -6)))
        slope = n * (x * polynomial(n, x) - polynomial(n - 1, x)) / (x * x - 1)
        row("node", "", [n, i], x, ", within = 1e-16" if x == 0 else "")
        row("weight", "", [n, i], 2 / ((1 - x * x) * slope**2))
    end()


def roots():
    case("roots", "roots and minima")
    row("root", "cos x - x", [0, 1], findroot(lambda x: cos(x) - x, 0.7))
    row("root", "x^3 - 2 x - 5", [2, 3], findroot(lambda x: x**3 - 2 * x - 5, 2.1))
    row("root", "x^3 - 2 x - 5", [-10, 3000], findroot(lambda x: x**3 - 2 * x - 5, 2.1))
    row("root", "(x - 1)^9", [-0.3, 1.7], 1, ", within = 1e-12")
    row("root", "ln x", [0.001, 800], 1)
    # Near 0.001 and near 2: a part of the root is as much smaller or larger.
    for part in (1e-4, 1e-8):
        note = ', within = %g, note = "to so small a part of the root as is asked for"'
        small, large = findroot(lambda x: 1000 * x - cos(x), 0.001), findroot(lambda x: x**3 - 2 * x - 5, 2.1)
        row("root to a part", "1000 x - cos x", [-3, 5, part], small, note % (part * small))
        row("root to a part", "x^3 - 2 x - 5", [-10, 3000, part], large, note % (part * large))
    flat = ', within = 4e-8, note = "a minimum shows its place only to the half of the digits"'
    row("place of the minimum", "exp x - 3 x", [-2, 4], log(3), flat)
    row("minimum", "exp x - 3 x", [-2, 4], 3 - 3 * log(3))
    place = findroot(lambda x: 4 * x * (x * x - 2) + 1, -1.4)
    row("place of the minimum", "(x^2 - 2)^2 + x", [-3, 0], place, flat)
    row("minimum", "(x^2 - 2)^2 + x", [-3, 0], (place**2 - 2) ** 2 + place)
    end()
    case("sums", "sums and powers that rounding would lose")
    row("sum", "", [1e16, 1, 1, -1e16], 2)
    row("sum", "", [1, 1e100, 1, -1e100], 2)
    row("sum", "", [0.1] * 10, 1)
    row("whole power", "", [1.5, 5], mpf("1.5") ** 5)
    row("whole power", "", [1.1, -7], mpf(1.1) ** -7)
    end()


def columns():
    case("columns", "whole columns at once")
    promised = ', within = 1e-11, note = "the table of draws is good to 1e-11 of the quartiles"'
    for p in [0.001, 0.3, 0.5000001, 0.75, 0.9999, 1e-7]:
        row("in a column", "normal quantile", [p], sqrt(2) * erfinv(2 * mpf(p) - 1), promised)
        row("in a column", "logistic quantile", [p], log(mpf(p) / (1 - mpf(p))), ", within = 4e-10, note = \"4e-11 of the distance from the median\"")
    for p in [0.001, 0.3, 0.75, 0.9999, 0.9999999]:
        row("in a column", "exponential quantile", [p], -log(1 - mpf(p)), ", within = 4e-10, note = \"4e-11 of the distance from the median\"")
    for z in [-9.5, -4.25, -0.3, 0, 1.96, 3.1, 8.5]:
        row("in a column", "normal cdf", [z], ncdf(z), ', within = 1e-12, note = "the table of chances is good to 1e-12"')
    row("in a column", "3 x - 2", [0.75], 0.25)
    row("in a column", "x + 0.75", [-2.5], -1.75)
    for x, y in [(-3, -1), (0.5, 0.5), (7, 2)]:
        row("in a column", "held within -1 to 2", [x], y)
    end()


def intervals():
    case("intervals", "the range of a function over an interval, from its turning points")

    def ends(of, at, low, high):
        zero = ", within = 1e-300"
        row("lower end", of, at, low, zero if low == 0 else "")
        row("upper end", of, at, high, zero if high == 0 else "")

    m = mpf
    ends("-x", [-1.5, 4], -4, 1.5)
    ends("|x|", [-3, 2], 0, 3)
    ends("|x|", [-3, -2], 2, 3)
    ends("x^2", [-3, 2], 0, 9)
    ends("x^2", [-3, -2], 4, 9)
    ends("x^n", [-2, 3, 3], -8, 27)
    ends("x^n", [-2, 1, 4], 0, 16)
    ends("x^n", [2, 4, -2], m(1) / 16, m(1) / 4)
    ends("sqrt x", [2, 7], sqrt(2), sqrt(7))
    ends("exp x", [-1, 2], exp(-1), exp(2))
    ends("ln x", [0.5, 3], log(0.5), log(3))
    ends("sin x", [0.5, 1], sin(m("0.5")), sin(1))
    ends("sin x", [1, 3], sin(3), 1)
    ends("sin x", [3, 6], -1, sin(3))
    ends("sin x", [2, 5], -1, sin(2))
    ends("sin x", [-8, 40], -1, 1)
    ends("cos x", [0.5, 2], cos(2), cos(m("0.5")))
    ends("cos x", [-1, 2], cos(2), 1)
    ends("cos x", [2, 4], -1, cos(2))
    ends("tan x", [-1, 1.25], tan(-1), tan(m("1.25")))
    ends("asin x", [-0.5, 0.75], asin(m("-0.5")), asin(m("0.75")))
    ends("acos x", [-0.5, 0.75], acos(m("0.75")), acos(m("-0.5")))
    ends("atan x", [-2, 3], atan(-2), atan(3))
    ends("x + y", [1, 2, -5, 0.25], -4, 2.25)
    ends("x - y", [1, 2, -5, 0.25], 0.75, 7)
    ends("x y", [-2, 3, -5, 4], -15, 12)
    ends("x y", [-3, -2, 4, 5], -15, -8)
    ends("x / y", [-2, 3, 4, 8], -0.5, 0.75)
    ends("x / y", [1, 3, -8, -3], -1, -0.125)
    ends("the lesser", [-2, 3, -1, 1], -2, 1)
    ends("the greater", [-2, 3, -1, 1], -1, 3)
    end()


M = 2**64 - 1


def split_mix(state):
    state = (state + 0x9E3779B97F4A7C15) & M
    z = state
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & M
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & M
    return state, z ^ (z >> 31)


def words(seed, key, block, count):
    """xoshiro256++ in eight lanes, begun by SplitMix64 (the published codes, with Python's whole numbers)."""
    mixer = split_mix(seed)[1] ^ key
    mixer = split_mix(mixer)[1] ^ block
    mixer = split_mix(mixer)[1]
    lanes = []
    for _ in range(8):
        state = []
        for _ in range(4):
            mixer, word = split_mix(mixer)
            state.append(word)
        lanes.append(state)
    turn = lambda x, k: ((x << k) | (x >> (64 - k))) & M
    out = []
    while len(out) < count:
        for s in lanes:
            out.append((turn((s[0] + s[3]) & M, 23) + s[0]) & M)
            t = (s[1] << 17) & M
            s[2] ^= s[0]
            s[3] ^= s[1]
            s[1] ^= s[2]
            s[0] ^= s[3]
            s[2] ^= t
            s[3] = turn(s[3], 45)
    return out[:count]


def fnv(name):
    h = 0xCBF29CE484222325
    for b in name.encode():
        h = ((h ^ b) * 0x100000001B3) & M
    return h


def uniform(word):
    return mpf(2 * (word >> 12) + 1) / 2**53


def directions(dimension):
    """Direction numbers of Joe and Kuo 2008, file new-joe-kuo-6."""
    table = {1: (1, 0, [1]), 2: (2, 1, [1, 3]), 4: (3, 2, [1, 1, 1]), 6: (4, 4, [1, 3, 5, 13])}
    if dimension == 0:
        return [1 << (31 - k) for k in range(32)]
    s, a, m = table[dimension]
    v = [m[k] << (31 - k) for k in range(s)]
    for k in range(s, 32):
        new = v[k - s] ^ (v[k - s] >> s)
        for i in range(1, s):
            if a >> (s - 1 - i) & 1:
                new ^= v[k - i]
        v.append(new)
    return v


def sobol(dimension, seed, scramble, place):
    """A random lower triangular matrix on the binary digits and a random shift (Matousek 1998)."""
    *matrix_words, shift = words(seed, dimension, scramble, 33)
    point = shift
    for bit, direction in enumerate(directions(dimension)):
        if place >> bit & 1:
            for digit in range(32):
                if direction >> (31 - digit) & 1:
                    own = 1 << (63 - digit)
                    point ^= own | (matrix_words[digit] & (own - 1))
    return uniform(point)


def streams():
    case("streams", "numbers that trials are drawn from: the published generators with whole numbers", "xoshiro256++ (Blackman and Vigna 2021), SplitMix64, FNV-1a")
    for name, seed, block, place in [("kerf", 7, 0, 0), ("kerf", 7, 0, 8), ("tenon.thickness", 20240229, 3, 1000), ("blade", 1, 12345, 37)]:
        row("uniform number", name, [seed, block, place], uniform(words(seed, fnv(name), block, place + 1)[place]))
    end()
    case("sobol", "points that fill a cube evenly, scrambled", "Joe and Kuo 2008; Matousek 1998")
    for dimension, seed, scramble, place in [(0, 1, 0, 0), (1, 1, 0, 5), (2, 9, 4, 1023), (4, 3, 2, 77777), (6, 3, 2, 2500)]:
        row("Sobol number", "", [dimension, seed, scramble, place], sobol(dimension, seed, scramble, place))
    end()


integrals()
roots()
columns()
intervals()
streams()
HEAD = """# Integrals, roots, intervals, columns and streams of numbers; arithmetic.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(Path(__file__).parent / "arithmetic.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
