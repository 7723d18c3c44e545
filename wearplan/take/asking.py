"""Questions that cells cannot answer, and the answers kept in take.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wearplan.take.files.book import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing only the site can say."""

    name: str
    """Stable: the key of its answer in ``[answers]`` of take.toml."""
    sentence: str
    choices: tuple[str, ...]
    """Words to answer by; empty where the answer is free, as ``form`` says."""
    form: str = "choice"
    """``choice``, ``number``, ``text`` or ``table``."""
    count: int = 1
    example: Mapping[str, Any] = field(default_factory=dict)
    suggested: str | None = None
    about: str = "cells"
    """``meaning`` (asked once for many cells), ``cell`` (one odd cell) or ``site`` (a fact no file holds)."""
    holds: tuple[str, ...] = ()
    """What is not written until it is answered: ``layout``, ``rings``, ``stops``, ``ground``, ``store``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What became of one odd cell, or of something left out."""

    duty: str
    """``taken``, ``asked``, ``refused`` or ``left out``."""
    file: str
    sheet: str
    cell: str
    shown: str
    what: str


class Answers:
    """The answers given so far; asks for the others."""

    def __init__(self, given: Mapping[str, Any] | None = None, *, accept: bool = False) -> None:
        self.given = dict(given or {})
        self.accept = accept
        self.questions: dict[str, Question] = {}
        self.settled: dict[str, str] = {}
        """Questions that the files themselves answered, with where."""
        self.findings: list[Finding] = []
        self.used: dict[str, Any] = {}

    def ask(self, name: str, sentence: str, choices: Sequence[str] = (), **more: Any) -> Any:
        """The answer, or None with the question noted; with ``accept`` what is suggested counts as answered."""
        if name in self.given and fits(self.given[name], choices, more.get("form", "choice"), more.get("about", "")):
            self.used[name] = self.given[name]
            return self.given[name]
        question = Question(name=name, sentence=sentence, choices=tuple(choices), **more)
        if self.accept and question.suggested is not None:
            self.used[name] = question.suggested
            return question.suggested
        self.questions.setdefault(name, question)
        return None

    def settle(self, name: str, value: Any, why: str) -> Any:
        """A question that the files answer; an answer in take.toml goes before it."""
        if name in self.given:
            self.used[name] = self.given[name]
            return self.given[name]
        self.settled[name] = f"{value}: {why}"
        return value

    def note(self, duty: str, sheet: Sheet | None, row: int, column: int, what: str, shown: str | None = None) -> None:
        """What became of a cell."""
        if sheet is None:
            self.findings.append(Finding(duty=duty, file="", sheet="", cell="", shown=shown or "", what=what))
            return
        text = shown if shown is not None else sheet.text(row, column)
        address = f"line {row}, {sheet.address(row, column)}" if sheet.lines else sheet.address(row, column)
        self.findings.append(
            Finding(
                duty=duty, file=sheet.file, sheet="" if sheet.lines else sheet.name, cell=address, shown=text, what=what
            )
        )

    def ask_cell(
        self,
        sheet: Sheet,
        row: int,
        column: int,
        sentence: str,
        choices: Sequence[str],
        suggested: str | None,
        **more: Any,
    ) -> Any:
        """A question about one odd cell; it is named by sheet and address."""
        name = f"{sheet.name}!{sheet.address(row, column)}"
        cell = sheet.at(row, column)
        shown = cell.text if cell is not None else ""
        answer = self.ask(
            name,
            sentence,
            choices,
            about="cell",
            suggested=suggested,
            example={"file": sheet.file, "sheet": sheet.name, "cell": sheet.address(row, column), "shown": shown},
            **more,
        )
        said = f"{sentence} Answered: {answer}." if answer is not None else sentence
        self.note("asked", sheet, row, column, said)
        return answer


def fits(value: Any, choices: Sequence[str], form: str, about: str) -> bool:
    """Whether a value can be the answer: a choice, a table of names, free text or a number where that is asked.

    For an odd cell a number may be given besides the choices.
    """
    if isinstance(value, dict):
        return True
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if form == "number":
        return number
    if form == "text":
        return bool(str(value).strip())
    return str(value) in choices or (
        about == "cell" and (number or re.fullmatch(r"\d+(\.\d+)?", str(value)) is not None)
    )


def example_of(sheet: Sheet, row: int, column: int) -> dict[str, str]:
    """A cell as the example of a question."""
    return {
        "file": sheet.file,
        "sheet": sheet.name,
        "cell": sheet.address(row, column),
        "shown": sheet.text(row, column),
    }


def read_answers(path: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """``[answers]`` and ``[site]`` of a take.toml; `ValueError` where it is none."""
    try:
        data = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError) as error:
        raise ValueError(f"{path} cannot be read: {error}") from error
    answers, site = data.get("answers", {}), data.get("site", {})
    unknown = set(data) - {"answers", "site", "takes"}
    if unknown or not isinstance(answers, dict) or not isinstance(site, dict):
        raise ValueError(f"{path}: only [answers] and [site] stand in it, not {', '.join(sorted(unknown)) or 'these'}")
    return answers, site


def answers_toml(answers: Answers, site: Mapping[str, Any]) -> str:
    """The answers as the text of a take.toml, with what is still open as commented lines."""
    import tomli_w

    lines = [
        "# What the site's engineer answered when the office's files were taken in. `wearplan take` reads it again.",
        "",
    ]
    kept = {**{k: v for k, v in answers.given.items() if v not in (None, "")}, **answers.used}
    lines.append(tomli_w.dumps({"answers": kept}) if kept else "[answers]\n")
    for question in answers.questions.values():
        if question.about == "site":
            continue
        lines.append(f"# {question.sentence}")
        if question.choices:
            lines.append("#   one of: " + " | ".join(question.choices))
        lines.append("# " + tomli_w.dumps({question.name: question.suggested or "?"}).strip())
    if site:
        lines += ["", tomli_w.dumps({"site": dict(site)})]
    return "\n".join(lines) + "\n"
