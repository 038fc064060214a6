"""The commands, gathered; and one exit for every refusal."""

from __future__ import annotations

import errno
import gc
import importlib
import io
import os
import pkgutil
import shlex
import sys
from collections.abc import Callable, Sequence
from inspect import Parameter
from typing import Any

import cyclopts

import tepal.cli as _cli
from tepal import __version__
from tepal.cli import _out
from tepal.tables import Refused

app = cyclopts.App(
    name="tepal",
    help="A county's weed record that reckons: which pigweed, how sure, how many, how long, what to tell the grower.",
    version=__version__,
    version_flags=["--version"],
    result_action="return_value",
)

_INTERRUPTED = 130  # as shells have it: 128 and the number of the signal
# A full disk, a folder that may not be written to: nothing that a change of ours would mend.
_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM}


def _register() -> None:
    # One module a command, with a function of the same name: a new command is a new file.
    for name in sorted(module.name for module in pkgutil.iter_modules(_cli.__path__)):
        if not name.startswith("_"):
            command: Callable[..., Any] = getattr(importlib.import_module(f"tepal.cli.{name}"), name)
            app.command(command, name=name)


def main(arguments: Sequence[str] | None = None) -> int:  # noqa: PLR0911 - one exit for each way it can end
    """Run one command; the exit code: 0 done, 1 done in part, 2 refused, 70 a fault of ours."""
    if arguments is None:
        # A command builds many lasting records and ends: looking for rubbish seldom saves a fifth of a large `take`.
        gc.set_threshold(100_000, 50, 100)
        # Our matrices are small: threads of the number library would wait for each other longer than they work.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _register_once()
    tokens = list(sys.argv[1:] if arguments is None else arguments)
    if arguments is None:
        _write_any_sign("--json" in tokens)
    try:
        result = app(tokens or ["--help"], exit_on_error=False, print_error=False)
        if sys.stdout is not None:  # None where the caller closed it
            sys.stdout.flush()
    except Refused as refusal:
        _out.warn(str(refusal))
        return _out.REFUSED
    except cyclopts.CycloptsError as problem:
        told = _words_of(problem, tokens)
        _out.warn(f"{told} Try `tepal {tokens[0]} --help`." if tokens[0] in app else f"{told} Try `tepal --help`.")
        return _out.REFUSED
    except BrokenPipeError:
        # The reader of our output went away (`tepal … | head`): not an error of ours.
        _print_no_more()
        return _out.DONE
    except SystemExit as left:
        if left.code == _INTERRUPTED:  # the parser of the command line has made an exit of Ctrl-C
            _out.warn("Stopped by you; what was not finished was not written.")
            return _INTERRUPTED
        # The printer of help leaves with 1 where its reader has gone, and has seen to the rest.
        return _out.DONE if left.code == 1 and (not tokens or {"--help", "-h"} & set(tokens)) else _out.FAULT
    except KeyboardInterrupt:
        _out.warn("Stopped by you; what was not finished was not written.")
        return _INTERRUPTED
    except Exception as bug:  # a fault of ours must not look like "done in part"
        if os.environ.get("TEPAL_DEBUG"):
            raise
        return _told_of(bug)
    return int(result) if isinstance(result, int) else _out.DONE


def _told_of(bug: Exception) -> int:
    """One line on what went wrong; the exit code."""
    if isinstance(bug, OSError) and bug.errno in _NO_ROOM:
        if bug.filename is None:
            _print_no_more()
        _out.warn(
            f"{bug.strerror} ({bug.filename or 'what is printed'}). Room and the right to write are needed. "
            "Make room, or give another place."
        )
        return _out.REFUSED
    _out.warn(
        f"A fault in tepal: {type(bug).__name__}: {bug}. Nothing was half-written. Set TEPAL_DEBUG=1 to see where."
    )
    return _out.FAULT


def _print_no_more() -> None:
    """What waits to be printed has nowhere to go; Python would try again, and fail aloud, as it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _write_any_sign(as_json: bool) -> None:
    """JSON is UTF-8 wherever it is printed; of the rest a terminal that lacks a sign shows a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.encoding.casefold().replace("-", "") != "utf8":
            stream.reconfigure(encoding="utf-8" if as_json else None, errors="replace")


_registered = False


def _register_once() -> None:
    global _registered  # noqa: PLW0603 - the commands are gathered once a process
    if not _registered:
        _register()
        _registered = True


def _words_of(problem: cyclopts.CycloptsError, tokens: Sequence[str]) -> str:
    text = " ".join(str(problem).split())
    if isinstance(problem, cyclopts.MissingArgumentError) and problem.argument and "Did you mean" not in text:
        return _missing(problem.argument, tokens)
    return text if text.endswith((".", "?", "!")) else f"{text}."


def _missing(argument: cyclopts.Argument, tokens: Sequence[str]) -> str:
    """What is missing, named as the help names it; and how a value is written that looks like an option."""
    name = argument.name
    after = tokens[tokens.index(name) + 1 :] if name in tokens else ()
    if after and after[0].startswith("-") and not after[0].startswith("--"):
        return f"{name} {after[0]!r} looks like an option. Write it as {name}={shlex.quote(after[0])}."
    if argument.field_info.kind in {Parameter.POSITIONAL_ONLY, Parameter.POSITIONAL_OR_KEYWORD} and name not in tokens:
        return f"{name.lstrip('-').upper()} is missing."
    return f"{name} needs a value." if name in tokens else f"{name} is missing."
