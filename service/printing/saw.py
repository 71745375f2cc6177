"""Saw sheets as PDF: bar by bar, what to pull, where to cut, what each cut frees and where it goes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from service.drawings.bar import bar_drawing
from service.drawings.figures import length_figure
from service.drawings.lay import lay_drawing
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting, order_ids_of_pieces
from solver.documents.lay_words import edge_words, lay_short, lay_words, second_words
from solver.documents.lift_words import lift_words
from solver.documents.names import stock_source_words
from solver.documents.notes import translate_note
from solver.documents.texts import say
from solver.domain.document import SawBar, SawCut, SawPiece, SawSheet
from solver.domain.ids import BarId, PieceId
from solver.domain.lay import Lies
from solver.language import Language
from solver.units import Unit, show_angle, show_length, show_weight

MOST_BESIDE = 4  # pieces of a bar that stand beside each other in a table of bars
MOST_ALIKE = 16  # bars that are drawn as one: what a page holds
BAR_PT = 68.0  # of a bar's drawing: three bars of a cut or two to a page


def saw_pdf(sheets: tuple[SawSheet, ...], setting: SheetSetting, *, unit: Unit) -> bytes:
    """Return the saw sheets of a plan: a machine's bars in cut order, a bar never parted where it fits a page."""
    pages = SheetPages(say(setting.language, "saw_sheet"), setting)
    for sheet in sheets:
        orders = order_ids_of_pieces((piece.piece for bar in sheet.bars for piece in bar.pieces), setting.language)
        pages.page(f"{sheet.machine}, {orders}")
        pages.caution([pages.say("caution_saw")])
        if any(bar.panel for bar in sheet.bars):
            pages.text(pages.say("labels_lie"))
            pages.gap(3)
        drawn: Lies | None = None  # on this page, last
        for bars in group_alike_bars(sheet.bars):
            at, lies = len(pages.pages), bars[0].lies
            pages.block(
                lambda bars=bars, drawn=drawn: _bars(pages, bars, unit, drawn),  # type: ignore[misc]
                again=(lambda bars=bars: _bars(pages, bars, unit, None)) if drawn == lies else None,  # type: ignore[misc]
            )
            drawn = lies if len(pages.pages) <= at + 1 else None  # a bar of several pages ends far from its drawing
    return pages.pdf()


def group_alike_bars(bars: Iterable[SawBar]) -> list[tuple[SawBar, ...]]:
    """Return bars in cut order, those that follow each other and differ only in which pieces they give taken together."""
    made: list[tuple[SawBar, ...]] = []
    for _, some in groupby(bars, key=_kind):
        same = tuple(some)
        few = len(same[0].pieces) <= MOST_BESIDE and not any(piece.way for piece in same[0].pieces)
        size = MOST_ALIKE if few else 1
        made += [same[n : n + size] for n in range(0, len(same), size)]
    return made


def _kind(bar: SawBar) -> SawBar:
    """Return a bar without what tells it from others that are pulled, laid, cut and worked on like it."""
    nobody, nowhere = PieceId(""), BarId("")
    slots = tuple(replace(slot, piece=nobody) for slot in bar.bar.pieces)
    return replace(
        bar,
        at=0,
        bar=replace(bar.bar, id=nowhere, pieces=slots),
        cuts=tuple(replace(cut, piece=None, mark=str(_place(bar, cut))) for cut in bar.cuts),
        pieces=tuple(replace(piece, piece=nobody, mark="", name="", bundle=None, bundle_name="") for piece in bar.pieces),
    )


def _place(bar: SawBar, cut: SawCut) -> int:
    """Return which of its bar's pieces a cut frees or starts, from 1; 0 for none."""
    return next((piece.at for piece in bar.pieces if piece.piece == cut.piece), 0)


def _bars(pages: SheetPages, bars: tuple[SawBar, ...], unit: Unit, drawn: Lies | None) -> None:
    """Set bars that are alike as one, their pieces by number, then which bar gives which pieces; one bar as it is."""
    first = bars[0]
    if len(bars) == 1:
        count = pages.say("bar_n", n=first.at, count=first.of)
        _bar(pages, first, unit, drawn, count)
        return
    named = replace(
        first, pieces=tuple(replace(piece, name=pages.say("piece_n", n=piece.at), bundle_name="") for piece in first.pieces)
    )
    count = pages.say("bars_alike", first=first.at, last=bars[-1].at, count=first.of)
    _bar(pages, named, unit, drawn, count)
    wide = 90 // len(first.pieces)
    pages.table(
        (
            Column(title=pages.say("bar").lower(), share=10, bold=True),
            *(Column(title=pages.say("piece_n", n=piece.at), share=wide) for piece in first.pieces),
            Column(title="", share=4),
        ),
        [
            (
                str(bar.at),
                *(
                    " ".join(filter(None, (piece.name, piece.bundle_name and pages.say("next_none", bundle=piece.bundle_name))))
                    for piece in bar.pieces
                ),
                TICK,
            )
            for bar in bars
        ],
    )
    pages.gap(6)


def _bar(pages: SheetPages, row: SawBar, unit: Unit, drawn: Lies | None, count: str) -> None:
    """Set a bar; how to lay it is drawn once a page, and where it changes: not where the bar above lies so, too."""
    language = pages.setting.language
    pull = pages.say("pull", material=row.what, length=show_length(row.bar.length_nm, unit))
    pages.heading(f"{count}: {pull}, {stock_source_words(row.bar.stock, row.bar.length_nm, unit, language)}", size=13)
    pages.text(f"{pages.say('lay_so')}: {lay_words(row.lies, language)}", bold=True)
    if drawn != row.lies:
        pages.drawing(lay_drawing(row.lies, language=language))
    pages.gap(3)
    pages.drawing(
        bar_drawing(
            row.bar,
            width_nm=row.width_nm,
            marks={piece.piece: piece.name for piece in row.pieces},
            unit=unit,
            room_pt=(pages.room, BAR_PT),
            language=language,
            title=count,
            keep_from_nm=row.keep_from_nm,
            cuts=[(cut.near_nm, cut.far_nm) for cut in row.cuts],
            hidden=[(cut.near_nm + cut.arris_nm, cut.far_nm + cut.arris_nm) for cut in row.cuts if cut.arris_nm],
        )
    )
    _cuts(pages, row, unit)
    as_the_bar = not row.panel and all(_turn(pages, piece) == "" and piece.lies == row.lies for piece in row.pieces)
    pages.table(
        (
            Column(title=pages.say("mark"), share=20, bold=True),
            Column(title=pages.say("length"), share=17, anchor="end"),
            *([] if as_the_bar else [Column(title=pages.say("lies_so"), share=27)]),
            Column(title=pages.say("weight"), share=12, anchor="end"),
            Column(title=pages.say("then"), share=34),
        ),
        [
            (
                piece.name,
                length_figure(piece.long_nm, unit),
                *([] if as_the_bar else [_lies(pages, piece)]),
                show_weight(piece.weight_g, unit),
                next_words(piece, language),
            )
            for piece in row.pieces
        ],
    )
    for piece in row.pieces:
        if piece.seconds:
            lay = replace(piece.lies, lay=row.lies.lay)
            pages.text(pages.say("second_title", mark=piece.name, lay=lay_words(lay, language)), bold=True)
            for cut in piece.seconds:
                pages.text(second_words(cut, language, unit), indent=12)
    pages.gap(6)


def _lies(pages: SheetPages, piece: SawPiece) -> str:
    return ", ".join(part for part in (_turn(pages, piece), lay_short(piece.lies, pages.setting.language)) if part)


def _turn(pages: SheetPages, piece: SawPiece) -> str:
    return "" if piece.turn == "as_is" else pages.say(piece.turn)


def _cuts(pages: SheetPages, row: SawBar, unit: Unit) -> None:
    """Set the cuts of a bar; how the blade tilts only where it does, so that a plain bar stays plain."""
    language = pages.setting.language
    tilted = any(cut.tilt_udeg for cut in row.cuts)
    pages.table(
        (
            Column(title=pages.say("cut"), share=9, bold=True),
            Column(title=_edge_title(pages, "near_edge", edge_words(row.lies, language)), share=20, anchor="end", bold=True),
            Column(title=_edge_title(pages, "far_edge", edge_words(row.lies, language, far=True)), share=20, anchor="end"),
            Column(title=pages.say("swing"), share=18 if tilted else 34),
            *([Column(title=pages.say("tilt"), share=42, bold=True)] if tilted else []),
            Column(title="", share=22 if tilted else 32),
            Column(title="", share=4),
        ),
        [
            (
                str(n),
                length_figure(cut.near_nm, unit),
                length_figure(cut.far_nm, unit) if cut.lean_udeg else "",
                lean_words(cut, language),
                *([tilt_words(cut, language, unit)] if tilted else []),
                _does(cut, row, language),
                TICK,
            )
            for n, cut in enumerate(row.cuts, 1)
        ],
    )


def _edge_title(pages: SheetPages, key: str, edge: str) -> str:
    return f"{pages.say(key)}: {edge.partition(' (')[0]}"


def tilt_words(cut: SawCut, language: Language, unit: Unit) -> str:
    """Return how the blade is tilted, which face is the longer one, and on which one the figures are; nothing if upright."""
    if not cut.tilt_udeg:
        return ""
    words = say(language, "long_up" if cut.long_up else "long_down", angle=show_angle(cut.tilt_udeg))
    if cut.on_upper:
        return f"{words}; {say(language, 'on_upper')}"
    return f"{words}; {say(language, 'on_lower', at=length_figure(cut.near_nm + cut.arris_nm, unit))}"


def lean_words(cut: SawCut, language: Language) -> str:
    """Return how the blade is swung: square, or by how much and which edge is longer."""
    if not cut.lean_udeg:
        return say(language, "square")
    angle = show_angle(abs(cut.lean_udeg))
    return say(language, "leans_right" if cut.lean_udeg > 0 else "leans_left", angle=angle)


def _does(cut: SawCut, row: SawBar, language: Language) -> str:
    if cut.kind == "trim":
        return say(language, "trim_cut" if cut.near_nm else "slant_cut")
    name = next((piece.name for piece in row.pieces if piece.piece == cut.piece), cut.mark)
    return say(language, "frees" if cut.kind == "part" else "starts", mark=name)


def next_words(piece: SawPiece, language: Language) -> str:
    """Return what happens to a piece after the saw, in order, ending with its bundle."""
    words: list[str] = [translate_note(language, piece.way, "in")] if piece.way else []
    if piece.seconds:
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
    if not piece.lift.alone:
        words.append(lift_words(piece.lift, language))
    if piece.bundle_name:
        words.append(say(language, "next_none", bundle=piece.bundle_name))
    return ", ".join(words)
