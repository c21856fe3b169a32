"""Views of the queue that a person keeps: saved, renamed, deleted.

A preference of one person and no fact of the laboratory: the record tells nothing of it.
"""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from intake.errors import EntryProblem
from intake.models import User
from intake.permissions import require
from labqueue.models import SavedView

#: More than anybody finds again in a list (our choice).
MOST_VIEWS = 30


def _named(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise EntryProblem(_("Give the view a name."), {"name": _("Give the view a name.")})
    return name


def _taken(name: str) -> EntryProblem:
    sentence = _(
        "You have a view called “%(name)s” already. Choose another name or delete that view first."
    ) % {"name": name}
    return EntryProblem(sentence, {"name": sentence})


@transaction.atomic
def save_view(name: str, query: str, *, by: User, at: datetime) -> SavedView:
    """Keep ``query``, the words of the queue's address, under ``name`` for the person."""
    require(by, "queue.see")
    name = _named(name)
    if len(query) > SavedView._meta.get_field("query").max_length:
        raise EntryProblem(_("What is asked for is too long to keep. Search for fewer words."))
    if SavedView.objects.of(by).count() >= MOST_VIEWS:
        raise EntryProblem(
            _("You have %(most)s views, which is the most. Delete one you no longer use.")
            % {"most": MOST_VIEWS}
        )
    try:
        with transaction.atomic():
            return SavedView.objects.create(user=by, name=name, query=query, saved_at=at)
    except IntegrityError:
        raise _taken(name) from None


@transaction.atomic
def rename_view(view: SavedView, name: str, *, by: User) -> SavedView:
    """Give a view of the person's own another name."""
    require(by, "queue.see")
    view.name = _named(name)
    try:
        with transaction.atomic():
            SavedView.objects.of(by).filter(pk=view.pk).update(name=view.name)
    except IntegrityError:
        raise _taken(view.name) from None
    return view


@transaction.atomic
def delete_view(view: SavedView, *, by: User) -> None:
    """Delete a view of the person's own; one that is gone already stays gone."""
    require(by, "queue.see")
    SavedView.objects.of(by).filter(pk=view.pk).delete()
