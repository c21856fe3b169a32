"""Writers of one process come one after the other, in the order they asked, and never wait in vain."""

import threading
import time

import pytest
from django.db import OperationalError, connection, transaction

from labqueue.sqlite3.base import Line

on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has many writers at once")


def until(true) -> None:
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end
        time.sleep(0.001)


def test_they_are_called_in_the_order_they_came():
    line, came = Line(), []
    assert line.join(1)

    def wait(name: int) -> None:
        assert line.join(10)
        came.append(name)
        line.leave()

    threads = []
    for name in range(6):
        threads.append(threading.Thread(target=wait, args=(name,)))
        threads[-1].start()
        until(lambda: len(line._waiting) == len(threads))
    line.leave()
    for thread in threads:
        thread.join(10)
    assert came == list(range(6))
    assert line.join(0), "and then it is nobody's turn"


def test_who_gives_up_is_not_called():
    line = Line()
    assert line.join(1)
    assert not line.join(0.01)
    line.leave()
    assert line.join(0)


def test_one_at_a_time_whatever_the_hurry():
    line, inside, most = Line(), [], []

    def hurry() -> None:
        for _ in range(200):
            assert line.join(10)
            inside.append(1)
            most.append(len(inside))
            inside.pop()
            line.leave()

    threads = [threading.Thread(target=hurry) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert (len(most), max(most)) == (1600, 1)


@on_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_turn_ends_with_its_transaction_however_that_ends():
    with transaction.atomic():
        assert connection._turn is not None
        with transaction.atomic():
            pass
        assert connection._turn is not None, "a savepoint is no end"
    assert connection._turn is None
    with pytest.raises(KeyError), transaction.atomic():
        raise KeyError
    assert connection._turn is None


@on_sqlite
@pytest.mark.django_db(transaction=True)
def test_who_waited_too_long_is_told_as_by_sqlite(monkeypatch):
    line = Line()
    assert line.join(1)
    monkeypatch.setattr("labqueue.sqlite3.base._lines", {str(connection.settings_dict["NAME"]): line})
    monkeypatch.setitem(connection.settings_dict["OPTIONS"], "timeout", 0.01)
    with pytest.raises(OperationalError, match="locked"), transaction.atomic():
        pass
    line.leave()
    with transaction.atomic():
        pass
