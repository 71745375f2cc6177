"""What the stages remark in English, said in the language and unit of a sheet.

A stage's note is an English sentence with names and figures in it. Here each sentence stands as a pattern with its Spanish
beside it: a note is matched, its figures are taken out and set into the sentence that the sheet wants. `{name}` is kept as it
is, `{name:in}` is a number of inches said as a length, `{name:len}` a length said anew, `{name:word}` a word of the trade,
`{name:cuts}` a list of cuts, `{name:note}` a note within a note. A note that no pattern knows is printed as it came.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from functools import cache, lru_cache

from solver.documents.texts import Language
from solver.units import INCH, LengthError, Unit, parse_length, round_half_up, show_length

_NOTES: tuple[tuple[str, str], ...] = (
    # pieces
    (
        "check before standing: closes the loop; lowered from above or inner lip relieved, trimmed to the gap",
        "medir antes de montar: cierra el contorno; se baja desde arriba o se rebaja el labio interior, se ajusta al hueco",
    ),
    (
        "laps over the panel below: hold it until both are fastened to the support at the joint",
        "solapa el panel de abajo: sostenerlo hasta fijar ambos al apoyo en la junta",
    ),
    ("the panel above laps over this one on the support", "el panel de arriba solapa a este sobre el apoyo"),
    (
        "{head:word} of {opening}: finish in the field from the delivered unit",
        "{head:word} de {opening}: terminar en obra según la unidad entregada",
    ),
    (
        "over {opening}, full width: the engineer's header carries the load",
        "sobre {opening}, ancho completo: la carga la lleva el dintel del ingeniero",
    ),
    (
        "mark the wall line underneath, {up:len} up from the lower edge of the eave",
        "marcar por debajo la línea del muro, a {up:len} del borde inferior del alero",
    ),
    (
        "one blank with {mark}: rip apart, then each to its own length",
        "una sola pieza bruta con {mark}: separar al hilo, luego cada una a su largo",
    ),
    (
        "from the drop of {opening} in {mark}, once that is routed",
        "del recorte de {opening} en {mark}, una vez fresado",
    ),
    ("{end:word}: {n} cuts, {cuts:cuts}", "{end:word}: {n} cortes, {cuts:cuts}"),
    ("{face:word} of corner {corner}", "{face:word} de la esquina {corner}"),
    ("{side:word} of {opening}", "{side:word} de {opening}"),
    ("web faces the opening", "el alma mira al vano"),
    (
        "relief-cut to bend; fit in the field to the delivered unit",
        "con cortes de alivio para curvar; ajustar en obra a la unidad entregada",
    ),
    (
        "drill only after the bolts are measured: holes shown as planned",
        "taladrar tras medir los pernos: agujeros previstos",
    ),
    ("goes ahead as the template of the pour", "va antes como plantilla del colado"),
    ("header and bearing: as the engineer of record says", "dintel y apoyo: como diga el ingeniero responsable"),
    ("bottom track", "solera inferior"),
    ("top track", "solera superior"),
    ("jack stud", "montante de apoyo del dintel"),
    ("cripple stud", "montante corto"),
    # takeoff
    (
        "{mark} is {length:in} in long: over the {limit:in} in that two forks handle, lift with a spreader",
        "{mark} mide {length:in}: más de los {limit:in} que manejan dos horquillas, izar con balancín",
    ),
    (
        "{what:note}: ask the engineer of record before setting",
        "{what:note}: consultar al ingeniero responsable antes de montar",
    ),
    ("{bolt} stands under no base channel of {wall}", "{bolt} no queda bajo ningún canal de base de {wall}"),
    ("{bolt} stands outside the middle third of the channel", "{bolt} queda fuera del tercio central del canal"),
    ("{mark} has {n} bolts as measured, under {least}", "{mark} tiene {n} pernos según lo medido, menos de {least}"),
    (
        "{bolt} as measured is {gap:in} in from the end of {mark}",
        "{bolt} según lo medido está a {gap:in} del extremo de {mark}",
    ),
    ("{one} and {other} as measured are {apart:in} in apart", "{one} y {other} según lo medido distan {apart:in}"),
    # bundles
    (
        "skins protected between pieces; wear gloves, edges are sharp; cut no band under a lifted bundle",
        "caras protegidas entre piezas; usar guantes, los bordes cortan; no cortar flejes bajo un paquete izado",
    ),
    (
        "longer than two forks handle: lift with a spreader by a qualified rigger, follow local rules",
        "más largo de lo que manejan dos horquillas: izar con balancín por personal calificado, según las reglas locales",
    ),
    ("box of {n} loose parts: count them against the list", "caja de {n} piezas sueltas: contarlas con la lista"),
    (
        "start box: off the truck first, open before the first piece stands; count it against the list",
        "caja de inicio: baja primero del camión, abrir antes de montar la primera pieza; contarla con la lista",
    ),
    (
        "{upper} stands before {lower} but can't lie on it: {why:word}",
        "{upper} se monta antes que {lower} pero no puede ir encima: {why:word}",
    ),
    (
        "{upper} stands before {lower} but can't lie on it: {name} may not carry",
        "{upper} se monta antes que {lower} pero no puede ir encima: {name} no debe cargar",
    ),
    ("and {n} more such pairs", "y {n} pares más"),
    (
        "{n} pieces are set aside; {more} more bundles would leave {left} (at most {most} a bundle)",
        "se apartan {n} piezas; con {more} paquetes más quedarían {left} (como máximo {most} por paquete)",
    ),
    (
        "setting aside {n} pieces (at most {most} a bundle) would make {fewer} fewer bundles",
        "apartar {n} piezas (máximo {most} por paquete) daría {fewer} paquetes menos",
    ),
    # loads
    (
        "two tiers: high-friction mats or blocking between them (49 CFR 393.118), straps over the top tier",
        "dos niveles: esteras de alta fricción o calzas entre ellos (49 CFR 393.118), cintas sobre el nivel superior",
    ),
    (
        "tarp over a ridge pole or end boards so that water runs off and none is trapped between tarp and film",
        "lona sobre cumbrera o tablas para que el agua corra y no quede entre lona y película",
    ),
    (
        "inspect cargo and securement within the first 50 miles, then at each change of duty, 3 hours or 150 miles, whichever "
        "comes first (49 CFR 392.9); federal and local rules and licensed people govern",
        "revisar carga y sujeción en las primeras 50 millas, luego en cada cambio de turno, 3 horas o 150 millas, lo que "
        "ocurra primero (49 CFR 392.9); mandan las reglas federales y locales y las personas con licencia",
    ),
    (
        "semi-trailer over 48 ft: check every state on the route (23 CFR 658.13 protects 48 ft everywhere)",
        "semirremolque de más de 48 pies: revisar cada estado de la ruta (23 CFR 658.13 ampara 48 pies en todas partes)",
    ),
    (
        "axle places of {deck} are not in the catalog: weigh the axles before the road",
        "los lugares de los ejes de {deck} no están en el catálogo: pesar los ejes antes de salir",
    ),
    (
        "under permit {permit}; panel bundles are divisible loads (23 CFR 658.5)",
        "con permiso {permit}; los paquetes de paneles son cargas divisibles (23 CFR 658.5)",
    ),
    ("local rules: {rules}", "reglas locales: {rules}"),
)

_WORDS: dict[str, str] = {
    "arch": "arco",
    "trapezoid": "dintel inclinado",
    "round": "vano redondo",
    "sill": "antepecho",
    "head": "cabezal",
    "foot": "pie",
    "left jamb": "jamba izquierda",
    "right jamb": "jamba derecha",
    "lower half": "mitad inferior",
    "upper half": "mitad superior",
    "inside": "interior",
    "outside": "exterior",
    "it is too long for it": "es demasiado largo para él",
    "it is too wide for it": "es demasiado ancho para él",
}
_CUTS = (("from square", "desde escuadra"), ("bevel", "bisel"), ("then", "después"), ("square", "a escuadra"))
_FIELD = re.compile(r"\{(?P<name>\w+)(?::(?P<kind>\w+))?\}")
_SHAPES = {"in": r"-?\d+(?:\.\d+)?", "word": "|".join(sorted(map(re.escape, _WORDS), key=len, reverse=True)), None: r".+?"}


def note(language: Language, text: str, unit: Unit) -> str:
    """Return a stage's English note in a language, its lengths in a unit; as it came where no pattern knows it."""
    found = _match(text)
    if found is None:
        return text
    spoken, values = found
    return _FIELD.sub(lambda field: _said(language, field["kind"], values[field["name"]], unit), spoken[language == "es"])


def is_known(text: str) -> bool:
    """Return whether a note, and any note within it, is one of the sentences above."""
    found = _match(text)
    if found is None:
        return False
    (english, _), values = found
    return all(is_known(values[field["name"]]) for field in _FIELD.finditer(english) if field["kind"] == "note")


def _said(language: Language, kind: str | None, value: str, unit: Unit) -> str:
    ways: dict[str, Callable[[], str]] = {
        "in": lambda: show_length(round_half_up(Fraction(value) * INCH), unit),
        "len": lambda: _length(value, unit),
        "word": lambda: _WORDS[value] if language == "es" else value,
        "cuts": lambda: _cuts(language, value),
        "note": lambda: note(language, value, unit),
    }
    return ways[kind]() if kind in ways else value


def _length(value: str, unit: Unit) -> str:
    try:
        return show_length(parse_length(value), unit)
    except LengthError:
        return value


def _cuts(language: Language, value: str) -> str:
    if language == "es":
        for english, spanish in _CUTS:
            value = re.sub(rf"\b{english}\b", spanish, value)
    return value


@lru_cache(maxsize=20_000)
def _match(text: str) -> tuple[tuple[str, str], dict[str, str]] | None:
    for pattern, pair in _patterns():
        if match := pattern.fullmatch(text):
            return pair, match.groupdict()
    return None


@cache
def _patterns() -> tuple[tuple[re.Pattern[str], tuple[str, str]], ...]:
    return tuple((_pattern(english), (_without_units(english), spanish)) for english, spanish in _NOTES)


def _pattern(english: str) -> re.Pattern[str]:
    made, at = "", 0
    for field in _FIELD.finditer(english):
        made += re.escape(english[at : field.start()])
        made += f"(?P<{field['name']}>{_SHAPES.get(field['kind'], _SHAPES[None])})"
        at = field.end()
    return re.compile(made + re.escape(english[at:]), re.DOTALL)


def _without_units(english: str) -> str:
    """Return the sentence without the "in" after a number of inches: the length that is set there says its unit."""
    return re.sub(r"(\{\w+:in\}) in\b", r"\1", english)
