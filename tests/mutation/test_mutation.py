"""The runner of `make mutants` itself: what it changes, and that a verdict means what it says."""

import ast
import types
from functools import partial

import pytest

from tests.mutation.changes import changed, changes
from tests.mutation.trials import exchange, in_child

pytestmark = pytest.mark.long


def made(source: str) -> list[str]:
    """The module with each change in turn, written out."""
    return [ast.unparse(changed(source, change)) for change in changes(source)]


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("a < b", ["a <= b", "a >= b"]),
        ("a == b", ["a != b"]),
        ("a is None", ["a is not None"]),
        ("a in b", ["a not in b"]),
        ("a and b", ["a or b"]),
        ("not a", ["a"]),
        ("-a", ["a"]),
        ("a + b", ["a - b"]),
        ("a += b", ["a -= b"]),
        ("a * b", ["a / b"]),
        ("a ** b", ["a * b"]),
        ("a | b", ["a & b"]),
        ("a = 3", ["a = 4"]),
        ("a = 2.0", ["a = 2.2"]),
        ("a = 0.0", ["a = 1.0"]),
        ("a = True", ["a = False"]),
        ("min(a)", ["max(a)", "pass"]),
        ("if a:\n    b", ["if not a:\n    b"]),
        ("b if a else c", ["b if not a else c"]),
        ("def f():\n    return a", ["def f():\n    return None"]),
        ("def f():\n    yield a", ["def f():\n    if False:\n        yield a"]),
        ("a()", ["pass"]),
        ("raise a", ["pass"]),
        ("for a in b:\n    continue", ["for a in b:\n    break"]),
        ("a = 'words'", []),
        ("a: int | None", []),
        ("@f(3)\ndef g(): ...", []),
        ("__all__ = ['a'] + b", []),
        ("def f():\n    return None", []),
    ],
)
def test_the_changes_of_a_line(source: str, expected: list[str]):
    assert sorted(made(source)) == sorted(expected)


def test_each_change_is_one_and_the_module_itself_stays():
    source = "def f(a):\n    return a < 3 and a > 1\n"
    assert len(set(made(source))) == len(changes(source)) == 8
    assert source.strip() not in made(source)


@pytest.fixture
def module(tmp_path):
    """A module of one function, made from a file."""
    path = tmp_path / "older.py"
    path.write_text("def older(a, b):\n    return a > b\n", encoding="utf-8")
    module = types.ModuleType("older")
    exec(compile(path.read_text(encoding="utf-8"), str(path), "exec"), module.__dict__)  # noqa: S102
    return path, module.older


@pytest.mark.parametrize(
    ("pairs", "unnoticed"), [([(2, 1)], {"a > b → a >= b"}), ([(2, 1), (1, 1), (1, 2)], set())]
)
def test_what_the_asserts_do_not_ask_goes_unnoticed(module, pairs: list, unnoticed: set):
    path, older = module
    source = path.read_text(encoding="utf-8")

    def fails(tree: ast.Module) -> bool:
        exchange(str(path), tree)
        return not all(older(a, b) is (a > b) for a, b in pairs)

    found = {
        change.words for change in changes(source) if not in_child(partial(fails, changed(source, change)))
    }
    assert found == unnoticed
    assert older(2, 1) is True, "the change stayed in the child"


def test_a_change_that_never_ends_is_noticed(monkeypatch):
    monkeypatch.setattr("tests.mutation.trials.PROCESSOR_S", 1)

    def never() -> bool:
        while True:
            pass

    assert in_child(never)
    assert not in_child(lambda: False)
