"""Every component in every state, for the people who build and check the face."""

from __future__ import annotations

from datetime import datetime, timedelta

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_tables2 import Column, RequestConfig, Table

from intake.forms.plain import PlainForm
from intake.permissions import require
from intake.rules.book import Limit, LimitUnit
from intake.rules.judgement import Clock, Finding, Remedy, Stage, Weight
from intake.states import BottleState, ConsignmentState

EXAMPLE_FINDINGS = (
    Finding(
        "example.bar",
        Weight.BAR,
        "Nitric acid was added to a bottle for anions: it adds nitrate and destroys nitrite.",
        (Remedy(Stage.BEFORE_SENDING, "Fill a fresh bottle without acid."),),
        "an example",
        "acid_kind",
        ions=("nitrate", "nitrite"),
    ),
    Finding(
        "example.caution",
        Weight.CAUTION,
        "The bottle is not filled to the brim.",
        (
            Remedy(Stage.BEFORE_SENDING, "Fill it up and close it under water."),
            Remedy(Stage.AT_THE_BENCH, "Measure it first."),
        ),
        "an example",
        "to_brim",
    ),
    Finding(
        "example.note", Weight.NOTE, "EC was taken as already compensated to 25 °C.", (), "an example", "ec"
    ),
)


class ExampleTable(Table):
    """Rows enough for two pages."""

    bottle = Column(verbose_name="Bottle")
    line = Column(verbose_name="Line")
    volume = Column(verbose_name="Volume, mL", attrs={"th": {"class": "amount"}, "td": {"class": "amount"}})

    class Meta:
        attrs = {"caption": "Example bottles"}


class ExampleForm(PlainForm):
    """One field of each kind."""

    text = forms.CharField(label="Site", help_text="As your group calls it.")
    amount = forms.FloatField(label="Field EC, µS/cm", required=False)
    choice = forms.ChoiceField(label="Line", choices=[("anion", "anion"), ("cation", "cation")])
    several = forms.MultipleChoiceField(
        label="Ions",
        choices=[("chloride", "chloride"), ("nitrate", "nitrate"), ("sulfate", "sulfate")],
        widget=forms.CheckboxSelectMultiple,
    )
    tick = forms.BooleanField(label="Filled to the brim", required=False)
    remark = forms.CharField(label="Remark", widget=forms.Textarea(attrs={"rows": 3}), required=False)


def _clock(ion: str, now: datetime, ran: float, left: float, **more: object) -> Clock:
    """A clock that started ``ran`` hours ago and is due in ``left`` hours."""
    return Clock(
        bottle="example",
        ion=ion,
        starts_at=now - timedelta(hours=ran),
        limit=Limit(48, LimitUnit.HOURS),
        due_at=now + timedelta(hours=left),
        grossly_late_at=None,
        row=None,
        reason="",
        **more,
    )


def example_clocks(now: datetime) -> list[dict[str, object]]:
    """A clock in each state it can have, with what is known besides."""
    unknown = Clock("example", "bromide", None, None, None, None, None, "")
    hour = timedelta(hours=1)
    return [
        {"clock": _clock("sulfate", now, 100, 572), "received": now - 40 * hour},
        {
            "clock": _clock("nitrate", now, 20, 28),
            "received": now - 3 * hour,
            "planned": now + 9 * hour,
        },
        {"clock": _clock("nitrite", now, 41, 7), "received": now - 5 * hour, "planned": now + 11 * hour},
        {"clock": _clock("phosphate", now, 56, -8), "received": now - 20 * hour},
        {"clock": _clock("chloride", now, 60, 600, stopped_at=now - 2 * hour)},
        {"clock": _clock("fluoride", now, 60, -12, stopped_at=now - 2 * hour)},
        {"clock": _clock("ammonium", now, 30, 18, void=True)},
        {"clock": unknown},
    ]


@login_required
def gallery(request: HttpRequest) -> HttpResponse:
    """``/gallery/``: for the laboratory's people."""
    require(request.user, "reception.see")
    now = request.at
    wrong = ExampleForm({"wrong-amount": "-5 uS", "wrong-choice": "acid"}, prefix="wrong")
    wrong.is_valid()
    rows = [{"bottle": f"B{place:03}", "line": "anion", "volume": 50 + place} for place in range(12)]
    table = ExampleTable(rows)
    RequestConfig(request, paginate={"per_page": 5}).configure(table)
    page = Paginator(range(400), 50).page(3)
    return render(
        request,
        "intake/gallery.html",
        {
            "at": now,
            "findings": EXAMPLE_FINDINGS,
            "clocks": example_clocks(now),
            "bottles": BottleState.values,
            "consignments": ConsignmentState.values,
            "plain": ExampleForm(),
            "wrong": wrong,
            "filters": ExampleForm(prefix="filter"),
            "table": table,
            "page": page,
            "places": page.paginator.get_elided_page_range(3),
            "facts": [("Field pH", "7.2"), ("Field EC at 25 °C", "412 µS/cm")],
            "losses": ["nitrate in 3 bottles", "nitrite in 1 bottle"],
            "later": now + timedelta(hours=30),
        },
    )
