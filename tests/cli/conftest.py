"""A command run in this process: its exit code, and what it printed on each stream."""

from __future__ import annotations

import pytest

from tepal.cli import main


@pytest.fixture
def run(capsys):
    def _run(*arguments):
        code = main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return code, said.out, said.err

    return _run
