"""Questions to the group: all that are open, and one with its answer."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import Count, Prefetch, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from intake.actions.answering import answer_question
from intake.errors import AlreadyDone, Refused
from intake.forms.questions import AnswerForm
from intake.models import AskedBottle, Consignment, Question
from intake.permissions import can, require
from intake.querysets import QuestionQuerySet
from intake.rules.catalogue import BY_CODE
from intake.rules.findings import Rule
from intake.states import BottleState
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    add_refusal,
    new_token,
    posted,
    refusals_explained,
    status_of,
    token_with_content,
)

PAGE = 50


@dataclass(frozen=True, slots=True)
class Shown:
    """One question as a page shows it; ``form`` where this person may answer."""

    question: Question
    held: tuple[AskedBottle, ...]
    settled: int
    rule: Rule | None
    form: AnswerForm | None = None

    @property
    def open(self) -> bool:
        return self.question.answered_at is None and bool(self.held)


def with_bottles(questions: QuestionQuerySet) -> QuestionQuerySet:
    """``questions`` with all that showing them reads, in two more queries."""
    asked = AskedBottle.objects.select_related("bottle__sample")
    related = ("consignment__group", "arrival", "asked_by", "answer__answered_by")
    return questions.select_related(*related).prefetch_related(Prefetch("asked", queryset=asked))


def shown(request: HttpRequest, question: Question, form: AnswerForm | None = None) -> Shown:
    asked = list(question.asked.all())
    held = tuple(one for one in asked if one.bottle.state == BottleState.ON_HOLD)
    open_now = question.answered_at is None and bool(held)
    if not (open_now and can(request.user, "question.answer", question)):
        form = None
    elif form is None:
        form = _form(request, question)
    return Shown(question, held, len(asked) - len(held), BY_CODE.get(question.code), form)


def _form(request: HttpRequest, question: Question, data: object = None) -> AnswerForm:
    own = request.user.membership_set.filter(group=question.consignment.group_id).exists()
    return AnswerForm(data, question=question, for_the_group=not own, initial={"token": new_token()})


def open_questions(request: HttpRequest, consignment: Consignment) -> list[Shown]:
    """The open questions about ``consignment``, the most urgent first."""
    mine = with_bottles(consignment.questions.open()).most_urgent_first()
    return [shown(request, question) for question in mine]


@require_safe
@login_required
def questions(request: HttpRequest) -> HttpResponse:
    """What waits for a group's word; for a lab manager, what fell to them comes first."""
    visible = Question.objects.visible_to(request.user)
    held = Count("asked", filter=Q(asked__bottle__state=BottleState.ON_HOLD))
    found = visible.open().select_related("consignment__group").annotate(held=held).most_urgent_first()
    answered = visible.filter(answered_at__isnull=False).select_related("consignment", "answer__answered_by")
    context = {
        "at": request.at,
        "yours": found.filter(fell_at__isnull=False) if request.user.is_manager else found.none(),
        "page": Paginator(
            found.filter(fell_at__isnull=True) if request.user.is_manager else found, PAGE
        ).get_page(request.GET.get("page")),
        "answered": answered.order_by("-answered_at", "-pk")[:20],
    }
    return render(request, "intake/questions.html", context)


def _question_or_404(request: HttpRequest, pk: int) -> Question:
    found = with_bottles(Question.objects.visible_to(request.user)).filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


@require_http_methods(("GET", "HEAD", "POST"))
@login_required
@refusals_explained
def question(request: HttpRequest, pk: int) -> HttpResponse:
    """One question: what was found on which bottles, until when an answer is useful, the answer."""
    asked = _question_or_404(request, pk)
    form, status = None, 200
    if request.method == "POST":
        require(request.user, "question.answer", asked)
        form = _form(request, asked, posted(request))
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            try:
                answer_question(
                    asked,
                    by=request.user,
                    at=request.at,
                    choice=form.cleaned_data["choice"],
                    words=form.cleaned_data["words"],
                    token=token_with_content(form.cleaned_data["token"], form.content()),
                )
            except AlreadyDone as done:
                messages.info(request, done.sentence)
                return redirect("intake:question", asked.pk)
            except Refused as problem:
                add_refusal(form, problem)
                status = status_of(problem)
                asked = _question_or_404(request, pk)
            else:
                messages.success(request, _("Your answer is recorded and has taken effect."))
                return redirect("intake:consignment", asked.consignment.number)
    context = {
        "at": request.at,
        "zone": asked.consignment.zone,
        "shown": shown(request, asked, form),
        "form": form,
        "question": asked,
        "consignment": asked.consignment,
    }
    return render(request, "intake/question.html", context, status=status)
