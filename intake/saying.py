"""A statement in the words that page, paper and workbook share. Reads the stored content alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from intake.models import Statement
from intake.numbers import grouped
from intake.phrasebook import said, said_reason
from intake.rules.words import say_number
from intake.shown import show_clock, show_list, show_moment
from intake.stating import moment_of

Plain = Mapping[str, object]

VOID = gettext_lazy("VOID: what is stored is no longer what was issued. Ask the laboratory.")
USED = gettext_lazy(
    "Used is the share of the holding time that had passed when the injection began. A late value is "
    "reported as late; whoever uses it decides what it is worth."
)
ASSUMED = gettext_lazy("* counted from the earliest moment that the stated collection allows.")


@dataclass(frozen=True, slots=True)
class SaidIon:
    """One ion of one bottle; ``lines`` is what else is to be said of it."""

    name: str
    limit: str
    due: str
    injected: str
    used: str
    outcome: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SaidBottle:
    title: str
    lines: tuple[str, ...]
    ions: tuple[SaidIon, ...]


@dataclass(frozen=True, slots=True)
class SaidSample:
    title: str
    collected: str
    lines: tuple[str, ...]
    bottles: tuple[SaidBottle, ...]


def replaced_words(replaced_by: Statement) -> str:
    return _("Replaced by statement %(number)s. Use that one.") % {"number": replaced_by}


def about_release(statement: Statement) -> list[tuple[str, str]]:
    """Who released it and when, what it replaces, and its seal, in pairs."""
    zone = statement.content["consignment"]["zone"]
    pairs = [(_("Issued by"), f"{statement.issued_name}, {show_moment(statement.issued_at, zone)}")]
    if statement.replaces is not None:
        pairs.append((_("Replaces"), f"{statement.replaces}: {statement.reason}"))
    return [*pairs, (_("Seal (SHA-256)"), statement.digest)]


def about_content(content: Plain) -> list[tuple[str, str]]:
    """What the statement is about, in pairs."""
    consignment, book = content["consignment"], content["rulebook"]
    pairs = [
        (_("Group"), consignment["group"]),
        (_("Consignment"), f"{grouped(consignment['number'])} {consignment['title']}"),
    ]
    if consignment["purpose"]:
        pairs.append((_("Purpose"), consignment["purpose"]))
    pairs.append((_("Rulebook"), _("%(title)s, version %(version)s") % book))
    pairs += [(_("Received"), _arrival(arrival, consignment["zone"])) for arrival in content["arrivals"]]
    return [*pairs, (_("Ions by outcome"), say_tally(content)), (_("Times"), consignment["zone"])]


def say_tally(content: Plain) -> str:
    return show_list(f"{count} {said(word)}" for word, count in content["tally"].items()) or _("none")


def _arrival(arrival: Plain, zone: str) -> str:
    """When an arrival came, who took it in, and how cold it was."""
    parts = [f"{say(arrival['received_at'], zone)}, {arrival['received_by']}"]
    if arrival["temperature_c"] is not None:
        read_on = f" ({said(arrival['measured_on'])})" if arrival["measured_on"] else ""
        parts.append(f"{say_number(arrival['temperature_c'])} °C{read_on}")
    if arrival["cooling"]:
        parts.append(_("cooling: %(cooling)s") % {"cooling": said(arrival["cooling"])})
    if arrival["seal"]:
        parts.append(_("seal: %(seal)s") % {"seal": said(arrival["seal"])})
    return "; ".join(parts)


def say(text: object, zone: str) -> str:
    """A moment of the content on the clocks of ``zone``, which is named once at the head."""
    moment = moment_of(text)
    return show_clock(moment, zone) if moment else _("not stated")


def notes(content: Plain) -> list[str]:
    """What a reader has to know, then the sources."""
    found = [USED]
    if any(ion["assumed"] for ion in all_ions(content)):
        found.append(ASSUMED)
    return found + [said(source) for source in content["sources"]]


def all_ions(content: Plain) -> Iterator[Plain]:
    for sample in content["samples"]:
        for bottle in sample["bottles"]:
            yield from bottle["ions"]


def said_samples(content: Plain) -> list[SaidSample]:
    """Every sample of a statement in words."""
    zone = content["consignment"]["zone"]
    return [
        SaidSample(
            f"{sample['own_id']}, {sample['site']}" if sample["site"] else sample["own_id"],
            _collected(sample, zone),
            tuple(sample_lines(sample)),
            tuple(
                SaidBottle(
                    _("%(line)s bottle %(number)s")
                    % {"line": capfirst(said(bottle["line"])), "number": grouped(bottle["number"])},
                    tuple(bottle_lines(bottle, zone)),
                    tuple(_ion(ion, zone) for ion in bottle["ions"]),
                )
                for bottle in sample["bottles"]
            ),
        )
        for sample in content["samples"]
    ]


def sample_lines(sample: Plain) -> Iterator[str]:
    """What is to be said of a sample as a whole, a sentence each."""
    for row in sample["departures"]:
        yield say_departure(row)
    for check in sample["checks"]:
        yield said(check["sentence"])


def say_value(result: Plain) -> str:
    """A value in the sample, as its element too, with how it came about and its flags."""
    less = "<" if result["below"] else ""
    told = f"{less}{say_number(result['mg_l'])} mg/L"
    if result.get("element_mg_l") is not None:
        told += f" = {less}{say_number(result['element_mg_l'], 2 if less else 4)} mg/L {result['element']}"
    told += _how(result)
    return "; ".join([told, *map(said, result["flags"]), *([result["remark"]] if result["remark"] else [])])


def _how(result: Plain) -> str:
    """What was stated, and which factors were applied here or were in it already; never both."""
    factors = [
        (_("dilution"), result["dilution"], result["dilution_applied"]),
        (_("acid volume"), result["acid_factor"], result["acid_applied"]),
    ]
    counting = [(name, say_number(factor), applied) for name, factor, applied in factors if factor != 1]
    if not counting and result["unit"] == "mg/L" and not result["as_element"]:
        return ""
    as_element = _(" as the element") if result["as_element"] else ""
    told = _("stated %(value)s %(unit)s") % {"value": say_number(result["stated"]), "unit": result["unit"]}
    told += as_element
    told += "".join(f" × {name} {factor}" for name, factor, applied in counting if not applied)
    told += "".join(
        "; " + _("%(name)s %(factor)s already in it") % {"name": name, "factor": factor}
        for name, factor, applied in counting
        if applied
    )
    return f" ({told})"


def _collected(sample: Plain, zone: str) -> str:
    began = f"{say(sample['began_at'], zone)} – " if sample["began_at"] else ""
    parts = [f"{said(sample['collection'])}, {began}{say(sample['collected_at'], zone)}"]
    if sample["precision"] in ("hour", "date"):
        parts.append(_("time known to the %(precision)s only") % {"precision": said(sample["precision"])})
    if sample["ph"] is not None:
        parts.append(f"pH {say_number(sample['ph'])}")
    if sample["ec"] is not None:
        parts.append(f"EC {say_number(sample['ec'])} {sample['ec_unit']}")
    return _("Collected: %(told)s") % {"told": "; ".join(parts)}


def bottle_lines(bottle: Plain, zone: str) -> Iterator[str]:
    """What is to be said of one bottle beside its ions, a sentence each."""
    if bottle["received_at"]:
        yield _("Received %(moment)s.") % {"moment": say(bottle["received_at"], zone)}
    if bottle["decision"]:
        who = f", {bottle['decided_by']}" if bottle["decided_by"] else ""
        reason = f": {said_reason(bottle['decision_reason'])}" if bottle["decision_reason"] else ""
        yield _("Reception: %(told)s") % {"told": f"{said(bottle['decision'])}{who}{reason}"}
    for question in bottle["questions"]:
        yield from _question(question, zone)
    for shot in bottle["injections"]:
        yield _("Injected %(told)s.") % {"told": _shot(shot, zone)}
    if bottle["acid_volume_factor"] is not None:
        yield _("Acid made the volume %(factor)s times as large.") % {
            "factor": say_number(bottle["acid_volume_factor"])
        }
    for row in bottle["departures"]:
        yield say_departure(row)


def _shot(shot: Plain, zone: str) -> str:
    """When and where an injection was, how it was diluted, and the correction for acid."""
    parts = [say(shot["at"], zone) + (f" ({shot['label']})" if shot["label"] else "")]
    if shot.get("dilution") is not None:
        diluted = _("diluted 1:%(dilution)s") % {"dilution": say_number(shot["dilution"])}
        parts.append(diluted if shot["dilution"] != 1 else _("undiluted"))
    if shot.get("volume_factor") not in (None, 1):
        parts.append(_("volume correction %(factor)s") % {"factor": say_number(shot["volume_factor"], 4)})
    return ", ".join(parts)


def _question(question: Plain, zone: str) -> Iterator[str]:
    asked = _("Asked %(moment)s: %(sentence)s") % {
        "moment": say(question["asked_at"], zone),
        "sentence": said(question["sentence"]),
    }
    if not question["answer"]:
        yield asked + " " + _("There was no answer.")
        return
    quoted = f" “{question['words']}”" if question["words"] else ""
    yield asked
    yield _("The group's word, %(who)s, %(moment)s: %(answer)s.%(words)s") % {
        "who": question["answered_by"],
        "moment": say(question["answered_at"], zone),
        "answer": said(question["answer"]),
        "words": quoted,
    }
    if question["disclaimer"]:
        yield said(question["disclaimer"])


def say_departure(row: Plain) -> str:
    ions = f" ({show_list(map(said, row['ions']))})" if row["ions"] else ""
    return f"{capfirst(said(row['weight']))}{ions}: {said(row['sentence'])}"


def _ion(ion: Plain, zone: str) -> SaidIon:
    star = " *" if ion["assumed"] else ""
    return SaidIon(
        f"{said(ion['ion'])} {ion['formula']}".strip(),
        said(ion["limit"]) or "–",
        f"{say(ion['due_at'], zone)}{star}" if ion["due_at"] else "–",
        say(ion["injected_at"], zone) if ion["injected_at"] else "–",
        say_share(ion["share_percent"]),
        said(ion["outcome"]),
        tuple(ion_lines(ion, zone)),
    )


def say_share(share: object) -> str:
    return "–" if share is None else f"{say_number(share, 6)} %"


def ion_lines(ion: Plain, zone: str) -> Iterator[str]:
    """What is to be said of one ion beside its outcome: values, why, what lateness does, repeats."""
    for result in ion["results"]:
        yield say_value(result)
    if ion["why"]:
        yield said(ion["why"])
    if ion["lateness"]:
        yield _("waiting: it %(effect)s") % {"effect": said(ion["lateness"])}
    for repeat in ion["further"]:
        yield _("injected again %(moment)s: %(outcome)s") % {
            "moment": say(repeat["injected_at"], zone),
            "outcome": said(repeat["outcome"]),
        }
