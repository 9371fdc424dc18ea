"""Small faults to put into a file, one at a time: each is a mutant.

What is changed: comparisons (their border and their sense), arithmetic, `and` and `or`, signs and
negations, numbers (one more), texts, truth values, calls that have a counterpart (`min` and `max`),
conditions (the opposite), assignments into arrays and calls for their effect (left out), `break`
and `continue`. What is not: annotations, docstrings, imports, decorators, what is raised, and
`strict=` of `zip`, which only guards against faults elsewhere.
"""

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

_BORDER = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_SENSE = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
_SUMS: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_PAIRS = (
    *(("min", "max"), ("any", "all"), ("minimum", "maximum"), ("argmin", "argmax")),
    *(("floor", "ceil"), ("zeros", "ones"), ("logical_and", "logical_or"), ("mean", "median")),
)
_COUNTERPARTS = {**dict(_PAIRS), **{other: one for one, other in _PAIRS}}
#: Where no fault is put.
_LEFT_ALONE = (ast.Raise, ast.Assert, ast.Import, ast.ImportFrom)
_NO_FIELDS = ("annotation", "returns", "decorator_list", "bases", "ctx", "type_params")


@dataclass(frozen=True)
class Mutant:
    """A file with one fault.

    Attributes
    ----------
    number : int
        Which of its file it is, from 0.
    line : int
        Where the fault is, from 1.
    before, after : str
        The statement or the part of it that is changed.
    """

    number: int
    line: int
    before: str
    after: str


def mutants(source: str) -> list[Mutant]:
    """Every mutant of a file, always in the same order."""
    return list(_each(ast.parse(source)))


def with_fault(source: str, number: int) -> ast.Module:
    """The file with one of its faults."""
    tree = ast.parse(source)
    next(mutant for mutant in _each(tree) if mutant.number == number)
    return ast.fix_missing_locations(tree)


def _each(tree: ast.Module) -> Iterator[Mutant]:
    """Tell of each mutant, with the tree changed so at that moment."""
    number = 0
    for holder, field, index in _sites(tree):
        values = getattr(holder, field)
        node = values if index is None else values[index]
        for other in _faults(node):
            ast.copy_location(other, node)
            _put(holder, field, index, other)
            yield Mutant(number, node.lineno, _told(node), _told(other))
            number += 1
        _put(holder, field, index, node)


def _told(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0]


def _put(holder: ast.AST, field: str, index: int | None, node: ast.AST) -> None:
    if index is None:
        setattr(holder, field, node)
    else:
        getattr(holder, field)[index] = node


def _sites(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """The places of all expressions and statements that may be changed."""
    for field, value in list(ast.iter_fields(node)):
        if field in _NO_FIELDS:
            continue
        for index, one in list(enumerate(value)) if isinstance(value, list) else [(None, value)]:
            if not isinstance(one, ast.AST) or isinstance(one, _LEFT_ALONE) or _spared(one):
                continue
            if isinstance(one, ast.expr | ast.stmt):
                yield node, field, index
            yield from _sites(one)


def _spared(node: ast.AST) -> bool:
    if isinstance(node, ast.keyword):
        return node.arg == "strict"
    if isinstance(node, ast.Expr):  # a docstring
        return isinstance(node.value, ast.Constant)
    if isinstance(node, ast.Assign):  # what a file shows is checked by the imports
        return ast.unparse(node.targets[0]) == "__all__"
    return False


def _faults(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare():
            yield from _comparisons(node)
        case ast.BinOp() if type(node.op) in _SUMS:
            yield _changed(node, op=_SUMS[type(node.op)]())
        case ast.AugAssign() if type(node.op) in _SUMS:
            yield _changed(node, op=_SUMS[type(node.op)]())
        case ast.BoolOp():
            yield _changed(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
        case ast.UnaryOp():
            yield node.operand
        case ast.Constant():
            yield from _constants(node.value)
        case ast.Call():
            yield from _calls(node)
        case ast.If() | ast.While() | ast.IfExp():
            yield _changed(node, test=ast.UnaryOp(ast.Not(), node.test))
        case ast.Expr(value=ast.Call()) | ast.Assign(targets=[ast.Subscript()]):
            yield ast.Pass()
        case ast.Break():
            yield ast.Continue()
        case ast.Continue():
            yield ast.Break()


def _changed(node: Any, **fields: object) -> ast.AST:
    other = copy.copy(node)
    for name, value in fields.items():
        setattr(other, name, value)
    return other


def _comparisons(node: ast.Compare) -> Iterator[ast.AST]:
    for index, op in enumerate(node.ops):
        for table in (_BORDER, _SENSE):
            if type(op) in table:
                ops: list[ast.cmpop] = [*node.ops]
                ops[index] = table[type(op)]()
                yield _changed(node, ops=ops)


def _constants(value: object) -> Iterator[ast.AST]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int | float):
        yield ast.Constant(value + 1)
    elif isinstance(value, str):
        yield ast.Constant(f"XX{value}")


def _calls(node: ast.Call) -> Iterator[ast.AST]:
    name = node.func
    if isinstance(name, ast.Attribute) and name.attr in _COUNTERPARTS:
        yield _changed(node, func=_changed(name, attr=_COUNTERPARTS[name.attr]))
    elif isinstance(name, ast.Name) and name.id in _COUNTERPARTS:
        yield _changed(node, func=ast.Name(_COUNTERPARTS[name.id], ast.Load()))
    if ast.unparse(name) in ("abs", "np.abs") and len(node.args) == 1:
        yield node.args[0]
