"""The methods pages inside the page for the meeting, and the links to them."""

from __future__ import annotations

import html

from wearplan import methods

OF_SECTION = {
    "stops": ("planning", "repair"),
    "go-on": ("planning",),
    "store": ("demand",),
    "ahead": ("outlook",),
    "wheel": ("outlook",),
    "rates": ("wear-and-bands", "path-and-volume"),
    "sure": ("outlook", "not-modelled"),
}
"""By the section of the page, the methods that explain its numbers."""


def methods_html() -> str:
    """Every methods page, folded; the code of the examples is left to `wearplan methods`."""
    from markdown_it import MarkdownIt

    render = MarkdownIt("commonmark", {"html": False}).enable("table")
    parts = []
    for page in methods.pages():
        _, _, body = methods.without_code(page.text).partition("\n")
        told = render.render(body).replace("<h2>", "<h3>").replace("</h2>", "</h3>")
        parts.append(
            f'<details id="method-{page.name}"><summary>{html.escape(page.title)}</summary>'
            f'<div class="method">{told}</div></details>'
        )
    return "".join(parts)


def links_html(section: str) -> str:
    """The line that leads from a section to the methods behind it; nothing where there are none."""
    names = OF_SECTION.get(section, ())
    links = ", ".join(f'<a href="#method-{name}">{html.escape(methods.page(name).title)}</a>' for name in names)
    return f'<p class="note">How this is worked out: {links}.</p>' if links else ""
