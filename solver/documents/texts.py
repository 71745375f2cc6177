"""The words of labels, sheets and drawings, in English and Spanish; figures and marks are set by the caller.

Cautions name the published rule where one exists (49 CFR 392.9 and 393, NIOSH 94-110, IRC R403.1.6 and R603.3.1) and
always defer to local code, the engineer of record and licensed people. They are reminders, not legal or engineering advice.
"""

from __future__ import annotations

from typing import Literal

Language = Literal["en", "es"]
LANGUAGES: tuple[Language, ...] = ("en", "es")

_WORDS: dict[str, tuple[str, str]] = {
    # things
    "piece": ("piece", "pieza"),
    "pieces": ("pieces", "piezas"),
    "piece_count": ("{n} pieces", "{n} piezas"),
    "one_piece": ("1 piece", "1 pieza"),
    "bundle": ("Bundle", "Paquete"),
    "load": ("Load", "Carga"),
    "order": ("Order", "Pedido"),
    "wall": ("Wall", "Muro"),
    "roof_plane": ("Roof plane", "Agua de techo"),
    "bar": ("Bar", "Barra"),
    "box": ("Box", "Caja"),
    "deck": ("Deck", "Plataforma"),
    "mark": ("mark", "marca"),
    "length": ("length", "largo"),
    "width": ("width", "ancho"),
    "height": ("height", "alto"),
    "weight": ("weight", "peso"),
    "quantity": ("how many", "cuántos"),
    "item": ("item", "artículo"),
    "why": ("why", "por qué"),
    "packs": ("packs", "bultos"),
    "position": ("place", "lugar"),
    "stands": ("stands", "se monta"),
    "stands_nth": ("stands no. {n}", "se monta n.º {n}"),
    "material": ("material", "material"),
    "corner": ("corner {id}", "esquina {id}"),
    "scale_note": ("true to scale", "a escala"),
    # roles
    "wall_panel": ("wall panel", "panel de muro"),
    "roof_panel": ("roof panel", "panel de techo"),
    "base_channel": ("base channel", "canal de base"),
    "top_cap": ("top cap", "remate superior"),
    "corner_angle": ("corner angle", "ángulo de esquina"),
    "opening_channel": ("opening channel", "canal de vano"),
    "eave_trim": ("eave trim", "moldura de alero"),
    "rake_trim": ("rake trim", "moldura de borde"),
    "ridge_trim": ("ridge trim", "moldura de cumbrera"),
    "hip_trim": ("hip trim", "moldura de limatesa"),
    "valley_trim": ("valley trim", "moldura de limahoya"),
    "furring": ("furring", "enrasado"),
    "stud": ("stud", "montante"),
    "track": ("track", "solera"),
    "header": ("header", "dintel"),
    # edges of a roof plane
    "eave": ("eave", "alero"),
    "rake": ("rake", "borde"),
    "ridge": ("ridge", "cumbrera"),
    "hip": ("hip", "limatesa"),
    "valley": ("valley", "limahoya"),
    "edge_wall": ("wall", "muro"),
    "open": ("open edge", "borde libre"),
    "wall_line": ("wall line, below", "línea de muro, debajo"),
    # labels
    "foot_end": ("FOOT END", "EXTREMO DE PIE"),
    "inside_face": ("INSIDE FACE", "CARA INTERIOR"),
    "outside_face": ("seen from OUTSIDE, arrow points UP", "visto desde FUERA, la flecha va ARRIBA"),
    "seen_from_above": ("seen from ABOVE, arrow to the RIDGE", "visto desde ARRIBA, flecha a la CUMBRERA"),
    "seen_flat": ("as it lies on the bar, zero end left", "como va en la barra, cero a la izquierda"),
    "on_bar": ("bar {bar}, {n} of {count}", "barra {bar}, {n} de {count}"),
    "in_bundle": ("{bundle}: {n} from top of {count}", "{bundle}: {n} desde arriba de {count}"),
    "film_by": ("Strip film by {date}", "Quitar película antes de {date}"),
    "lift_crew": ("{n} LIFT", "LEVANTAR ENTRE {n}"),
    "lift_machine": ("LIFT BY MACHINE", "LEVANTAR CON MÁQUINA"),
    "one_carries": ("Gloves: steel edges cut", "Guantes: el acero corta"),
    "closing": ("CLOSING PANEL: check first", "PANEL DE CIERRE: medir antes"),
    "field_head": ("head finished in the field", "dintel se termina en obra"),
    "hand_left": ("LEFT HAND", "MANO IZQUIERDA"),
    "hand_right": ("RIGHT HAND", "MANO DERECHA"),
    "mitred": ("mitre {side} {angle}", "inglete {side} {angle}"),
    "ripped": ("ripped {side}", "cortado {side}"),
    "left": ("left", "izq."),
    "right": ("right", "der."),
    # bundle tag and sheet
    "contents": ("Contents, top to bottom", "Contenido, de arriba a abajo"),
    "lift_points": ("Forks at {a} and {b} from the foot end", "Horquillas a {a} y {b} del extremo de pie"),
    "centre_of_mass": ("centre of mass {at} from the foot end", "centro de masa a {at} del extremo de pie"),
    "top": ("top", "arriba"),
    "bottom": ("bottom", "abajo"),
    "side_view": ("From the side, feet to the left", "De lado, pies a la izquierda"),
    "end_view": ("From the foot end", "Desde el extremo de pie"),
    "set_aside": ("set aside when taken off: {marks}", "apartar al sacar: {marks}"),
    "more_rows": ("and {n} more: see the bundle sheet", "y {n} más: ver hoja de paquete"),
    "wanted_from": ("wanted from no. {n}", "se necesita desde n.º {n}"),
    # saw sheet
    "saw_sheet": ("Saw sheet", "Hoja de sierra"),
    "pull": ("Pull {material}, {length}", "Tomar {material}, {length}"),
    "bar_n": ("Bar {n} of {count}", "Barra {n} de {count}"),
    "fence": ("groove to the fence, foot end at zero", "ranura contra la guía, extremo de pie en cero"),
    "fence_trim": ("outside face up, zero end at the stop", "cara exterior arriba, cero en el tope"),
    "cut": ("cut", "corte"),
    "near_edge": ("near edge", "borde cercano"),
    "far_edge": ("far edge", "borde lejano"),
    "swing": ("swing", "giro"),
    "tilt": ("tilt", "inclinación"),
    "square": ("square", "recto"),
    "leans_right": ("{angle} far edge longer", "{angle} borde lejano más largo"),
    "leans_left": ("{angle} far edge shorter", "{angle} borde lejano más corto"),
    "trim_cut": ("trim the end", "emparejar extremo"),
    "frees": ("frees {mark}", "libera {mark}"),
    "starts": ("starts {mark}", "inicia {mark}"),
    "turned": ("turn", "vuelta"),
    "as_is": ("as it is", "sin voltear"),
    "end_for_end": ("end for end", "extremo por extremo"),
    "over": ("turned over", "volteada de lado"),
    "over_end": ("turned over end", "volteada de punta"),
    "then": ("then", "después"),
    "keep_drop": ("keep {length}", "guardar {length}"),
    "waste_drop": ("waste {length}", "sobra {length}"),
    "no_drop": ("nothing left", "sin sobrante"),
    "second_cuts": ("second cuts: slopes", "segundos cortes: pendientes"),
    "next_rip": ("rip", "corte largo"),
    "next_bevel": ("bevel {angle} {side}", "bisel {angle} {side}"),
    "next_rout": ("rout {n}", "fresar {n}"),
    "next_pocket": ("pockets {n}", "cajas {n}"),
    "next_drill": ("drill {n}", "taladrar {n}"),
    "next_none": ("to bundle {bundle}", "al paquete {bundle}"),
    # load
    "load_sheet": ("Load sheet", "Hoja de carga"),
    "load_order": ("Load in this order; unloading is the reverse", "Cargar en este orden; descargar al revés"),
    "from_left": ("From the left side", "Desde el lado izquierdo"),
    "from_above": ("From above", "Desde arriba"),
    "from_front": ("from the front", "desde el frente"),
    "from_left_edge": ("from the left", "desde la izquierda"),
    "above_deck": ("above deck", "sobre plataforma"),
    "axle": ("Axle group", "Grupo de ejes"),
    "axle_of": ("{weight} of {limit}", "{weight} de {limit}"),
    "steer": ("steer", "dirección"),
    "drive": ("drive", "tracción"),
    "trailer": ("trailer", "remolque"),
    "coupling": ("coupling", "enganche"),
    "front": ("front", "delantero"),
    "rear": ("rear", "trasero"),
    "as_loaded": ("as loaded", "con la carga completa"),
    "after_off": ("after {n} off", "con {n} abajo"),
    "tiedowns": (
        "Tie-downs: {required} at least ({by_length} by length, {by_load} by working load)",
        "Amarres: {required} como mínimo ({by_length} por largo, {by_load} por carga de trabajo)",
    ),
    "tiedown_at": ("Straps over the top at, from the front:", "Cintas por encima, desde el frente, a:"),
    "edge_protectors": (
        "{n} edge protectors, wide boards under them",
        "{n} protectores de borde, con tablas anchas debajo",
    ),
    "load_height": ("top of load {height} above the road (limit {limit})", "altura de la carga {height} (límite {limit})"),
    "load_centre": (
        "centre of mass {at} from the front, {across} from the left edge",
        "centro de masa a {at} del frente, {across} del borde izquierdo",
    ),
    "bridge": ("Axles", "Ejes"),
    "axles_apart": ("{first} to {last}, {feet} ft apart", "{first} a {last}, {feet} ft"),
    "rules_used": ("Rules used: {rules}", "Reglas usadas: {rules}"),
    "permit": ("Permit: {permit}", "Permiso: {permit}"),
    "unload_side": ("Unload from: {sides}", "Descargar por: {sides}"),
    "side_left": ("left", "izquierda"),
    "side_right": ("right", "derecha"),
    "side_rear": ("rear", "atrás"),
    "strap_tension": ("Strap tension: no more than {weight} a side", "Tensión de cinta: no más de {weight} por lado"),
    "limit": ("limit", "límite"),
    "heaviest": ("heaviest while unloading", "máximo al descargar"),
    "from_top": ("from top", "desde arriba"),
    "from_start": ("from start corner", "desde esquina inicial"),
    "goes_on": ("goes on", "sube"),
    "comes_off": ("comes off", "baja"),
    # packing, installation, anchors, purchase
    "packing_list": ("Packing list", "Lista de empaque"),
    "installation": ("Installation sheet", "Hoja de montaje"),
    "anchor_plan": ("Anchor plan", "Plano de anclajes"),
    "purchase_list": ("Purchase list", "Lista de compra"),
    "bundle_sheet": ("Bundle sheet", "Hoja de paquete"),
    "bevel_sheet": ("Rip and bevel sheet", "Hoja de corte largo y bisel"),
    "router_sheet": ("Router sheet", "Hoja de fresadora"),
    "drill_sheet": ("Drill sheet", "Hoja de taladro"),
    "brake_sheet": ("Brake sheet", "Hoja de plegadora"),
    "slit_sheet": ("Slitting sheet", "Hoja de corte de bobina"),
    "piece_drawings": ("Piece drawings", "Dibujos de piezas"),
    "inset_note": (
        "How far the cut lies inside the blank's edge, on the outside and on the inside face.",
        "Cuánto entra el corte desde el borde del panel, en la cara exterior y en la interior.",
    ),
    "holes_at": ("{size} holes, {across} in from the outside edge", "agujeros {size}, a {across} del borde exterior"),
    "pockets_at": (
        "foot pockets {size} wide, {across} in from the outside face",
        "cajas al pie de {size}, a {across} de la cara exterior",
    ),
    "side": ("side", "lado"),
    "outside": ("outside face", "cara exterior"),
    "inside": ("inside face", "cara interior"),
    "blank": ("blank {width} wide", "desarrollo {width}"),
    "bends": ("{n} bends", "{n} dobleces"),
    "set_ups": ("{n} set-ups", "{n} preparaciones"),
    "labels": ("Labels", "Etiquetas"),
    "elevation": ("{group}, seen from outside", "{group}, visto desde fuera"),
    "plane_view": ("{group}, seen square to its plane, pitch {pitch}", "{group}, visto a escuadra, pendiente {pitch}"),
    "tag_legend": (
        "In each tag: the mark, and its number in the order of standing.",
        "En cada etiqueta: la marca y su número en el orden de montaje.",
    ),
    "order_of_standing": ("Order of standing", "Orden de montaje"),
    "hardware": ("Hardware", "Herrajes"),
    "ship_to": ("Ship to", "Enviar a"),
    "delivery": ("Delivery", "Entrega"),
    "need_by": ("on site by {when}", "en obra antes de {when}"),
    "along": ("along", "a lo largo"),
    "across": ("in from outside face", "desde la cara exterior"),
    "rule": ("rule", "regla"),
    "why_corner": ("corner", "esquina"),
    "why_door": ("door", "puerta"),
    "why_splice": ("splice", "empalme"),
    "why_spacing": ("spacing", "separación"),
    "start_here": ("start: corner {id}", "inicio: esquina {id}"),
    "bolt": ("{diameter} bolt, {projection} above slab", "perno {diameter}, {projection} sobre la losa"),
    "to_buy": ("to buy", "comprar"),
    "on_hand": ("on hand", "en existencia"),
    "needed": ("needed", "necesario"),
    "price": ("price", "precio"),
    "total": ("Total", "Total"),
    "stock_length": ("stock length", "largo comercial"),
    "cautions": ("Cautions", "Precauciones"),
    "page": ("page {n} of {count}", "página {n} de {count}"),
    "made": ("made {when}", "hecho {when}"),
    "plan": ("plan {plan}", "plan {plan}"),
    "continued": ("continued", "continúa"),
    "late": ("late", "tarde"),
    "now": ("now", "ahora"),
    "closed": ("closed", "cerrado"),
    "lengths_in": ("lengths in {unit}", "largos en {unit}"),
    "feet_inches": ("feet and inches", "pies y pulgadas"),
    "millimetres": ("millimetres", "milímetros"),
    "edge_trim": ("edge trim", "recorte de borde"),
    "coil": ("coil", "bobina"),
    "run_for": ("run {length}", "correr {length}"),
    "next": ("next", "sigue"),
    "none": ("none", "ninguno"),
    "defer": (
        "Local code, the engineer of record and licensed people decide; this sheet only reminds.",
        "Deciden el código local, el ingeniero responsable y las personas con licencia; esta hoja solo recuerda.",
    ),
    # cautions
    "caution_saw": (
        "Gloves off near the blade, on for steel edges. Guard down, eyes and ears covered. Lock out before clearing a jam. "
        "Cut cold; brush the swarf off before stacking: hot or loose swarf rusts into the coating.",
        "Sin guantes junto al disco, con guantes para bordes de acero. Protección bajada, ojos y oídos cubiertos. Bloquear la "
        "energía antes de destrabar. Cortar en frío; cepillar la viruta antes de apilar: oxida el recubrimiento.",
    ),
    "caution_router": (
        "Stop at the corner: no over-run past an opening's edge. Guard and extraction on, eyes and ears covered. "
        "Hold the drop before it falls. Lock out before changing the bit.",
        "Detenerse en la esquina: no pasar del borde del vano. Protección y aspiración, ojos y oídos cubiertos. "
        "Sujetar el sobrante antes de que caiga. Bloquear la energía antes de cambiar la fresa.",
    ),
    "caution_drill": (
        "Clamp the channel; no gloves at a turning spindle, gloves for steel edges. Eyes covered. Deburr each hole.",
        "Sujetar el canal; sin guantes junto al husillo, con guantes para los bordes. Ojos cubiertos. Quitar rebabas.",
    ),
    "caution_brake": (
        "Hands out of the tools: guard or light curtain working, one person gives the stroke. Gloves for steel edges.",
        "Manos fuera de las herramientas: protección o cortina de luz en servicio, una sola persona acciona. Guantes.",
    ),
    "caution_coil": (
        "A coil's end springs: cut bands standing aside. Nobody in line with a running strip. Gloves and sleeves. "
        "Lift coils with rated gear only; note the heat number.",
        "La punta de la bobina salta: cortar flejes desde un lado. Nadie en la línea de la cinta. Guantes y mangas. "
        "Izar solo con equipo certificado; anotar el número de colada.",
    ),
    "caution_lift": (
        "Check the weight before lifting: over {limit} takes two people or a machine; the NIOSH lifting "
        "equation (94-110) often "
        "allows less. Gloves and sleeves: steel edges cut. No panel is stood in gusts over 20 mph, or as the site rule says.",
        "Ver el peso antes de levantar: más de {limit} requiere dos personas o máquina; la ecuación NIOSH "
        "(94-110) suele permitir "
        "menos. Guantes y mangas: el acero corta. No montar paneles con ráfagas de más de 32 km/h, o según "
        "la regla de la obra.",
    ),
    "caution_stand": (
        "Brace each panel until the next two stand and the cap is on. Nobody under a hung panel. Film off within {days} days "
        "outdoors. Screws, spacing and bracing as the engineer of record says.",
        "Apuntalar cada panel hasta que estén los dos siguientes y el remate. Nadie debajo de un panel "
        "colgado. Quitar la película "
        "dentro de {days} días a la intemperie. Tornillos y apuntalamiento según el ingeniero responsable.",
    ),
    "caution_roof": (
        "Work at height: fall protection as local law requires. Do not step on a panel that is not fastened "
        "at both bearing lines.",
        "Trabajo en altura: protección contra caídas según la ley local. No pisar un panel sin fijar en ambos apoyos.",
    ),
    "caution_forks": (
        "Weigh the load moment before lifting (29 CFR 1910.178 App. A): a long bundle cuts what a truck may "
        "lift. Over {handled} "
        "use a spreader. Forks spread wide, under the dunnage line, never under a band.",
        "Calcular el momento antes de levantar (29 CFR 1910.178 Ap. A): un paquete largo reduce la "
        "capacidad. Más de {handled}, "
        "usar balancín. Horquillas bien abiertas, junto a los durmientes, nunca bajo un fleje.",
    ),
    "caution_road": (
        "Securement: 49 CFR 393.100-136; the driver inspects before leaving, within the first 50 miles, then at each change of "
        "duty, 3 hours or 150 miles (392.9). Edge protectors under every strap; wide boards on panels: "
        "straps crush foam edges. "
        "Tarp so that water runs off. Weights are computed: weigh the truck where in doubt.",
        "Sujeción: 49 CFR 393.100-136; el conductor revisa antes de salir, en las primeras 50 millas, y en "
        "cada cambio, 3 horas o "
        "150 millas (392.9). Protector bajo cada cinta y tablas anchas: la cinta aplasta la espuma. Lona sin "
        "charcos. Los pesos son "
        "calculados: pesar el camión en caso de duda.",
    ),
    "caution_anchor": (
        "For the slab crew, before the pour. Positions follow the plant's rules and are never looser than "
        "IRC R403.1.6 (at most "
        "6 ft, two a section, 7 bolt diameters to 12 in from each end), which is written for wood plates; steel track is "
        "IRC R603.3.1 or the engineer of record, who also decides uplift, shear and embedment.",
        "Para el equipo de losa, antes de colar. Las posiciones siguen las reglas de la planta y nunca son más abiertas que "
        "IRC R403.1.6 (máximo 6 pies, dos por tramo, de 7 diámetros a 12 pulgadas de cada extremo), escrito para soleras de "
        "madera; la solera de acero es IRC R603.3.1 o el ingeniero responsable, que decide también "
        "levantamiento, corte y anclaje.",
    ),
    "holes_as_measured": (
        "Measure the bolts after the pour and send the figures: the channel's holes are drilled to them.",
        "Medir los pernos después de colar y enviar las medidas: los agujeros del canal se taladran según ellas.",
    ),
    "holes_template": (
        "The channel goes ahead as the template: pour to its holes; a hole 1/8 in over the bolt forgives 1/16 in.",
        "El canal va antes como plantilla: colar según sus agujeros; un agujero 1/8 in mayor perdona 1/16 in.",
    ),
    "caution_header": (
        "Openings that take a whole panel need the engineer's header.",
        "Un vano que ocupa todo un panel requiere el dintel del ingeniero.",
    ),
    "anchors_title": (
        "Anchors along each wall, from its left corner seen from outside",
        "Anclajes de cada muro, desde su esquina izquierda visto desde fuera",
    ),
}


def say(language: Language, key: str, /, **figures: object) -> str:
    """Return the words of a key in a language, figures filled in. Raises KeyError for a key that is not in the table."""
    return _WORDS[key][LANGUAGES.index(language)].format(**figures)


def keys() -> tuple[str, ...]:
    """Return every key of the table."""
    return tuple(_WORDS)
