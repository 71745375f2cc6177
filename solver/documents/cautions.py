"""What sheets warn of, in English and Spanish.

Cautions name the published rule where one exists (49 CFR 392.9 and 393, NIOSH 94-110, IRC R403.1.6 and R603.3.1) and
always defer to local code, the engineer of record and licensed people. They are reminders, not legal or engineering advice.
"""

CAUTIONS: dict[str, tuple[str, str]] = {
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
        "DRILLED TO MEASURE: measure the bolts after the pour and send the figures; the channel's holes are drilled to them.",
        "SEGÚN MEDIDA: medir los pernos después de colar y enviar las medidas: los agujeros del canal se taladran según ellas.",
    ),
    "holes_template": (
        "TEMPLATE: the channel goes ahead: pour to its holes; a hole 1/8 in over the bolt forgives 1/16 in.",
        "PLANTILLA: el canal va antes: colar según sus agujeros; un agujero 1/8 in mayor perdona 1/16 in.",
    ),
    "caution_header": (
        "Openings that take a whole panel need the engineer's header.",
        "Un vano que ocupa todo un panel requiere el dintel del ingeniero.",
    ),
    "caution_template": (
        "Paper stretches and printers scale: a template whose bar does not measure 4 in and 100 mm is not used. The delivered "
        "unit governs; its maker's clearances come first.",
        "El papel se estira y la impresora escala: no usar una plantilla cuya barra no mida 4 in y 100 mm. Manda la unidad "
        "entregada; primero las holguras de su fabricante.",
    ),
    "caution_field_cut": (
        "Prop the wall over the opening before cutting. Saw blade guarded, eyes, ears and hands covered; no sparks at the "
        "foam. Nobody under the drop. The engineer of record decides what may be cut.",
        "Apuntalar el muro sobre el vano antes de cortar. Disco protegido, ojos, oídos y manos cubiertos; sin chispas en la "
        "espuma. Nadie debajo de lo que cae. El ingeniero responsable decide qué se puede cortar.",
    ),
    "caution_rigging": (
        "Lifts with crane, spreader or slings: a qualified rigger and one who signals; gear rated and looked over before each "
        "shift; tag lines; a trial lift of a hand's width; nobody under or beside the load. Lift with the bands on, never by a "
        "band. Weights are computed: add gear, ice and water.",
        "Izaje con grúa, balancín o eslingas: un aparejador calificado y un señalero; equipo certificado y revisado antes de "
        "cada turno; cuerdas guía; probar a un palmo de altura; nadie debajo ni al lado. Izar con los flejes puestos, nunca "
        "de un fleje. Los pesos son calculados: sumar equipo, hielo y agua.",
    ),
}
