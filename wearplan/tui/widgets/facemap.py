"""The face of the wheel on the screen: marks at their places, one selected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive

from wearplan.report.drawing.face import Face, Mark, lay_out, wheel_sheet
from wearplan.tui.widgets.drawn import Drawn


class FaceMap(Drawn, can_focus=True):
    """The wheel, seen from the machine, to scale."""

    HELP = (
        "The face of the wheel, to scale, seen from the machine. Arrows go from tool to tool, digits then Enter pick a "
        "number, a click picks what is under it. S changes what the marks say, P shows wear from the centre to the "
        "gauge, I tells what the signs mean."
    )
    selected: reactive[int] = reactive(0, repaint=False)

    class Picked(Message):
        """Another place was picked."""

        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

    def __init__(self, *, id: str, classes: str | None = None, size: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._marks: tuple[Mark, ...] = ()
        self._bore_radius_mm = 1.0
        self._arms: Mapping[str, float] = {}
        self._links: Sequence[tuple[int, int]] = ()
        self._plain = False
        self._long = size
        self.face: Face | None = None

    def show(
        self,
        marks: Sequence[Mark],
        bore_radius_mm: float,
        *,
        arms: Mapping[str, float],
        links: Sequence[tuple[int, int]] = (),
        plain: bool = False,
    ) -> None:
        """Show marks; laid out anew only when they or the size changed."""
        given = (tuple(marks), bore_radius_mm, arms, links, plain)
        if given == (self._marks, self._bore_radius_mm, self._arms, self._links, self._plain) and self._fits():
            return
        self._marks, self._bore_radius_mm, self._arms, self._links, self._plain = given
        self._lay_out()

    def _fits(self) -> bool:
        return self.face is not None and (self.face.width, self.face.height) == (self.size.width, self.size.height)

    def on_resize(self) -> None:
        self._lay_out()

    def _lay_out(self) -> None:
        if not self._marks or self.size.width < 12 or self.size.height < 5:
            return
        self.face = lay_out(
            self._marks, bore_radius_mm=self._bore_radius_mm, width=self.size.width, height=self.size.height,
            size=self._long,
        )  # fmt: skip
        self._put()

    def _put(self) -> None:
        if self.face is not None:
            self.draw(
                wheel_sheet(self.face, arms=self._arms, links=self._links, picked=self.selected, plain=self._plain)
            )

    def get_content_width(self, container: Size, viewport: Size) -> int:
        return container.width

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return container.height

    def watch_selected(self, before: int, after: int) -> None:
        self._put()

    def pick(self, number: int) -> None:
        """Select a place and say so."""
        if number != self.selected:
            self.selected = number
            self.post_message(self.Picked(number))

    def step(self, down: int, right: int) -> None:
        """To the next tool in a direction."""
        if self.face is not None:
            self.pick(self.face.neighbour(self.selected, down, right))

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if self.face is None or offset is None:
            return
        found = self.face.at(offset.y, offset.x)
        if found is not None:
            self.pick(found)
