"""The columns of the sheet, described once: for the grid page, the workbook and the check command.

One row is one sample with the bottles of both lines. A bottle exists when its ions are given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from django.utils import translation

from intake import choices
from intake.rules.facts import Line


class Kind(StrEnum):
    """How a cell is read; each kind has one parser in ``intake.sheets.cells``."""

    TEXT = "text"
    CHOICE = "choice"
    YES_NO = "yes or no"
    NUMBER = "number"
    DATE = "date"
    TIME = "time"
    MOMENT = "moment"
    SINCE = "since"
    IONS = "ions"


class Group(StrEnum):
    """The four parts of a row; the values are the headings over them."""

    SAMPLE = "sample"
    KEPT = "filter"
    ANION = "anion bottle"
    CATION = "cation bottle"

    @property
    def line(self) -> Line | None:
        """The line of the bottle described, ``None`` for what belongs to the whole sample."""
        return {"anion bottle": Line.ANION, "cation bottle": Line.CATION}.get(self.value)


Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One column of the sheet.

    ``code`` is its stable machine name. ``name`` and ``unit`` make the heading. ``facts`` are
    the fields of ``intake.rules.facts`` it feeds, so that a finding can be shown at its cell.
    ``choices`` pairs stored values with the words shown. ``units`` are spellings that may follow
    a number, ``words`` what may stand for one; ``least`` is the smallest number taken.
    ``limit`` is the longest text and ``width`` the usual one, in characters. ``paired`` columns
    feed both bottles and may hold ``anion | cation``. ``everyday`` is false for columns that
    most people never need and a page may fold away.
    """

    code: str
    name: str
    group: Group
    kind: Kind
    hint: str
    facts: tuple[str, ...]
    unit: str = ""
    choices: Choices = ()
    units: tuple[str, ...] = ()
    words: tuple[tuple[str, float], ...] = ()
    least: float | None = None
    required: bool = False
    paired: bool = False
    everyday: bool = True
    limit: int = 200
    width: int = 12
    example: str = ""

    @property
    def short_heading(self) -> str:
        """The heading under the heading of its group."""
        return f"{self.name}, {self.unit}" if self.unit else self.name

    @property
    def heading(self) -> str:
        """The heading that stands alone, unique in the sheet."""
        if self.group.line is None:
            return self.short_heading[:1].upper() + self.short_heading[1:]
        return f"{self.group.value.capitalize()}: {self.short_heading}"

    @property
    def line(self) -> Line | None:
        return self.group.line


def labelled(pairs: Sequence[tuple[str, object]]) -> Choices:
    """Choices with their labels as plain text: the English words that cells hold, whoever asks first."""
    with translation.override("en"):
        return tuple((value, str(label)) for value, label in pairs)


YES_OR_NO: Choices = (("yes", "yes"), ("no", "no"))
EC_UNIT_SPELLINGS = ("us/cm", "ms/cm", "ds/m", "ms/m", "s/m", "uscm-1", "mscm-1", "dsm-1", "msm-1", "sm-1")
#: The first word is the one that is written.
UNFILTERED = (("none", 0.0), ("unfiltered", 0.0), ("not filtered", 0.0), ("no", 0.0))

SAMPLE_COLUMNS = (
    Column(
        "own_id", "own sample id", Group.SAMPLE, Kind.TEXT,
        "Your own name for this sample, once in this consignment, as written on the bottles.",
        ("own_id", "name"), required=True, limit=60, width=16, example="Mill brook 1",
    ),
    Column(
        "site", "site", Group.SAMPLE, Kind.TEXT,
        "Where the water was taken.",
        ("site",), limit=200, width=22, example="Mill brook, below the weir",
    ),
    Column(
        "collection", "grab or composite", Group.SAMPLE, Kind.CHOICE,
        "Grab: taken at one moment. Composite: gathered over a period. Left empty, it is a grab.",
        ("collection",), choices=labelled(choices.COLLECTIONS), width=11, example="grab",
    ),
    Column(
        "collected_date", "collected, date", Group.SAMPLE, Kind.DATE,
        "Year-month-day such as 2026-03-04, or 4 Mar 2026. For a composite, the end of its period.",
        ("collected_at", "precision"), width=12, example="2026-03-04",
    ),
    Column(
        "collected_time", "collected, time", Group.SAMPLE, Kind.TIME,
        "24-hour local time such as 14:05. If you only know the hour, write 14 h.",
        ("collected_at", "precision"), width=10, example="14:05",
    ),
    Column(
        "began", "composite began, date and time", Group.SAMPLE, Kind.MOMENT,
        "Only for a composite: when its period began, such as 2026-03-03 14:00.",
        ("collection_began_at",), width=17,
    ),
    Column(
        "ph", "field pH", Group.SAMPLE, Kind.NUMBER,
        "As read in the field.",
        ("ph",), units=("ph",), width=8, example="7.4",
    ),
    Column(
        "ec", "field EC", Group.SAMPLE, Kind.NUMBER,
        "Electrical conductivity as the meter showed it; its unit stands in the next column.",
        ("ec_value",), units=EC_UNIT_SPELLINGS, least=0, width=9, example="412",
    ),
    Column(
        "ec_unit", "EC unit", Group.SAMPLE, Kind.CHOICE,
        "The unit on the meter. 1 mS/cm is 1000 µS/cm.",
        ("ec_unit",), choices=labelled(choices.EC_UNITS), width=8, example="µS/cm",
    ),
    Column(
        "ec_reference", "EC refers to", Group.SAMPLE, Kind.CHOICE,
        "Whether the meter compensated the reading to 25 °C or 20 °C. Left empty, it is not known.",
        ("ec_reference",), choices=labelled(choices.EC_REFERENCES), width=18,
        example="compensated to 25 °C",
    ),
    Column(
        "water_temperature", "water temperature", Group.SAMPLE, Kind.NUMBER,
        "Temperature of the water when it was taken.",
        ("water_temperature_c",), unit="°C", units=("°c", "c", "degc", "deg.c"), least=-273.15, width=12,
        example="8.5",
    ),
    Column(
        "water_kind", "kind of water", Group.SAMPLE, Kind.CHOICE,
        "Choose the nearest. Left empty, it is unknown.",
        ("water_kind",), choices=labelled(choices.WATER_KINDS), width=14, example="stream",
    ),
    Column(
        "alkalinity", "alkalinity", Group.SAMPLE, Kind.NUMBER,
        "In milliequivalents a litre; mg/L as CaCO₃ divided by 50 gives it.",
        ("alkalinity_meq_l",), unit="meq/L", units=("meq/l",), width=10, example="2.1",
    ),
    Column(
        "chlorinated", "chlorinated", Group.SAMPLE, Kind.YES_NO,
        "Yes or no: does the water carry chlorine, as many tap waters do?",
        ("chlorinated",), choices=YES_OR_NO, width=10, example="no",
    ),
    Column(
        "hazards", "hazards", Group.SAMPLE, Kind.TEXT,
        "What people who handle or discard this water must beware of, such as sewage, solvents, cyanide, "
        "or unknown. Empty means that you know of nothing.",
        ("hazards",), everyday=False, limit=200, width=20, example="may hold sewage",
    ),
)  # fmt: skip

KEPT_COLUMNS = (
    Column(
        "filter_pore", "filter pore", Group.KEPT, Kind.NUMBER,
        "Pore of the filter, usually 0.45; write none for unfiltered. If the two bottles differ: "
        "anion | cation, such as 0.2 | 0.45.",
        ("filter_pore_um",), unit="µm", units=("um", "micron", "microns"), words=UNFILTERED, least=0,
        paired=True, width=8, example="0.45",
    ),
    Column(
        "filter_membrane", "filter membrane", Group.KEPT, Kind.CHOICE,
        "What the filter is made of, as printed on it.",
        ("filter_membrane",), choices=labelled(choices.MEMBRANES), paired=True, width=16, example="nylon",
    ),
    Column(
        "filtered_at", "filtered at", Group.KEPT, Kind.MOMENT,
        "A time such as 14:10 (the first after collection), a date and time, or: at once.",
        ("filtered_at",), paired=True, width=14, example="at once",
    ),
)  # fmt: skip

#: Columns of one bottle, for the anion line; the cation line has the same.
BOTTLE_COLUMNS = (
    Column(
        "ions", "ions", Group.ANION, Kind.IONS,
        "",
        ("ions", "line"), limit=400, width=22,
    ),
    Column(
        "volume", "volume", Group.ANION, Kind.NUMBER,
        "Volume of the sample in this bottle, usually 50.",
        ("volume_ml",), unit="mL", units=("ml",), least=0, width=8, example="50",
    ),
    Column(
        "brim", "filled to the brim", Group.ANION, Kind.YES_NO,
        "Yes or no: is there no air left under the cap?",
        ("to_brim",), choices=YES_OR_NO, width=9, example="yes",
    ),
    Column(
        "chilled", "chilled from", Group.ANION, Kind.SINCE,
        "A time such as 14:20 (the first after collection), a date and time, at once, yes or no.",
        ("chilled", "chilled_at"), width=14, example="at once",
    ),
    Column(
        "frozen", "frozen from", Group.ANION, Kind.SINCE,
        "A time such as 18:00 (the first after collection), a date and time, at once, yes or no.",
        ("frozen", "frozen_at"), width=14, example="no",
    ),
    Column(
        "container", "bottle made of", Group.ANION, Kind.CHOICE,
        "What the bottle is made of.",
        ("container",), choices=labelled(choices.CONTAINERS), everyday=False, width=14,
    ),
    Column(
        "acid", "acid", Group.ANION, Kind.CHOICE,
        "Which acid was added; none if none was. Write yes if there is acid but you do not know which.",
        ("acidified", "acid_kind"), choices=labelled(choices.ACID_KINDS), width=12,
    ),
    Column(
        "acid_mol_l", "acid strength", Group.ANION, Kind.NUMBER,
        "Strength of the acid that was added.",
        ("acid_mol_l",), unit="mol/L", units=("mol/l", "m", "molar"), least=0, width=10,
    ),
    Column(
        "acid_ml", "acid volume", Group.ANION, Kind.NUMBER,
        "Volume of that acid added to this bottle.",
        ("acid_ml",), unit="mL", units=("ml",), least=0, width=10,
    ),
    Column(
        "acid_at", "acid added at", Group.ANION, Kind.MOMENT,
        "A time (the first after collection), a date and time, or: at once.",
        ("acid_at",), everyday=False, width=14,
    ),
    Column(
        "acid_grade", "acid grade", Group.ANION, Kind.TEXT,
        "Purity as printed on the acid's bottle.",
        ("acid_grade",), everyday=False, limit=60, width=14,
    ),
    Column(
        "additive", "other preservative", Group.ANION, Kind.TEXT,
        "Plain name of anything else that was added.",
        ("additive",), everyday=False, limit=60, width=16,
    ),
)  # fmt: skip

ACID_EXAMPLES = {"acid": "nitric", "acid_mol_l": "1", "acid_ml": "0.5"}
IONS_HINTS = {
    Group.ANION: (
        "A set (common anions, nutrients) or ions with commas between them, such as nitrate, sulfate. "
        "Empty means: no anion bottle.",
        "common anions",
    ),
    Group.CATION: (
        "A set (common cations) or ions with commas between them, such as sodium, calcium. "
        "Empty means: no cation bottle.",
        "common cations",
    ),
}


def bottle_columns(group: Group) -> tuple[Column, ...]:
    """The columns of one bottle. Acid in an anion bottle is a mishap, so those columns fold away."""
    return tuple(_for_bottle(column, group) for column in BOTTLE_COLUMNS)


def _for_bottle(column: Column, group: Group) -> Column:
    made = replace(column, code=f"{group.line}_{column.code}", group=group)
    if column.code == "ions":
        hint, example = IONS_HINTS[group]
        return replace(made, hint=hint, example=example)
    if column.code in ACID_EXAMPLES and group is Group.ANION:
        return replace(made, everyday=False)
    return replace(made, example=ACID_EXAMPLES.get(column.code, made.example))


COLUMNS: tuple[Column, ...] = (
    *SAMPLE_COLUMNS,
    *KEPT_COLUMNS,
    *bottle_columns(Group.ANION),
    *bottle_columns(Group.CATION),
)

BY_CODE: dict[str, Column] = {column.code: column for column in COLUMNS}


def of_group(group: Group) -> tuple[Column, ...]:
    """The columns of one part of the row, in order."""
    return tuple(column for column in COLUMNS if column.group is group)


def column_of(fact: str, line: str | None = None) -> Column | None:
    """The column at whose cell a finding about ``fact`` belongs; ``line`` for facts of a bottle.

    The bottle's own columns come first, then those of the whole sample.
    """
    for column in COLUMNS:
        if fact in column.facts and column.line is not None and column.line == line:
            return column
    return next((column for column in COLUMNS if fact in column.facts and column.line is None), None)
