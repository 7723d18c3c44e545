"""CSV of any separator, encoding and decimal sign as one sheet; AGS 4 is told by its first line."""

from __future__ import annotations

import re

from wearplan.site.parse.delimited import decoded, rows_of, separator_of
from wearplan.take.files.book import Book, Cell, NotRead, Sheet

MOST_CELLS = 3_000_000


def text_book(name: str, content: bytes, sha: str) -> Book:
    """A text file as a book of one sheet whose rows are its lines; an AGS file keeps its text."""
    text = decoded(content)
    if re.match(r'\s*"GROUP"\s*,', text):
        return Book(name, sha, (), ags=text)
    separator = separator_of(text)
    sheet = Sheet(name, name, lines=True)
    for row in rows_of(text, separator):
        for column, raw in enumerate(row.cells, start=1):
            bare = raw.replace("\u00a0", " ").strip()
            if bare:
                sheet.cells[row.line, column] = Cell(bare)
        if len(sheet.cells) > MOST_CELLS:
            raise NotRead(f"{name} has more than {MOST_CELLS:,} cells")
    if not sheet.cells:
        raise NotRead(f"{name} holds no cell")
    return Book(name, sha, (sheet,))
