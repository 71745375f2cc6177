"""How a thing lies, in words: what is up, what is at the fence, what is at zero; always all three."""

from __future__ import annotations

from solver.documents.texts import say
from solver.domain.document import SecondCut
from solver.domain.lay import EdgeName, Lies, is_panel
from solver.language import Language
from solver.units import Unit, show_angle, show_length


def lay_words(lies: Lies, language: Language) -> str:
    """Return how a thing lies, whole: up, fence, zero. A part with square ends has nothing to mistake and says so."""
    if lies.square:
        return say(language, "lay_square")
    return say(language, "lay", up=up_words(lies, language), fence=edge_words(lies, language), zero=end_words(lies, language))


def lay_short(lies: Lies, language: Language) -> str:
    """Return how a piece lies on a bar whose fence edge is told already; nothing where its ends are square."""
    if lies.square:
        return ""
    return say(language, "lay_short", zero=end_words(lies, language), up=up_words(lies, language, colour=False))


def up_words(lies: Lies, language: Language, *, colour: bool = True) -> str:
    """Return what lies up."""
    if is_panel(lies.role):
        face = face_words(lies, language) if colour else say(language, lies.lay.up)
        return say(language, "face_up", face=face)
    if lies.web_up is None:
        return say(language, "channel_on_flange")
    return say(language, "channel_web_up" if lies.web_up else "channel_open_up")


def face_words(lies: Lies, language: Language) -> str:
    """Return the face that lies up, with its colour where the two faces differ."""
    face = say(language, lies.lay.up)
    return say(language, "face_coloured", face=face, colour=lies.up_colour) if lies.up_colour else face


def edge_words(lies: Lies, language: Language, *, far: bool = False) -> str:
    """Return the edge at the fence, or the far one."""
    return say(language, edge_key(lies, lies.far_edge if far else lies.at_fence))


def edge_key(lies: Lies, edge: EdgeName) -> str:
    """Return the text's key of an edge's name."""
    first = edge in ("left", "groove")
    if is_panel(lies.role):
        return f"edge_{edge}"
    if lies.role == "opening_channel":
        return "edge_tips" if first else "edge_web"
    if lies.web_up is not None:
        return "edge_outer" if first else "edge_inner"
    return "edge_first" if first else "edge_second"


def end_words(lies: Lies, language: Language, *, far: bool = False) -> str:
    """Return the end at zero, or the far one."""
    foot = (lies.lay.zero == "foot") != far
    if is_panel(lies.role):
        return say(language, "end_foot" if foot else "end_head")
    return say(language, "end_zero" if foot else "end_other")


def second_words(cut: SecondCut, language: Language, unit: Unit) -> str:
    """Return a second cut: the end, two places of its line, the swing, the tilt."""
    if cut.near_in_nm == cut.far_in_nm:
        near, far, inside = (show_length(value, unit) for value in (cut.near_nm, cut.far_nm, cut.near_in_nm))
        return say(language, "second_step", end=say(language, f"end_{cut.end}"), near=near, far=far, near_in=inside)
    angle = show_angle(abs(cut.swing_udeg))
    if cut.tilt_udeg:
        long = say(language, "long_up" if cut.long_up else "long_down", angle=show_angle(cut.tilt_udeg))
        angle += f", {say(language, 'tilt')} {long}; {say(language, 'on_upper' if cut.long_up else 'on_lower_plain')}"
    return say(
        language,
        "second_cut",
        end=say(language, f"end_{cut.end}"),
        near=show_length(cut.near_nm, unit),
        near_in=show_length(cut.near_in_nm, unit),
        far=show_length(cut.far_nm, unit),
        far_in=show_length(cut.far_in_nm, unit),
        angle=angle,
    )
