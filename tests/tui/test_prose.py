"""Numbers stay whole where the lines of a sentence end."""

from __future__ import annotations

import pytest
from textual.app import App, ComposeResult
from textual.content import Content

from tests.tui.pilot import drive, text_of
from wearplan.tui.widgets.prose import JOINER, Joiners, Prose

TEXT = (
    "least expected cost EUR 1 713 345, or EUR -2 000 at 12.5 mm and 1.1 bar; "
    "1 800 m of 3 000 m in 14 days, 18 entries, > 99 %"
)
WHOLE = ("EUR 1 713 345", "EUR -2 000", "12.5 mm", "1.1 bar", "1 800 m", "3 000 m", "14 days", "18 entries", "> 99 %")


class Page(App[None]):
    def __init__(self, words: str | Content) -> None:
        super().__init__()
        self._words = words
        self._filters.append(Joiners())

    def compose(self) -> ComposeResult:
        yield Prose(self._words, markup=False)


@pytest.mark.parametrize("width", range(16, 64, 7))
@pytest.mark.parametrize("styled", [False, True])
def test_numbers_keep_their_units(width: int, styled: bool) -> None:
    async def flow() -> None:
        app = Page(Content.styled(TEXT, "bold") if styled else TEXT)
        async with app.run_test(size=(width, 24)) as pilot:
            await pilot.pause()
            shown = text_of(app)  # type: ignore[arg-type]
            for whole in WHOLE:
                assert whole in shown
            assert JOINER not in shown
            assert JOINER not in app.export_screenshot()
            assert " ".join(shown.split()) == TEXT
            app.query_one(Prose).update("EUR 1 713 345")
            await pilot.pause()
            assert "EUR 1 713 345" in text_of(app)  # type: ignore[arg-type]

    drive(flow)


def test_what_is_selected_has_plain_blanks() -> None:
    async def flow() -> None:
        app = Page(TEXT)
        async with app.run_test(size=(30, 24)) as pilot:
            await pilot.pause()
            app.screen.text_select_all()
            assert (app.screen.get_selected_text() or "").strip() == TEXT

    drive(flow)
