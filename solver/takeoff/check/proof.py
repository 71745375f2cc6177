"""What the proof notes as it goes: the rules judged, and each fault with its place."""

from __future__ import annotations

from dataclasses import dataclass, field

from solver.domain.building import Building
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.domain.plant import PanelFamily, Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FaultCollector
from solver.units import show_length


@dataclass(slots=True, kw_only=True)
class TakeoffProof:
    """One proof under way."""

    building: Building
    plant: Plant
    takeoff: Takeoff
    faults: FaultCollector = field(default_factory=FaultCollector)
    checked: list[str] = field(default_factory=list)
    groups: dict[GroupId, list[Piece]] = field(default_factory=dict)

    def pieces_of(self, group: GroupId, role: str) -> list[Piece]:
        """Return the pieces of a wall or plane that play a role."""
        return [piece for piece in self.groups.get(group, []) if piece.role == role]

    def add_fault(self, where: str, problem: str, fix: str) -> None:
        """Note a fault."""
        self.faults.add(where, problem, fix)

    def shown(self, length_nm: int) -> str:
        """Return a length for a message: as people read it, and in nanometres where that would hide it."""
        said = show_length(length_nm, self.building.unit)
        return said if abs(length_nm) >= 100_000 else f"{length_nm} nm"

    def family(self, name: str) -> PanelFamily | None:
        """Return the panel family of an id, if the plant has it."""
        return next((family for family in self.plant.families if family.id == name), None)
