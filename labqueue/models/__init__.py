"""Everything the bench stores. Models hold data and constraints; changes are made by actions."""

from labqueue.models.drafts import PlanDraft
from labqueue.models.imports import ColumnMatch
from labqueue.models.priorities import GivenPriority
from labqueue.models.runs import Place, Run
from labqueue.models.staged import StagedInjections
from labqueue.models.units import ClosedDay, Laboratory, OpeningHours, Unit
from labqueue.models.views import SavedView

__all__ = [
    "ClosedDay",
    "ColumnMatch",
    "GivenPriority",
    "Laboratory",
    "OpeningHours",
    "Place",
    "PlanDraft",
    "Run",
    "SavedView",
    "StagedInjections",
    "Unit",
]
