"""Tells the demo's stories to the database, by the same actions that people use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from intake.actions.admitting import admit_person
from intake.actions.checking import check_bottle, take_in_unannounced
from intake.actions.deciding import decide_bottle, give_up_ion
from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.injecting import Shot, record_injections
from intake.actions.people import make_group
from intake.actions.placing import place_bottles
from intake.actions.receiving import close_arrival, open_arrival
from intake.actions.registering import enter_samples, make_consignment
from intake.actions.sending import send_consignment, withdraw_consignment
from intake.demo import waters
from intake.demo.people import GROUPS, PASSWORD, PEOPLE
from intake.demo.story import Delivery, Place, Story
from intake.models import Arrival, Bottle, Consignment, RulebookVersion, User
from intake.rules.facts import Line
from intake.states import BottleState

#: How long before it is loaded the demo's laboratory opened.
BEGAN = timedelta(days=60)
ENTRY_TAKES = timedelta(minutes=4)
CHECK_TAKES = timedelta(seconds=20)
INJECTION_TAKES = timedelta(minutes=20)
IN_ORDER: Mapping[str, object] = {"cold": True, "headspace": False, "leaking": False, "label_matches": True}


class Cast:
    """The people and groups of the demo as they stand in the database."""

    def __init__(self, at: datetime) -> None:
        system = User.objects.system()
        self.groups = {one.key: make_group(by=system, at=at, name=one.name, zone=one.zone) for one in GROUPS}
        self.people = {
            one.key: admit_person(
                by=system,
                at=at,
                email=one.email,
                name=one.name,
                role=one.role,
                password=PASSWORD,
                zone=one.zone,
                groups=[self.groups[key] for key in one.groups],
            )
            for one in PEOPLE
        }


@transaction.atomic
def tell_all(stories: Sequence[Story], *, at: datetime) -> int:
    """Make the demo's people and tell every story as it stands ``at``; returns how many bottles."""
    cast = Cast(at - BEGAN)
    rulebook = RulebookVersion.objects.get(default=True)
    for story in stories:
        _tell(story, cast, rulebook, at)
    return Bottle.objects.count()


def _tell(story: Story, cast: Cast, rulebook: RulebookVersion, at: datetime) -> None:
    group = cast.groups[story.group]
    sender = cast.people[story.by]
    registered = story.registered_at(at)
    wanted = None
    if story.wanted_in_days is not None:
        wanted = (at + timedelta(days=story.wanted_in_days)).astimezone(ZoneInfo(group.zone)).date()
    consignment = make_consignment(
        by=sender,
        at=registered,
        group=group,
        title=story.title,
        purpose=story.purpose,
        rulebook=rulebook,
        zone=group.zone,
        requested_on=wanted,
    )
    enter_samples(
        consignment, story.entries(at), by=sender, at=registered + ENTRY_TAKES, version=consignment.version
    )
    if story.sent is None:
        return
    sent = story.sent(at)
    send_consignment(consignment, by=sender, at=sent, version=consignment.version, reason=story.confirmed)
    if story.withdrawn:
        withdraw_consignment(consignment, by=sender, at=sent + timedelta(hours=4), reason=story.withdrawn)
    for delivery in story.deliveries:
        _Reception(story, consignment, delivery, cast.people[delivery.by], at).receive()
    for line, began in story.measured.items():
        _measure(consignment, line, cast.people["manager"], began(at))


def _measure(consignment: Consignment, line: Line, by: User, began: datetime) -> None:
    """Put the ready bottles of ``line`` on a run and inject them one after the other."""
    ready = consignment.bottles.filter(line=line, state=BottleState.READY)
    bottles = list(ready.select_related("arrival", "consignment", "sample").order_by("pk"))
    label = f"{line.value} run of {began:%d %B}"
    place_bottles(bottles, by=by, at=began - timedelta(hours=1), label=label)
    shots = [
        Shot(bottle, began + INJECTION_TAKES * place, f"{label}, place {place + 1}")
        for place, bottle in enumerate(bottles)
    ]
    record_injections(shots, by=by, at=shots[-1].at + INJECTION_TAKES)


class _Reception:
    """One box of one consignment, gone through bottle by bottle."""

    def __init__(
        self, story: Story, consignment: Consignment, delivery: Delivery, by: User, at: datetime
    ) -> None:
        self.story = story
        self.consignment = consignment
        self.delivery = delivery
        self.by = by
        self.at = at
        self.clock = delivery.received(at) + ENTRY_TAKES
        self.number_of = {story.own_id(number): number for number in range(1, story.count + 1)}

    def next_moment(self) -> datetime:
        self.clock += CHECK_TAKES
        return min(self.clock, self.at)

    def receive(self) -> None:
        delivery = self.delivery
        arrival = open_arrival(
            [self.consignment],
            by=self.by,
            at=self.clock,
            received_at=delivery.received(self.at),
            transport={
                "carrier": delivery.carrier,
                "temperature_c": delivery.temperature_c,
                "measured_on": delivery.measured_on,
                "cooling": delivery.cooling,
                "seal": delivery.seal,
                "remark": delivery.remark,
            },
        )
        bottles = self.bottles()
        for place, bottle in bottles.items():
            self.look_at(place, bottle, arrival)
        for place, bottle in bottles.items():
            self.rule(place, bottle)
        for label, line in delivery.surprises:
            take_in_unannounced(
                arrival,
                by=self.by,
                at=self.next_moment(),
                entry=_from_label(label, line),
                consignment=self.consignment,
            )
        if delivery.closed:
            close_arrival(arrival, by=self.by, at=self.next_moment(), more_to_come=delivery.more_to_come)

    def bottles(self) -> dict[Place, Bottle]:
        """The bottles that were in the box."""
        delivery = self.delivery
        rows = self.consignment.bottles.select_related("sample", "consignment").order_by("pk")
        found = {(self.number_of[bottle.sample.own_id], Line(bottle.line)): bottle for bottle in rows}
        return {
            place: bottle
            for place, bottle in found.items()
            if place not in delivery.absent and (not delivery.of or place[0] in delivery.of)
        }

    def look_at(self, place: Place, bottle: Bottle, arrival: Arrival) -> None:
        if place in self.delivery.unchecked:
            return
        seen = self.delivery.seen.get(place)
        check_bottle(
            bottle, arrival, by=self.by, at=self.next_moment(), seen=seen or IN_ORDER, in_order=seen is None
        )

    def rule(self, place: Place, bottle: Bottle) -> None:
        """Decide what was named, and what the rules put on hold besides."""
        delivery = self.delivery
        ruling = delivery.rulings.get(place)
        if ruling is None and bottle.state == BottleState.ON_HOLD:
            ruling = delivery.rest
        if ruling is not None:
            decision, reason = ruling
            decide_bottle(bottle, by=self.by, at=self.next_moment(), decision=decision, reason=reason)
        if place in delivery.given_up:
            ion, reason = delivery.given_up[place]
            give_up_ion(bottle, by=self.by, at=self.next_moment(), ion=ion, reason=reason)


def _from_label(label: str, line: Line) -> SampleEntry:
    """What the label of an unannounced bottle tells: an id and a line, and nothing else."""
    ions = waters.ANIONS if line is Line.ANION else waters.CATIONS
    return SampleEntry(own_id=label, bottles=(BottleEntry(line=line, ions=ions),))
