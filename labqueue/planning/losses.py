"""What a place costs a bottle: its ladder of latest moments and losses, as single integers.

One integer orders plans: missed weight first, then the number of bottles with a miss, then how
often the safety margin is not kept. Standing further down the ladder never costs less.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labqueue.planning.units import Bottle

NEVER = 1 << 60
"""A latest moment for who has nothing left to miss."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Packs (weight, bottles, margins) into one integer; both fields are wide enough never to carry."""

    bottles: int
    margins: int

    @classmethod
    def for_bottles(cls, bottles: Sequence[Bottle]) -> Scale:
        return cls(len(bottles) + 1, sum(len(bottle.steps) for bottle in bottles) + 1)

    def pack(self, weight: int, bottles: int, margins: int) -> int:
        return (weight * self.bottles + bottles) * self.margins + margins


@dataclass(frozen=True, slots=True)
class Job:
    """A bottle as the algorithms see it.

    Injected not later than ``latest[i]`` (and later than ``latest[i - 1]``) it loses ``loss[i]``;
    left out of the plan it loses ``outside``, never less than the last of ``loss``.
    """

    rank: int
    bottle: Bottle
    release: int
    latest: tuple[int, ...]
    loss: tuple[int, ...]
    outside: int

    def rung_at(self, moment: int) -> int:
        """The rung an injection at ``moment`` reaches; ``len(latest)`` if leaving it out costs less."""
        for rung, latest in enumerate(self.latest):
            if moment <= latest:
                return rung
        return len(self.latest)

    def loss_of(self, rung: int) -> int:
        """The loss on a rung; beyond the last one, outside the plan."""
        return self.loss[rung] if rung < len(self.loss) else self.outside

    def stake(self, rung: int) -> int:
        """What is lost more if this rung is not reached, but the next."""
        return self.loss_of(rung + 1) - self.loss[rung]

    @property
    def last_promise(self) -> int:
        return self.latest[-1]


def jobs_of(
    bottles: Iterable[Bottle], scale: Scale, horizon_end: int, margin: int, now: int | None
) -> list[Job]:
    """The jobs of the bottles, ranked by bottle id so that the order of input cannot matter."""
    ranked = sorted(bottles, key=lambda bottle: bottle.id)
    return [_job(rank, bottle, scale, horizon_end, margin, now) for rank, bottle in enumerate(ranked)]


def _job(rank: int, bottle: Bottle, scale: Scale, horizon_end: int, margin: int, now: int | None) -> Job:
    outside = _loss(bottle, scale, margin, horizon_end + 1)
    turns = {step.deadline for step in bottle.steps} | {step.deadline - margin for step in bottle.steps}
    ladder: dict[int, int] = {}
    for latest in (*sorted(turns), NEVER):
        loss = _loss(bottle, scale, margin, latest)
        if loss > outside:
            break
        ladder[loss] = latest
    release = bottle.release if now is None else max(bottle.release, now)
    return Job(rank, bottle, release, tuple(ladder.values()), tuple(ladder), outside)


def _loss(bottle: Bottle, scale: Scale, margin: int, moment: int) -> int:
    missed = bottle.missed_at(moment)
    close = sum(step.deadline - margin < moment for step in bottle.steps) if margin else 0
    return scale.pack(sum(step.weight for step in missed), bool(missed), close)
