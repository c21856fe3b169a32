"""Two receptionists with the same bottles in hand: nothing is lost, nothing is counted twice."""

from __future__ import annotations

import threading
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection

from intake import record
from intake.actions import registering
from intake.actions.checking import check_bottle
from intake.choices import Role
from intake.errors import AlreadyDone, SomebodyWasFaster
from intake.models import BenchCheck, Bottle, RecordEntry
from intake.states import BottleState
from tests.bench.bench import SEEN
from tests.factories import ENTERED, RECEIVED, draft, opened, sample, sent

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def box(submitter, reception, group, rulebook):
    """An open arrival of one consignment with eight samples, two bottles each."""
    consignment = sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(8)))
    return opened(reception, consignment)


def at_once(*tasks):
    """Run ``tasks`` in threads that start together; what each returned, or the fault it met."""
    gate, found = threading.Barrier(len(tasks)), [None] * len(tasks)

    def run(place, task):
        try:
            gate.wait()
            found[place] = task()
        except Exception as fault:
            found[place] = fault
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(tasks)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    for one in found:
        if isinstance(one, Exception):
            raise one
    return found


def scanner(person, arrival, bottles, told, token=""):
    """Scans ``bottles``, as they were read beforehand, one after the other."""

    def scan():
        done = []
        for bottle in bottles:
            key = f"{token}{bottle.number}" if token else ""
            try:
                check_bottle(bottle, arrival, by=person, at=RECEIVED, seen=SEEN, in_order=True, token=key)
                done.append(bottle.number)
            except (SomebodyWasFaster, AlreadyDone) as refused:
                told.append(str(refused))
        return done

    return scan


def read_anew():
    return list(Bottle.objects.select_related("consignment", "sample", "arrival").order_by("sample", "pk"))


def assert_sound(count):
    assert BenchCheck.objects.filter(undone_at__isnull=True).count() == count
    assert RecordEntry.objects.filter(verb="bottle.check").count() == count
    assert set(Bottle.objects.values_list("state", flat=True)) == {BottleState.READY}
    assert list(record.faults()) == []
    out = StringIO()
    call_command("rejudge", "--dry-run", stdout=out)
    assert "8 samples compared, 0 differ." in out.getvalue()


@pytest.mark.parametrize("backwards", [False, True])
def test_the_same_bottles_scanned_by_two_at_once(box, reception, person, backwards):
    other = person("Rita Reception", Role.RECEPTION)
    told = []
    theirs = read_anew()
    found = at_once(
        scanner(reception, box, read_anew(), told),
        scanner(other, box, theirs[::-1] if backwards else theirs, told),
    )
    assert sorted(found[0] + found[1]) == sorted(bottle.number for bottle in theirs)
    assert_sound(16)
    assert len(told) == 16
    assert all("Somebody else dealt with bottle" in sentence for sentence in told)


def test_the_two_bottles_of_each_sample_scanned_at_once_are_judged_together(box, reception, person):
    """Each judgement is made of both bottles: the second must not be made from what was before."""
    other = person("Rita Reception", Role.RECEPTION)
    bottles = read_anew()
    found = at_once(scanner(reception, box, bottles[::2], []), scanner(other, box, bottles[1::2], []))
    assert len(found[0]) == len(found[1]) == 8
    assert_sound(16)


def test_one_scan_sent_many_times_at_once_takes_effect_once(box, reception):
    told = []
    bottles = read_anew()
    found = at_once(*(scanner(reception, box, read_anew(), told, token="scan-") for _ in range(4)))
    assert sorted(number for done in found for number in done) == sorted(b.number for b in bottles)
    assert len(told) == 3 * 16
    assert_sound(16)


def test_twenty_who_enter_samples_at_once_get_numbers_of_their_own(submitter, group, rulebook):
    consignments = [draft(submitter, group, rulebook) for _ in range(20)]
    entries = [sample(f"S{n}") for n in range(10)]

    def enter(consignment):
        return lambda: registering.enter_samples(
            consignment, entries, by=submitter, at=ENTERED, version=consignment.version
        )

    at_once(*(enter(one) for one in consignments))
    numbers = list(Bottle.objects.values_list("number", flat=True))
    assert len(numbers) == len(set(numbers)) == 20 * 10 * 2
    assert list(record.faults()) == []
