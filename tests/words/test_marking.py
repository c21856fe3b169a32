"""Messages are marked so that they can be said in the language of each request, and be gathered."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.words.gathering import ROOT

AT_ONCE = {"gettext", "ngettext", "pgettext", "npgettext"}


def modules() -> Iterator[tuple[Path, ast.Module]]:
    for app in ("intake", "labqueue"):
        for path in sorted((ROOT / app).rglob("*.py")):
            yield path.relative_to(ROOT), ast.parse(path.read_text("utf-8"))


def said_at_once(module: ast.Module) -> set[str]:
    """Names in ``module`` by which something is said in the language that holds at that moment."""
    return {
        name.asname or name.name
        for node in ast.walk(module)
        if isinstance(node, ast.ImportFrom) and node.module == "django.utils.translation"
        for name in node.names
        if name.name in AT_ONCE
    }


def at_import(node: ast.AST) -> Iterator[ast.AST]:
    """Everything below ``node`` that is worked out when its module is imported."""
    for part in ast.iter_child_nodes(node):
        if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef):
            for early in (*part.decorator_list, *part.args.defaults, *part.args.kw_defaults):
                if early is not None:
                    yield early
                    yield from at_import(early)
        elif not isinstance(part, ast.Lambda):
            yield part
            yield from at_import(part)


def test_nothing_is_said_in_the_language_of_whoever_came_first():
    """What is said when a module is imported stays in that language: it has to be said lazily."""
    early = [
        f"{path}:{node.lineno}"
        for path, module in modules()
        for names in [said_at_once(module)]
        for node in at_import(module)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names
    ]
    assert early == []


def test_no_message_is_put_together_before_it_is_looked_up():
    """``_(f"…")`` and ``_("…" % x)`` are gathered as nothing and found nowhere."""
    wrong = [
        f"{path}:{node.lineno}"
        for path, module in modules()
        for node in ast.walk(module)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in {"_", "gettext", "gettext_lazy"}
        and node.args
        and isinstance(node.args[0], ast.JoinedStr | ast.BinOp)
    ]
    assert wrong == []
