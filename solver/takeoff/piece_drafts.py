"""What all takeoff rooms make pieces with: materials, profiles by use, linear pieces, drafts that marks will number."""

from __future__ import annotations

from fractions import Fraction

from solver.domain.building import Building, Finish, Wall
from solver.domain.cut_plan import Turn
from solver.domain.ids import MaterialId, PieceId
from solver.domain.material import Material
from solver.domain.piece import EndCut, Hole, Piece, Role
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.errors import FieldFault, NoPlan
from solver.units import Grams, Nm, round_half_up

DRAFT = PieceId("draft")  # the number and order of standing are given last, by marks
_NM2_PER_M2 = 10**18

Edge = tuple[int, int]


def panel_material(family: PanelFamily, finish: Finish) -> MaterialId:
    """Return what a panel nests with: family and both colours."""
    return Material(family.id, (finish.outside, finish.inside)).id


def profile_material(profile: Profile, building: Building) -> MaterialId:
    """Return what a linear part nests with: profile, and the trim's colour where it is coloured."""
    return Material(profile.id, (building.trim_colour,) if profile.coloured else ()).id


def profile_for(plant: Plant, use: str, thickness_nm: int) -> Profile:
    """Return the profile for a use that fits a panel thickness, else one that fits any. Raises NoPlan."""
    fitting = [item for item in plant.profiles if item.use == use and item.for_thickness_nm in (thickness_nm, None)]
    exact = [item for item in fitting if item.for_thickness_nm == thickness_nm]
    if not fitting:
        raise NoPlan(
            FieldFault(
                "plant.profiles",
                f"no {use.replace('_', ' ')} fits a panel {thickness_nm / 25.4e6:g} in thick",
                "a profile for that thickness in the catalog",
            )
        )
    return (exact or fitting)[0]


def longest_panel_made(family: PanelFamily, plant: Plant) -> tuple[Nm, str]:
    """Return the longest panel of a family that is made, lifted by forks or with a spreader and carried; and what limits it."""
    forks = min(family.handled_nm, plant.bundle.length_nm)
    spreader = plant.bundle.spreader_length_nm or Nm(0)
    lifted = (spreader, "a spreader lifts") if spreader > forks else (forks, "two forks handle")
    deck = max(deck.length_nm for deck in plant.decks)
    return min((family.longest_nm, "are made"), lifted, (deck, "a deck carries"), key=lambda limit: limit[0])


def panel_weight(family: PanelFamily, area_nm2: Fraction) -> Grams:
    """Return a panel's weight: two skins and the core by area, and the share for glue and edges."""
    mg_per_m2 = 2 * family.skin_mg_per_m2 + Fraction(family.core_g_per_m3 * family.thickness_nm, 10**6)
    grams = area_nm2 / _NM2_PER_M2 * mg_per_m2 / 1000
    return Grams(round_half_up(grams * (1000 + family.extra_permille) / 1000))


def profile_weight(profile: Profile, edge_a: Edge, edge_b: Edge) -> Grams:
    """Return a linear part's weight: its blank's width by the mean of its edges' lengths."""
    mean = Fraction(edge_a[1] - edge_a[0] + edge_b[1] - edge_b[0], 2)
    return Grams(round_half_up(mean * profile.blank_nm / _NM2_PER_M2 * profile.mg_per_m2 / 1000))


def linear_piece(
    building: Building,
    profile: Profile,
    *,
    role: Role,
    wall: Wall,
    run: tuple[Edge, Edge],
    width_nm: int,
    edges: tuple[Edge, Edge],
    turns: tuple[Turn, ...],
    foot: EndCut = EndCut(),  # noqa: B008 - frozen
    head: EndCut = EndCut(),  # noqa: B008 - frozen
    holes: tuple[Hole, ...] = (),
    notes: tuple[str, ...] = (),
) -> Piece:
    """Return a draft of a linear part of a wall; its edges, a and b, are shifted so that the nearer one starts at zero."""
    edge_a, edge_b = edges
    zero = min(edge_a[0], edge_b[0])
    return Piece(
        id=DRAFT,
        order=building.order,
        revision=building.revision,
        mark="",
        part=wall.level,
        group=wall.id,
        role=role,
        stands=1,
        material=profile_material(profile, building),
        width_nm=Nm(width_nm),
        thickness_nm=Nm(profile.for_thickness_nm or 0),
        edge_a=(Nm(edge_a[0] - zero), Nm(edge_a[1] - zero)),
        edge_b=(Nm(edge_b[0] - zero), Nm(edge_b[1] - zero)),
        turns=turns,
        outline=tuple((Nm(u), Nm(z)) for u, z in run),
        weight_g=profile_weight(profile, edge_a, edge_b),
        foot=foot,
        head=head,
        holes=holes,
        notes=notes,
    )
