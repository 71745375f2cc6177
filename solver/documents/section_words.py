"""The parts of a section in words, by the numbers that its drawing has."""

from __future__ import annotations

from collections.abc import Iterable

from solver.documents.names import hardware_item_name
from solver.documents.texts import say
from solver.domain.document import BaseSection, CornerSection, RidgeSection, SectionPart
from solver.language import Language
from solver.units import MicroDeg, Unit, show_angle, show_length


def base_words(section: BaseSection, unit: Unit, language: Language) -> str:
    """Return the parts at the foot of a wall."""

    def words(part: SectionPart) -> str:
        if part.part == "channel":
            return say(language, "part_channel", gauge=section.gauge, flange=show_length(section.flange_nm, unit))
        if part.part == "sealant":
            return say(language, "part_sealant", item=hardware_item_name(part.item, language))
        if part.part == "bolt":
            return say(
                language,
                "part_bolt",
                diameter=show_length(section.bolt_nm, unit),
                across=show_length(section.across_nm, unit),
                projection=show_length(section.projection_nm, unit),
                item=hardware_item_name(part.item, language),
            )
        if part.part == "panel":
            return say(language, "part_pocket", pocket=show_length(section.pocket_nm, unit))
        return _screws("part_flange_screws", part, unit, language)

    return _numbered(words(part) for part in section.parts)


def corner_words(section: CornerSection, unit: Unit, language: Language) -> str:
    """Return the parts at a corner."""

    def words(part: SectionPart) -> str:
        if part.part == "joint":
            edge = MicroDeg(abs(180_000_000 - section.interior_udeg) // 2)
            return say(language, f"joint_{section.joint}", angle=show_angle(edge))
        if part.part == "screws":
            return _screws("part_leg_screws", part, unit, language)
        return say(language, f"part_{part.part}", leg=show_length(section.leg_nm, unit))

    return _numbered(words(part) for part in section.parts)


def ridge_words(section: RidgeSection, unit: Unit, language: Language) -> str:
    """Return the parts at a ridge."""

    def words(part: SectionPart) -> str:
        if part.part == "panel":
            cuts = dict.fromkeys(say(language, f"cut_{side.cut}") for side in section.sides)
            return say(language, "part_roof", cut=", ".join(cuts))
        if part.part == "foam":
            return say(language, "part_foam", item=_goods(part, language), gap=show_length(section.gap_nm, unit))
        if part.part == "trim":
            return say(language, "part_trim", leg=show_length(section.leg_nm, unit))
        return _screws("part_leg_screws", part, unit, language)

    return _numbered(words(part) for part in section.parts)


def _goods(part: SectionPart, language: Language) -> str:
    """What fills a part, each thing by its name."""
    return "; ".join(hardware_item_name(name, language) for name in part.item.split("; "))


def _screws(key: str, part: SectionPart, unit: Unit, language: Language) -> str:
    return say(language, key, item=hardware_item_name(part.item, language), spacing=show_length(part.spacing_nm or 0, unit))


def _numbered(parts: Iterable[str]) -> str:
    return "  ".join(f"{n}: {words}." for n, words in enumerate(parts, 1))
