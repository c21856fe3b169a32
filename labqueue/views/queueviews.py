"""Saved views of the queue, each person's own."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from intake.errors import Refused
from intake.permissions import require
from intake.views.answers import CANNOT_BE_TAKEN, posted
from labqueue.actions.views import delete_view, rename_view, save_view
from labqueue.forms.queue import KEPT, ViewNameForm
from labqueue.models import SavedView


def kept_words(query: str) -> str:
    """The words of the queue's address that a view keeps: filters, gathering and order, not the page."""
    given = QueryDict(query[:2000])
    kept = QueryDict(mutable=True)
    for name in KEPT:
        if given.get(name):
            kept[name] = given[name]
    return kept.urlencode()


def _own(request: HttpRequest, pk: int) -> SavedView:
    require(request.user, "queue.see")
    found = SavedView.objects.of(request.user).filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


@login_required
@require_http_methods(["GET", "POST"])
def queue_views(request: HttpRequest) -> HttpResponse:
    """The person's views, and a form to keep what the queue shows under a name."""
    require(request.user, "queue.see")
    query = kept_words((posted(request) or request.GET).get("query", ""))
    form = ViewNameForm(posted(request))
    status = 200
    if request.method == "POST":
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            try:
                view = save_view(form.cleaned_data["name"], query, by=request.user, at=request.at)
            except Refused as refusal:
                form.take(refusal)
            else:
                messages.success(request, _("The view “%(name)s” is saved.") % {"name": view.name})
                return redirect(f"{reverse('labqueue:queue')}?{view.query}")
    views = SavedView.objects.of(request.user)
    context = {"form": form, "query": query, "views": views, "at": request.at}
    return render(request, "labqueue/queue_views.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def queue_view(request: HttpRequest, pk: int) -> HttpResponse:
    """Another name for a view."""
    view = _own(request, pk)
    form = ViewNameForm(posted(request), initial={"name": view.name})
    status = 200
    if request.method == "POST":
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            try:
                rename_view(view, form.cleaned_data["name"], by=request.user)
            except Refused as refusal:
                form.take(refusal)
            else:
                return redirect("labqueue:queue_views")
    return render(
        request, "labqueue/queue_view.html", {"form": form, "view": view, "at": request.at}, status=status
    )


@login_required
@require_POST
def queue_view_delete(request: HttpRequest, pk: int) -> HttpResponse:
    view = _own(request, pk)
    delete_view(view, by=request.user)
    messages.success(request, _("The view “%(name)s” is deleted.") % {"name": view.name})
    return redirect("labqueue:queue_views")
