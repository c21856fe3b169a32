"""Steps that reception's views share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import wraps

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse

from intake import numbers
from intake.actions.receiving import bottles_of
from intake.errors import AlreadyDone, Refused
from intake.models import Arrival, Bottle
from intake.permissions import require
from intake.states import BottleState
from intake.views.answers import add_refusal, refusals_explained

View = Callable[..., HttpResponse]

#: Reception stands in the laboratory: its pages show the laboratory's own time.
LAB_ZONE = settings.TIME_ZONE


def for_reception(view: View) -> View:
    """A page for those who may see reception; everybody else is asked to sign in, or refused."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        require(request.user, "reception.see")
        return view(request, *args, **kwargs)

    return login_required(refusals_explained(guarded))


def wants_data(request: HttpRequest) -> bool:
    """Whether a page's script asks, which wants the answer alone and not a whole page."""
    return "application/json" in request.headers.get("Accept", "")


def scanned_at(view: View) -> View:
    """A page that takes scans: a script that lost its session is told so, not sent elsewhere."""
    guarded_view = for_reception(view)

    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        if wants_data(request) and not request.user.is_authenticated:
            return JsonResponse({"sign_in": True}, status=401)
        return guarded_view(request, *args, **kwargs)

    return guarded


def arrival_or_404(request: HttpRequest, number: str) -> Arrival:
    """The arrival of that number, if the person may know of it."""
    visible = Arrival.objects.visible_to(request.user).select_related("received_by")
    found = visible.filter(number=numbers.tidy(number)).first()
    if found is None:
        raise Http404
    return found


def bottle_or_404(request: HttpRequest, number: str) -> Bottle:
    """The bottle of that number with what its page needs, if the person may know of it."""
    related = ("sample", "consignment__group", "consignment__rulebook", "arrival__received_by", "decided_by")
    related += ("stored_in__inside__inside__inside", "discarded_by")
    visible = Bottle.objects.visible_to(request.user).select_related(*related)
    found = visible.defer("consignment__rulebook__data").filter(number=numbers.tidy(number)).first()
    if found is None:
        raise Http404
    return found


def took_effect(request: HttpRequest, form: BaseForm, act: Callable[[], object]) -> bool:
    """Whether ``act`` is done, now or by the same form before; else its refusal stands in ``form``."""
    try:
        act()
    except AlreadyDone as done:
        messages.info(request, done.sentence)
    except Refused as problem:
        add_refusal(form, problem)
        return False
    return True


#: How many of the bottles that are not checked yet the desk lists; the page of the arrival lists all.
LISTED_AT_THE_DESK = 10


@dataclass(frozen=True, slots=True)
class Tally:
    """How far an arrival has come in figures, as the desk says it after each scan.

    The bottles are counted in the database, so that an answer costs about the same for a box of ten
    and of a thousand. ``unchecked`` were scanned in it and have no check; ``to_come`` are expected
    and nobody has scanned them; the first of both are listed. ``consignments`` holds the keys of
    those whose bottles these are.
    """

    done: int
    held: int
    refused: int
    unchecked: int
    to_come: int
    first_unchecked: tuple[Bottle, ...]
    first_to_come: tuple[Bottle, ...]
    consignments: frozenset[int]

    @classmethod
    def of(cls, arrival: Arrival) -> Tally:
        bottles = Bottle.objects.of_arrival(arrival).with_scanned(arrival)
        kinds = bottles.order_by().values_list("consignment", "arrival", "state", "scanned")
        counts = list(kinds.annotate(count=Count("pk")))

        def counted(*, here: bool = False, state: str = "", scanned: bool | None = None) -> int:
            return sum(
                count
                for _consignment, came_in, its_state, was_scanned, count in counts
                if (not here or came_in == arrival.pk)
                and state in ("", its_state)
                and scanned in (None, was_scanned)
            )

        expected = bottles.filter(state=BottleState.EXPECTED).select_related("sample")
        expected = expected.only("number", "line", "sample__own_id")
        first = expected.order_by("-scanned", "consignment", "sample__position", "line")
        listed = list(first[:LISTED_AT_THE_DESK])
        return cls(
            done=counted(here=True),
            held=counted(here=True, state=BottleState.ON_HOLD),
            refused=counted(here=True, state=BottleState.REFUSED),
            unchecked=counted(state=BottleState.EXPECTED, scanned=True),
            to_come=counted(state=BottleState.EXPECTED, scanned=False),
            first_unchecked=tuple(bottle for bottle in listed if bottle.scanned),
            first_to_come=tuple(bottle for bottle in listed if not bottle.scanned),
            consignments=frozenset(row[0] for row in counts),
        )

    @property
    def total(self) -> int:
        return self.done + self.unchecked + self.to_come

    @property
    def unchecked_unlisted(self) -> int:
        return self.unchecked - len(self.first_unchecked)

    @property
    def to_come_unlisted(self) -> int:
        return self.to_come - len(self.first_to_come)

    @property
    def accepted(self) -> int:
        """Checked bottles that neither wait for a decision nor were refused."""
        return self.done - self.held - self.refused


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an arrival has come.

    ``checked`` came in it; ``unchecked`` were scanned in it and have no check; ``to_come`` are
    expected and nobody has scanned them.
    """

    checked: tuple[Bottle, ...]
    unchecked: tuple[Bottle, ...]
    to_come: tuple[Bottle, ...]
    missing: tuple[Bottle, ...]

    @classmethod
    def of(cls, arrival: Arrival, bottles: Iterable[Bottle] | None = None) -> Progress:
        bottles = list(bottles_of(arrival) if bottles is None else bottles)
        expected = [bottle for bottle in bottles if bottle.state == BottleState.EXPECTED]
        return cls(
            checked=tuple(bottle for bottle in bottles if bottle.arrival_id == arrival.pk),
            unchecked=tuple(bottle for bottle in expected if bottle.scanned),
            to_come=tuple(bottle for bottle in expected if not bottle.scanned),
            missing=tuple(bottle for bottle in bottles if bottle.state == BottleState.MISSING),
        )

    @property
    def done(self) -> int:
        return len(self.checked)

    @property
    def total(self) -> int:
        return len(self.checked) + len(self.unchecked) + len(self.to_come)

    def in_state(self, state: str) -> list[Bottle]:
        return [bottle for bottle in self.checked if bottle.state == state]

    @property
    def held(self) -> list[Bottle]:
        return self.in_state(BottleState.ON_HOLD)

    @property
    def refused(self) -> list[Bottle]:
        return self.in_state(BottleState.REFUSED)

    @property
    def accepted(self) -> list[Bottle]:
        """Checked bottles that neither wait for a decision nor were refused."""
        aside = (BottleState.ON_HOLD, BottleState.REFUSED)
        return [bottle for bottle in self.checked if bottle.state not in aside]
