"""Every small change that can be made to a module, and the module with one of them made.

What is never changed: annotations, decorators, and the text of sentences (tests that read it
would have to repeat it word by word).
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

#: What each comparison becomes: just beyond its edge, and its opposite.
COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
}

RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}

SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}


@dataclass(frozen=True)
class Change:
    """One change: which node (in the order of ``ast.walk``), which of its variants, and in words."""

    node: int
    variant: int
    line: int
    words: str


def changes(source: str) -> list[Change]:
    """Every change that can be made to the module ``source``."""
    tree = ast.parse(source)
    left_alone = _left_alone(tree)
    return [
        Change(place, variant, node.lineno, f"{_said(node)} → {_said(new)}")
        for place, node in enumerate(ast.walk(tree))
        if node not in left_alone
        for variant, new in enumerate(_variants(node))
    ]


def changed(source: str, change: Change) -> ast.Module:
    """The module ``source`` with ``change`` made."""
    tree = ast.parse(source)
    for place, node in enumerate(ast.walk(tree)):
        if place == change.node:
            new = ast.copy_location(list(_variants(node))[change.variant], node)
            _put(tree, node, new)
            return ast.fix_missing_locations(tree)
    raise LookupError(change)


def _said(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0]


def _put(tree: ast.Module, old: ast.AST, new: ast.AST) -> None:
    """Put ``new`` where ``old`` stands in ``tree``."""
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is old:
                setattr(parent, name, new)
                return
            if isinstance(value, list) and any(item is old for item in value):
                setattr(parent, name, [new if item is old else item for item in value])
                return


def _left_alone(tree: ast.Module) -> set[ast.AST]:
    """Annotations, decorators, what only a type checker reads, and lists of names."""
    roots: list[ast.AST] = []
    for node in ast.walk(tree):
        roots += getattr(node, "decorator_list", [])
        roots += [part for name in ("annotation", "returns") if (part := getattr(node, name, None))]
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            roots.append(node)
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in ("__all__", "__slots__"):
            roots.append(node)
    return {node for root in roots for node in ast.walk(root)}


def _variants(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(ops=[operator]):
            for other in COMPARED[type(operator)]:
                yield ast.Compare(node.left, [other()], node.comparators)
        case ast.BoolOp():
            yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.BinOp() if type(node.op) in RECKONED:
            yield ast.BinOp(node.left, RECKONED[type(node.op)](), node.right)
        case ast.AugAssign() if type(node.op) in RECKONED:
            yield ast.AugAssign(node.target, RECKONED[type(node.op)](), node.value)
        case ast.Constant():
            yield from _values(node.value)
        case ast.Call(func=ast.Name(id=name)) if name in SWAPPED:
            yield ast.Call(ast.Name(SWAPPED[name], ast.Load()), node.args, node.keywords)
        case _:
            yield from _steps(node)


def _values(value: object) -> Iterator[ast.AST]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1)
    elif isinstance(value, float):
        yield ast.Constant(value * 1.1 if value else 1.0)


def _steps(node: ast.AST) -> Iterator[ast.AST]:
    """Conditions turned round, answers withheld, steps left out."""
    match node:
        case ast.If() if _is_plain(node.test):
            yield ast.If(_opposite(node.test), node.body, node.orelse)
        case ast.IfExp() if _is_plain(node.test):
            yield ast.IfExp(_opposite(node.test), node.body, node.orelse)
        case ast.Return(value=value) if value is not None and ast.unparse(value) != "None":
            yield ast.Return(ast.Constant(None))
        case ast.Expr(value=ast.Yield() | ast.YieldFrom()):
            yield ast.If(ast.Constant(False), [node], [])
        case ast.Expr(value=ast.Call()) | ast.Raise():
            yield ast.Pass()
        case ast.Continue():
            yield ast.Break()
        case ast.Break():
            yield ast.Continue()


def _is_plain(test: ast.expr) -> bool:
    """Whether nothing inside ``test`` turns it round already."""
    return not isinstance(test, ast.Compare | ast.BoolOp) and not (
        isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not)
    )


def _opposite(test: ast.expr) -> ast.expr:
    return ast.UnaryOp(ast.Not(), test)
