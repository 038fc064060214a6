"""One key at a time from a terminal, and a page at a time to it; the terminal is left as it was found."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from collections.abc import Iterator, Sequence

BACK, MORE, DONE, NEXT, PREVIOUS, END = "back", "more", "done", "next", "previous", "end"
_NAMED = {
    "\x7f": BACK, "\b": BACK, "\r": DONE, "\n": DONE, " ": MORE, "\x04": END, "\x1b[D": PREVIOUS, "\x1b[A": PREVIOUS,
    "\x1b[C": NEXT, "\x1b[B": NEXT, "\x1bOC": NEXT, "\x1bOB": NEXT, "\x1bOD": PREVIOUS, "\x1bOA": PREVIOUS, "\t": NEXT,
}  # fmt: skip
# Seconds after which a changed size of the window is looked for.
_LOOK_UP = 0.4
_STRONG, _PLAIN = "\x1b[1m", "\x1b[0m"
_OWN_SCREEN, _OLD_SCREEN, _HOME = "\x1b[?1049h", "\x1b[?1049l", "\x1b[H\x1b[2J"
# Between these a terminal that knows them holds its picture still, so that no half of a page is ever seen; others
# pass over a mode they do not know.
_HOLD, _LET_GO = "\x1b[?2026h", "\x1b[?2026l"


class Terminal:
    """A terminal that is held for one session: `with Terminal() as screen`.

    Bold is all it uses, and not even that where `TERM` is dumb; colour is never used, so NO_COLOR asks for nothing.
    """

    def __init__(self) -> None:
        self.is_dumb = os.environ.get("TERM", "") in ("", "dumb")
        self.has_signs = _can_write("\u28ff")
        self._shown: tuple[str, ...] | None = None

    def __enter__(self) -> Terminal:
        self._stack = contextlib.ExitStack()
        self._stack.enter_context(_one_key_at_a_time())
        if not self.is_dumb:
            sys.stdout.write(_OWN_SCREEN)
        return self

    def __exit__(self, *_: object) -> None:
        if not self.is_dumb:
            sys.stdout.write(_OLD_SCREEN)
        sys.stdout.flush()
        self._stack.close()

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows."""
        found = shutil.get_terminal_size((80, 24))
        return found.columns, found.lines

    def show(self, lines: Sequence[str]) -> None:
        """A whole page in place of the last one. A line that starts with `*` is strong."""
        told = "\n".join(self._strong(line[1:]) if line.startswith("*") else line for line in lines)
        sys.stdout.write(told + "\n" if self.is_dumb else _HOLD + _HOME + told + _LET_GO)
        sys.stdout.flush()

    def _strong(self, text: str) -> str:
        return text if self.is_dumb else f"{_STRONG}{text}{_PLAIN}"

    def key(self) -> str | None:
        """A key by its sign, or one of the names above; None when the window changed its size meanwhile."""
        before = self.size
        while True:
            found = _read_key(_LOOK_UP)
            if found is not None:
                return _NAMED.get(found, found)
            if self.size != before:
                return None


def _can_write(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


if sys.platform == "win32":  # pragma: no cover - not to be had where we test
    import msvcrt
    import time

    @contextlib.contextmanager
    def _one_key_at_a_time() -> Iterator[None]:
        os.system("")  # switches on escape sequences in older consoles
        yield

    def _read_key(seconds: float) -> str | None:
        end = time.monotonic() + seconds
        while not msvcrt.kbhit():
            if time.monotonic() > end:
                return None
            time.sleep(0.02)
        sign = msvcrt.getwch()
        if sign in "\x00\xe0":
            return {"H": "\x1b[A", "P": "\x1b[B", "K": "\x1b[D", "M": "\x1b[C"}.get(msvcrt.getwch(), "")
        if sign == "\x03":
            raise KeyboardInterrupt
        return sign

else:
    import select
    import termios
    import tty

    @contextlib.contextmanager
    def _one_key_at_a_time() -> Iterator[None]:
        handle = sys.stdin.fileno()
        before = termios.tcgetattr(handle)
        try:
            # Control-C still ends it.
            tty.setcbreak(handle)
            yield
        finally:
            termios.tcsetattr(handle, termios.TCSADRAIN, before)

    def _read_key(seconds: float) -> str | None:
        handle = sys.stdin.fileno()
        if not select.select([handle], [], [], seconds)[0]:
            return None
        found = os.read(handle, 1)
        if not found:
            return "\x04"  # the terminal went away
        # The rest of one sign or of one escape sequence, never of the next key: answers may be typed ahead.
        wanted = 3 if found == b"\x1b" else len(_follows(found[0]))
        while wanted and select.select([handle], [], [], 0.03)[0]:
            more = os.read(handle, 1)
            found += more
            wanted -= 1
            if found[:1] == b"\x1b" and len(found) > 1 and _ends_sequence(found):
                break
        return found.decode("utf-8", "replace")

    def _ends_sequence(found: bytes) -> bool:
        """Whether an escape sequence is whole: its letter is there, or it is none."""
        return found[1:2] not in (b"[", b"O") or (len(found) > 2 and found[-1:].isalpha())

    def _follows(first: int) -> range:
        """As many as bytes follow the first one of a sign in UTF-8."""
        return range(0 if first < 0xC0 else 1 if first < 0xE0 else 2 if first < 0xF0 else 3)
