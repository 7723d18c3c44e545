"""Where each key of a TOML text stands: a light index from a key's path to its line.

`tomllib` gives values without places. This reads the same text once more, only where a place is asked for, and
trusts that `tomllib` has found it well formed.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]
"""Such as ``("section", 3, "mix", "SG")``; numbers count the items of an array from 0."""

_DEEPEST = 32
_TOKEN = re.compile(
    r"(?P<blank>[ \t\r]+|\#[^\n]*)|(?P<newline>\n)"
    r'|(?P<text>"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\')'
    r'|(?P<mark>[\[\]{}=,.])|(?P<bare>[^\s\#\[\]{}=,."\']+)|(?P<other>.)',
    re.DOTALL,
)
_HEADER = re.compile(r'^[ \t]*\[\[[ \t]*"?([A-Za-z0-9_-]+)"?[ \t]*\]\]', re.MULTILINE)


def header_lines(text: str) -> dict[str, list[int]]:
    """Lines of the ``[[name]]`` headers by name; quick, and wrong only where a string or array looks like one."""
    found: dict[str, list[int]] = {}
    line, at = 1, 0
    for match in _HEADER.finditer(text):
        start = match.start(1)
        line += text.count("\n", at, start)
        at = start
        found.setdefault(match.group(1), []).append(line)
    return found


def _unquote(token: str) -> str:
    if token[:1] == "'":
        return token[1:-1]
    if token[:1] == '"':
        import tomllib

        return str(tomllib.loads(f"x = {token}")["x"])
    return token


class _Tokens:
    """The tokens of a text with their lines; blanks and comments are passed over."""

    def __init__(self, text: str) -> None:
        self._matches = _TOKEN.finditer(text)
        self._line = 1
        self.kind, self.token, self.line = "", "", 1
        self.step()

    def step(self) -> None:
        for match in self._matches:
            kind, token = match.lastgroup or "", match.group()
            here = self._line
            self._line += token.count("\n")
            if kind != "blank":
                self.kind, self.token, self.line = kind, token, here
                return
        self.kind, self.token = "end", ""

    def skip_newlines(self) -> None:
        while self.kind == "newline":
            self.step()

    def key(self) -> tuple[list[str], int]:
        """A dotted key; stops at what comes after it. What is deeper than any format goes is not kept."""
        line = self.line
        names: list[str] = []
        while self.kind in ("bare", "text"):
            if len(names) < _DEEPEST:
                names.append(_unquote(self.token))
            self.step()
            if self.token != ".":
                break
            self.step()
        return names, line


def index_lines(text: str) -> dict[Path, int]:
    """The line of every table, key and array item of a well-formed TOML text."""
    index: dict[Path, int] = {}
    last: dict[Path, int] = {}
    tokens = _Tokens(text)
    table: Path = ()
    while tokens.kind != "end":
        if tokens.kind == "newline":
            tokens.step()
        elif tokens.token == "[":
            tokens.step()
            array = tokens.token == "["
            if array:
                tokens.step()
            names, line = tokens.key()
            table = _resolve(names, last, array)
            index.setdefault(table, line)
            while tokens.kind not in ("newline", "end"):
                tokens.step()
        elif tokens.kind in ("bare", "text"):
            path = _note_key(tokens, table, index)
            _value(tokens, path, index)
        else:
            tokens.step()
    return index


def _resolve(names: list[str], last: dict[Path, int], array: bool) -> Path:
    """The path a header opens: names of arrays of tables are followed by the index of their latest table."""
    path: Path = ()
    for depth, name in enumerate(names):
        path = (*path, name)
        if array and depth == len(names) - 1:
            last[path] = last.get(path, -1) + 1
        if path in last:
            path = (*path, last[path])
    return path


def _note_key(tokens: _Tokens, table: Path, index: dict[Path, int]) -> Path:
    names, line = tokens.key()
    path = table
    for name in names:
        path = (*path, name)
        index.setdefault(path, line)
    if tokens.token == "=":
        tokens.step()
    return path


def _value(tokens: _Tokens, path: Path, index: dict[Path, int]) -> None:
    """Pass over one value, noting what is inside; without recursion, since depth is the writer's choice."""
    stack: list[tuple[str, Path, int]] = []
    while True:
        # here a value begins
        if tokens.token == "[" and tokens.kind == "mark":
            stack.append(("[", path, 0))
            tokens.step()
        elif tokens.token == "{" and tokens.kind == "mark":
            stack.append(("{", path, 0))
            tokens.step()
        else:
            while tokens.kind not in ("newline", "end") and tokens.token not in (",", "]", "}"):
                tokens.step()
        # here a value has ended or a container was opened: find the next value
        while stack:
            bracket, base, count = stack[-1]
            tokens.skip_newlines()
            if tokens.kind == "end":
                return
            if tokens.token in ("]", "}") and tokens.kind == "mark":
                stack.pop()
                tokens.step()
                continue
            if tokens.token == "," and tokens.kind == "mark":
                tokens.step()
                continue
            if bracket == "[":
                stack[-1] = (bracket, base, count + 1)
                path = (*base, count)
                index.setdefault(path, tokens.line)
            else:
                path = _note_key(tokens, base, index)
            break
        if not stack:
            return
