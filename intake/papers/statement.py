"""The statement: what became of every ion of a consignment, released by a person."""

from __future__ import annotations

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer

from intake.models import Statement
from intake.papers.pages import BOXED, HEAD, LARGE, SMALL, TITLE, document, ruled, strong, words
from intake.saying import (
    VOID,
    SaidBottle,
    SaidIon,
    SaidSample,
    about_content,
    about_release,
    notes,
    replaced_words,
    said_samples,
)

WIDTHS = (26 * mm, 18 * mm, 33 * mm, 33 * mm, 16 * mm, 52 * mm)
ABOUT_WIDTHS = (38 * mm, 140 * mm)
#: A bottle with more lines than this may break over two pages.
KEPT_TOGETHER = 30


def statement_pdf(statement: Statement, *, sound: bool, replaced_by: Statement | None) -> bytes:
    """The statement as A4 pages. One that is not ``sound`` says that it is void."""
    content = statement.content
    story: list[Flowable] = [
        words(_("Statement"), TITLE),
        strong(str(statement), LARGE),
        words(content["consignment"]["title"], LARGE),
        Spacer(0, 3 * mm),
    ]
    if not sound:
        story.append(strong(VOID, BOXED))
    if replaced_by is not None:
        story.append(strong(replaced_words(replaced_by), BOXED))
    pairs = about_release(statement) + about_content(content)
    story.append(
        ruled([[strong(name, SMALL), words(told, SMALL)] for name, told in pairs], ABOUT_WIDTHS, heads=0)
    )
    for sample in said_samples(content):
        story += _sample(sample)
    story.append(strong(_("Notes and sources"), HEAD))
    story += [words(note, SMALL) for note in notes(content)]
    return document(
        _("Statement %(number)s") % {"number": statement},
        _("Statement %(number)s") % {"number": statement},
        story,
    )


def _sample(sample: SaidSample) -> list[Flowable]:
    head = [strong(sample.title, HEAD), words(sample.collected, SMALL)]
    head += [words(line, SMALL) for line in sample.lines]
    story: list[Flowable] = []
    for bottle in sample.bottles:
        part = head + _bottle(bottle)
        story += [KeepTogether(part)] if len(bottle.ions) <= KEPT_TOGETHER else part
        head = []
    return story + head


def _bottle(bottle: SaidBottle) -> list[Flowable]:
    named = (_("Ion"), _("Limit"), _("Due"), _("Injected"), _("Used"), _("Outcome"))
    rows = [[strong(text, SMALL) for text in named], *(_row(ion) for ion in bottle.ions)]
    told = [words(line, SMALL) for line in bottle.lines]
    return [Spacer(0, 2 * mm), strong(bottle.title, SMALL), *told, Spacer(0, 1 * mm), ruled(rows, WIDTHS)]


def _row(ion: SaidIon) -> list[object]:
    told = [words(text, SMALL) for text in (ion.name, ion.limit, ion.due, ion.injected, ion.used)]
    return [*told, [strong(ion.outcome, SMALL), *(words(line, SMALL) for line in ion.lines)]]
