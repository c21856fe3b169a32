"""Who works in the demo laboratory and who sends to it. All invented."""

from __future__ import annotations

from dataclasses import dataclass

from intake.choices import Role

#: Of no use anywhere else: it is printed when the demo starts.
PASSWORD = "water runs downhill"  # noqa: S105


@dataclass(frozen=True, slots=True)
class DemoGroup:
    key: str
    name: str
    zone: str


@dataclass(frozen=True, slots=True)
class DemoPerson:
    key: str
    name: str
    role: str
    zone: str
    groups: tuple[str, ...] = ()

    @property
    def email(self) -> str:
        return f"{self.key}@demo.example"


GROUPS = (
    DemoGroup("vessen", "Lake Vessen survey", "Europe/Vienna"),
    DemoGroup("orrel", "Orrel valley groundwater", "Europe/Vienna"),
    DemoGroup("skarrow", "Skarrow peat hydrology", "Europe/London"),
    DemoGroup("nallow", "Nallow drainage trial", "America/Halifax"),
    DemoGroup("marrin", "Marrin adit study", "Australia/Adelaide"),
)

LAB_ZONE = "Europe/Vienna"

PEOPLE = (
    DemoPerson("manager", "Imke Tarrant", Role.MANAGER, LAB_ZONE),
    DemoPerson("reception", "Joss Ferrand", Role.RECEPTION, LAB_ZONE),
    DemoPerson("evening", "Dela Quoyle", Role.RECEPTION, LAB_ZONE),
    DemoPerson("vessen", "Wanda Kesteven", Role.SUBMITTER, "Europe/Vienna", ("vessen",)),
    DemoPerson("orrel", "Piet Oramson", Role.SUBMITTER, "Europe/Vienna", ("orrel",)),
    DemoPerson("skarrow", "Siri Callowhill", Role.SUBMITTER, "Europe/London", ("skarrow", "vessen")),
    DemoPerson("nallow", "Luc Adarand", Role.SUBMITTER, "America/Halifax", ("nallow",)),
    DemoPerson("marrin", "Noor Bexwell", Role.SUBMITTER, "Australia/Adelaide", ("marrin",)),
)
