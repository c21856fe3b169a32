"""What templates may ask for. Each tag hands finished words and numbers to a small partial."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from django import template
from django.forms import BaseForm, BoundField
from django.template.context import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from intake.navigation import address_of, doors
from intake.numbers import grouped
from intake.pictures import signs
from intake.pictures.clockbar import clock_bar as picture_of
from intake.pictures.timeleft import LAST_HOURS, SOON, say_left, say_relative, urgency_of
from intake.rules.judgement import Remedy, Stage
from intake.rules.moments import local, zone_named
from intake.rules.words import say_number
from intake.shown import show_day, show_list, show_moment

register = template.Library()


def now_of(context: Context) -> datetime:
    """The moment of this page: the view's ``at``, else when the request came in."""
    return context.get("at") or context["request"].at


def zone_of(context: Context, zone: str = "") -> str:
    """The zone asked for, else the page's ``zone``, else the person's own, else UTC."""
    asked = zone or context.get("zone") or getattr(context.get("user"), "zone", "")
    try:
        zone_named(asked)
    except ValueError:
        return "UTC"
    return asked


def _stamp(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def _abbreviation(there: datetime) -> str:
    """``CET`` where the zone has letters of its own, else its distance from UTC."""
    letters = there.tzname() or ""
    if letters.isalpha():
        return letters
    offset = f"{there:%z}"
    return f"UTC{offset[:3]}:{offset[3:5]}"


@register.simple_tag(takes_context=True)
def page_moment(context: Context) -> str:
    """The server's moment of this page, for ``timeleft.js``; empty on a page without a request."""
    return _stamp(now_of(context)) if context.get("at") or context.get("request") else ""


@register.simple_tag
def thresholds() -> SafeString:
    """From how many minutes before its end a clock is called soon, and in its last hours."""
    return format_html(
        'data-soon="{}" data-last-hours="{}"',
        int(SOON.total_seconds() // 60),
        int(LAST_HOURS.total_seconds() // 60),
    )


@register.simple_tag(takes_context=True)
def moment(context: Context, when: datetime | None, zone: str = "", form: str = "full") -> SafeString | str:
    """``24 Nov 2026 14:05 Europe/Zurich`` as a time element.

    ``form="short"`` names the zone by its letters (``CET``), for lists whose page names it in
    full; ``form="date"`` leaves out the time of day.
    """
    if when is None:
        return _("not stated")
    zone = zone_of(context, zone)
    there = local(when, zone)
    day = show_day(there)
    if form == "date":
        return format_html('<time datetime="{}">{}</time>', _stamp(when), day)
    return format_html(
        '<time datetime="{}">{} {} <span class="zone">{}</span></time>',
        _stamp(when),
        day,
        f"{there:%H:%M}",
        _abbreviation(there) if form == "short" else zone,
    )


@register.simple_tag(takes_context=True)
def relative(context: Context, when: datetime | None) -> str:
    """``in 2 d 3 h`` or ``5 h 0 min ago``; stands beside a moment, never alone."""
    return "" if when is None else say_relative(when, now_of(context))


@register.simple_tag(takes_context=True)
def time_left(context: Context, due_at: datetime | None) -> SafeString | str:
    """``3 h 12 min left``, kept up by ``timeleft.js`` without being read aloud."""
    if due_at is None:
        return _("no limit")
    return format_html(
        '<span class="left" role="timer" data-due="{}">{}</span>',
        _stamp(due_at),
        say_left(due_at, now_of(context)),
    )


@register.filter
def figure(value: float | None, unit: str = "") -> str:
    """A number with at most three sensible digits after rounding, its unit held to it."""
    if value is None:
        return _("not stated")
    return f"{say_number(value)}\N{NO-BREAK SPACE}{unit}" if unit else say_number(value)


@register.filter
def said_in(when: datetime, zone: str) -> str:
    """A moment as plain text in ``zone``, for mails."""
    return show_moment(when, zone)


@register.filter
def per_cent(value: int | None) -> str:
    return "" if value is None else f"{value}\N{NO-BREAK SPACE}%"


@register.filter
def number(value: str) -> SafeString:
    """A consignment's or bottle's number in groups of four."""
    return format_html('<span class="number">{}</span>', grouped(str(value)))


@register.filter
def some(words: Sequence[str], most: int) -> str:
    """``A, B, C and 4,997 more``: at most ``most`` of the words, the rest counted."""
    left = len(words) - most
    shown = ", ".join(words[:most])
    return shown if left <= 0 else _("%(shown)s and %(left)s more") % {"shown": shown, "left": f"{left:,}"}


@register.filter
def listed(words: list[str] | tuple[str, ...]) -> str:
    return show_list(words)


@register.inclusion_tag("_parts/_sign.html")
def weight(value: str | int) -> dict[str, object]:
    """The sign of a finding's weight, from its word or its rank; nothing for no finding."""
    table = signs.WEIGHTS_BY_RANK if isinstance(value, int) else signs.WEIGHTS
    return {"sign": table.get(value)}


@register.inclusion_tag("_parts/_sign.html")
def bottle_state(state: str) -> dict[str, object]:
    return {"sign": signs.BOTTLES[state]}


@register.inclusion_tag("_parts/_sign.html")
def consignment_state(state: str) -> dict[str, object]:
    return {"sign": signs.CONSIGNMENTS[state]}


@register.inclusion_tag("_parts/_sign.html", takes_context=True)
def urgency(context: Context, clock: object) -> dict[str, object]:
    """The sign of how urgent ``clock`` is (a clock of the rules or a stored one)."""
    level = urgency_of(clock.due_at, now_of(context), clock.stopped_at, clock.void)
    return {"sign": signs.urgency_sign(level), "due_at": _stamp(clock.due_at) if clock.due_at else ""}


@register.inclusion_tag("_parts/_clock.html", takes_context=True)
def clock_bar(
    context: Context,
    clock: object,
    zone: str = "",
    received: datetime | str | None = None,
    planned: datetime | str | None = None,
    words: bool = True,
) -> dict[str, object]:
    """The picture of one clock with its words beside it. ``words=False`` leaves the picture alone."""
    now = now_of(context)
    bar = picture_of(
        starts_at=clock.starts_at,
        due_at=clock.due_at,
        now=now,
        stopped_at=clock.stopped_at,
        void=clock.void,
        received_at=received or None,
        planned_at=planned or None,
    )
    return {
        "clock": clock,
        "bar": bar,
        "sign": signs.urgency_sign(bar.urgency),
        "running": bar.known and clock.stopped_at is None,
        "due_stamp": _stamp(clock.due_at) if clock.due_at else "",
        "zone": zone_of(context, zone),
        "at": now,
        "words": words,
    }


def _remedies(remedies: Iterable[Remedy | list[str]]) -> list[dict[str, str]]:
    """Remedies of the rules and stored ones, which are pairs, in one shape."""
    pairs = [item if isinstance(item, list) else (item.stage, item.sentence) for item in remedies]
    return [{"stage": str(stage), "sentence": sentence} for stage, sentence in pairs]


@register.inclusion_tag("_parts/_finding.html")
def finding(row: object, about: str = "", arrived: bool = False) -> dict[str, object]:
    """One finding, stored or fresh. ``about`` names the sample or bottle where the page does not.

    ``arrived`` leaves out what only the sender could have done before sending.
    """
    remedies = _remedies(row.remedies)
    return {
        "finding": row,
        "sign": signs.WEIGHTS[str(row.weight)],
        "remedies": [one for one in remedies if not (arrived and one["stage"] == Stage.BEFORE_SENDING)],
        "about": about,
        "rule_address": address_of("intake:rule", row.code),
    }


@register.inclusion_tag("intake/_what_to_do.html")
def what_to_do(row: object) -> dict[str, object]:
    """Remedies, reason and source of one finding, folded away."""
    return {
        "finding": row,
        "remedies": _remedies(row.remedies),
        "rule_address": address_of("intake:rule", row.code),
    }


@register.inclusion_tag("_parts/_findings.html")
def findings(rows: object, arrived: bool = False) -> dict[str, object]:
    """A list of findings, the heaviest first; for bottles that ``arrived``, with what can still be done."""
    return {"findings": sorted(rows, key=lambda row: -signs_rank(row)), "arrived": arrived}


def signs_rank(row: object) -> int:
    return ("note", "caution", "bar").index(str(row.weight))


@register.inclusion_tag("_parts/_field.html")
def form_field(field: BoundField, hint: str = "", bare: bool = False) -> dict[str, object]:
    """A field with its label, hint and what is wrong with it, tied together for every reader.

    ``bare`` leaves out that it may stay empty, where every field may.
    """
    many = field.use_fieldset
    described = [f"{field.auto_id}_hint"] if hint or field.help_text else []
    described += [f"{field.auto_id}_wrong"] if field.errors else []
    marks: dict[str, object] = {"aria-describedby": " ".join(described)} if described else {}
    if field.errors and not many:
        marks["aria-invalid"] = "true"
    return {
        "field": field,
        "control": field.as_widget(attrs=marks),
        "hint": hint or field.help_text,
        "described": " ".join(described),
        "many": many,
        "tick": getattr(field.field.widget, "input_type", "") == "checkbox" and not many,
        "label": field.label,
        "optional": not (bare or field.field.required),
    }


def _first_control(field: BoundField) -> str:
    """Where a link to ``field`` leads: its control, or the first of a group of them."""
    return f"{field.auto_id}_0" if field.use_fieldset else field.id_for_label


@register.inclusion_tag("_parts/_error_summary.html")
def error_summary(form: BaseForm, heading: str = "") -> dict[str, object]:
    """What is wrong with ``form``, each sentence a link to its field. It takes the focus."""
    wrong = [
        {"address": f"#{_first_control(field)}", "sentence": sentence}
        for field in form
        for sentence in field.errors
    ]
    general = form.non_field_errors()
    return {"wrong": wrong, "general": general, "any": bool(wrong or general), "heading": heading}


@register.inclusion_tag("_parts/_navigation.html", takes_context=True)
def navigation(context: Context, mark: bool = True) -> dict[str, object]:
    """The doors of the person's role; with ``mark`` the one they stand in is marked."""
    user, request = context.get("user"), context.get("request")
    role = user.role if getattr(user, "is_authenticated", False) else ""
    return {"doors": doors(role, request.path if mark and request else "")}


@register.simple_tag(takes_context=True)
def here(context: Context) -> str:
    """The address of this page, to come back to it; the first page where it was the answer to a form."""
    request = context.get("request")
    return request.get_full_path() if request is not None and request.method == "GET" else "/"


@register.simple_tag
def address(name: str, *args: object) -> str:
    """The address called ``name``, empty where this site does not have it."""
    return address_of(name, *args)
