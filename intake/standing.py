"""How a consignment stands: its samples with bottles, clocks and findings, and what to do next.

Read in a fixed number of queries however many samples there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake.alike import Mark, marks
from intake.models import Bottle, ClockRow, Consignment, FindingRow, Question, Sample
from intake.phrasebook import said
from intake.querysets import ClockQuerySet
from intake.rules.judgement import Weight
from intake.shown import show_list
from intake.states import BottleState, ConsignmentState


@dataclass(frozen=True, slots=True)
class Together:
    """Clocks of one bottle that started and are due at the same moments, shown as one.

    ``ion`` names all their ions.
    """

    ion: str
    starts_at: datetime | None
    due_at: datetime | None
    stopped_at: datetime | None
    void: bool
    assumed: bool


@dataclass(frozen=True, slots=True)
class BottleStanding:
    """One bottle: where it is in words, its clocks and the findings that concern it alone."""

    bottle: Bottle
    where: str
    clocks: tuple[ClockRow, ...]
    findings: tuple[FindingRow, ...]

    @property
    def marks(self) -> list[Mark]:
        """What is pressing about it, in a few words."""
        return marks(self.findings)

    def together(self) -> list[Together]:
        """The clocks, those that run alike in one, the soonest due first."""
        alike: dict[tuple[object, ...], list[ClockRow]] = defaultdict(list)
        for clock in self.clocks:
            key = (clock.starts_at, clock.due_at, clock.stopped_at, clock.void, clock.assumed)
            alike[key].append(clock)
        return [
            Together(
                show_list(said(clock.ion) for clock in same),
                same[0].starts_at,
                same[0].due_at,
                same[0].stopped_at,
                same[0].void,
                same[0].assumed,
            )
            for same in alike.values()
        ]


@dataclass(frozen=True, slots=True)
class SampleStanding:
    """One sample: the findings that concern the sample itself, and its bottles."""

    sample: Sample
    findings: tuple[FindingRow, ...]
    bottles: tuple[BottleStanding, ...]

    @property
    def marks(self) -> list[Mark]:
        return marks(self.findings)

    def all_findings(self) -> list[FindingRow]:
        return [*self.findings, *(row for bottle in self.bottles for row in bottle.findings)]


def where_is(bottle: Bottle, consignment: Consignment) -> str:
    """Where ``bottle`` is, in words for the group that sent it."""
    if bottle.state == BottleState.EXPECTED:
        return {
            ConsignmentState.DRAFT: _("with you"),
            ConsignmentState.SENT: _("with you or on its way to the laboratory"),
            ConsignmentState.WITHDRAWN: _("with you; the laboratory does not expect it"),
        }.get(ConsignmentState(consignment.state), _("not at the laboratory yet"))
    return {
        BottleState.READY: _("at the laboratory, waiting for its injection"),
        BottleState.ON_HOLD: _("at the laboratory, waiting for your word"),
        BottleState.REFUSED: _("at the laboratory, not to be measured"),
        BottleState.PLACED: _("at the laboratory, in a planned run"),
        BottleState.MEASURED: _("measured"),
        BottleState.MISSING: _("not found in the box that came"),
    }[BottleState(bottle.state)]


def standings(samples: Iterable[Sample], consignment: Consignment) -> list[SampleStanding]:
    """``samples`` of ``consignment`` with all that is known of them, in three queries."""
    samples = list(samples)
    keys = [sample.pk for sample in samples]
    of_sample: dict[int, list[FindingRow]] = defaultdict(list)
    of_bottle: dict[int, list[FindingRow]] = defaultdict(list)
    for finding in FindingRow.objects.filter(sample__in=keys).order_by("-rank", "pk"):
        if finding.bottle_id is None:
            of_sample[finding.sample_id].append(finding)
        else:
            of_bottle[finding.bottle_id].append(finding)
    clocks: dict[int, list[ClockRow]] = defaultdict(list)
    for clock in ClockRow.objects.filter(bottle__sample__in=keys).order_by("due_at", "pk"):
        clocks[clock.bottle_id].append(clock)
    bottles: dict[int, list[BottleStanding]] = defaultdict(list)
    rows = Bottle.objects.filter(sample__in=keys).select_related("arrival", "decided_by")
    for bottle in rows.order_by("line", "pk"):
        bottles[bottle.sample_id].append(
            BottleStanding(
                bottle,
                where_is(bottle, consignment),
                tuple(clocks[bottle.pk]),
                tuple(of_bottle[bottle.pk]),
            )
        )
    return [
        SampleStanding(sample, tuple(of_sample[sample.pk]), tuple(bottles[sample.pk])) for sample in samples
    ]


@dataclass(frozen=True, slots=True)
class Summary:
    """Counts over a whole consignment: ``bars`` and ``cautions`` of causes, ``states`` of bottles.

    ``next_clock`` can still be kept.
    """

    samples: int
    without_bottle: int
    states: dict[str, int]
    bars: int
    cautions: int
    next_clock: ClockRow | None
    run_out: int
    questions: int = 0

    @property
    def bottles(self) -> int:
        return sum(self.states.values())

    @property
    def bottles_in_words(self) -> str:
        """How many bottles there are, and in which states."""
        if len(self.states) == 1:
            (state,) = self.states
            told = _("%(count)s, all %(state)s") if self.bottles > 1 else "%(count)s, %(state)s"
            return told % {"count": self.bottles, "state": BottleState(state).label}
        counted = show_list(
            f"{count} {BottleState(state).label}" for state, count in sorted(self.states.items())
        )
        return f"{self.bottles}: {counted}" if counted else _("none")


def _clocks_of(consignment: Consignment) -> ClockQuerySet:
    """The clocks of the bottles that came or may still come."""
    return ClockRow.objects.filter(bottle__consignment=consignment).exclude(
        bottle__state__in=(BottleState.REFUSED, BottleState.MISSING)
    )


def next_clock_of(consignment: Consignment, at: datetime) -> ClockRow | None:
    """The clock that runs out next of those that can still be kept at ``at``, with its bottle."""
    clocks = _clocks_of(consignment).keepable(at).select_related("bottle__sample")
    return clocks.order_by("due_at", "pk").first()


def summary_of(consignment: Consignment, at: datetime) -> Summary:
    """The counts of ``consignment`` at ``at``, in six queries."""
    samples = consignment.samples.aggregate(
        samples=Count("pk", distinct=True),
        without=Count("pk", distinct=True, filter=Q(bottles__isnull=True)),
    )
    states = consignment.bottles.order_by().values_list("state").annotate(count=Count("pk"))
    weights = FindingRow.objects.filter(sample__consignment=consignment).aggregate(
        bars=Count("code", distinct=True, filter=Q(rank=Weight.BAR.rank)),
        cautions=Count("code", distinct=True, filter=Q(rank=Weight.CAUTION.rank)),
    )
    return Summary(
        samples=samples["samples"],
        without_bottle=samples["without"],
        states=dict(states),
        bars=weights["bars"],
        cautions=weights["cautions"],
        next_clock=next_clock_of(consignment, at),
        run_out=_clocks_of(consignment).due_before(at).count(),
        questions=Question.objects.open().filter(consignment=consignment).count(),
    )


@dataclass(frozen=True, slots=True)
class NextStep:
    """What to do next: one sentence, and the address name and words of the way there, if any."""

    sentence: str
    address: str = ""
    words: str = ""
    name_next_clock: bool = False


def _draft_step(summary: Summary) -> NextStep:
    if not summary.samples:
        return NextStep(_("Enter your samples, one row each."), "intake:samples", _("Enter samples"))
    if summary.without_bottle:
        which = ngettext(
            "%(count)s sample has no bottle yet. Say which ions you want of each.",
            "%(count)s samples have no bottle yet. Say which ions you want of each.",
            summary.without_bottle,
        )
        told = which % {"count": summary.without_bottle}
        return NextStep(told, "intake:samples", _("Complete the samples"))
    if summary.bars:
        which = ngettext(
            "%(count)s finding bars ions from being measured. Put right what you can, then send.",
            "%(count)s findings bar ions from being measured. Put right what you can, then send.",
            summary.bars,
        )
        return NextStep(which % {"count": summary.bars}, "intake:samples", _("Put the samples right"))
    sentence = _("All the laboratory needs is entered. Send it, so that it expects your bottles.")
    if summary.cautions:
        which = ngettext(
            "%(count)s caution stands below. Put right what you can, then send, so that the laboratory "
            "expects you.",
            "%(count)s cautions stand below. Put right what you can, then send, so that the laboratory "
            "expects you.",
            summary.cautions,
        )
        sentence = which % {"count": summary.cautions}
    return NextStep(sentence, "intake:consignment_send", _("Send to the laboratory"))


def _sent_step(summary: Summary) -> NextStep:
    if summary.next_clock is not None:
        return NextStep(
            _("Bring or send the bottles cold, and soon: their clocks run from collection."),
            name_next_clock=True,
        )
    if summary.run_out:
        return NextStep(
            _("Every clock that was running is over. Ask the laboratory before you send the bottles.")
        )
    return NextStep(_("Bring or send the bottles cold."))


def _held_step(summary: Summary, held: int) -> NextStep:
    """The next step where ``held`` bottles are on hold."""
    if not summary.questions:
        waits = ngettext(
            "%(count)s bottle is on hold. The laboratory decides, or will ask you here.",
            "%(count)s bottles are on hold. The laboratory decides, or will ask you here.",
            held,
        )
        told = waits % {"count": held}
    else:
        waits = ngettext(
            "%(count)s bottle waits for your word.", "%(count)s bottles wait for your word.", held
        )
        answer = ngettext(
            "Answer the question below.", "Answer the %(count)s questions below.", summary.questions
        )
        told = f"{waits % {'count': held}} {answer % {'count': summary.questions}}"
    return NextStep(told, name_next_clock=summary.next_clock is not None)


def _received_step(summary: Summary) -> NextStep:
    held = summary.states.get(BottleState.ON_HOLD, 0)
    if held:
        return _held_step(summary, held)
    missing = summary.states.get(BottleState.MISSING, 0)
    if missing:
        which = ngettext(
            "%(count)s bottle did not come. Look for it and tell the laboratory.",
            "%(count)s bottles did not come. Look for them and tell the laboratory.",
            missing,
        )
        return NextStep(which % {"count": missing})
    if summary.states.get(BottleState.EXPECTED, 0):
        return NextStep(_("The laboratory is checking what came. There is nothing for you to do."))
    if summary.states.keys() <= {BottleState.MEASURED, BottleState.REFUSED}:
        return NextStep(_("The laboratory has done with every bottle. The statement closes the consignment."))
    return NextStep(
        _("The laboratory has all your bottles. There is nothing for you to do."),
        name_next_clock=summary.next_clock is not None,
    )


STEPS = {
    ConsignmentState.DRAFT: _draft_step,
    ConsignmentState.SENT: _sent_step,
    ConsignmentState.RECEIVED: _received_step,
}


def next_step(consignment: Consignment, summary: Summary) -> NextStep:
    """What the group is to do next with ``consignment``."""
    tell = STEPS.get(ConsignmentState(consignment.state))
    if tell is None:
        return NextStep(_("This consignment was withdrawn. There is nothing to do."))
    return tell(summary)


def say_over(summary: Summary) -> str:
    """How many holding times are over, in words; empty for none."""
    if not summary.run_out:
        return ""
    over = ngettext("%(count)s holding time is over.", "%(count)s holding times are over.", summary.run_out)
    return over % {"count": summary.run_out}
