"""The arrival slip: what came of one consignment, what did not, what is wrong, what happens next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from intake import phrasebook
from intake.hazards import caution, declared_hazards
from intake.models import Arrival, Bottle, Consignment, Question
from intake.numbers import grouped
from intake.papers.pages import FLUSH, HEAD, LARGE, SMALL, TITLE, Code, document, ruled, strong, words
from intake.rules.words import say_number
from intake.shown import show_clock, show_list, show_moment
from intake.states import BottleState

CODE_SIDE = 26 * mm
WIDTHS = (27 * mm, 36 * mm, 18 * mm, 30 * mm, 67 * mm)


@dataclass(frozen=True, slots=True)
class Slip:
    """What the slip tells. ``bottles`` are those of ``consignment`` alone: a box may hold others'.

    ``questions`` are the open ones, with what was asked about. Each bottle carries its sample,
    ``next_due_at``, the clock that runs out next, and ``scanned``, whether it was in this arrival.
    """

    consignment: Consignment
    arrival: Arrival
    bottles: Sequence[Bottle]
    questions: Sequence[Question]

    @property
    def came(self) -> list[Bottle]:
        return [bottle for bottle in self.bottles if bottle.arrival_id == self.arrival.pk]

    @property
    def fine(self) -> list[Bottle]:
        """Those that came and of which nothing is to be said."""
        return [bottle for bottle in self.came if bottle not in self.wrong]

    @property
    def wrong(self) -> list[Bottle]:
        """On hold, refused, reserved, or without some of the ions asked for."""
        aside = (BottleState.ON_HOLD, BottleState.REFUSED)
        return [
            bottle
            for bottle in self.came
            if bottle.state in aside or bottle.decision == "reserved" or bottle.dropped
        ]

    @property
    def unchecked(self) -> list[Bottle]:
        """Those that were scanned in this arrival and that nobody has checked yet."""
        return [bottle for bottle in self.in_state(BottleState.EXPECTED) if bottle.scanned]

    @property
    def to_come(self) -> list[Bottle]:
        return [bottle for bottle in self.in_state(BottleState.EXPECTED) if not bottle.scanned]

    def asked_about(self, bottle: Bottle) -> list[str]:
        """What was found on a bottle on hold, as its open questions say."""
        return [
            phrasebook.said(asked.sentence)
            for question in self.questions
            for asked in question.asked.all()
            if asked.bottle_id == bottle.pk
        ]

    def in_state(self, state: str) -> list[Bottle]:
        return [bottle for bottle in self.bottles if bottle.state == state]


def arrival_slip_pdf(slip: Slip, site: str) -> bytes:
    """The slip as PDF; moments on the clocks of the consignment's zone."""
    story: list[Flowable] = [_head(slip), Spacer(0, 3 * mm), *_box(slip)]
    story += _section(_("What is wrong"), [_row(bottle, slip, _fault(bottle, slip)) for bottle in slip.wrong])
    story += _section(
        _("What is here, but not checked yet"),
        [_row(bottle, slip, _("not checked yet")) for bottle in slip.unchecked],
    )
    absent = [
        _row(bottle, slip, _("not in the box") if bottle.state == BottleState.MISSING else _("to come still"))
        for bottle in (*slip.in_state(BottleState.MISSING), *slip.to_come)
    ]
    story += _section(_("What did not come"), absent)
    story += _section(
        _("What came in order"), [_row(bottle, slip, str(bottle.get_state_display())) for bottle in slip.fine]
    )
    story += _hazards(slip)
    story.append(strong(_("What happens next"), HEAD))
    story += [words(sentence) for sentence in _next(slip, site)]
    title = _("Arrival slip %(consignment)s %(arrival)s") % {
        "consignment": slip.consignment.number,
        "arrival": slip.arrival.number,
    }
    return document(title, f"{slip.consignment}", story)


def _head(slip: Slip) -> Flowable:
    about = [
        words(_("Arrival slip"), TITLE),
        strong(grouped(slip.consignment.number), LARGE),
        words(slip.consignment.title, LARGE),
        words(slip.consignment.group.name, LARGE),
    ]
    return Table(
        [[about, Code(slip.consignment.number, CODE_SIDE)]], colWidths=(None, CODE_SIDE), style=FLUSH
    )


def _box(slip: Slip) -> list[Flowable]:
    arrival, zone = slip.arrival, slip.consignment.zone
    if arrival.temperature_c is None:
        temperature = _("not measured: %(why)s") % {"why": arrival.remark or _("not written down yet")}
    else:
        temperature = _("%(figure)s °C, read on %(what)s") % {
            "figure": say_number(arrival.temperature_c),
            "what": arrival.get_measured_on_display() or _("something not stated"),
        }
    facts = [
        (_("Arrival"), grouped(arrival.number)),
        (_("Received"), f"{show_moment(arrival.received_at, zone)}, {arrival.received_by}"),
        (_("Temperature on opening"), temperature),
        (_("Cooling found"), arrival.get_cooling_display() or _("not looked at")),
        (_("Seal"), arrival.get_seal_display() or _("not looked at")),
        (_("Brought by"), arrival.carrier or _("not stated")),
    ]
    count = ngettext("%(count)s bottle came", "%(count)s bottles came", len(slip.came)) % {
        "count": len(slip.came)
    }
    state = (
        _("%(count)s. Times are those of %(zone)s.")
        if arrival.closed_at
        else _("%(count)s so far; the box is still being emptied. Times are those of %(zone)s.")
    )
    rows = [[strong(name, SMALL), words(value, SMALL)] for name, value in facts]
    return [
        ruled(rows, (45 * mm, None)),
        Spacer(0, 3 * mm),
        words(state % {"count": count, "zone": zone}),
    ]


def _section(name: str, rows: list[list[object]]) -> list[Flowable]:
    if not rows:
        return []
    heads = [
        strong(text, SMALL)
        for text in (_("Bottle"), _("Sample"), _("Line"), _("Next clock runs out"), _("How it stands"))
    ]
    return [strong(f"{name} ({len(rows)})", HEAD), ruled([heads, *rows], WIDTHS)]


def _hazards(slip: Slip) -> list[Flowable]:
    """What was declared of the waters that came, a line a sample, and the usual caution."""
    samples = {bottle.sample_id: bottle.sample for bottle in slip.came}
    lines = [
        words(f"{sample.own_id}: {' '.join(said)}", SMALL)
        for sample in samples.values()
        if (said := declared_hazards(sample))
    ]
    return [strong(_("Handle with care"), HEAD), *lines, words(caution(), SMALL)] if lines else []


def _row(bottle: Bottle, slip: Slip, standing: str) -> list[object]:
    due: datetime | None = bottle.next_due_at
    runs = due is not None and bottle.state not in (BottleState.REFUSED, BottleState.MEASURED)
    return [
        strong(grouped(bottle.number), SMALL),
        words(bottle.sample.own_id, SMALL),
        words(bottle.get_line_display(), SMALL),
        words(show_clock(due, slip.consignment.zone) if due and runs else "–", SMALL),
        words(standing, SMALL),
    ]


def _fault(bottle: Bottle, slip: Slip) -> str:
    """What is wrong with a bottle that came: how it was decided, why, and which ions are given up."""
    undecided = bottle.state == BottleState.ON_HOLD and bottle.decided_by_id is None
    said = [_("on hold") if undecided else str(bottle.get_decision_display())]
    if bottle.decision_reason:
        said.append(phrasebook.said_reason(bottle.decision_reason))
    elif bottle.state == BottleState.ON_HOLD:
        said += slip.asked_about(bottle)
    if bottle.dropped:
        said.append(
            _("Given up: %(ions)s.")
            % {"ions": show_list(phrasebook.said(ion) for ion in sorted(bottle.dropped))}
        )
    return f"{said[0]}: {' '.join(said[1:])}" if said[1:] else said[0]


def _next(slip: Slip, site: str) -> list[str]:
    zone = slip.consignment.zone
    said = []
    for question in slip.questions:
        until = (
            _("until %(moment)s") % {"moment": show_moment(question.useful_until, zone)}
            if question.useful_until
            else _("as soon as you can")
        )
        said.append(
            _("Your word is needed %(until)s. %(what)s: %(sentence)s Answer at %(site)s/questions/%(key)s/")
            % {
                "until": until,
                "what": phrasebook.said(question.what),
                "sentence": phrasebook.said(question.sentence),
                "site": site,
                "key": question.pk,
            }
        )
    ready = slip.in_state(BottleState.READY)
    if ready:
        due = [bottle.next_due_at for bottle in ready if bottle.next_due_at is not None]
        first = ""
        if due:
            first = _(" The first clock runs out at %(moment)s.") % {"moment": show_moment(min(due), zone)}
        said.append(
            ngettext(
                "%(count)s bottle waits for its injection.",
                "%(count)s bottles wait for their injection.",
                len(ready),
            )
            % {"count": len(ready)}
            + first
        )
    if slip.in_state(BottleState.MISSING):
        said.append(_("Look for what did not come, and send it soon: its clocks run from collection."))
    if slip.unchecked and slip.arrival.closed_at:
        said.append(_("What is here is checked as soon as it can be; its clocks run on."))
    if slip.to_come and slip.arrival.closed_at:
        said.append(_("The laboratory waits for another box."))
    if slip.in_state(BottleState.REFUSED):
        said.append(_("What was refused is not measured."))
    said.append(
        _("Every clock and decision stands at %(site)s/consignments/%(number)s/")
        % {"site": site, "number": slip.consignment.number}
    )
    return said
