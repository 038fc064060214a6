"""The server in a process of its own, forked from one that has imported everything: killed, it is soon back."""

from __future__ import annotations

import multiprocessing
import os
from multiprocessing import forkserver
from pathlib import Path

# Imported here for the process that is forked.
import uvicorn.protocols.http.h11_impl  # noqa: F401

import tepal.advice
import tepal.cli.serve
import tepal.reading
import tepal.serve  # noqa: F401

FORKS = multiprocessing.get_context("forkserver")


def get_ready() -> None:
    """Start the process that is forked from; it has to know where the tests lie before it imports anything."""
    FORKS.set_forkserver_preload([__name__])
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, (str(Path(__file__).resolve().parents[1]), before)))
    try:
        forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before


def run(ledger: Path, port: int, log: Path) -> None:
    """`tepal serve`, as the command does it, what it says going to a file."""
    from tepal.cli import main

    os.setsid()
    said = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    os.dup2(said, 1)
    os.dup2(said, 2)
    main(["serve", "--ledger", str(ledger), "--port", str(port), "--office", "Larkmoor County"])
