"""Which word and which sign stand for a weight and a state. The one place that pairs them."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from intake.pictures.timeleft import Urgency
from intake.rules.judgement import Weight
from intake.states import BottleState, ConsignmentState


@dataclass(frozen=True, slots=True)
class Sign:
    """A word, the shape beside it (an id in ``static/shapes.svg``) and the tone of both."""

    word: object
    shape: str
    tone: str


WEIGHTS = {
    Weight.NOTE.value: Sign(_("Note"), "note", "note"),
    Weight.CAUTION.value: Sign(_("Caution"), "caution", "caution"),
    Weight.BAR.value: Sign(_("Bar"), "bar", "bar"),
}
WEIGHTS_BY_RANK = {weight.rank: WEIGHTS[weight.value] for weight in Weight}

BOTTLES = {
    BottleState.EXPECTED.value: Sign(BottleState.EXPECTED.label, "bottle-expected", "expected"),
    BottleState.READY.value: Sign(BottleState.READY.label, "bottle-ready", "ready"),
    BottleState.ON_HOLD.value: Sign(BottleState.ON_HOLD.label, "bottle-hold", "hold"),
    BottleState.REFUSED.value: Sign(BottleState.REFUSED.label, "bottle-refused", "refused"),
    BottleState.PLACED.value: Sign(BottleState.PLACED.label, "bottle-placed", "placed"),
    BottleState.MEASURED.value: Sign(BottleState.MEASURED.label, "bottle-measured", "measured"),
    BottleState.MISSING.value: Sign(BottleState.MISSING.label, "bottle-missing", "missing"),
}

CONSIGNMENTS = {
    ConsignmentState.DRAFT.value: Sign(ConsignmentState.DRAFT.label, "crate-draft", "draft"),
    ConsignmentState.SENT.value: Sign(ConsignmentState.SENT.label, "crate-sent", "sent"),
    ConsignmentState.RECEIVED.value: Sign(ConsignmentState.RECEIVED.label, "crate-received", "received"),
    ConsignmentState.WITHDRAWN.value: Sign(ConsignmentState.WITHDRAWN.label, "crate-withdrawn", "withdrawn"),
}


def urgency_sign(urgency: Urgency) -> Sign:
    return Sign(urgency.word, urgency.value, urgency.value)
