"""The methods pages: every worked example holds in the code, every page is shown, and each says units and sources."""

from __future__ import annotations

import doctest
import json
import re
from pathlib import Path

import pytest

from wearplan import methods
from wearplan.cli.main import main
from wearplan.tui.actions import TASKS


@pytest.mark.parametrize("page", methods.pages(), ids=lambda page: page.name)
def test_every_worked_example_is_what_the_code_gives(page):
    # one page is one session: later examples use what earlier ones named
    code = "\n".join(re.findall(r"```python\n(.*?)```", page.text, re.DOTALL))
    test = doctest.DocTestParser().get_doctest(code, {}, page.name, f"{page.name}.md", 0)
    told: list[str] = []
    result = doctest.DocTestRunner(verbose=False).run(test, out=told.append)
    assert not result.failed, "".join(told)
    assert result.attempted or page.name == "not-modelled"


@pytest.mark.parametrize("page", methods.pages(), ids=lambda page: page.name)
def test_every_example_says_its_numbers_in_words_too(page):
    assert page.text.count("```python") == len(re.findall(r"^Example: ", page.text, re.MULTILINE))
    assert page.title
    assert "safe" not in re.sub(r"says that a place is safe", "", page.text)


def test_the_examples_are_seen_to_fail_where_the_code_says_otherwise():
    wrong = methods.page("repair").text.replace("(3, 36.0)", "(2, 24.0)")
    code = "\n".join(re.findall(r"```python\n(.*?)```", wrong, re.DOTALL))
    test = doctest.DocTestParser().get_doctest(code, {}, "wrong", "wrong", 0)
    assert doctest.DocTestRunner(verbose=False).run(test, out=lambda _: None).failed == 1


def test_the_pages_named_in_text_are_there():
    for page in methods.pages():
        for name in re.findall(r'page "([a-z-]+)"', page.text):
            assert name in methods.NAMES
    assert set(methods.OF_TASK) <= set(TASKS)
    with pytest.raises(KeyError):
        methods.page("../pyproject")


def test_the_readme_links_every_page():
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    linked = re.findall(r"\]\((wearplan/methods/[\w-]+\.md)\)", text)
    assert [Path(link).stem for link in linked] == list(methods.NAMES)


def test_the_command_lists_and_shows_them(capsys):
    assert main(["methods"]) == 0
    listed = capsys.readouterr().out
    assert [line.split()[0] for line in listed.splitlines()] == list(methods.NAMES)
    assert main(["methods", "plan"]) == 0
    assert capsys.readouterr().out.startswith("# Planning, and its gap")
    assert main(["methods", "nothing"]) == 2
    assert "wear-and-bands" in capsys.readouterr().err
    assert main(["methods", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["pages"]) == len(methods.NAMES)


def test_unwrapping_keeps_formulas_and_lists():
    text = methods.unwrapped("one\ntwo\n\n    a = b\n\n- first\n  goes on\n- second\n# head\nthree")
    assert text.splitlines() == ["one two", "", "    a = b", "", "- first goes on", "- second", "# head", "three"]
    assert ">>>" not in methods.without_code(methods.page("planning").text)
