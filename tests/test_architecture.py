"""Who may import whom, how large a file may grow, and what must not appear in one.

Walks the source itself, so that it also sees what import-linter's contracts leave out:
imports inside functions, templates, names and sizes.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MAX_LINES = 400
MAX_LINES_TESTS = 500
PURE = ("intake.rules", "labqueue.planning", "labqueue.hours")
PURE_MAY_IMPORT = frozenset(sys.stdlib_module_names) | {"dateutil"}
#: Parts of the standard library that reach outside a function's arguments.
PURE_NOT_EVEN = frozenset(
    {"asyncio", "http", "io", "logging", "multiprocessing", "os", "pathlib", "random", "secrets", "shutil"}
    | {"socket", "sqlite3", "subprocess", "tempfile", "threading", "time", "urllib", "uuid"}
)
#: From the top down; a room may import from those below it and from its own. What is not named
#: here (apps, adapters, numbers) stands beside the layers.
LAYERS = {
    "intake": (
        ("admin",),
        ("urls",),
        ("views", "management"),
        ("tasks",),
        ("forms", "tables", "sheets", "papers", "demo"),
        ("actions",),
        ("permissions", "record", "jobs"),
        ("models",),
        ("querysets",),
        ("states", "choices"),
        ("rules",),
    ),
    "labqueue": (
        ("urls",),
        ("bench_urls",),
        ("views", "management"),
        ("forms", "tables"),
        ("actions",),
        ("permissions",),
        ("models",),
        ("querysets",),
        ("states", "choices"),
        ("planning",),
        ("hours",),
    ),
}
#: A queryset of one model asks another's inside a function, once both are loaded.
ALLOWED_UPWARD = {("intake.querysets", "intake.models"), ("labqueue.querysets", "labqueue.models")}
#: Only these read the clock; everything below is handed its moment.
CLOCK_READERS = ("views", "management", "middleware", "tasks", "adapter")
CLOCK = re.compile(
    r"\b(?:timezone\.(?:now|localdate|localtime)|datetime\.(?:now|utcnow|today)|date\.today|time\.time)\("
)


def modules() -> Iterator[tuple[str, Path]]:
    """Name and path of each module of the product, migrations left out."""
    for app in ("intake", "labqueue"):
        for path in sorted((ROOT / app).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            if ".migrations" not in name:
                yield name, path


def names_only(path: Path) -> bool:
    return path.name == "__init__.py"


def imports_of(name: str, path: Path) -> Iterator[tuple[str, int]]:
    """Every module that ``name`` imports, also inside functions, but not for types alone."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    package = name if names_only(path) else name.rpartition(".")[0]
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in for_types:
            continue
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            source = ".".join([*above, node.module] if node.module else above)
            yield from ((f"{source}.{alias.name}", node.lineno) for alias in node.names)


def room(module: str) -> tuple[str, str]:
    """App and room of a dotted name: ``intake.actions.sending`` is in ``actions`` of ``intake``."""
    app, _, rest = module.partition(".")
    return app, rest.partition(".")[0]


def height(module: str) -> int | None:
    """How far down its room stands; ``None`` for what stands beside the layers."""
    app, name = room(module)
    for depth, rooms in enumerate(LAYERS.get(app, ())):
        if name in rooms:
            return depth
    return None


def wrong_directions(name: str, targets: Iterator[tuple[str, int]]) -> Iterator[str]:
    for target, line in targets:
        if name.startswith("intake") and target.split(".")[0] == "labqueue":
            yield f"{name}:{line} imports {target}: intake never imports labqueue"
        if room(name)[0] != room(target)[0]:
            continue
        own, other = height(name), height(target)
        allowed = (".".join(room(name)), ".".join(room(target))) in ALLOWED_UPWARD
        if own is None or other is None or allowed or room(name) == room(target):
            continue
        if other <= own:
            yield f"{name}:{line} imports {target}: that is upwards or sideways"


def test_imports_go_one_way() -> None:
    wrong = [fault for name, path in modules() for fault in wrong_directions(name, imports_of(name, path))]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("name", "target"),
    [
        ("intake.rules.judge", "intake.models.Bottle"),
        ("intake.actions.sending", "intake.views.queue"),
        ("intake.record", "intake.permissions.can"),
        ("intake.models.people", "labqueue.models.Unit"),
        ("labqueue.planning.plan", "labqueue.models.Run"),
    ],
)
def test_a_wrong_direction_would_be_seen(name: str, target: str) -> None:
    assert list(wrong_directions(name, iter([(target, 1)])))


def impure(name: str, targets: Iterator[tuple[str, int]]) -> Iterator[str]:
    for target, line in targets:
        top = target.split(".")[0]
        own = target.startswith(PURE)
        if not own and (top not in PURE_MAY_IMPORT or top in PURE_NOT_EVEN):
            yield f"{name}:{line} imports {target}"


def test_rules_and_planning_are_pure() -> None:
    pure = ((name, path) for name, path in modules() if name.startswith(PURE))
    wrong = [fault for name, path in pure for fault in impure(name, imports_of(name, path))]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("target", ["django.db.models", "intake.models.Bottle", "os.environ", "requests"])
def test_an_impure_import_would_be_seen(target: str) -> None:
    assert list(impure("intake.rules.judge", iter([(target, 1)])))


def test_the_clock_is_read_in_views_commands_and_middleware_only() -> None:
    stray = [
        f"{path.relative_to(ROOT)}:{number} {line.strip()}"
        for name, path in modules()
        if room(name)[1] not in CLOCK_READERS
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if CLOCK.search(line)
    ]
    assert not stray, "\n".join(stray)


def sources() -> Iterator[Path]:
    for folder in ("intake", "labqueue", "tests"):
        yield from (path for path in sorted((ROOT / folder).rglob("*.py")) if "migrations" not in path.parts)
    for folder in ("static", "templates"):
        yield from sorted(
            path for path in (ROOT / folder).rglob("*") if path.suffix in (".js", ".css", ".html")
        )


def test_no_file_is_too_long() -> None:
    long = []
    for path in sources():
        lines = len(path.read_text(encoding="utf-8").splitlines())
        allowed = MAX_LINES_TESTS if "tests" in path.relative_to(ROOT).parts else MAX_LINES
        if lines > allowed:
            long.append(
                f"{path.relative_to(ROOT)} has {lines} lines; split it by subject ({allowed} allowed)"
            )
    assert not long, "\n".join(long)


def test_names_say_what_is_inside() -> None:
    vague = re.compile(r"^(utils?|helpers?|misc|common|tools)$")
    found = [
        str(path.relative_to(ROOT)) for path in sources() if any(map(vague.match, (path.stem, *path.parts)))
    ]
    assert not found, found


def test_project_package_is_empty() -> None:
    assert not (ROOT / "labqueue" / "__init__.py").read_text(encoding="utf-8").strip()


def test_business_flow_uses_no_signals() -> None:
    wrong = [
        f"{name}:{line} imports {target}"
        for name, path in modules()
        for target, line in imports_of(name, path)
        if target.startswith(("django.dispatch", "django.db.models.signals"))
    ]
    assert not wrong, "\n".join(wrong)


INLINE = {
    "inline script": re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")[^>]*>", re.I),
    "inline style sheet": re.compile(r"<style\b", re.I),
    "style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.I),
    "inline handler": re.compile(r"<[^>]*\son[a-z]+\s*=", re.I),
    "javascript address": re.compile(r"javascript:", re.I),
    "switched-off escaping": re.compile(r"\|\s*safe\b|autoescape off", re.I),
}


def inline_faults(text: str) -> list[str]:
    return [fault for fault, pattern in INLINE.items() if pattern.search(text)]


def test_templates_carry_no_inline_script_or_style() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {', '.join(faults)}"
        for path in sorted((ROOT / "templates").rglob("*.html"))
        if (faults := inline_faults(path.read_text(encoding="utf-8")))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    "text",
    [
        "<script>go()</script>",
        "<p style='color: red'>",
        '<a onclick="go()">',
        "<style>p {}</style>",
        '<a href="javascript:go()">',
        "{{ title|safe }}",
    ],
)
def test_an_inline_fault_would_be_seen(text: str) -> None:
    assert inline_faults(text)


def test_a_sound_template_passes() -> None:
    assert not inline_faults(
        '<script src="/static/grid.js" defer></script><p class="on time">{{ title }}</p>'
    )


TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "Makefile",
    "pyproject.toml",
    "constraints.txt",
    "manage.py",
    "intake",
    "labqueue",
    "templates",
    "static",
    "tests",
    "fixtures",
}
#: Made by running the project; not part of it.
MADE = {"var", "build", "__pycache__", "labqueue.egg-info", "htmlcov", "mutants"}


def test_top_level_holds_only_its_rooms() -> None:
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - MADE <= TOP_LEVEL, found - MADE - TOP_LEVEL
