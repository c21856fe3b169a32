"""The demo laboratory's consignments: invented waters, and what goes wrong in real life."""

from __future__ import annotations

from datetime import timedelta

from intake.choices import Decision
from intake.demo import mishaps, waters
from intake.demo.story import (
    FRIDAY_TO_MONDAY,
    Delivery,
    Story,
    after,
    hours_ago,
    last_friday_afternoon,
)
from intake.rules.facts import Cooling, Line, MeasuredOn, Seal

A, C = Line.ANION, Line.CATION
VIENNA, LONDON, HALIFAX, ADELAIDE = (
    "Europe/Vienna",
    "Europe/London",
    "America/Halifax",
    "Australia/Adelaide",
)
FRIDAY = last_friday_afternoon(LONDON)

LAKE_PROFILE = Story(
    group="vessen",
    by="vessen",
    title="Lake Vessen, profile at the deepest point",
    purpose="Monthly profile; nutrients by depth during mixing.",
    water=waters.LAKE,
    prefix="VP",
    sites=tuple(f"Lake Vessen, deepest point, {depth} m" for depth in range(2, 50, 4)),
    count=12,
    began=hours_ago(46.6),
    sent=hours_ago(40),
    wanted_in_days=0,
    deliveries=(Delivery(received=hours_ago(17), temperature_c=3.6, carrier="brought by hand"),),
)

INFLOWS_WARM = Story(
    group="vessen",
    by="vessen",
    title="Inflows of Lake Vessen",
    purpose="Nutrient load after the first warm week.",
    water=waters.INFLOW,
    prefix="VI",
    sites=("Reed beck above the mill", "Reed beck mouth", "Alder brook", "Harbour drain"),
    count=8,
    began=hours_ago(26),
    sent=hours_ago(22),
    wanted_in_days=1,
    mishaps={3: mishaps.not_chilled, 6: mishaps.readings_left_out},
    deliveries=(
        Delivery(
            received=hours_ago(3),
            temperature_c=15.5,
            measured_on=MeasuredOn.MELT_WATER,
            cooling=Cooling.NONE,
            carrier="courier",
            remark="Ice all melted; the box stood in the sun.",
            seen={(number, line): {"cold": False} for number in range(1, 9) for line in (A, C)},
            rulings={(5, A): (Decision.RESERVED, "The group accepts nitrite as uncertain.")},
        ),
    ),
)

LAKE_LAST_MONTH = Story(
    group="vessen",
    by="skarrow",
    title="Lake Vessen, shore stations",
    purpose="Background for the profile.",
    water=waters.LAKE,
    prefix="VS",
    sites=("North shore", "Swimming place", "Outlet weir"),
    count=6,
    began=hours_ago(24 * 26.5),
    sent=hours_ago(24 * 26),
    deliveries=(Delivery(received=hours_ago(24 * 25.6), by="evening"),),
    measured={A: hours_ago(24 * 24.9), C: hours_ago(24 * 24)},
)

WELLS = Story(
    group="orrel",
    by="orrel",
    title="Orrel wells, quarterly round",
    purpose="Nitrate trend below the terrace fields.",
    water=waters.WELL,
    prefix="OW",
    sites=tuple(f"Observation well {name}" for name in ("A1", "A2", "A4", "B1", "B2", "B3", "C1", "C7")),
    count=12,
    began=hours_ago(21),
    sent=hours_ago(15),
    wanted_in_days=1,
    mishaps={2: mishaps.acid_in_the_anion_bottle, 5: mishaps.no_acid, 9: mishaps.coarse_filter},
    deliveries=(
        Delivery(
            received=hours_ago(4),
            temperature_c=5.2,
            measured_on=MeasuredOn.BOTTLE,
            carrier="group's own van",
            absent=frozenset({(11, C)}),
            seen={
                (7, A): {"headspace": True, "cold": True},
                (8, C): {"label_matches": False, "cold": True},
                (5, C): {"ph_low": 6.0, "ph_high": 7.0, "cold": True},
            },
            rulings={
                (2, A): (
                    Decision.REFUSED,
                    "Nitric acid in it: nitrate and nitrite cannot be told.",
                ),
                (7, A): (Decision.RESERVED, "Tube half full; fluoride and sulfate are not touched by that."),
            },
            given_up={(9, A): ("nitrite", "Filtered too coarsely, and a day old.")},
        ),
    ),
)

WELLS_IN_TWO_BOXES = Story(
    group="orrel",
    by="orrel",
    title="Orrel irrigation wells",
    purpose="Salinity before the season.",
    water=waters.WELL,
    prefix="OI",
    sites=("Pump house", "Lower orchard", "Vine slope", "Old terrace"),
    count=8,
    began=hours_ago(52),
    sent=hours_ago(46),
    deliveries=(
        Delivery(
            received=hours_ago(30),
            temperature_c=4.4,
            of=frozenset({1, 2, 3, 4}),
            more_to_come=True,
            remark="The second box follows by the next courier.",
        ),
    ),
)

SPRINGS_DRAFT = Story(
    group="orrel",
    by="orrel",
    title="Orrel springs after rain",
    purpose="Response of the springs to the storm.",
    water=waters.SPRING,
    prefix="OS",
    sites=("Upper spring", "Chapel spring", "Trough spring"),
    count=9,
    began=hours_ago(7),
    mishaps={
        1: mishaps.unfiltered,
        4: mishaps.no_time,
        5: mishaps.on_sample(ph=15.2),
        7: mishaps.half_full,
        8: mishaps.sulfuric_acid,
    },
)

FRIDAY_STREAMS = Story(
    group="skarrow",
    by="skarrow",
    title="Skarrow streams, Friday round",
    purpose="Nitrate leaving the cut-over bog.",
    water=waters.PEAT,
    prefix="SF",
    sites=("Black burn", "Cutting drain", "Bog pool outlet", "Gauge hut"),
    count=8,
    began=FRIDAY,
    sent=after(FRIDAY, timedelta(hours=3)),
    deliveries=(
        Delivery(
            received=after(FRIDAY, FRIDAY_TO_MONDAY),
            temperature_c=6.8,
            cooling=Cooling.GEL_PACKS,
            carrier="courier over the weekend",
            rest=(Decision.RESERVED, "Two days were over on Sunday; the other ions are good."),
        ),
    ),
)

PEAT_BROKEN = Story(
    group="skarrow",
    by="skarrow",
    title="Skarrow pore water",
    purpose="Profiles from the peat wells.",
    water=waters.PEAT,
    prefix="SP",
    sites=("Peat well 10 cm", "Peat well 40 cm", "Peat well 90 cm"),
    count=6,
    began=hours_ago(31),
    sent=hours_ago(27),
    mishaps={2: mishaps.in_glass, 4: mishaps.date_only(LONDON)},
    deliveries=(
        Delivery(
            received=hours_ago(6),
            by="evening",
            temperature_c=-1.5,
            measured_on=MeasuredOn.BOTTLE,
            seal=Seal.BROKEN,
            remark="Box packed with too much ice.",
            seen={
                (2, A): {"broken": True},
                (3, A): {"frozen": True},
                (5, A): {"leaking": True},
            },
            rulings={(2, A): (Decision.REFUSED, "The glass is broken and the water gone.")},
        ),
    ),
)

PEAT_ON_THE_WAY = Story(
    group="skarrow",
    by="skarrow",
    title="Skarrow streams, storm sampler",
    purpose="Rising limb of the flood.",
    water=waters.PEAT,
    prefix="SS",
    sites=("Gauge hut, sampler",),
    count=10,
    step_min=30,
    began=hours_ago(9),
    sent=hours_ago(2),
    mishaps={number: mishaps.composite(2) for number in (6, 7, 8, 9, 10)},
    wanted_in_days=2,
)

DRAINS_WRONG_UNIT = Story(
    group="nallow",
    by="nallow",
    title="Nallow drains, outlets one to eight",
    purpose="Nitrate under the two tillage methods.",
    water=waters.DRAIN,
    prefix="ND",
    sites=tuple(f"Drain outlet {number}" for number in range(1, 9)),
    count=8,
    began=hours_ago(19),
    sent=hours_ago(14),
    confirmed="Copied from the meter's display, looked at twice.",
    mishaps={
        2: mishaps.millisiemens_typed_as_micro,
        3: mishaps.date_only(HALIFAX),
        4: mishaps.date_only(HALIFAX),
        6: mishaps.millisiemens_typed_as_micro,
    },
    wanted_in_days=2,
)

DRAINS_NUTRIENTS = Story(
    group="nallow",
    by="nallow",
    title="Nallow drains, nutrients only",
    purpose="Weekly series.",
    water=waters.DRAIN,
    prefix="NN",
    sites=("Outlet 2", "Outlet 5", "Ditch below both"),
    count=10,
    anions=waters.NUTRIENTS,
    cations=(),
    began=hours_ago(38),
    sent=hours_ago(33),
    wanted_in_days=0,
    deliveries=(Delivery(received=hours_ago(8), temperature_c=2.9, carrier="overnight courier"),),
)

DRAINS_EARLIER = Story(
    group="nallow",
    by="nallow",
    title="Nallow drains before sowing",
    purpose="Starting point of the trial.",
    water=waters.DRAIN,
    prefix="NE",
    sites=("Outlet 1", "Outlet 3", "Outlet 6"),
    count=7,
    began=hours_ago(24 * 12),
    sent=hours_ago(24 * 11.7),
    mishaps={4: mishaps.unfiltered},
    deliveries=(
        Delivery(
            received=hours_ago(24 * 10.8),
            temperature_c=4.1,
            rest=(Decision.RESERVED, "Reported with the finding."),
        ),
    ),
    measured={A: hours_ago(24 * 9.6)},
)

ADIT_AT_THE_BENCH = Story(
    group="marrin",
    by="marrin",
    title="Marrin adit and settling ponds",
    purpose="How far lime dosing reaches.",
    water=waters.ADIT,
    prefix="MA",
    sites=("Adit mouth", "First pond", "Second pond", "Creek below"),
    count=8,
    began=hours_ago(28),
    sent=hours_ago(25),
    wanted_in_days=1,
    deliveries=(
        Delivery(
            received=hours_ago(0.8),
            temperature_c=7.5,
            measured_on=MeasuredOn.BOTTLE,
            cooling=Cooling.GEL_PACKS,
            carrier="air freight",
            unchecked=frozenset({(6, A), (6, C), (7, A), (7, C), (8, A), (8, C)}),
            seen={(3, A): {"label_matches": False, "cold": True}},
            surprises=(("MA-B", A),),
            closed=False,
        ),
    ),
)

ADIT_WITHDRAWN = Story(
    group="marrin",
    by="marrin",
    title="Marrin creek, trial round",
    purpose="Test of the field kit.",
    water=waters.ADIT,
    prefix="MT",
    sites=("Creek below",),
    count=4,
    began=hours_ago(70),
    sent=hours_ago(66),
    withdrawn="The bottles were rinsed with tap water; we sample again next week.",
)

STORIES = (
    LAKE_LAST_MONTH,
    DRAINS_EARLIER,
    FRIDAY_STREAMS,
    ADIT_WITHDRAWN,
    WELLS_IN_TWO_BOXES,
    LAKE_PROFILE,
    DRAINS_NUTRIENTS,
    PEAT_BROKEN,
    ADIT_AT_THE_BENCH,
    INFLOWS_WARM,
    WELLS,
    DRAINS_WRONG_UNIT,
    PEAT_ON_THE_WAY,
    SPRINGS_DRAFT,
)
