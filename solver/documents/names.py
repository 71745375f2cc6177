"""What people call what a plan works on: materials, bars, lots, coil, stock; by the catalog, never by a program's id."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from solver.documents.numbering import BarNumber, number_names
from solver.documents.texts import say
from solver.domain.ids import BarId
from solver.domain.plan import SequencePart
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import ENGLISH, Language
from solver.units import FOOT, Unit, show_length

GOODS = "goods"  # the context in which a catalog has names of hardware
_WINDOW = re.compile(r"(?P<material>.*)\|window (?P<n>\d+)")
_LOT = re.compile(r"lot (?P<n>\d+) (?P<material>.+)")
_GROUP = re.compile(r"panel-saw (?P<thickness>\d+)(?: window (?P<n>\d+))?")
_COIL = re.compile(r"(?P<gauge>\d+) ga\|(?P<colour>.*)")


class Names:
    """Names of a plant's things in a language; `numbers`: those of bars, by the machine that cuts them.

    Without a number, as the saw counts, a bar is called by its material alone.
    """

    def __init__(self, plant: Plant, language: Language = ENGLISH, numbers: Mapping[str, BarNumber] | None = None) -> None:
        self.plant, self.language = plant, language
        self.numbers = numbers or {}
        self._known: dict[str, str] = {}

    @classmethod
    def in_table(cls, plant: Plant, language: Language, table: Timetable, sequences: Sequence[SequencePart]) -> Names:
        """Return the names of a plan's things, its bars numbered as its timetable and cut order have them."""
        bars = (bar for one in table.operations for bar in one.bars)
        return cls(plant, language, number_names(bars, sequences, table.operations))

    def of(self, about: str) -> str:
        """Return the name of a material, with its due window too, a bar, a lot or coil; any other text as it came."""
        if about not in self._known:
            self._known[about] = self._of(about)
        return self._known[about]

    def table(self, table: Timetable) -> Timetable:
        """Return a timetable whose operations tell by name what they are about and which bars they work on."""
        return replace(table, operations=tuple(map(self.operation, table.operations)))

    def operation(self, one: PlannedOperation) -> PlannedOperation:
        """Return an operation that tells by name what it is about and which bars it works on."""
        return replace(one, about=self.of(one.about), bars=tuple(BarId(self.of(bar)) for bar in one.bars))

    def _of(self, about: str) -> str:
        if match := _LOT.fullmatch(about):
            return f"{say(self.language, 'lot_n', n=match['n'])}, {self.of(match['material'])}"
        if match := _WINDOW.fullmatch(about):
            return f"{self.of(match['material'])}, {say(self.language, 'due_window', n=match['n'])}"
        if match := _GROUP.fullmatch(about):
            window = f", {say(self.language, 'due_window', n=match['n'])}" if match["n"] else ""
            return say(self.language, "panels_of", thick=_thick(int(match["thickness"]), self.plant.unit)) + window
        if match := _COIL.fullmatch(about):
            return say(self.language, "coil_name", gauge=match["gauge"], colour=match["colour"])
        material, mark, number = about.rpartition("#")
        if mark and number.isdigit() and self._is_material(material):
            number = f"{say(self.language, 'bar_number', n=self.numbers[about].at)}, " if about in self.numbers else ""
            return number + self.of(material)
        return self._material(about) if self._is_material(about) else about

    def _is_material(self, text: str) -> bool:
        return "|" in text or text in self._families or text in self._profiles

    def _material(self, material: str) -> str:
        name, *colours = material.split("|")
        if name in self._families:
            return ", ".join([self._families[name], *self._faces(name, colours)])
        return ", ".join([self._profiles.get(name, name), *(colour for colour in colours if colour)])

    def _faces(self, family: str, colours: list[str]) -> list[str]:
        """Both faces' colours; of the usual inside colour nothing is said."""
        if len(colours) < 2:
            return [colour for colour in colours if colour]
        outside, inside = colours[:2]
        if outside == inside:
            return [say(self.language, "both_faces", colour=outside)]
        said = [say(self.language, "outside_colour", colour=outside)]
        if inside != self.plant.default_colours.get(f"{self.plant.family(family).use}_inside"):
            said.append(say(self.language, "inside_colour", colour=inside))
        return said

    @cached_property
    def _families(self) -> Mapping[str, str]:
        return _told_apart({family.id: family.name or self._family(family) for family in self.plant.families})

    @cached_property
    def _profiles(self) -> Mapping[str, str]:
        return _told_apart({profile.id: profile.name or self._profile(profile) for profile in self.plant.profiles})

    def _family(self, family: PanelFamily) -> str:
        return say(self.language, f"{family.use}_of", thick=_thick(family.thickness_nm, self.plant.unit))

    def _profile(self, profile: Profile) -> str:
        role = say(self.language, profile.use)
        if profile.for_thickness_nm is None:
            return role
        return say(self.language, "profile_for", role=role, thick=_thick(profile.for_thickness_nm, self.plant.unit))


def goods_words(name: str, language: Language) -> str:
    """Return what a thing of the catalog's hardware is called; the person's own name where the language has none for it."""
    return language.text(name, GOODS)


def stock_words(stock: str, length_nm: int, unit: Unit, language: Language) -> str:
    """Return where a bar comes from: made or bought new at a length, from the rack; a remnant by its rack label."""
    kind = stock.partition(" ")[0]
    return say(language, f"stock_{kind}", length=show_length(length_nm, unit)) if kind in ("made", "new", "rack") else stock


def _told_apart(names: Mapping[str, str]) -> Mapping[str, str]:
    """Return the names, with the catalog's id behind each that two would share."""
    count = Counter(names.values())
    return {one: name if count[name] == 1 else f"{name} ({one})" for one, name in names.items()}


def _thick(length_nm: int, unit: Unit) -> str:
    text = show_length(length_nm, unit)
    return text.replace('"', " in") if unit == "in" and length_nm < FOOT else text
