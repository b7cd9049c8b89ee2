"""The collector stands still while many things are made, and goes on afterwards."""

from __future__ import annotations

import gc
import threading

import pytest

from layers.earth.unswept import unswept


def test_it_stands_still_until_the_last_is_through() -> None:
    assert gc.isenabled()
    with unswept():
        assert not gc.isenabled()
        with unswept():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()


def test_a_fault_lets_it_go_on() -> None:
    with pytest.raises(ZeroDivisionError), unswept():
        raise ZeroDivisionError
    assert gc.isenabled()


def test_who_had_it_off_keeps_it_off() -> None:
    gc.disable()
    try:
        with unswept():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_threads_beside_each_other_leave_it_on() -> None:
    def work() -> None:
        for _ in range(200):
            with unswept():
                pass

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert gc.isenabled()
