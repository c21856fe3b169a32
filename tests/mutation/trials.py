"""Trials of changes, each in a forked child with the tests that run through the changed line.

Code inside functions is exchanged in a process that has everything imported. What runs while
modules are imported (constants, tables) is tried by importing everything anew.
"""

from __future__ import annotations

import ast
import contextlib
import gc
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import resource
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import coverage
import hypothesis
import pytest

ROOT = Path(__file__).parent.parent.parent
RULES = ROOT / "intake" / "rules"
TESTS = (
    "tests/rules",
    "tests/outside/test_chemistry.py",
    "tests/outside/test_counting.py",
    "tests/outside/test_receipt.py",
    "tests/outside/test_rulebooks.py",
)
#: Reproducible, nothing kept between runs; an example that fails is not made smaller.
PROFILE = hypothesis.settings(
    derandomize=True,
    database=None,
    deadline=None,
    phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
    max_examples=50,
    suppress_health_check=tuple(hypothesis.HealthCheck),
)
OPTIONS = ("-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-profile=mutation")
#: Limits of one trial: processor time in seconds, waiting time in seconds.
PROCESSOR_S, WAITING_S = 60, 600

_Remembering = type(lru_cache(int))

#: Answers whether a change was noticed: it is given the changed module.
Try = Callable[[str, ast.Module, int], bool]


def in_child(work: Callable[[], bool]) -> bool:
    """Whether ``work``, done silently in a child of its own, said yes or came to grief."""
    sys.stdout.flush()
    pid = os.fork()
    if pid:
        return os.waitpid(pid, 0)[1] != 0
    status = 2
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (PROCESSOR_S, PROCESSOR_S))
        signal.alarm(WAITING_S)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        status = int(work())
    finally:
        os._exit(status)


class Inside:
    """A pytest plugin that runs ``trials`` in place of the tests, with everything imported."""

    def __init__(self, trials: Callable[[Inside], None], kept: Path) -> None:
        self.trials, self.kept = trials, kept
        self.lines: dict[str, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
        self.durations: dict[str, float] = {}
        self.measured = coverage.Coverage(data_file=None, include=[f"{RULES}/*"], config_file=False)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.session = session
        if in_child(self._measure):
            raise SystemExit("The tests fail before anything is changed.")
        self.measured.stop()
        found = json.loads(self.kept.read_text())
        self.durations = found["durations"]
        for path, lines in found["lines"].items():
            for line, tests in lines.items():
                self.lines[path][int(line)] = set(tests)
        gc.collect()
        gc.freeze()
        self.trials(self)
        return True

    def _measure(self) -> bool:
        """Run every test once, and keep which lines each runs through and how long it takes."""
        durations = {}
        known = memories()
        for item, following in _pairs(self.session.items):
            forget(known)
            self.measured.switch_context(item.nodeid)
            begun = time.process_time()
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            durations[item.nodeid] = time.process_time() - begun
        self.measured.stop()
        data = self.measured.get_data()
        lines = {Path(path).stem: data.contexts_by_lineno(path) for path in data.measured_files()}
        self.kept.write_text(json.dumps({"durations": durations, "lines": lines}))
        return self.session.testsfailed > 0

    def covers(self, module: str, line: int) -> bool:
        """Whether a test runs through the line, other than by importing the module."""
        return bool(self.lines[module][line] - {""})

    def at_import(self, module: str, line: int) -> bool:
        return "" in self.lines[module][line]

    def cost(self, module: str, line: int) -> float:
        """Seconds that the tests take that run through the line."""
        return sum(self.durations.get(test, 0.0) for test in self.lines[module][line])

    def notices(self, module: str, tree: ast.Module, line: int) -> bool:
        """Whether a test that runs through ``line`` fails with ``tree`` in the place of ``module``."""
        wanted = self.lines[module][line]
        items = [item for item in self.session.items if item.nodeid in wanted]
        items.sort(key=lambda item: self.durations[item.nodeid])

        def work() -> bool:
            exchange(str(RULES / f"{module}.py"), tree)
            for item, following in _pairs(items):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if self.session.testsfailed:
                    return True
            return False

        return in_child(work)


def _pairs(items: Sequence[pytest.Item]) -> Iterator[tuple[pytest.Item, pytest.Item | None]]:
    return zip(items, [*items[1:], None], strict=True)


def exchange(path: str, tree: ast.Module) -> None:
    """Give every function made from the file ``path`` its code from ``tree``."""
    new = {(code.co_qualname, code.co_firstlineno): code for code in _codes(compile(tree, path, "exec"))}
    gc.unfreeze()
    for thing in gc.get_objects():
        if type(thing) is FunctionType and thing.__code__.co_filename == path:
            code = new.get((thing.__code__.co_qualname, thing.__code__.co_firstlineno))
            if code is not None and code.co_freevars == thing.__code__.co_freevars:
                thing.__code__ = code
    forget(memories())


def memories() -> list[Callable[[], None]]:
    """What empties each memory of the product: a remembered answer would hide the code behind it."""
    found: list[Callable[[], None]] = []
    for thing in gc.get_objects():
        if type(thing) is _Remembering and str(getattr(thing, "__module__", "")).startswith("intake.rules."):
            found.append(thing.cache_clear)
        elif type(thing).__name__ == "Rulebook":
            found.append(thing.standings.clear)
    return found


def forget(known: list[Callable[[], None]]) -> None:
    for empty in known:
        empty()


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _codes(constant)


def inside(trials: Callable[[Inside], None], kept: Path) -> None:
    """Run ``trials`` in a child that has the rules and all tests imported."""
    pid = os.fork()
    if pid:
        if os.waitpid(pid, 0)[1]:
            raise SystemExit(1)
        return
    status = 1
    try:
        hypothesis.settings.register_profile("mutation", PROFILE)
        plugin = Inside(trials, kept)
        plugin.measured.start()
        status = int(pytest.main([*OPTIONS, "--no-header", "--no-summary", *TESTS], plugins=[plugin]))
        kept.with_suffix(".names").write_text("\n".join(sys.modules))
    finally:
        os._exit(0 if status in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) else status)


def warm_up(kept: Path) -> None:
    """Import what tests import from outside the project, so that each child need not."""
    for name in kept.with_suffix(".names").read_text().split():
        if name.split(".")[0] not in ("intake", "labqueue", "tests", "conftest"):
            with contextlib.suppress(Exception):
                importlib.import_module(name)


class _Loader(importlib.machinery.SourceFileLoader):
    def __init__(self, name: str, path: str, tree: ast.Module) -> None:
        super().__init__(name, path)
        self.tree = tree

    def get_code(self, fullname: str) -> CodeType:
        return compile(self.tree, self.path, "exec")


class _Finder(importlib.abc.MetaPathFinder):
    def __init__(self, module: str, tree: ast.Module) -> None:
        self.name, self.tree = f"intake.rules.{module}", tree
        self.path = str(RULES / f"{module}.py")

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(
            fullname, self.path, loader=_Loader(fullname, self.path, self.tree)
        )


def notices_anew(module: str, tree: ast.Module, line: int) -> bool:
    """Whether any test fails when everything is imported with ``tree`` in the place of ``module``."""

    def work() -> bool:
        hypothesis.settings.register_profile("mutation", PROFILE)
        sys.meta_path.insert(0, _Finder(module, tree))
        near = [str(path) for path in sorted((ROOT / "tests/rules").glob(f"test_*{module}*.py"))]
        return pytest.main([*OPTIONS, *near, *TESTS]) != pytest.ExitCode.OK

    return in_child(work)
