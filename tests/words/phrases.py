"""The phrases of the packages that speak without Django: read out of their source.

What judging, planning and reading sheets say is stored, or crosses to a process of its own, and stays
English there. Shown, it is said in the reader's language by ``intake.phrasebook``, which knows each
sentence by its pattern. A pattern is what stands in the code: a constant as it is, an f-string with a
named hole for each value. So the list is never written by hand, and a changed sentence is a changed
phrase.
"""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path

from intake.phrasebook import REASONS
from intake.rules.catalogue import ALL
from intake.rules.words import MONTHS

#: Whose sentences are gathered.
PACKAGES = ("intake/rules", "labqueue/planning", "intake/sheets")
#: One more that does: the words a statement is made of, sealed as they are.
FILES = ("intake/stating.py",)
#: What nobody reads: names of fields and their kinds for programs, addresses, styles of workbooks.
SILENT = frozenset(
    {
        "intake/rules/facts_schema.py",
        "intake/rules/examples.py",
        "intake/sheets/gridpage.py",
        "intake/sheets/packed.py",
        "intake/sheets/rowtexts.py",
    }
)
#: Calls whose texts are for programs or for whoever wrote the call, or are translated by Django.
UNREAD_CALLS = frozenset(
    {
        "_", "_lazy", "gettext", "gettext_lazy", "ngettext", "ngettext_lazy", "pgettext",
        "getLogger", "debug", "info", "warning", "error", "exception", "ValueError", "TypeError",
        "KeyError", "RuntimeError", "AssertionError", "LookupError", "NotImplementedError",
        "PlanningError", "FieldDoesNotExist", "getattr", "setattr", "cast", "attrgetter",
        "itemgetter", "TypeVar", "NewType", "namedtuple", "compile", "match", "fullmatch",
        "strptime", "strftime", "startswith", "endswith", "removeprefix", "removesuffix", "split",
        "translate", "join",
    }
)  # fmt: skip
#: Enumerations for programs, and units, which every language writes alike.
UNREAD_CHOICES = frozenset({"EcUnit", "EcReference", "Kind", "Broken", "Habit", "Change"})
#: Which argument of a call is a word that people read.
WORD_OF_CALL = {"Ion": 0, "Fault": 1}
#: Words that stand where codes stand, too.
WORDS = (
    *MONTHS,
    "{most} and {last}",
    "{most} or {last}",
    "“{words}”",
    "{sooner} of the {ahead} places before it hold bottles that end no later.",
    "{low} to {high}",
    "{ion} {effect}",
    "{ion}: {limit} from {start}, {how}, rulebook {book_name}, row {number}",
    "collection, whose moment is not stated",
    "seawater",
    *REASONS,
    *sorted({rule.code.partition(".")[0] for rule in ALL}),
    "acidified",
    "chilled",
    "filtered",
    "frozen",
    "bicarbonate",
    "alkalinity",
    "strength",
    "volume",
    "agree",
    "nutrients",
    "{number} months",
    "{number} month",
    "{number} day",
    "ethylenediamine",
    "site",
    "hazards",
    "ions",
)
#: Methods that write a text otherwise.
TURNING = frozenset({"lower", "format", "strip", "capitalize"})
#: Attributes that say how a value is written and not what it is: the name before them tells more.
SPELLING = frozenset({"value", "label", "sentence", "text"})
#: What is left of a text for programs: names of facts and fields, encodings, times, names in XML.
CODE = re.compile(r"\w*[_.]\w+|utf-\d+\S*|h|\{\{.*\}\}\w+")
#: Two words, or one with an end: what a person reads. Codes, fields and keys have neither.
READ = re.compile(r"[^\W\d_]{2,}.* .*|.* [^\W\d_]{2,}.*|[A-Z][a-z]+\.")


def gathered(root: Path) -> dict[str, list[str]]:
    """Every phrase with the places where it stands, in the order of the files."""
    sources = {
        str(path.relative_to(root)): path.read_text()
        for package in PACKAGES
        for path in sorted((root / package).glob("*.py"))
        if str(path.relative_to(root)) not in SILENT
    }
    sources |= {name: (root / name).read_text() for name in FILES}
    shared: dict[str, str] = {}
    for source in sources.values():
        shared |= {name: text for name, text in _constants(ast.parse(source)).items() if name[0] != "_"}
    found: dict[str, list[str]] = defaultdict(list)
    for name, source in sources.items():
        for line, phrase in phrases_of(source, shared):
            found[phrase].append(f"{name}:{line}")
    for word in WORDS:
        found[word].append("intake/rules/words.py:1")
    return dict(found)


def phrases_of(source: str, shared: Mapping[str, str]) -> list[tuple[int, str]]:
    """The phrases of one file with their lines; ``shared`` are the texts that other files name."""
    tree = ast.parse(source)
    walk = _Walk({**shared, **_constants(tree)})
    walk.visit(tree)
    return walk.found


def _constants(tree: ast.Module) -> dict[str, str]:
    """Texts that a file gives a name, so that a sentence can be put together from them."""
    return {
        node.targets[0].id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }


class _Walk(ast.NodeVisitor):
    """Goes through a file and keeps what people read."""

    def __init__(self, constants: dict[str, str]) -> None:
        self.found: list[tuple[int, str]] = []
        self._constants = constants

    def _keep(self, node: ast.expr, text: str) -> None:
        phrase = tidy(text)
        said = re.sub(r"\{\w+\}", "", phrase)
        if re.search(r"[^\W\d_]", said) and not CODE.fullmatch(said):
            self.found.append((node.lineno, phrase))

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        if node.name in UNREAD_CHOICES:
            return
        choices = [getattr(base, "id", "") for base in node.bases] == ["StrEnum"]
        for part in node.body:
            if choices and isinstance(part, ast.Assign):
                # A member with more than its word, such as a rank, has the word first.
                self._word(part.value.elts[0] if isinstance(part.value, ast.Tuple) else part.value)
            self.visit(part)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):  # a docstring
            self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = _called(node)
        if name in UNREAD_CALLS:
            return
        if name == "append" and len(node.args) == 1:
            self._word(node.args[0])
        if name in WORD_OF_CALL:
            self._word(node.args[WORD_OF_CALL[name]])
        self.generic_visit(node)

    def visit_Assert(self, node: ast.Assert) -> None:
        pass

    def visit_Compare(self, node: ast.Compare) -> None:
        pass

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for part in (*node.decorator_list, *node.args.defaults, *node.body):
            self.visit(part)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._word(node.body)
        self._word(node.orelse)
        self.generic_visit(node)

    def _word(self, node: ast.expr) -> None:
        """A single word where only texts for people stand."""
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and not READ.match(node.value):
            self._keep(node, node.value)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str) and READ.match(node.value):
            self._keep(node, node.value.replace("{", "{{").replace("}", "}}"))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self._keep(node, template(node, self._constants))
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                self.visit(part.value)


def template(node: ast.JoinedStr, constants: dict[str, str]) -> str:
    """An f-string as a phrase with named holes."""
    parts, names = [], defaultdict(int)
    for part in node.values:
        if isinstance(part, ast.Constant):
            parts.append(str(part.value).replace("{", "{{").replace("}", "}}"))
        elif isinstance(part, ast.FormattedValue):
            if isinstance(part.value, ast.Name) and part.value.id in constants:
                parts.append(constants[part.value.id])
                continue
            name = hole(part.value)
            names[name] += 1
            parts.append(f"{{{name}}}" if names[name] == 1 else f"{{{name}_{names[name]}}}")
    return "".join(parts)


def hole(node: ast.expr) -> str:
    """What a value is called in its sentence: the innermost name that means something."""
    return next((name for name in _names(node)), "words").strip("_").lower()


def _names(node: ast.expr) -> Iterator[str]:
    """Names in ``node`` that may tell what it is, the best one first."""
    match node:
        case ast.Name(id=name):
            yield name
        case ast.Attribute():
            yield from _names_of_attribute(node)
        case ast.Call():
            yield from _names_of_call(node)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            for part in (body, orelse, test):
                yield from _names(part)
        case _:
            inner = _inner(node)
            if inner is not None:
                yield from _names(inner)


def _inner(node: ast.expr) -> ast.expr | None:
    """The part of ``node`` that it is about."""
    match node:
        case ast.BoolOp(values=[first, *_]) | ast.BinOp(left=first) | ast.Compare(left=first):
            return first
        case ast.UnaryOp(operand=inner) | ast.Subscript(value=inner) | ast.Starred(value=inner):
            return inner
        case ast.GeneratorExp(elt=inner) | ast.ListComp(elt=inner) | ast.SetComp(elt=inner):
            return inner
    return None


def _names_of_attribute(node: ast.Attribute) -> Iterator[str]:
    if node.attr == "name":
        yield f"{hole(node.value)}_name"
    elif node.attr in SPELLING:
        yield from _names(node.value)
    else:
        yield node.attr


def _names_of_call(node: ast.Call) -> Iterator[str]:
    name = _called(node)
    if name.startswith("_"):
        yield name.removeprefix("_say_")
    elif node.args:
        yield from _names(node.args[0])
        yield name
    elif isinstance(node.func, ast.Attribute) and name in TURNING:
        yield from _names(node.func.value)
    else:
        yield from _names(node.func)


def _called(node: ast.Call) -> str:
    return getattr(node.func, "id", None) or getattr(node.func, "attr", "")


def tidy(text: str) -> str:
    """A phrase without the spaces at its ends, which belong to the sentence around it."""
    return text.strip(" \n")
