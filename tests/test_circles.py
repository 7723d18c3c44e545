"""No circle of imports, whether at the top of files, inside functions or for type checkers alone."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "wearplan"


def name_of(path: Path) -> str:
    parts = ["wearplan", *path.relative_to(ROOT).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


FILES = {name_of(path): path for path in ROOT.rglob("*.py")}


def imports(name: str, *, inside: bool, typed: bool) -> Iterator[str]:
    """Modules of the package that a file imports."""
    tree = ast.parse(FILES[name].read_text(encoding="utf-8"))
    package = name if FILES[name].name == "__init__.py" else name.rpartition(".")[0]

    def walk(node: ast.AST) -> Iterator[ast.AST]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) and not inside:
                continue
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test) and not typed:
                continue
            yield child
            yield from walk(child)

    for node in walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in FILES)
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            for alias in node.names:
                whole = f"{base}.{alias.name}"
                if whole in FILES:
                    yield whole
                elif base in FILES and FILES[base].name != "__init__.py":
                    yield base


def circles(graph: dict[str, set[str]]) -> set[frozenset[str]]:
    """Strongly connected parts of more than one file (Tarjan 1972)."""
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: set[frozenset[str]] = set()

    def visit(node: str) -> None:
        index[node] = low[node] = len(index)
        stack.append(node)
        for other in graph[node]:
            if other not in index:
                visit(other)
            if other in stack:
                low[node] = min(low[node], low[other])
        if low[node] == index[node]:
            part = set()
            while True:
                part.add(stack.pop())
                if node in part:
                    break
            if len(part) > 1:
                found.add(frozenset(part))

    for node in graph:
        if node not in index:
            visit(node)
    return found


@pytest.mark.parametrize(
    ("what", "inside", "typed"), [("top", False, False), ("with functions", True, False), ("with types", True, True)]
)
def test_no_circle(what: str, inside: bool, typed: bool) -> None:
    graph = {name: set(imports(name, inside=inside, typed=typed)) - {name} for name in FILES}
    assert sum(map(len, graph.values())) > 500
    assert not [sorted(circle) for circle in circles(graph)]
