"""The field card: one page for the lid of the cooler, the steps in their order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from intake.models import Consignment
from intake.navigation import address_of
from intake.papers.pages import BOXED, FLUSH, LARGE, STEP, TEXT, TITLE, Code, document, strong, words
from intake.rules.book import Rulebook
from intake.rules.words import say_number
from intake.shown import show_moment

CODE_SIDE = 26 * mm


#: Acid for the bottles for cations: mL of mol/L.
Dose = tuple[float, float]


def steps(book: Rulebook, doses: Sequence[Dose] = ()) -> list[tuple[str, str]]:
    """What to do at the water, in order, with the figures of the rulebook.

    ``doses`` are those meant for the bottles of a consignment; they count more than the usual one.
    """
    pore = say_number(book.filter_pore_max_um) if book.filter_pore_max_um else None
    volume = say_number(book.line_volume_ml)
    cold = say_number(book.bottle_max_c) if book.bottle_max_c is not None else "6"
    listed = [
        (_("Label"), _("Write the sample id, the date and the time on the bottle before you fill it.")),
        (
            _("Measure"),
            _("Read pH, EC and water temperature in the stream or in a cup of its own, never in the bottle."),
        ),
    ]
    if pore:
        listed.append(
            (
                _("Filter first"),
                _("Push the water through a %(pore)s µm syringe filter; throw the first millilitres away.")
                % {"pore": pore},
            )
        )
    listed += [
        (_("Rinse"), _("Rinse bottle and cap with filtered sample, then pour it out.")),
        (
            _("Fill to the brim"),
            _("%(volume)s mL a line, no air under the cap. One bottle for anions, one for cations.")
            % {"volume": volume},
        ),
        (
            _("Acid: cations only"),
            _acid(book, doses)
            + " "
            + _("Never into the bottle for anions: it adds nitrate and destroys nitrite."),
        ),
        (
            _("Cold at once"),
            _("Into ice or a cold box straight away: above freezing, at most %(cold)s °C. Do not freeze.")
            % {"cold": cold},
        ),
    ]
    return listed


def _acid(book: Rulebook, doses: Sequence[Dose]) -> str:
    if len(doses) > 1:
        return _("Nitric acid after filtering, as much as stands on the label of each bottle.")
    ml, mol_l = doses[0] if doses else (book.acid_dose_ml, book.acid_dose_mol_l)
    return _("%(dose)s mL of %(strength)s mol/L nitric acid per %(volume)s mL, after filtering.") % {
        "dose": say_number(ml),
        "strength": say_number(mol_l),
        "volume": say_number(book.line_volume_ml),
    }


@dataclass(frozen=True, slots=True)
class SendBy:
    """When the first clock runs out, and the last moment to hand over that still keeps every clock."""

    due_at: datetime
    latest_at: datetime | None


def _by_when(send_by: SendBy, zone: str) -> str:
    due = show_moment(send_by.due_at, zone)
    if send_by.latest_at is None:
        return _("The first clock runs out at %(due)s, and no run can start before. Ask before you send.") % {
            "due": due
        }
    return _("Have the box at reception by %(by)s. The first clock runs out at %(due)s.") % {
        "by": show_moment(send_by.latest_at, zone),
        "due": due,
    }


def field_card_pdf(
    book: Rulebook,
    consignment: Consignment | None,
    send_by: SendBy | None,
    doses: Sequence[Dose] = (),
) -> bytes:
    """One page of steps; with ``consignment`` its number, the ``doses`` meant for its bottles, and by
    when the box has to arrive.
    """
    story: list[Flowable] = []
    title = words(_("In the field"), TITLE)
    if consignment is None:
        story.append(title)
    else:
        about = [
            title,
            strong(consignment.number[:4] + " " + consignment.number[4:], LARGE),
            words(consignment.title, LARGE),
        ]
        story.append(
            Table([[about, Code(consignment.number, CODE_SIDE)]], colWidths=(None, CODE_SIDE), style=FLUSH)
        )
    for number, (name, sentence) in enumerate(steps(book, doses), start=1):
        story += [Spacer(0, 3 * mm), strong(f"{number}  {name}", STEP), words(sentence, LARGE)]
    story += [Spacer(0, 4 * mm), strong(_("Send"), STEP)]
    if send_by is not None and consignment is not None:
        story.append(strong(_by_when(send_by, consignment.zone), LARGE))
    else:
        story.append(
            words(
                _(
                    "Nitrite and nitrate last about two days from collection, not from arrival. "
                    "Bring or send the box the same day, and not before a weekend or a holiday."
                ),
                LARGE,
            )
        )
        plan = address_of("labqueue:trip")
        if plan:
            story.append(
                words(
                    _("Which bottles, by when, on which days: %(where)s")
                    % {"where": settings.SITE_ADDRESS + plan},
                    LARGE,
                )
            )
    story += [
        Spacer(0, 3 * mm),
        words(
            _(
                "Nitric acid burns skin and eyes. Wear goggles and gloves, add the acid to the water, keep "
                "it upright in a second container, carry water to rinse with. Carriage of acids and of "
                "hazardous samples is regulated: follow the rules of your institution and your country, and "
                "ask your safety officer."
            ),
            BOXED,
        ),
        words(_("By rulebook %(book)s.") % {"book": book.name}, TEXT),
    ]
    return document(_("Field card"), book.name, story)
