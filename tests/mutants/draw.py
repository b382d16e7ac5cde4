"""Breaks the engine in places drawn at random, and tells which rows of the record of outside checks notice.

    python3 tests/mutants/draw.py [--seed 1] [--count 20] [--list]

Each place is one change in the code of an inner crate: a constant gets another third digit, a sign turns, a
comparison or a branch turns round. Every inner crate has one place at least. The tree is copied, so that yours
stays as it is; in the copy most changes stand behind a switch, so that one build holds them all, and the rest are
built one by one. A change that does not compile is drawn anew and counted. `CARGO` names another cargo, or one
behind a lock. What survives is printed like the rest: it is a place that no row looks at, or a change that
changes no answer.

The rule: drawn is what computes answers. Not drawn, because no value can tell, are

- tests, comments, texts and how things are printed (`TEXTS`, and what implements `Display` or `Debug`);
- what refuses: an `if` whose block begins with an error or with `None` (unit tests hold the refusals);
- what says how far off a number may be, and when an iteration is near enough (lines that name an error, a
  tolerance or the machine's epsilon): a row holds such a bound, but may not notice that it grew;
- zeros that a buffer is filled with before anything is written to it, and how much room it gets.
"""

import argparse
import json
import os
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
# Lines of stated errors and of stopping rules, and of buffers.
NOT_AN_ANSWER = re.compile(r"error|tolerance|epsilon|with_capacity|\[0\.0(?:_f64)?; |assert", re.IGNORECASE)
REFUSES = re.compile(r"\s*(?:return )?(?:Err\(|None\b)")
PRINTS = re.compile(r"(\s*)impl\b.*\b(?:Display|Debug) for ")
# Seconds after which a record that does not end counts as noticed.
PATIENCE = 180
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
    """The lines of code of a file that compute answers, with their numbers."""
    lines = text.split("\n")
    printing = None
    for number, line in enumerate(lines):
        if line.startswith("#[cfg(test)]"):
            return
        if printing is None and (found := PRINTS.match(line)):
            printing = found[1] + "}"
        if printing is not None:
            if line == printing:
                printing = None
            continue
        bare = line.strip()
        if not bare or bare.startswith(("//", "#", "use ")) or '"' in bare or NOT_AN_ANSWER.search(bare):
            continue
        if "if " in bare and REFUSES.match(lines[number + 1]):
            continue
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
        if "=>" in m[0]:
            continue  # the guard of an arm
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


def changed(line, place):
    _, _, _, start, end, new = place
    return line[:start] + new + line[end:]


def is_balanced(text):
    depth = 0
    for c in text:
        depth += (c in "([{") - (c in ")]}")
        if depth < 0:
            return False
    return depth == 0


# What of a line is an expression of its own: the body of a closure; of `let`, `return`, a field, an arm, an `if`; or a whole statement.
EXPRESSIONS = [
    re.compile(r"^(\s*let [^=]+?= (?:move )?\|[^|]*\| )(.*)(;)$"),
    re.compile(r"^(\s*let (?:mut )?[^=]+?= )(.*)(;)$"),
    re.compile(r"^(\s*return )(.*)(;)$"),
    re.compile(r"^(\s*\w+: )(.*)(,)$"),
    re.compile(r"^(.* => )([^{].*)(,)$"),
    re.compile(r"^(\s*(?:\} else )?if )(?!let\b)(.*)( \{)$"),
    re.compile(r"^(\s*)((?!let\b)[^=<>!]+ (?:=|\+=|-=|\*=|/=) .*;)()$"),
]


# What begins an item; a switch is asked at run time, so that it cannot stand in a constant.
ITEM = re.compile(r"^\s*(?:pub(?:\([^)]*\))? )?(?:(?P<constant>const|static)\b|(?:async )?fn\b|impl\b|trait\b)")


def is_constant(lines, number):
    """Whether a line belongs to a constant, or to a function that makes constants."""
    items = (ITEM.match(lines[k]) for k in range(number, -1, -1))
    item = next((found for found in items if found), None)
    return bool(item and item["constant"])


def switched(lines, place, on):
    """The line with the change behind a switch, so that one build holds many changes; None where that cannot be."""
    _, number, kind, start, end, new = place
    if is_constant(lines, number):
        return None
    line, bare = lines[number], lines[number].strip()
    if kind == "branch":
        return f"{line[:start]}({line[start:end]}) != {on}{line[end:]}"
    if kind == "constant":
        return None if ".." in line else f"{line[:start]}(if {on} {{ {new} }} else {{ {line[start:end]} }}){line[end:]}"
    other = changed(line, place)
    for pattern in EXPRESSIONS:
        found = pattern.match(line)
        if not found or not is_balanced(found[2]):
            continue
        first, last = found.span(2)
        if first <= start and end <= last:
            turned = other[first : last + len(other) - len(line)]
            choice = f"if {on} {{ {turned} }} else {{ {found[2]} }}"
            choice = f"({choice})" if bare.startswith(("if ", "} else if ")) else choice
            return found[1] + choice + found[3]
    follows = lines[number - 1].rstrip().endswith(("{", ";", "}")) and lines[number + 1].strip().startswith("}")
    if is_balanced(line) and not bare.endswith((";", "{", "}", ",")) and follows:
        indent = len(line) - len(line.lstrip())
        return f"{line[:indent]}if {on} {{ {other[indent:]} }} else {{ {line[indent:]} }}"
    return None


# What every crate of the copy can ask, and what the record of the copy sets.
SWITCH = """
/// Which change is on.
pub mod switch {
    use std::sync::atomic::{AtomicU32, Ordering};
    /// Its number.
    pub static ON: AtomicU32 = AtomicU32::new(0);
    /// Whether it is this one.
    #[inline(always)]
    pub fn is(k: u32) -> bool {
        ON.load(Ordering::Relaxed) == k
    }
}
"""
SET = """fn main() -> ExitCode {
    let number = std::env::var("DRAWN").ok().and_then(|k| k.parse().ok()).unwrap_or(0);
    kerfwise_numeric::switch::ON.store(number, std::sync::atomic::Ordering::Relaxed);
"""


def copy_of_the_tree():
    skip = shutil.ignore_patterns("target", ".git")
    WORK.mkdir(parents=True, exist_ok=True)
    for entry in TOP.iterdir():
        if entry.name in ("target", ".git"):
            continue
        if entry.is_dir():
            shutil.copytree(entry, WORK / entry.name, ignore=skip, dirs_exist_ok=True)
        else:
            shutil.copy2(entry, WORK / entry.name)


def write(path, text):
    """Only where it differs, so that nothing is built again for nothing."""
    if not path.exists() or path.read_text() != text:
        path.write_text(text)


def write_switches(numbered, drawn_from):
    """Puts these changes, by their numbers, behind switches; gives back those that cannot be. All else is as it was."""
    library = Path("crates/kerfwise-numeric/src/lib.rs")
    record = Path("tests/tests/checks.rs")
    write(WORK / library, (TOP / library).read_text() + SWITCH)
    write(WORK / record, (TOP / record).read_text().replace("fn main() -> ExitCode {\n", SET, 1))
    texts, alone = {path: (TOP / path).read_text().split("\n") for path in drawn_from}, {}
    for number, (crate, place) in numbered.items():
        here = "crate" if crate == "numeric" else "kerfwise_numeric"
        lines = texts[place[0]]
        line = switched(lines, place, f"{here}::switch::is({number})")
        if line is None:
            alone[number] = (crate, place)
        else:
            lines[place[1]] = line
    for path, lines in texts.items():
        write(WORK / path, "\n".join(lines))
    return alone


def build():
    """The program of the record, or None and where the compiler found faults."""
    cargo = os.environ.get("CARGO", "cargo").split()
    words = [*cargo, "test", "-p", "kerfwise-tests", "--test", "checks", "--no-run", "--message-format", "json"]
    done = subprocess.run(words, cwd=WORK, capture_output=True, text=True)
    messages = [json.loads(line) for line in done.stdout.split("\n") if line.startswith("{")]
    if done.returncode == 0:
        return [m["executable"] for m in messages if m.get("executable")][-1], set()
    errors = [m["message"] for m in messages if m.get("reason") == "compiler-message" and m["message"]["level"] == "error"]
    return None, {(s["file_name"], s["line_start"] - 1) for e in errors for s in e["spans"]}


def rows_that_fail(program, number=0):
    try:
        run = subprocess.run(
            [program],
            cwd=WORK / "tests",
            env=dict(os.environ, DRAWN=str(number)),
            capture_output=True,
            text=True,
            timeout=PATIENCE,
        )
    except subprocess.TimeoutExpired:
        return [f"hangs: the record does not come to an end within {PATIENCE} seconds"]
    rows = [line for line in run.stdout.split("\n") if re.search(r"\): ", line) and " | " not in line]
    if not rows and "panicked" in run.stderr:
        rows = ["a panic: " + run.stderr.strip().split("\n")[0]]
    return rows


def together(numbered):
    """One build with all changes that can stand behind a switch: the rows that fail by number, and the changes left."""
    alone = {}
    drawn_from = {place[0] for _, place in numbered.values()}
    while True:
        rest = {n: at for n, at in numbered.items() if n not in alone}
        alone |= write_switches(rest, drawn_from)
        program, faults = build()
        if program:
            break
        bad = {n: at for n, at in rest.items() if (str(at[1][0]), at[1][1]) in faults}
        if not bad:
            sys.exit(f"the copy does not compile: {sorted(faults)[:5]}")
        alone |= bad
    if rows := rows_that_fail(program):
        sys.exit("the tree as it is does not pass: " + "\n".join(rows[:5]))
    return {n: rows_that_fail(program, n) for n in numbered if n not in alone}, alone


def by_itself(place):
    """The rows that fail with this one change; None where it does not compile."""
    text = (TOP / place[0]).read_text()
    lines = text.split("\n")
    lines[place[1]] = changed(lines[place[1]], place)
    (WORK / place[0]).write_text("\n".join(lines))
    program, _ = build()
    rows = rows_that_fail(program) if program else None
    (WORK / place[0]).write_text(text)
    return rows


def title(place):
    path, number, kind, start, end, new = place
    old = (TOP / path).read_text().split("\n")[number][start:end]
    return f"{path}:{number + 1}: {kind}: {old} becomes {new}"


def draw(source, count, taken):
    """So many places in different lines."""
    out = []
    for crate, place in source:
        if place[:2] not in taken:
            taken.add(place[:2])
            out.append((crate, place))
        if len(out) == count:
            return out
    return out


def main():
    words = argparse.ArgumentParser(description="Breaks the engine and asks which checks notice.")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--count", type=int, default=20)
    words.add_argument("--list", action="store_true", help="only print the places")
    words = words.parse_args()

    found = places()
    source, taken = drawn(found, random.Random(words.seed)), set()
    print(f"seed {words.seed}; places:", ", ".join(f"{crate} {len(found[crate])}" for crate in INNER), flush=True)
    numbered = dict(enumerate(draw(source, words.count, taken), 1))
    if words.list:
        for crate, place in numbered.values():
            print(title(place))
        return
    copy_of_the_tree()
    noticed_by, alone = together(numbered)
    write_switches({}, {place[0] for _, place in numbered.values()})
    not_compiled = 0
    for number, (_, place) in sorted(alone.items()):
        while (rows := by_itself(place)) is None:
            not_compiled += 1
            numbered[number] = draw(source, 1, taken)[0]
            place = numbered[number][1]
        noticed_by[number] = rows
    for number, (_, place) in numbered.items():
        rows = noticed_by[number]
        print(f"\n{number}. {title(place)}")
        print(f"   rows that fail: {len(rows)}, the first: {rows[0][:160]}" if rows else "   no row fails", flush=True)
    noticed = sum(bool(rows) for rows in noticed_by.values())
    print(f"\n{noticed} of {len(numbered)} noticed; {not_compiled} more did not compile")


if __name__ == "__main__":
    main()
