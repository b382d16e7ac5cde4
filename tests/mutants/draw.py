"""Breaks the engine in places drawn at random, and tells which rows of the record of outside checks notice.

    python3 tests/mutants/draw.py [--seed 1] [--count 20] [--list]

Each place is one change in the code of an inner crate (tests left out): a constant gets another third digit, a
sign turns, a comparison or a branch turns round. Every inner crate has one place at least. The tree is copied,
so that yours stays as it is; the copy is built once and then again for every place. A change that does not
compile is drawn anew and counted. What survives is printed like the rest: it is a place that no row looks at,
or a change that changes nothing.
"""

import argparse
import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
INNER = ["numeric", "source", "stack", "joint", "decide", "gauge"]
# What is not the engine: texts, and what is printed.
TEXTS = {"explain", "compare", "near", "print", "error", "number"}
# Copied beside the tree's own target folder, built there, and kept for the next run.
WORK = TOP / "target" / "mutants"

FLOAT = re.compile(r"(?<![\w.])\d[\d_]*\.\d[\d_]*(?:e-?\d+)?(?![\w.])")
SIGN = re.compile(r" (\+|-|\*|/|\+=|-=) ")
ORDER = re.compile(r" (<|>|<=|>=|==) ")
BRANCH = re.compile(r"(?<=\bif )(?!let\b)[^{}]+(?= \{)")
TURNED = {
    "+": "-",
    "-": "+",
    "*": "/",
    "/": "*",
    "+=": "-=",
    "-=": "+=",
    "<": ">",
    ">": "<",
    "<=": ">",
    ">=": "<",
    "==": "!=",
}


def code_lines(text):
    """The lines of code of a file with their numbers; its tests and comments are left out."""
    for number, line in enumerate(text.split("\n")):
        if line.startswith("#[cfg(test)]"):
            return
        bare = line.strip()
        if bare and not bare.startswith(("//", "#", "use ", "assert", "debug_assert")) and '"' not in bare:
            yield number, line.split(" // ")[0]


def other_constant(literal):
    """The constant with its third digit (or the last of fewer) one up."""
    digits = [i for i, c in enumerate(literal.split("e")[0]) if c.isdigit()]
    first = next((k for k, i in enumerate(digits) if literal[i] != "0"), 0)
    at = digits[min(first + 2, len(digits) - 1)]
    return literal[:at] + str((int(literal[at]) + 1) % 10) + literal[at + 1 :]


def changes(line):
    for m in FLOAT.finditer(line):
        yield "constant", m.start(), m.end(), other_constant(m[0])
    for m in SIGN.finditer(line):
        yield "sign", m.start(1), m.end(1), TURNED[m[1]]
    for m in ORDER.finditer(line):
        yield "comparison", m.start(1), m.end(1), TURNED[m[1]]
    for m in BRANCH.finditer(line):
        yield "branch", m.start(), m.end(), f"!({m[0]})"


def is_of_tests(path, folder, modules):
    """Whether a file, or a folder above it, is a module that only tests have."""
    names = path.relative_to(folder).with_suffix("").parts
    return any(name in modules for name in names)


def places():
    """All places, by crate."""
    found = {crate: [] for crate in INNER}
    for crate in INNER:
        folder = TOP / "crates" / f"kerfwise-{crate}" / "src"
        files = sorted(folder.rglob("*.rs"))
        modules = {m for f in files for m in re.findall(r"#\[cfg\(test\)\]\s*(?:pub\S* )?mod (\w+);", f.read_text())}
        for path in files:
            if is_of_tests(path, folder, modules | TEXTS):
                continue
            for number, line in code_lines(path.read_text()):
                for kind, start, end, new in changes(line):
                    found[crate].append((path.relative_to(TOP), number, kind, start, end, new))
    return found


def drawn(found, rng):
    """Places without end: one of every crate first, then of any."""
    for crate in INNER:
        yield crate, rng.choice(found[crate])
    everywhere = [(crate, place) for crate in INNER for place in found[crate]]
    while True:
        yield rng.choice(everywhere)


def changed(text, place):
    _, number, _, start, end, new = place
    lines = text.split("\n")
    lines[number] = lines[number][:start] + new + lines[number][end:]
    return "\n".join(lines)


def checks():
    """Whether it compiled, and the rows that failed."""
    build = ["cargo", "test", "--quiet", "-p", "kerfwise-tests", "--test", "checks", "--no-run"]
    if subprocess.run(build, cwd=WORK, capture_output=True).returncode != 0:
        return False, []
    try:
        run = subprocess.run(
            [a for a in build if a != "--no-run"], cwd=WORK, capture_output=True, text=True, timeout=600
        )
    except subprocess.TimeoutExpired:
        return True, ["the record did not come to an end within ten minutes"]
    rows = [line for line in run.stdout.split("\n") if re.search(r"\): ", line) and " | " not in line]
    if not rows and "panicked" in run.stderr:
        rows = ["a panic: " + run.stderr.strip().split("\n")[0]]
    return True, rows


def main():
    words = argparse.ArgumentParser(description="Breaks the engine and asks which checks notice.")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--count", type=int, default=20)
    words.add_argument("--list", action="store_true", help="only print the places")
    words = words.parse_args()

    found = places()
    rng = random.Random(words.seed)
    print("places:", ", ".join(f"{crate} {len(found[crate])}" for crate in INNER), flush=True)
    if not words.list:
        skip = shutil.ignore_patterns("target", ".git")
        for entry in TOP.iterdir():
            if entry.name in ("target", ".git"):
                continue
            if entry.is_dir():
                shutil.rmtree(WORK / entry.name, ignore_errors=True)
                shutil.copytree(entry, WORK / entry.name, ignore=skip)
            else:
                WORK.mkdir(parents=True, exist_ok=True)
                shutil.copy2(entry, WORK / entry.name)
        compiled, rows = checks()
        if not compiled or rows:
            sys.exit("the tree as it is does not pass: " + "\n".join(rows))

    done, noticed, not_compiled = 0, 0, 0
    for crate, place in drawn(found, rng):
        if done == words.count:
            break
        path, number, kind, start, end, new = place
        text = (TOP / path).read_text()
        old = text.split("\n")[number][start:end]
        title = f"{path}:{number + 1}: {kind}: {old} becomes {new}"
        if words.list:
            print(title)
            done += 1
            continue
        target = WORK / path
        target.write_text(changed(text, place))
        compiled, rows = checks()
        target.write_text(text)
        if not compiled:
            not_compiled += 1
            continue
        done += 1
        noticed += bool(rows)
        print(f"\n{done}. {title}", flush=True)
        print(f"   rows that fail: {len(rows)}, the first: {rows[0][:160]}" if rows else "   no row fails", flush=True)
    if not words.list:
        print(f"\n{noticed} of {done} noticed; {not_compiled} more did not compile")


if __name__ == "__main__":
    main()
