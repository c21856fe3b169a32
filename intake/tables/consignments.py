"""The list of consignments."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

import django_tables2 as tables
from django.template import Context
from django.template.loader import get_template
from django.utils.translation import gettext_lazy as _
from django_tables2.data import TableQuerysetData

from intake.models import Consignment

CELLS = "intake/_consignment_{}_cell.html"


class PartColumn(tables.Column):
    """A column whose cell is a small template; ``part`` names it."""

    def __init__(self, part: str, **kwargs: object):
        super().__init__(empty_values=(), **kwargs)
        self.part = part

    def render(self, record: Consignment, table: tables.Table) -> str:
        template = get_template(CELLS.format(self.part)).template
        return template.render(Context({"consignment": record, "at": table.at, "zone": record.zone}))


class KeysFirst(TableQuerysetData):
    """Rows whose keys are sought page by page, so that only of what is shown is more worked out."""

    def __getitem__(self, key: slice | int) -> object:
        if not isinstance(key, slice):
            return super().__getitem__(key)
        return self.data.filter(pk__in=list(self.data.values_list("pk", flat=True)[key]))


class ConsignmentTable(tables.Table):
    """Consignments with what matters next; ``at`` is the moment of the page."""

    title = PartColumn("title", verbose_name=_("Consignment"))
    group = tables.Column(accessor="group__name", verbose_name=_("Group"))
    state = PartColumn("state", verbose_name=_("State"))
    next_due = PartColumn("due", accessor="next_due_at", verbose_name=_("Next clock due"))
    weightiest = PartColumn("finding", verbose_name=_("Heaviest finding"))
    bottles = tables.Column(
        accessor="bottle_count",
        verbose_name=_("Bottles"),
        attrs={"td": {"class": "amount"}, "th": {"class": "amount"}},
    )
    requested_on = tables.DateColumn(format="j M Y", verbose_name=_("Analysis wanted on"))

    class Meta:
        model = Consignment
        fields = ("title", "group", "state", "next_due", "weightiest", "bottles", "requested_on")
        sequence = fields
        attrs: ClassVar[dict[str, object]] = {"caption": _("Consignments"), "id": "consignments"}
        order_by_field = "sort"

    def __init__(self, *args: object, at: datetime, **kwargs: object):
        self.at = at
        super().__init__(*args, **kwargs)
