"""Opens a file by what its bytes are, not by its ending."""

from __future__ import annotations

import hashlib
import zipfile
from pathlib import Path

from wearplan.take.files.book import Book, NotRead, Tell

MOST_BYTES = 200_000_000
MOST_UNPACKED = 1_500_000_000
MOST_RATIO = 400
MOST_PARTS = 5000
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def open_book(path: Path, tell: Tell | None = None) -> Book:
    """One file as a book.

    Raises
    ------
    NotRead
        With the cause and the way out: locked, half written, a zip bomb, changed while it was read ...
    """
    try:
        before = path.stat()
        if before.st_size > MOST_BYTES:
            raise NotRead(f"{path.name} has {before.st_size // 1_000_000} MB; {MOST_BYTES // 1_000_000} may be")
        with path.open("rb") as file:  # never more: a device has no end
            content = file.read(MOST_BYTES + 1)
        after = path.stat()
    except OSError as error:
        raise NotRead(f"{path.name} cannot be read: {error.strerror or error}") from error
    if (before.st_mtime_ns, before.st_size) != (after.st_mtime_ns, after.st_size) or len(content) != after.st_size:
        raise NotRead(f"{path.name} was changed while it was read; close it in the other program and read it again")
    sha = hashlib.sha256(content).hexdigest()
    if not content.strip():
        raise NotRead(f"{path.name} is empty")
    if content.startswith(_OLE):
        raise NotRead(
            f"{path.name} is locked with a password or of the old .xls form; save it as .xlsx without a password"
        )
    if content.startswith(b"PK"):
        return _zipped(path, content, sha, tell)
    if b"\0" in content[:4000] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise NotRead(f"{path.name} is no workbook and no text; give XLSX, ODS, CSV or AGS 4")
    from wearplan.take.files.delimited_text import text_book

    return text_book(path.name, content, sha)


def _zipped(path: Path, content: bytes, sha: str, tell: Tell | None) -> Book:
    import io

    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, EOFError) as error:
        raise NotRead(f"{path.name} is half written or damaged ({error}); save it again and close it") from error
    _no_bomb(path.name, parts, len(content))
    names = {part.filename for part in parts}
    try:
        if "xl/workbook.xml" in names:
            from wearplan.take.files.xlsx import xlsx_book

            return xlsx_book(path.name, archive, content, sha, tell)
        if "content.xml" in names:
            from wearplan.take.files.ods import ods_book

            return ods_book(path.name, archive, sha)
    except (zipfile.BadZipFile, EOFError, KeyError, ValueError, RuntimeError, NotImplementedError) as error:
        raise NotRead(f"{path.name} cannot be read ({error}); save it again in an office program") from error
    if "xl/workbook.bin" in names:
        raise NotRead(f"{path.name} is of the binary form .xlsb; save it as .xlsx")
    raise NotRead(f"{path.name} is a zip archive but no workbook; unpack it and give the files in it")


def _no_bomb(name: str, parts: list[zipfile.ZipInfo], packed: int) -> None:
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED or unpacked > MOST_RATIO * packed + 10_000_000:
        raise NotRead(f"{name} would unpack to {unpacked // 1_000_000} MB in {len(parts)} parts: not opened")
    if any(part.flag_bits & 1 for part in parts):
        raise NotRead(f"{name} is locked with a password; save it without one")
