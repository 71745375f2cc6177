"""What nests together: its text, "W6|birch|white", is put together and taken apart here alone."""

from __future__ import annotations

import re
from dataclasses import dataclass

from solver.domain.ids import MaterialId

_WINDOW = re.compile(r"(?P<material>.*)\|window (?P<number>\d+)")
_GAUGE = re.compile(r"(?P<gauge>\d+) ga")


@dataclass(frozen=True, slots=True)
class Material:
    """A panel family with the colours of its faces, a profile with the colour of its sheet, or sheet of a gauge and colour."""

    item: str  # id of the family or profile; of sheet its gauge: "26 ga"
    colours: tuple[str, ...] = ()  # a panel's outside, inside; none of what is not coloured

    @classmethod
    def parse(cls, text: str) -> Material:
        """Return the material of a text; any text is of some item."""
        item, *colours = text.split("|")
        return cls(item, tuple(colours))

    @classmethod
    def sheet(cls, gauge: int, colour: str) -> Material:
        """Return the sheet that blanks are slit from."""
        return cls(f"{gauge} ga", (colour,))

    @property
    def id(self) -> MaterialId:
        """The text that plans, labels and files keep."""
        return MaterialId("|".join((self.item, *self.colours)))

    @property
    def finish(self) -> str:
        """All colours in one text, empty where there is none: equal where neither face needs another coil."""
        return "|".join(self.colours)

    @property
    def faces(self) -> tuple[str, str]:
        """The outside's and the inside's colour, empty where the material names none."""
        outside, inside = (*self.colours, "", "")[:2]
        return outside, inside

    @property
    def gauge(self) -> int | None:
        """The gauge of sheet; None of anything else."""
        found = _GAUGE.fullmatch(self.item)
        return int(found["gauge"]) if found else None


def window_name(material: str, window: int) -> str:
    """Return what a material is called in a plan: with its due window where it has several; 0: it has not."""
    return f"{material}|window {window}" if window else str(material)


def read_window_name(name: str) -> tuple[MaterialId, int]:
    """Return the material and the due window of a name; the window is 0 where it names none."""
    found = _WINDOW.fullmatch(name)
    return (MaterialId(found["material"]), int(found["number"])) if found else (MaterialId(name), 0)
