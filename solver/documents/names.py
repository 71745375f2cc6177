"""What people call what a plan works on: materials, bars, lots, coil, stock; by the catalog, never by a program's id."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from solver.documents.numbering import BarNumber, number_bar_ids
from solver.documents.texts import say
from solver.domain.ids import BarId, read_bar_id
from solver.domain.material import Material, read_window_name
from solver.domain.plan import SequencePart
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.domain.timetable import PlannedOperation, Timetable
from solver.domain.work_ids import read_lot_label, read_saw_group
from solver.language import ENGLISH, Language
from solver.units import FOOT, Unit, show_length

GOODS = "goods"  # the context in which a catalog has names of hardware


class ThingNames:
    """Names of a plant's things in a language; `numbers`: those of bars, by the machine that cuts them.

    Without a number, as the saw counts, a bar is called by its material alone.
    """

    def __init__(self, plant: Plant, language: Language = ENGLISH, numbers: Mapping[str, BarNumber] | None = None) -> None:
        self.plant, self.language = plant, language
        self.numbers = numbers or {}
        self._known: dict[str, str] = {}

    @classmethod
    def for_timetable(cls, plant: Plant, language: Language, table: Timetable, sequences: Sequence[SequencePart]) -> ThingNames:
        """Return the names of a plan's things, its bars numbered as its timetable and cut order have them."""
        bars = (bar for one in table.operations for bar in one.bars)
        return cls(plant, language, number_bar_ids(bars, sequences, table.operations))

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
        if lot := read_lot_label(about):
            return f"{say(self.language, 'lot_n', n=lot[1])}, {self.of(lot[0])}"
        whole, number = read_window_name(about)
        if number:
            return f"{self.of(whole)}, {say(self.language, 'due_window', n=number)}"
        if group := read_saw_group(about):
            window = f", {say(self.language, 'due_window', n=group[1])}" if group[1] else ""
            return say(self.language, "panels_of", thick=_thick(group[0], self.plant.unit)) + window
        material = Material.parse(about)
        if material.gauge is not None and material.colours:
            return say(self.language, "coil_name", gauge=material.gauge, colour=material.finish)
        bar = read_bar_id(about)
        if bar is not None and self._is_material(bar[0]):
            said = f"{say(self.language, 'bar_number', n=self.numbers[about].at)}, " if about in self.numbers else ""
            return said + self.of(bar[0])
        return self._material(about) if self._is_material(about) else about

    def _is_material(self, text: str) -> bool:
        return bool(Material.parse(text).colours) or text in self._families or text in self._profiles

    def _material(self, material: str) -> str:
        made = Material.parse(material)
        if made.item in self._families:
            return ", ".join([self._families[made.item], *self._faces(made)])
        return ", ".join([self._profiles.get(made.item, made.item), *(colour for colour in made.colours if colour)])

    def _faces(self, material: Material) -> list[str]:
        """Both faces' colours; of the usual inside colour nothing is said."""
        if len(material.colours) < 2:
            return [colour for colour in material.colours if colour]
        outside, inside = material.faces
        if outside == inside:
            return [say(self.language, "both_faces", colour=outside)]
        said = [say(self.language, "outside_colour", colour=outside)]
        if inside != self.plant.default_colours.get(f"{self.plant.family(material.item).use}_inside"):
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


def hardware_item_name(name: str, language: Language) -> str:
    """Return what a thing of the catalog's hardware is called; the person's own name where the language has none for it."""
    return language.text(name, GOODS)


def stock_source_words(stock: str, length_nm: int, unit: Unit, language: Language) -> str:
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
