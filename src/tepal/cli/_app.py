"""The commands, gathered; and one exit for every refusal."""

from __future__ import annotations

import gc
import importlib
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
    if not tokens:
        app.help_print([])
        return _out.DONE
    try:
        result = app(tokens, exit_on_error=False, print_error=False)
    except Refused as refusal:
        _out.warn(str(refusal))
        return _out.REFUSED
    except cyclopts.CycloptsError as problem:
        told = _words_of(problem, tokens)
        _out.warn(f"{told} Try `tepal {tokens[0]} --help`." if tokens[0] in app else f"{told} Try `tepal --help`.")
        return _out.REFUSED
    except BrokenPipeError:
        # The reader of our output went away (`tepal … | head`): not an error of ours.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _out.DONE
    except KeyboardInterrupt:
        _out.warn("Stopped by you; what was not finished was not written.")
        return 130
    except Exception as bug:  # a fault of ours must not look like "done in part"
        if os.environ.get("TEPAL_DEBUG"):
            raise
        _out.warn(
            f"A fault in tepal: {type(bug).__name__}: {bug}. Nothing was half-written. Set TEPAL_DEBUG=1 to see where."
        )
        return _out.FAULT
    return int(result) if isinstance(result, int) else _out.DONE


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
