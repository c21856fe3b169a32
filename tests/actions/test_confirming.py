"""Readings that look wrong are corrected or confirmed with a reason, at each limit of their rules.

EU GMP Annex 11 (2011), section 6: an additional check on critical data that are typed. Where the limits
come from stands beside each.
"""

from dataclasses import replace
from math import inf, nextafter

import pytest

from intake.actions.confirming import Unconfirmed, new_doubts
from intake.actions.registering import enter_samples
from intake.actions.sending import send_consignment
from intake.alike import findings_of
from intake.errors import EntryProblem
from intake.models import FindingRow, RecordEntry, Sample
from intake.rules.examples import SAMPLE
from intake.rules.facts import WaterKind
from intake.rules.floor import VALID_PH, needed_ec, usual_lowest_ec
from intake.rules.measured import HIGHEST_EC, POSSIBLE_PH, highest_alkalinity
from intake.rules.readings import (
    AIR_WATER_EC,
    POSSIBLE_TEMPERATURE_C,
    STRONGEST_ORDINARY_EC,
    USUAL_TEMPERATURE_C,
    WINDOWS,
)
from intake.telling import tell
from tests.factories import ENTERED, draft, sample, sent

pytestmark = pytest.mark.django_db
WHY = "read twice, meter calibrated that morning"
#: An EC that confirms any pH: of a brine that has no window.
BRINE = {"water_kind": "brine", "ec_value": 300_000.0}
#: Below, the temperature of the pH reading: warmer water asks for more.
COLD = {"water_kind": "unknown", "water_temperature_c": 9.5}


def below(limit: float) -> float:
    return nextafter(limit, -inf)


def above(limit: float) -> float:
    return nextafter(limit, inf)


def send(consignment, by, **more):
    return send_consignment(consignment, by=by, at=ENTERED, version=consignment.version, **more)


#: The last reading that goes without a reason, and the first that needs one.
LIMITS = {
    # The scale of pH; a note only within it, as long as EC does not speak against it (from memory).
    "pH 0": ({**BRINE, "ph": 0.0}, {**BRINE, "ph": below(0.0)}, "ph_extreme"),
    "pH 14": ({**BRINE, "ph": 14.0}, {**BRINE, "ph": above(14.0)}, "ph_extreme"),
    # Beyond pH 1 and 13 EC is held against the end of what the floor was proved for (PHREEQC speciation).
    "EC beside an extreme pH": (
        {**COLD, "ph": 0.9, "ec_value": needed_ec(VALID_PH[0], 2e4, 9.5)},
        {**COLD, "ph": 0.9, "ec_value": below(needed_ec(VALID_PH[0], 2e4, 9.5))},
        "ph_extreme",
    ),
    # Strong acids reach about 850 000 µS/cm (from memory).
    "highest EC": (
        {"water_kind": "brine", "ec_value": HIGHEST_EC},
        {"water_kind": "brine", "ec_value": above(HIGHEST_EC)},
        "ec_impossible",
    ),
    # Pure water that has met air, CRC Handbook; half of it is a unit slip.
    "EC of pure water in air": (
        {"water_kind": "unknown", "ph": None, "ec_value": AIR_WATER_EC},
        {"water_kind": "unknown", "ph": None, "ec_value": below(AIR_WATER_EC)},
        "ec_below_air_water",
    ),
    # Seawater of salinity 40: 59 734 µS/cm, TEOS-10.
    "the saltiest sea": (
        {"water_kind": "unknown", "ec_value": STRONGEST_ORDINARY_EC},
        {"water_kind": "unknown", "ec_value": above(STRONGEST_ORDINARY_EC)},
        "ec_very_high",
    ),
    # Ionic conductivities of H+ and OH-, CRC Handbook, with the slowest counter-ion.
    "EC for acid water": (
        {**COLD, "ph": 3.5, "ec_value": usual_lowest_ec(3.5, 9.5)},
        {**COLD, "ph": 3.5, "ec_value": below(usual_lowest_ec(3.5, 9.5))},
        "ec_low_for_ph",
    ),
    "EC for alkaline water": (
        {**COLD, "ph": 11.5, "ec_value": usual_lowest_ec(11.5, 9.5)},
        {**COLD, "ph": 11.5, "ec_value": below(usual_lowest_ec(11.5, 9.5))},
        "ec_low_for_ph",
    ),
    # Seawater freezes at -1.9 °C; compensation ends at 40 °C; common practice.
    "cold water": (
        {"water_temperature_c": USUAL_TEMPERATURE_C[0]},
        {"water_temperature_c": below(USUAL_TEMPERATURE_C[0])},
        "temperature_unusual",
    ),
    "warm water": (
        {"water_temperature_c": USUAL_TEMPERATURE_C[1]},
        {"water_temperature_c": above(USUAL_TEMPERATURE_C[1])},
        "temperature_unusual",
    ),
    # The most alkalinity that 420 µS/cm allows, PHREEQC speciation.
    "alkalinity": (
        {"alkalinity_meq_l": highest_alkalinity(replace(SAMPLE, ec_value=420.0))},
        {"alkalinity_meq_l": above(highest_alkalinity(replace(SAMPLE, ec_value=420.0)))},
        "alkalinity_above_ec",
    ),
}
# What is usual for each kind of water; common practice.
for kind, (low, high) in WINDOWS.items():
    code = "ec_below_air_water" if kind is WaterKind.PURE else "ec_unusual_for_kind"
    water = {"water_kind": kind.value}
    LIMITS[f"{kind.value}, low EC"] = ({**water, "ec_value": low}, {**water, "ec_value": below(low)}, code)
    LIMITS[f"{kind.value}, high EC"] = (
        {**water, "ec_value": high},
        {**water, "ec_value": above(high)},
        "ec_unusual_for_kind",
    )


@pytest.mark.parametrize(("inside", "outside", "code"), LIMITS.values(), ids=LIMITS)
def test_just_inside_goes_without_a_reason_and_just_outside_needs_one(
    submitter, group, rulebook, inside, outside, code
):
    fits = send(draft(submitter, group, rulebook, sample(**inside)), submitter)
    assert "readings confirmed" not in fits.record.get(verb="consignment.send").after
    doubted = draft(submitter, group, rulebook, sample(**outside))
    with pytest.raises(EntryProblem) as refused:
        send(doubted, submitter, reason=" ")
    assert "say why they are right" in refused.value.problems["reason"]
    doubted.refresh_from_db()
    assert doubted.is_draft
    send(doubted, submitter, reason=f" {WHY} ")
    told = doubted.record.get(verb="consignment.send")
    assert told.reason == WHY
    assert told.after["readings confirmed"] == [f"readings.{code}: S1"]
    assert Sample.objects.get(consignment=doubted).confirmed == {f"readings.{code}": WHY}


#: Both sides need a reason; the limit is where what is odd becomes impossible.
ODD_TO_IMPOSSIBLE = {
    # Water of a mine at Iron Mountain had pH -3.6; lye reaches about 15 (from memory).
    "lowest pH": ({**BRINE, "ph": POSSIBLE_PH[0]}, {**BRINE, "ph": below(POSSIBLE_PH[0])}),
    "highest pH": ({**BRINE, "ph": POSSIBLE_PH[1]}, {**BRINE, "ph": above(POSSIBLE_PH[1])}),
    # Pure water at 25 °C, handbooks.
    "lowest EC": (
        {"water_kind": "unknown", "ph": None, "ec_value": 0.055},
        {"water_kind": "unknown", "ph": None, "ec_value": below(0.055)},
    ),
    # Ionic conductivities, CRC Handbook, less the errors of both meters.
    "floor of pH 3": (
        {**COLD, "ph": 3.0, "ec_value": needed_ec(3.0, 200.0, 9.5)},
        {**COLD, "ph": 3.0, "ec_value": below(needed_ec(3.0, 200.0, 9.5))},
    ),
    # Calcium chloride brine and the critical point of water (from memory).
    "coldest": (
        {"water_temperature_c": POSSIBLE_TEMPERATURE_C[0]},
        {"water_temperature_c": below(POSSIBLE_TEMPERATURE_C[0])},
    ),
    "hottest": (
        {"water_temperature_c": POSSIBLE_TEMPERATURE_C[1]},
        {"water_temperature_c": above(POSSIBLE_TEMPERATURE_C[1])},
    ),
}


@pytest.mark.parametrize(("odd", "impossible"), ODD_TO_IMPOSSIBLE.values(), ids=ODD_TO_IMPOSSIBLE)
def test_what_is_odd_and_what_is_impossible_both_need_a_reason(submitter, group, rulebook, odd, impossible):
    for readings, weight in ((odd, "caution"), (impossible, "bar")):
        consignment = draft(submitter, group, rulebook, sample(**readings))
        found = FindingRow.objects.filter(sample__consignment=consignment, code__startswith="readings.")
        assert weight in {row.weight for row in found}
        with pytest.raises(EntryProblem):
            send(consignment, submitter)
        assert send(consignment, submitter, reason=WHY).is_sent


def test_a_word_that_is_missing_is_no_reading_to_doubt(submitter, group, rulebook):
    unknown = sample("S1", ec_reference="unknown")
    raw = sample("S2", ec_reference="raw", water_temperature_c=None)
    consignment = draft(submitter, group, rulebook, unknown, raw)
    assert FindingRow.objects.filter(code__startswith="readings.", weight="caution").count() == 2
    assert send(consignment, submitter).is_sent


def test_a_reason_that_nothing_asked_for_is_not_kept(submitter, group, rulebook):
    consignment = send(draft(submitter, group, rulebook, sample()), submitter, reason=WHY)
    assert consignment.record.get(verb="consignment.send").reason == ""
    assert Sample.objects.get().confirmed == {}


def test_the_reason_stands_with_the_cause_in_record_and_findings(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1", ph=74), sample("S2"), sample("S3", ph=75))
    send(consignment, submitter, reason=WHY)
    told = tell(consignment.record.get(verb="consignment.send"), "UTC")
    assert "confirmed: readings.ph_impossible: S1, S3" in told.details
    (cause,) = [
        alike for alike in findings_of(consignment).pressing if alike.row.code.endswith("ph_impossible")
    ]
    assert cause.reasons == [WHY]
    assert Sample.objects.get(own_id="S2").confirmed == {}


# Amending what was sent


def enter(consignment, by, *entries, **more):
    given = {"version": consignment.version, "reason": "another bottle", **more}
    return enter_samples(consignment, entries, by=by, at=ENTERED, **given)


def test_a_change_after_sending_that_brings_a_doubt_is_made_once_the_person_knows(submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook, sample("S1"), sample("S2"))
    odd = [sample("S1", ph=74), sample("S2")]
    with pytest.raises(Unconfirmed, match=r"S1: No water has pH 74") as refused:
        enter(consignment, submitter, *odd)
    consignment.refresh_from_db()
    assert Sample.objects.get(own_id="S1").ph == 7.4
    with pytest.raises(Unconfirmed):
        enter(consignment, submitter, sample("S1", ph=75), sample("S2"), told=refused.value.told)
    consignment.refresh_from_db()
    with pytest.raises(EntryProblem, match="Say why you change it"):
        enter(consignment, submitter, *odd, told=refused.value.told, reason="")
    enter(consignment, submitter, *odd, told=refused.value.told, reason=WHY)
    entry = RecordEntry.objects.filter(verb="samples.enter").order_by("-position").first()
    assert (entry.reason, entry.after["readings confirmed"]) == (WHY, ["readings.ph_impossible: S1"])
    assert Sample.objects.get(own_id="S1").confirmed == {"readings.ph_impossible": WHY}


def test_what_was_confirmed_is_not_asked_again(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1", ph=74))
    send(consignment, submitter, reason=WHY)
    enter(consignment, submitter, sample("S1 b", ph=74, site="Upper weir"), renamed={"S1 b": "S1"})
    assert Sample.objects.get().confirmed == {"readings.ph_impossible": WHY}
    consignment.refresh_from_db()
    assert new_doubts(consignment, [sample("S1 b", ph=74)], at=ENTERED) == []
    assert [doubt.own_id for doubt in new_doubts(consignment, [sample("S1", ph=74)], at=ENTERED)] == ["S1"]


def test_a_draft_is_not_asked_while_it_is_entered(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    enter(consignment, submitter, sample("S1", ph=74), reason="")
    assert Sample.objects.get().confirmed == {}
