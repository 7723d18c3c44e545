"""Does the exit code say what stands on the disk? Random writes to a full disk, a read-only one, as a user without
rights, and with an output that is closed or full.

Run as root on Linux (it mounts a small file system in memory): ``python -m tests.studies.exit_codes 2000``.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.site import small_site
from wearplan.cli.main import main

SIZE = 512 * 1024
PLACES = ("sound", "full", "read-only", "no rights")
LOG = ("--yes", "--no-bands")
OUTPUTS = ("sound", "closed", "full")


def facts(folder: Path) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """What stands whole: rows of both logs that end, and records."""

    def rows(name: str) -> frozenset[str]:
        text = (folder / name).read_text(encoding="utf-8")
        return frozenset(text.split("\n")[1 : None if text.endswith("\n") else -1])

    records = frozenset(path.name for path in (folder / "inspections").glob("[!.]*.toml"))
    return rows("events.csv"), rows("sensors.csv"), records


def words_of(folder: Path, number: int, chance: random.Random, sheet: Path) -> list[str]:
    """One command line that writes one fact nobody wrote before."""
    kind = chance.choice(("event", "sensor", "log"))
    if kind == "event":
        return ["event", str(folder), "boulder", "--ring", str(chance.randint(5, 50)), "--note", f"number {number}"]
    at = f"2025-11-{19 + number % 40 // 24:02d}T{number % 24:02d}:{chance.randint(0, 59):02d}+00:00"
    if kind == "sensor":
        return ["sensor", str(folder), "3", "line proved", "--ring", "60", "--time", at]
    sheet.write_text(f"place,wear_mm,note\n1,{chance.randint(4, 9)},number {number}\n", encoding="utf-8")
    return ["log", str(folder), str(sheet), "--ring", "60", "--started", at, "--mode", "free air", *LOG]


def child(words: list[str], output: str, *, rights: bool) -> int:
    """One command line in a process of its own; its exit code."""
    pid = os.fork()
    if pid:
        return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    code = 99
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        if output == "closed":
            out, into = os.pipe()
            os.close(out)
        else:
            into = os.open("/dev/full" if output == "full" else os.devnull, os.O_WRONLY)
        os.dup2(into, 1)
        if not rights:
            os.setgid(65534)
            os.setuid(65534)
        code = main(words)
        sys.stdout.flush()
    finally:
        os._exit(code)


def warm(folder: Path, chance: random.Random, sheet: Path) -> None:
    """Load what the commands load, so that a user without rights need not read it."""
    for number in range(12):
        small_site.write(folder, dict(small_site.texts()))
        main(words_of(folder, number, chance, sheet))


def study(count: int, seed: int = 1) -> int:
    """Print what was tried; how often the exit code said something else than the disk."""
    chance, seen, wrong = random.Random(seed), Counter(), 0
    with tempfile.TemporaryDirectory() as home:
        os.environ["WEARPLAN_STATE_DIR"] = f"{home}/state"
        top, sheet = Path(home) / "disk", Path(home) / "sheet.csv"
        Path(home).chmod(0o755)
        top.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "none", str(top)], check=True)
        try:
            folder = small_site.write(top / "site", dict(small_site.texts()))
            warm(Path(home) / "warm", chance, sheet)
            for number in range(count):
                if number % 40 == 0:
                    subprocess.run(["rm", "-rf", str(folder)], check=True)
                    small_site.write(folder, dict(small_site.texts()))
                place, output = chance.choice(PLACES), chance.choice(OUTPUTS)
                words = words_of(folder, number, chance, sheet)
                before = facts(folder)
                if place == "full":
                    free = os.statvfs(top).f_bavail * os.statvfs(top).f_bsize
                    left = chance.choice((0, 0, 4096, 8192, 12288))
                    (top / "filler").write_bytes(b"x" * max(0, free - left))
                if place == "read-only":
                    subprocess.run(["mount", "-o", "remount,ro", str(top)], check=True)
                code = child(words, output, rights=place != "no rights")
                if place == "read-only":
                    subprocess.run(["mount", "-o", "remount,rw", str(top)], check=True)
                (top / "filler").unlink(missing_ok=True)
                after = facts(folder)
                new = sum(len(now - then) for now, then in zip(after, before, strict=True))
                lost = sum(len(then - now) for now, then in zip(after, before, strict=True))
                true = (code == 0) == (new == 1) and not lost and new <= 1
                seen[words[0], place, output, "written" if new else "not written", code] += 1
                if not true:
                    wrong += 1
                    print("WRONG", number, words, place, output, f"exit {code}, {new} new, {lost} lost")
        finally:
            subprocess.run(["umount", str(top)], check=False)
    for key, times in sorted(seen.items(), key=str):
        print(*key, times)
    print(f"{count} writes, {wrong} where the exit code said something else than the disk")
    return wrong


if __name__ == "__main__":
    sys.exit(1 if study(int(sys.argv[1]) if len(sys.argv) > 1 else 2000) else 0)
