"""Who carries out the blocks: the answers come in the order of the jobs, and this process works as well."""

from __future__ import annotations

import os
from threading import Event, Thread

import pytest

from tepal.years import InTurn, Processes
from tepal.years._executor import _start_method


def square(number: int) -> tuple[int, int]:
    return os.getpid(), number * number


def refuse(number: int) -> int:
    if number == 3:
        raise ValueError("three")
    return number


@pytest.mark.parametrize("jobs", [0, 1, 2, 9])
def test_answers_come_in_order(jobs):
    wanted = [number * number for number in range(jobs)]
    for runs in (InTurn(), Processes(1), Processes(3)):
        assert [answer for _, answer in runs.map(square, range(jobs))] == wanted


def test_this_process_works_too_and_an_error_is_told():
    who = {pid for pid, _ in Processes(2).map(square, range(20))}
    assert os.getpid() in who
    assert len(who) == 2
    with pytest.raises(ValueError, match="three"):
        list(Processes(2).map(refuse, range(6)))


def test_beside_another_thread_new_interpreters_are_started():
    """A copy made while a thread holds a lock could wait for it for ever."""
    stop = Event()
    other = Thread(target=stop.wait)
    other.start()
    try:
        assert _start_method() == "spawn"
        assert [answer for _, answer in Processes(2).map(square, range(4))] == [0, 1, 4, 9]
    finally:
        stop.set()
        other.join()
