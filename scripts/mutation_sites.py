"""Where a program may be changed by one figure, comparison, sign or word, found in its syntax tree."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

Lines = tuple[int, ...]
Names = tuple[str, ...]

COMPARISONS: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
}
SUMS: dict[type[ast.operator], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
}
OPPOSITES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum"}
SMALL = 10
"""Whole numbers below it are changed by one, larger ones doubled: 1 000 and 1 001 rounds are the same to anybody."""


@dataclass(frozen=True, order=True)
class Mutation:
    """One change to one file.

    Parameters
    ----------
    path : str
        From the root of the project.
    start, end : int
        Bytes of the file that are replaced.
    before, after : str
    line : int
    watched : tuple of int
        Lines of this file that show by being run that the change may matter; none for what is run on import.
    names : tuple of str
        What a statement run on import gives a value: whoever speaks of it may notice.
    """

    path: str
    start: int
    end: int
    before: str
    after: str
    line: int
    watched: Lines = ()
    names: Names = ()

    @property
    def key(self) -> str:
        """What tells it from all others."""
        return f"{self.path}:{self.line}:{self.start}:{self.before}:{self.after}"

    def applied(self, source: bytes) -> bytes:
        """The file with the change made."""
        return source[: self.start] + self.after.encode() + source[self.end :]


def mutations_of(path: str, source: bytes) -> Iterator[Mutation]:
    """All changes to a file that may be tried."""
    tree = ast.parse(source)
    yield from _Finder(path, source).of_body(tree.body, ())


class _Finder:
    """Walks the statements of a file; what is inside messages and annotations is passed over."""

    def __init__(self, path: str, source: bytes) -> None:
        self.path, self.source = path, source
        lengths = [len(line) for line in source.splitlines(keepends=True)]
        self.starts = [sum(lengths[:k]) for k in range(len(lengths) + 1)]

    def of_body(self, body: list[ast.stmt], inside: Lines) -> Iterator[Mutation]:
        """``inside``: lines of the function around; none on import."""
        for statement in body:
            yield from self._of_statement(statement, inside)

    def _of_statement(self, statement: ast.stmt, inside: Lines) -> Iterator[Mutation]:
        if isinstance(statement, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = tuple(line for one in statement.body for line in _lines(one))
            for default in (*statement.args.defaults, *statement.args.kw_defaults):
                yield from self._of_expression(default, lines, ())
            yield from self.of_body(statement.body, lines)
            return
        if isinstance(statement, ast.ClassDef):
            yield from self.of_body(statement.body, ())
            return
        heads, bodies = _parted(statement)
        lines = tuple(sorted({line for head in heads for line in _lines(head)})) if inside else ()
        names = () if inside else tuple(sorted(_given_a_value(statement)))
        for head in heads:
            yield from self._of_expression(head, lines or inside, names)
        if isinstance(statement, ast.AugAssign) and type(statement.op) in SUMS:
            before, after = SUMS[type(statement.op)]
            yield from self._between(statement.target, statement.value, (f"{before}=", f"{after}="), lines, names)
        for body in bodies:
            yield from self.of_body(body, inside)

    def _of_expression(self, node: ast.AST | None, lines: Lines, names: Names) -> Iterator[Mutation]:
        if node is None or isinstance(node, ast.JoinedStr) or _is_literal_type(node) or _is_strict(node):
            return
        yield from self._of_operators(node, lines, names)
        yield from self._of_words(node, lines, names)
        for child in ast.iter_child_nodes(node):
            yield from self._of_expression(child, lines, names)

    def _of_operators(self, node: ast.AST, lines: Lines, names: Names) -> Iterator[Mutation]:
        match node:
            case ast.Compare(left=left, ops=ops, comparators=comparators):
                for one, op, other in zip([left, *comparators], ops, comparators, strict=False):
                    if type(op) in COMPARISONS:
                        yield from self._between(one, other, COMPARISONS[type(op)], lines, names)
            case ast.BinOp(left=left, op=op, right=right):
                if type(op) in SUMS and not (_is_text(left) or _is_text(right)):
                    yield from self._between(left, right, SUMS[type(op)], lines, names)
            case ast.BoolOp(op=op, values=values):
                words = ("and", "or") if isinstance(op, ast.And) else ("or", "and")
                for one, other in pairwise(values):
                    yield from self._between(one, other, words, lines, names)

    def _of_words(self, node: ast.AST, lines: Lines, names: Names) -> Iterator[Mutation]:
        match node:
            case ast.Constant(value=bool() | int() | float() as value):
                yield self._mutation(self._at(node), self._end(node), _changed(value), lines, names)
            case ast.UnaryOp(op=ast.Not()):
                start = self._at(node)
                yield self._mutation(start, start + len("not "), "", lines, names)
            case ast.Name(id=name) | ast.Attribute(attr=name) if name in OPPOSITES:
                end = self._end(node)
                yield self._mutation(end - len(name), end, OPPOSITES[name], lines, names)

    def _between(
        self, one: ast.AST, other: ast.AST, words: tuple[str, str], lines: Lines, names: Names
    ) -> Iterator[Mutation]:
        start = self._end(one)
        found = re.search(re.escape(words[0]).encode(), self.source[start : self._at(other)])
        if found:
            yield self._mutation(start + found.start(), start + found.end(), words[1], lines, names)

    def _mutation(self, start: int, end: int, after: str, lines: Lines, names: Names) -> Mutation:
        line = self.source.count(b"\n", 0, start) + 1
        return Mutation(self.path, start, end, self.source[start:end].decode(), after, line, lines, names)

    def _at(self, node: ast.AST) -> int:
        return self.starts[node.lineno - 1] + node.col_offset

    def _end(self, node: ast.AST) -> int:
        return self.starts[node.end_lineno - 1] + node.end_col_offset


def _lines(node: ast.AST) -> range:
    return range(node.lineno, node.end_lineno + 1)


def _parted(statement: ast.stmt) -> tuple[list[ast.AST], list[list[ast.stmt]]]:
    """Expressions of a statement, annotations and texts that stand alone left out, and the statements within it."""
    heads: list[ast.AST] = []
    bodies: list[list[ast.stmt]] = []
    if isinstance(statement, ast.Expr) and _is_text(statement.value):
        return [], []
    for name, value in ast.iter_fields(statement):
        if name == "annotation":
            continue
        parts = value if isinstance(value, list) else [value]
        if parts and all(isinstance(part, ast.stmt) for part in parts):
            bodies.append(parts)
            continue
        for part in parts:
            if isinstance(part, ast.excepthandler | ast.match_case):
                heads += [h for h in (getattr(part, "type", None), getattr(part, "guard", None)) if h is not None]
                bodies.append(part.body)
            elif isinstance(part, ast.expr):
                heads.append(part)
            elif isinstance(part, ast.withitem):
                heads.append(part.context_expr)
    return heads, bodies


def _given_a_value(statement: ast.stmt) -> set[str]:
    targets = statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
    return {node.id for target in targets if target for node in ast.walk(target) if isinstance(node, ast.Name)}


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str | bytes))


def _is_literal_type(node: ast.AST) -> bool:
    return isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal"


def _is_strict(node: ast.AST) -> bool:
    """``strict=True`` of zip asks for what holds anyhow."""
    return isinstance(node, ast.keyword) and node.arg == "strict"


def _changed(value: float) -> str:
    if isinstance(value, bool):
        return str(not value)
    if value in (0, 1):
        return repr(type(value)(1 - value))
    return repr(value + 1 if isinstance(value, int) and value < SMALL else value * 2)


def speakers(source: bytes, names: frozenset[str]) -> set[int]:
    """Lines within the functions of a file that speak of any of the names."""
    return {line for name, line in _spoken(source) if name in names}


@cache
def _spoken(source: bytes) -> tuple[tuple[str, int], ...]:
    functions = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef))
    nodes = [node for function in functions for statement in function.body for node in ast.walk(statement)]
    plain = [(node.id, node.lineno) for node in nodes if isinstance(node, ast.Name)]
    return (*plain, *((node.attr, node.lineno) for node in nodes if isinstance(node, ast.Attribute)))
