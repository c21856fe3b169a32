"""The trade's reasons, each a page of the help, and the findings that each one stands behind."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class Reason:
    """One page: ``slug`` names its template; ``subjects`` are what codes of findings begin with."""

    slug: str
    title: object
    lead: object
    subjects: frozenset[str]

    @property
    def template(self) -> str:
        return f"intake/help/reason_{self.slug}.html"


REASONS = (
    Reason(
        "two_days",
        _("Why two days"),
        _("Bacteria live on nitrogen. What they use up or make after sampling is no longer the stream."),
        frozenset({"clock", "collection", "injection", "ion"}),
    ),
    Reason(
        "filter",
        _("Why filter, and why first"),
        _("A 0.45 µm filter keeps back most bacteria and all the grains that acid would dissolve."),
        frozenset({"filter", "additive"}),
    ),
    Reason(
        "brim",
        _("Why to the brim"),
        _("Air over the water goes on working: carbon dioxide leaves, oxygen enters, pH moves."),
        frozenset({"brim", "volume", "bottle"}),
    ),
    Reason(
        "acid",
        _("Why acid never goes into a bottle for anions"),
        _("Nitric acid is nitrate. A dose that protects calcium drowns the nitrate of a stream."),
        frozenset({"acid", "statement"}),
    ),
    Reason(
        "cold",
        _("Why cold, and why not frozen by default"),
        _("Cold slows what lives in the water. Ice breaks full bottles and drives salts out of solution."),
        frozenset({"cold", "frozen", "arrival", "container"}),
    ),
    Reason(
        "readings",
        _("Why pH and EC come with every sample"),
        _("Two cheap readings catch a wrong unit, a swapped bottle and acid where none belongs."),
        frozenset({"readings"}),
    ),
    Reason(
        "label",
        _("Why the label"),
        _("A bottle that nobody can name is lost, however well it was kept."),
        frozenset({"label", "seal", "seen"}),
    ),
    Reason(
        "strength",
        _("Why strong water is diluted"),
        _("A column takes so much and no more. Past that, peaks run together and the next bottle suffers."),
        frozenset(),
    ),
)
BY_SLUG = {reason.slug: reason for reason in REASONS}
_BY_SUBJECT = {subject: reason for reason in REASONS for subject in reason.subjects}


def reason_of(code: str) -> Reason | None:
    """The reason behind a finding, from the subject its code begins with."""
    return _BY_SUBJECT.get(code.partition(".")[0])
