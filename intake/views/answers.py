"""Steps that views share: finding what a person may see, and answering what an action refused."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Iterable
from functools import wraps

from django.db.models import Max, QuerySet
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from intake import numbers
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, Refused, SomebodyWasFaster
from intake.models import Consignment, RecordEntry

View = Callable[..., HttpResponse]

#: What a form that cannot be taken answers with (RFC 9110, 15.5.21).
CANNOT_BE_TAKEN = 422
#: What a form answers with that was read before somebody else's change (RFC 9110, 15.5.10).
CONFLICT = 409
CONFLICTS = (MoveNotAllowed, SomebodyWasFaster, AlreadyDone)


def new_token() -> str:
    """A fresh token for a form; the same token takes effect once."""
    return secrets.token_urlsafe(24)


def fresh(consignment: Consignment) -> dict[str, object]:
    """What a form about ``consignment`` carries that is read now."""
    return {
        "token": new_token(),
        "version": consignment.version,
        "seen": last_position(consignment),
    }


def posted_version(request: HttpRequest) -> int:
    """The version a button was read at; -1, which no version is, where it tells none."""
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else -1


def token_with_content(token: str, content: Iterable[tuple[str, object]]) -> str:
    """A token that is spent only by the same ``token`` with the same ``content``.

    Whoever goes back, changes something and sends again is then told that the thing changed
    meanwhile, instead of being told that it was done already. Empty stays empty.
    """
    if not token:
        return ""
    digest = hashlib.sha256(token.encode("utf-8", "replace"))
    for name, value in content:
        digest.update(f"\x1e{name}\x1f{value}".encode("utf-8", "replace"))
    return digest.hexdigest()


def posted(request: HttpRequest) -> QueryDict | None:
    """What was posted, even if it is nothing; ``None`` where nothing was posted."""
    return request.POST if request.method == "POST" else None


def status_of(problem: Refused) -> int:
    """The status that tells a machine what ``problem`` tells a person."""
    return CONFLICT if isinstance(problem, CONFLICTS) else CANNOT_BE_TAKEN


def refusals_explained(view: View) -> View:
    """Answer a refusal that ``view`` did not put into a form with a page that explains it."""

    @wraps(view)
    def answered(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except Refused as problem:
            context = {
                "problem": problem,
                "done": isinstance(problem, AlreadyDone),
                "consignment": _consignment_of(request, str(kwargs.get("number", ""))),
            }
            return render(request, "intake/refused.html", context, status=status_of(problem))

    return answered


def _consignment_of(request: HttpRequest, number: str) -> Consignment | None:
    """The consignment that a refused address is about, so that the page can lead back to it."""
    return Consignment.objects.visible_to(request.user).filter(number=numbers.tidy(number)).first()


def add_refusal(form: BaseForm, problem: Refused) -> None:
    """Show ``problem`` in ``form``: at the fields it names, else above all of them."""
    named = problem.problems if isinstance(problem, EntryProblem) else {}
    elsewhere = False
    for name, sentence in named.items():
        if name in form.fields:
            form.add_error(name, sentence)
        else:
            elsewhere = True
    if not named or elsewhere:
        form.add_error(None, problem.sentence)


def consignment_or_404(request: HttpRequest, number: str, *related: str) -> Consignment:
    """The consignment of that number, if the person may know of it."""
    visible: QuerySet[Consignment] = Consignment.objects.visible_to(request.user)
    found = visible.select_related("group", "rulebook", *related).filter(number=numbers.tidy(number)).first()
    if found is None:
        raise Http404
    return found


def last_position(consignment: Consignment) -> int:
    """How far the record of ``consignment`` has come; a form notes it to tell later what is new."""
    found = RecordEntry.objects.filter(consignment=consignment).aggregate(last=Max("position"))
    return found["last"] or 0


def changes_since(consignment: Consignment, position: int | None, problem: Refused) -> list[RecordEntry]:
    """What was done to ``consignment`` after a form was read at ``position``, oldest first."""
    if not isinstance(problem, SomebodyWasFaster) or position is None:
        return []
    newer = RecordEntry.objects.filter(consignment=consignment, position__gt=position)
    return list(newer.order_by("position")[:20])
