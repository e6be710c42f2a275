"""Sizes of the code, printed by `python -m tests.house.figures`; tests hold the largest module and function."""

from __future__ import annotations

import ast
import io
import tokenize
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).parent.parent.parent / "predictor"
FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef
NO_CODE = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER}


@dataclass(frozen=True)
class Module:
    """One module: its source, and the lines of it that hold code."""

    path: Path
    source: str

    @property
    def tree(self) -> ast.Module:
        return ast.parse(self.source)

    @property
    def lines(self) -> int:
        return self.source.count("\n")

    @property
    def docstrings(self) -> set[int]:
        """Lines of docstrings."""
        found: set[int] = set()
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Module | ast.ClassDef | FUNCTION) and ast.get_docstring(node) is not None:
                text = node.body[0]
                found |= set(range(text.lineno, (text.end_lineno or text.lineno) + 1))
        return found

    @property
    def code(self) -> set[int]:
        """Lines that are neither blank, comment nor docstring."""
        found: set[int] = set()
        for token in tokenize.generate_tokens(io.StringIO(self.source).readline):
            if token.type not in NO_CODE:
                found |= set(range(token.start[0], token.end[0] + 1))
        return found - self.docstrings

    def functions(self) -> dict[str, int]:
        """Name and line of each function to its lines of code."""
        code = self.code
        return {
            f"{self.path}:{node.lineno} {node.name}": len(code & set(range(node.lineno, (node.end_lineno or 0) + 1)))
            for node in ast.walk(self.tree)
            if isinstance(node, FUNCTION)
        }


def modules(folder: Path = PACKAGE) -> list[Module]:
    """Every module of a folder, by path."""
    return [
        Module(path.relative_to(folder.parent), path.read_text(encoding="utf-8"))
        for path in sorted(folder.rglob("*.py"))
    ]


def of_ten_nine_have(sizes: dict[str, int]) -> int:
    """Lines that nine functions in ten do not exceed."""
    ordered = sorted(sizes.values())
    return ordered[-(-9 * len(ordered) // 10) - 1]


def page() -> str:
    """The figures as a table of rooms, and those of the whole package."""
    every = modules()
    rooms: dict[str, list[Module]] = {}
    for each in every:
        rooms.setdefault(each.path.parts[1] if len(each.path.parts) > 2 else "(top)", []).append(each)
    rows = [("room", "modules", "code", "docstrings", "all lines")]
    for name, group in (*sorted(rooms.items()), ("together", every)):
        counts = (len(group), *(sum(map(count, group)) for count in (_code, _docstrings, lambda each: each.lines)))
        rows.append((name, *(f"{count:,}" for count in counts)))
    sizes = {name: lines for each in every for name, lines in each.functions().items()}
    tests = sum(len(each.code) for each in modules(PACKAGE.parent / "tests"))
    largest = max(every, key=lambda each: each.lines)
    table = [f"{row[0]:10}" + "".join(f"{cell:>12}" for cell in row[1:]) for row in rows]
    said = [
        f"largest module: {largest.path}, {largest.lines} lines",
        f"functions: {len(sizes):,}; nine in ten have at most {of_ten_nine_have(sizes)} lines of code; "
        f"the longest is {max(sizes, key=sizes.get)}, {max(sizes.values())}",
        f"lines of test code: {tests:,}, {tests / sum(map(_code, every)):.2f} a line of code",
    ]
    return "\n".join([*table, "", *said])


def _code(module: Module) -> int:
    return len(module.code)


def _docstrings(module: Module) -> int:
    return len(module.docstrings)


if __name__ == "__main__":
    print(page())
