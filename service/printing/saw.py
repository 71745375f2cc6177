"""Saw sheets as PDF: bar by bar, what to pull, where to cut, what each cut frees and where it goes."""

from __future__ import annotations

from service.drawings.bar import bar_drawing
from service.drawings.figures import figure
from service.printing.page import TICK, Column, Setting, Sheets
from solver.documents.notes import note
from solver.documents.texts import Language, say
from solver.domain.document import SawBar, SawCut, SawPiece, SawSheet
from solver.units import Unit, show_angle, show_length, show_weight


def saw_pdf(sheets: tuple[SawSheet, ...], setting: Setting, *, unit: Unit) -> bytes:
    """Return the saw sheets of a plan: one or more pages a material, a bar never parted where it fits a page."""
    pages = Sheets(say(setting.language, "saw_sheet"), setting)
    for sheet in sheets:
        pages.page(sheet.what)
        pages.caution([pages.say("caution_saw")])
        for bar in sheet.bars:
            _bar(pages, sheet, bar, unit)
    return pages.pdf()


def _bar(pages: Sheets, sheet: SawSheet, row: SawBar, unit: Unit) -> None:
    pages.need(150 + 17.5 * (len(row.cuts) + 1) + 17.5 * (len(row.pieces) + 1))
    count = pages.say("bar_n", n=row.at, count=len(sheet.bars))
    pages.heading(f"{count}: {pages.say('pull', material=sheet.what, length=show_length(row.bar.length_nm, unit))}")
    pages.text(f"{_stock_words(pages, row, unit)}  ·  {row.bar.id}  ·  {pages.say('fence' if row.panel else 'fence_trim')}")
    pages.gap(3)
    pages.drawing(
        bar_drawing(
            row.bar,
            width_nm=row.width_nm,
            marks={piece.piece: piece.mark for piece in row.pieces},
            unit=unit,
            room_pt=(pages.room, 86.0),
            language=pages.setting.language,
            keep_from_nm=row.keep_from_nm,
            cuts=[(cut.near_nm, cut.far_nm) for cut in row.cuts],
            hidden=[(cut.near_nm + cut.arris_nm, cut.far_nm + cut.arris_nm) for cut in row.cuts if cut.arris_nm],
        )
    )
    language = pages.setting.language
    _cuts(pages, row, unit)
    pages.table(
        (
            Column(title=pages.say("mark"), share=17, bold=True),
            Column(title=pages.say("length"), share=18, anchor="end"),
            Column(title=pages.say("turned"), share=16),
            Column(title=pages.say("weight"), share=13, anchor="end"),
            Column(title=pages.say("then"), share=36),
        ),
        [
            (
                piece.mark,
                figure(piece.long_nm, unit),
                pages.say(piece.turn),
                show_weight(piece.weight_g, unit),
                next_words(piece, language),
            )
            for piece in row.pieces
        ],
    )
    pages.gap(10)


def _stock_words(pages: Sheets, row: SawBar, unit: Unit) -> str:
    """Return where a bar comes from: laminated to length, new of a listed length, else the rack's own label."""
    stock, length = str(row.bar.stock), show_length(row.bar.length_nm, unit)
    kind = stock.partition(" ")[0]
    return pages.say(f"stock_{kind}", length=length) if kind in ("made", "new") else stock


def _cuts(pages: Sheets, row: SawBar, unit: Unit) -> None:
    """Set the cuts of a bar; how the blade tilts only where it does, so that a plain bar stays plain."""
    language = pages.setting.language
    tilted = any(cut.tilt_udeg for cut in row.cuts)
    pages.table(
        (
            Column(title=pages.say("cut"), share=9, bold=True),
            Column(title=pages.say("near_edge"), share=20, anchor="end", bold=True),
            Column(title=pages.say("far_edge"), share=20, anchor="end"),
            Column(title=pages.say("swing"), share=26 if tilted else 34),
            *([Column(title=pages.say("tilt"), share=26, bold=True)] if tilted else []),
            Column(title="", share=22 if tilted else 32),
            Column(title="", share=4),
        ),
        [
            (
                str(n),
                figure(cut.near_nm, unit),
                figure(cut.far_nm, unit) if cut.lean_udeg else "",
                lean_words(cut, language),
                *([tilt_words(cut, language)] if tilted else []),
                _does(cut, language),
                TICK,
            )
            for n, cut in enumerate(row.cuts, 1)
        ],
    )


def tilt_words(cut: SawCut, language: Language) -> str:
    """Return how the blade is tilted and which face of the piece is the longer one; nothing for an upright blade."""
    if not cut.tilt_udeg:
        return ""
    angle = show_angle(cut.tilt_udeg)
    if cut.long_face == "both":
        return angle
    return say(language, "face_long", angle=angle, face=say(language, "outside" if cut.long_face == "outside" else "inside"))


def lean_words(cut: SawCut, language: Language) -> str:
    """Return how the blade is swung: square, or by how much and which edge is longer."""
    if not cut.lean_udeg:
        return say(language, "square")
    angle = show_angle(abs(cut.lean_udeg))
    return say(language, "leans_right" if cut.lean_udeg > 0 else "leans_left", angle=angle)


def _does(cut: SawCut, language: Language) -> str:
    if cut.kind == "trim":
        return say(language, "trim_cut")
    return say(language, "frees" if cut.kind == "part" else "starts", mark=cut.mark)


def next_words(piece: SawPiece, language: Language) -> str:
    """Return what happens to a piece after the saw, in order, ending with its bundle."""
    words: list[str] = [note(language, piece.way, "in")] if piece.way else []
    if piece.slopes:
        words.append(say(language, "second_cuts"))
    if piece.tilt_udeg:
        words.append(f"{say(language, 'tilt')} {show_angle(piece.tilt_udeg)}")
    words += [f"{say(language, 'next_rip')} {say(language, side)}" for side in piece.rips]
    words += [say(language, "next_bevel", angle=show_angle(angle), side=say(language, side)) for side, angle in piece.bevels]
    if piece.openings:
        words.append(say(language, "next_rout", n=piece.openings))
    if piece.pockets:
        words.append(say(language, "next_pocket", n=piece.pockets))
    if piece.holes:
        words.append(say(language, "next_drill", n=piece.holes))
    if piece.crew != 1:
        words.append(say(language, "lift_machine") if piece.crew == 0 else say(language, "lift_crew", n=piece.crew))
    if piece.bundle_name:
        words.append(say(language, "next_none", bundle=piece.bundle_name))
    return ", ".join(words)
