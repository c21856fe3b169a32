"""`make mutants`: change the rules bit by bit and show what no test notices.

    python -m tests.mutation [--sample N] [--fresh] [MODULE...]

Verdicts are kept in mutants/: what was noticed once is not tried again until its module
changes, what nobody noticed is tried anew. One process at low priority, held to 3 GB.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import random
import resource
import sys
from collections import defaultdict
from functools import partial

from tests.mutation.changes import Change, changed, changes
from tests.mutation.trials import ROOT, RULES, Inside, Try, inside, notices_anew, warm_up

KEPT = ROOT / "mutants"
VERDICTS = KEPT / "verdicts.jsonl"
MEMORY = 3_000_000 * 1024


def wanted(modules: list[str], sample: int) -> dict[str, list[Change]]:
    """The changes to try, a module each; a sample of them is the same every time."""
    chosen = {}
    for name in modules or sorted(path.stem for path in RULES.glob("*.py")):
        every = changes(source_of(name))
        if sample and len(every) > sample:
            every = sorted(random.Random(name).sample(every, sample), key=lambda one: (one.line, one.words))
        if every:
            chosen[name] = every
    return chosen


def source_of(module: str) -> str:
    return (RULES / f"{module}.py").read_text("utf-8")


def key_of(module: str, change: Change) -> str:
    digest = hashlib.sha256(source_of(module).encode()).hexdigest()[:12]
    return f"{module}/{digest}/{change.node}.{change.variant}"


def verdicts() -> dict[str, bool]:
    """What was noticed, and what not, in this run and those before it; the last word counts."""
    if not VERDICTS.exists():
        return {}
    rows = [json.loads(row) for row in VERDICTS.read_text("utf-8").splitlines()]
    return {row["key"]: row["noticed"] for row in rows}


def judge(module: str, change: Change, attempt: Try) -> None:
    """Try one change and keep the verdict."""
    noticed = attempt(module, changed(source_of(module), change), change.line)
    row = {"key": key_of(module, change), "line": change.line, "words": change.words, "noticed": noticed}
    with VERDICTS.open("a", encoding="utf-8") as kept:
        kept.write(json.dumps(row, ensure_ascii=False) + "\n")


def control(module: str, attempt: Try, line: int) -> None:
    """An unchanged module must pass, or every verdict would be worth nothing."""
    if attempt(module, ast.parse(source_of(module)), line):
        raise SystemExit(f"The tests fail although nothing in {module} was changed.")


def run(chosen: dict[str, list[Change]]) -> None:
    """Try what is not known to be noticed: inside functions first, then by importing anew."""
    known = verdicts()
    open_ones = {
        module: [change for change in some if not known.get(key_of(module, change))]
        for module, some in chosen.items()
    }
    later = KEPT / "anew.json"

    def trials(process: Inside) -> None:
        anew = []
        for module, some in open_ones.items():
            print(f"{module}: {len(some)} to try", flush=True)
            covered = [change.line for change in some if process.covers(module, change.line)]
            if covered:
                control(module, process.notices, min(covered, key=partial(process.cost, module)))
            for change in some:
                if process.covers(module, change.line):
                    judge(module, change, process.notices)
                if process.at_import(module, change.line) or not process.covers(module, change.line):
                    anew.append((module, key_of(module, change)))
        later.write_text(json.dumps(anew))

    inside(trials, KEPT / "lines.json")
    warm_up(KEPT / "lines.json")
    known = verdicts()
    anew = {key for _, key in json.loads(later.read_text()) if not known.get(key)}
    print(f"{len(anew)} to try by importing anew", flush=True)
    for module, some in open_ones.items():
        left = [change for change in some if key_of(module, change) in anew]
        if left:
            control(module, notices_anew, 0)
        for change in left:
            judge(module, change, notices_anew)


def report(chosen: dict[str, list[Change]]) -> None:
    """Each module's share, and every change that nobody noticed."""
    known = verdicts()
    shares: dict[str, tuple[int, int]] = {}
    survivors: dict[str, list[Change]] = defaultdict(list)
    for module, some in chosen.items():
        tried = [change for change in some if key_of(module, change) in known]
        survivors[module] = [change for change in tried if not known[key_of(module, change)]]
        shares[module] = (len(tried) - len(survivors[module]), len(tried))
    for module, some in survivors.items():
        for change in some:
            print(f"intake/rules/{module}.py:{change.line}: {change.words}")
    for module, (noticed, tried) in shares.items():
        print(f"{module:16} {noticed:4} of {tried:4} noticed  {100 * noticed / max(tried, 1):5.1f} %")
    noticed, tried = (sum(figures) for figures in zip(*shares.values(), strict=True))
    print(f"{'together':16} {noticed:4} of {tried:4} noticed  {100 * noticed / max(tried, 1):5.1f} %")


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="make mutants")
    parser.add_argument("modules", nargs="*")
    parser.add_argument("--sample", type=int, default=0, help="so many changes a module at most")
    parser.add_argument("--fresh", action="store_true", help="forget earlier verdicts")
    parser.add_argument("--report", action="store_true", help="show earlier verdicts, try nothing")
    options = parser.parse_args(arguments)
    os.chdir(ROOT)
    os.nice(19)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    KEPT.mkdir(exist_ok=True)
    if options.fresh:
        VERDICTS.unlink(missing_ok=True)
    chosen = wanted(options.modules, options.sample)
    if not options.report:
        run(chosen)
    report(chosen)


if __name__ == "__main__":
    main(sys.argv[1:])
