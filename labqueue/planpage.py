"""A plan made ready to be shown: runs with every place, what is lost and why, in sentences."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake.models import Bottle
from intake.phrasebook import said
from intake.states import BottleState
from labqueue.actions.accepting import KEPT_FREE
from labqueue.choices import Priority
from labqueue.drafting import as_chosen, clock_from
from labqueue.hours import moment_of
from labqueue.models import PlanDraft
from labqueue.models import Unit as UnitRow
from labqueue.planning.explain import Reader
from labqueue.planning.plan import Plan, Reason
from labqueue.planning.projection import duration
from labqueue.planning.sequence import run_sequence
from labqueue.planning.units import Run, Unit
from labqueue.planning.whatif import Saving, savings
from labqueue.planwords import say_announced, say_saving
from labqueue.priorities import priorities_of
from labqueue.strengths import Handling, handling_of

#: Up to so many bottles a plan says unasked what one more run would save (our choice, about a
#: second of work); for more there is a button.
SAVINGS_UNASKED = 200


@dataclass(frozen=True, slots=True)
class ShownPlace:
    """One line of a proposed run; ``bottle`` and what follows are empty for blanks and standards."""

    position: int
    kind: str
    moment: datetime
    sample: int | None = None
    number: str = ""
    bottle: Bottle | None = None
    repeats: bool = False
    handling: Handling | None = None
    priority: str = ""
    reserved: bool = False
    spare: str = ""
    lost: str = ""
    pinned: bool = False
    first: bool = False
    last: bool = False


@dataclass(frozen=True, slots=True)
class ShownRun:
    unit: str
    line: str
    key: str
    start: datetime
    end: datetime
    samples: int
    places: list[ShownPlace]


@dataclass(frozen=True, slots=True)
class ShownLoss:
    """Due moments of one bottle that the plan misses for one reason."""

    number: str
    bottle: Bottle | None
    ions: str
    due: datetime
    injected: datetime | None


@dataclass(frozen=True, slots=True)
class LossGroup:
    words: str
    meaning: str
    losses: list[ShownLoss]


def _meanings() -> dict[Reason, tuple[str, str]]:
    return {
        Reason.TOO_LATE_TO_ACT: (
            _("Lost before we could act"),
            _("No start in the opening hours could have reached them."),
        ),
        Reason.NO_RUN_IN_TIME: (
            _("No run in time"),
            _("Another start would have reached them; these runs do not."),
        ),
        Reason.CROWDED_OUT: (
            _("Crowded out"),
            _("The places in time are needed by others that lose as much or more."),
        ),
    }


class PlanPage:
    """One draft with its plan, read for a page, in a fixed number of queries for each 500 samples."""

    def __init__(self, draft: PlanDraft, plan: Plan) -> None:
        self.draft, self.plan = draft, plan
        self.clock = clock_from(draft.origin)
        self.bottles = {
            bottle.number: bottle
            for bottle in Bottle.objects.filter(
                number__in=[bottle.id for bottle in plan.problem.bottles]
            ).select_related("sample", "consignment__group")
        }
        self._planned = {bottle.id: bottle for bottle in plan.problem.bottles}
        self._pinned = {pin.bottle for pin in plan.problem.pins}
        self._reserved = self._still_to_come()
        keys = [bottle.pk for bottle in self.bottles.values()]
        self._priorities = priorities_of(Bottle.objects.filter(pk__in=keys))
        self._handling = self._handled()
        self.reader = Reader(plan)

    def _still_to_come(self) -> set[str]:
        """Bottles planned as announced that have not been received since."""
        named = self.draft.announced.get("bottles", ())
        return {
            number
            for number in named
            if number in self.bottles and self.bottles[number].state == BottleState.EXPECTED
        }

    def _handled(self) -> dict[int, Handling]:
        """Dilution and correction on the planned units; a unit taken out since is told elsewhere."""
        units = {unit.name: unit for unit in UnitRow.objects.filter(retired_at__isnull=True)}
        on = {
            self.bottles[number].pk: units[slot.unit]
            for number, slot in self.plan.places.items()
            if number in self.bottles and slot.unit in units
        }
        return handling_of([bottle for bottle in self.bottles.values() if bottle.pk in on], on)

    def at(self, minute: int) -> datetime:
        return moment_of(minute, self.draft.origin)

    def runs(self) -> list[ShownRun]:
        """Every run somebody is on, by start."""
        units = {unit.id: unit for unit in self.plan.problem.units}
        sitters: dict[tuple[str, int], dict[int, str]] = {}
        for number, slot in self.plan.places.items():
            sitters.setdefault((slot.unit, slot.start), {})[slot.sample] = number
        used = [run for run in self.plan.runs if run[:2] in sitters]
        used.sort(key=lambda run: (run.start, run.unit))
        return [self._run(run, units[run.unit], sitters[run[:2]]) for run in used]

    def _run(self, run: Run, unit: Unit, sitters: dict[int, str]) -> ShownRun:
        last = max(sitters)
        places = []
        for step in run_sequence(unit, run.start, last + 1):
            number = "" if step.sample is None else sitters.get(step.sample, "")
            if step.kind.value == "sample" and number:
                places.append(self._sample(step.number, step.moment, number, step.sample or 0, last))
            else:
                places.append(
                    ShownPlace(
                        step.number,
                        KEPT_FREE if step.kind.value == "sample" else step.kind.value,
                        self.at(step.moment),
                        step.sample if step.kind.value == "sample" else None,
                        number,
                        self.bottles.get(number),
                        repeats=bool(number),
                    )
                )
        return ShownRun(
            run.unit,
            unit.kind,
            f"{run.start} {run.unit}",
            self.at(run.start),
            self.at(unit.end(run.start, last + 1)),
            len(sitters),
            places,
        )

    def _sample(self, position: int, minute: int, number: str, sample: int, last: int) -> ShownPlace:
        planned = self._planned[number]
        bottle = self.bottles.get(number)
        missed = planned.missed_at(minute)
        spare = self.plan.spare_min(planned)
        return ShownPlace(
            position,
            "sample",
            self.at(minute),
            sample,
            number,
            bottle,
            handling=self._handling.get(bottle.pk) if bottle else None,
            priority=self.priority_of(number),
            reserved=number in self._reserved,
            spare="" if spare is None else said(duration(spare)),
            lost=", ".join(said(step.name) for step in missed),
            pinned=number in self._pinned,
            first=sample == 0,
            last=sample == last,
        )

    def priority_of(self, number: str) -> str:
        """The priority of a bottle in words; empty for the usual one."""
        bottle = self.bottles.get(number)
        level = self._priorities.get(bottle.pk) if bottle else None
        return str(Priority(level).label) if level else ""

    def announced(self) -> list[str]:
        """What the plan makes of bottles that are still to come, in sentences."""
        facts = self.draft.announced
        placed = sum(number in self._reserved for number in self.plan.places)
        return say_announced(placed, facts["undated"], facts["overdue"]) if facts else []

    def losses(self) -> list[LossGroup]:
        """What is lost, by reason."""
        groups = []
        for reason, (words, meaning) in _meanings().items():
            rows = [
                ShownLoss(
                    missed.bottle,
                    self.bottles.get(missed.bottle),
                    said(missed.step.name),
                    self.at(missed.step.deadline),
                    None if missed.moment is None else self.at(missed.moment),
                )
                for missed in self.plan.missed
                if missed.reason is reason
            ]
            if rows:
                rows.sort(key=lambda row: (row.due, row.number))
                groups.append(LossGroup(words, meaning, rows))
        return groups

    def proof(self) -> list[str]:
        """How far the plan is proven, and the counts that show what must be lost."""
        if self.plan.starts_proven:
            first = _("Proven: no choice of starts and no order of bottles loses less.")
        elif self.plan.proven:
            first = _(
                "Proven for these starts: no order of bottles loses less. The starts are the best found."
            )
        else:
            first = _("Not proven: the search was cut short. The plan holds, but a better one may exist.")
        pinned = [_("This holds with the bottles that you pinned where they are.")] if self._pinned else []
        return [first, *pinned, *(said(crowd.sentence(self.clock)) for crowd in self.reader.crowds())]

    def summary(self) -> str:
        """The plan in one sentence."""
        placed, lost = len(self.plan.places), self.plan.missed_clocks
        words = ngettext("%(count)d bottle placed", "%(count)d bottles placed", placed) % {"count": placed}
        if not lost:
            return _("%(words)s; no clock is lost.") % {"words": words}
        clocks = ngettext("%(count)d clock", "%(count)d clocks", lost) % {"count": lost}
        bottles = ngettext("%(count)d bottle", "%(count)d bottles", self.plan.missed_count) % {
            "count": self.plan.missed_count
        }
        return _("%(words)s; lost: %(clocks)s of %(bottles)s.") % {
            "words": words,
            "clocks": clocks,
            "bottles": bottles,
        }

    def waits(self) -> list[Bottle]:
        """Bottles without a place: what they have left is due after this plan."""
        return [self.bottles[number] for number in self.plan.without_place if number in self.bottles]

    def savings(self) -> list[str]:
        """What one more run or an earlier start would save."""
        if not self.plan.missed:
            return [_("Nothing is lost that another run could save.")]
        more, earlier = savings(as_chosen(self.draft, self.plan))
        said = [self._say_saving(saving) for saving in (more, earlier) if saving is not None]
        return said or [_("Neither one more run nor an earlier start would save a clock.")]

    def _say_saving(self, saving: Saving) -> str:
        clocks = say_saving(saving)
        values = {"unit": saving.run.unit, "start": self.clock(saving.run.start), "clocks": clocks}
        if saving.earlier_than is None:
            return _("One more run on %(unit)s, started %(start)s, would save %(clocks)s.") % values
        values["later"] = self.clock(saving.earlier_than)
        return _("Starting %(unit)s at %(start)s instead of %(later)s would save %(clocks)s.") % values
