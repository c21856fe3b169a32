"""What a manager settles for the whole laboratory: second factors, and how long things are kept."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.steps import claim
from intake.choices import SecondFactorFor
from intake.errors import EntryProblem
from intake.models import LabPolicy, User
from intake.permissions import require

FASTER = _(
    "Somebody else changed this after you opened the page. Both are shown; save again what is to hold."
)
#: Beyond it a number of years is a slip (our choice).
MOST_YEARS = 100


def policy() -> LabPolicy:
    """What holds now; before the first change what it is usually."""
    return LabPolicy.objects.filter(pk=1).first() or LabPolicy(pk=1)


def _check(second_factor: str, keep_years: int) -> None:
    problems = {}
    if second_factor not in SecondFactorFor.values:
        problems["second_factor"] = _("Choose of whom a second factor is demanded.")
    if not 1 <= keep_years <= MOST_YEARS:
        problems["keep_years"] = _("Write a number of years from 1 to %(most)s.") % {"most": MOST_YEARS}
    if problems:
        raise EntryProblem(_("Nothing was changed."), problems)


@transaction.atomic
def change_policy(*, by: User, at: datetime, version: int, second_factor: str, keep_years: int) -> LabPolicy:
    """Say of whom a second factor is demanded and for how many years consignments are kept.

    Whoever has no factor is led to setting one up at their next page. ``version`` is the one that
    was read; a newer one raises ``SomebodyWasFaster``.
    """
    require(by, "people.manage")
    _check(second_factor, keep_years)
    LabPolicy.objects.get_or_create(pk=1)
    standing = policy()
    before, after = record.differences(
        {"second_factor": standing.second_factor, "keep_years": standing.keep_years},
        {"second_factor": second_factor, "keep_years": keep_years},
    )
    if after:
        claim(LabPolicy.objects.filter(pk=1, version=version), FASTER, version=version + 1, **after)
        record.write(by=by, at=at, verb="policy.change", subject="the laboratory", before=before, after=after)
    return policy()
