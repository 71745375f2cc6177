"""What sheets warn of.

Cautions name the published rule where one exists (49 CFR 392.9 and 393, NIOSH 94-110, IRC R403.1.6 and R603.3.1) and
always defer to local code, the engineer of record and licensed people. They are reminders, not legal or engineering advice.
"""

CAUTIONS: dict[str, str] = {
    "caution_saw": (
        "Gloves off near the blade, on for steel edges. Guard down, eyes and ears covered. Lock out before clearing a jam. "
        "Cut cold; brush the swarf off before stacking: hot or loose swarf rusts into the coating."
    ),
    "caution_router": (
        "Stop at the corner: no over-run past an opening's edge. Guard and extraction on, eyes and ears covered. "
        "Hold the drop before it falls. Lock out before changing the bit."
    ),
    "caution_drill": "Clamp the channel; no gloves at a turning spindle, gloves for steel edges. Eyes covered. Deburr each "
    "hole.",
    "caution_brake": "Hands out of the tools: guard or light curtain working, one person gives the stroke. Gloves for steel "
    "edges.",
    "caution_coil": (
        "A coil's end springs: cut bands standing aside. Nobody in line with a running strip. Gloves and sleeves. "
        "Lift coils with rated gear only; note the heat number."
    ),
    "caution_lift": (
        "Check the weight before lifting: over {limit} takes more than one; over the guideline for a team it takes a lifting "
        "aid, or what the site's assessment says. The NIOSH lifting equation (94-110) often allows less. Gloves and sleeves: "
        "steel edges cut. No panel is stood in gusts over 20 mph (32 km/h), or as the site rule says."
    ),
    "caution_stand": (
        "Brace each panel until the next two stand and the cap is on. Nobody under a hung panel. Film off within {days} days "
        "outdoors. Screws, spacing and bracing as the engineer of record says."
    ),
    "caution_roof": (
        "Work at height: fall protection as local law requires. Do not step on a panel that is not fastened "
        "at both bearing lines."
    ),
    "caution_forks": (
        "Weigh the load moment before lifting (29 CFR 1910.178 App. A): a long bundle cuts what a truck may "
        "lift. Over {handled} "
        "use a spreader. Forks spread wide, under the dunnage line, never under a band."
    ),
    "caution_road": (
        "Securement: 49 CFR 393.100-136. The driver inspects before leaving. Edge protectors under every strap; wide boards on "
        "panels: straps crush foam edges. Weights are computed: weigh the truck where in doubt."
    ),
    "caution_anchor": (
        "For the slab crew, before the pour. Positions follow the plant's rules and are never looser than "
        "IRC R403.1.6 (at most "
        "6 ft, two a section, 7 bolt diameters to 12 in from each end), which is written for wood plates; steel track is "
        "IRC R603.3.1 or the engineer of record, who also decides uplift, shear and embedment."
    ),
    "holes_as_measured": "DRILLED TO MEASURE: measure the bolts after the pour and send the figures; the channel's holes "
    "are drilled to them.",
    "holes_template": "TEMPLATE: the channel goes ahead: pour to its holes; a hole 1/8 in over the bolt forgives 1/16 in.",
    "caution_header": "Openings that take a whole panel need the engineer's header.",
    "caution_template": (
        "Paper stretches and printers scale: a template whose bar does not measure 4 in and 100 mm is not used. The delivered "
        "unit governs; its maker's clearances come first."
    ),
    "caution_field_cut": (
        "Prop the wall over the opening before cutting. Saw blade guarded, eyes, ears and hands covered; no sparks at the "
        "foam. Nobody under the drop. The engineer of record decides what may be cut."
    ),
    "caution_rigging": (
        "Lifts with crane, spreader or slings: a qualified rigger and one who signals; gear rated and looked over before each "
        "shift; tag lines; a trial lift of a hand's width; nobody under or beside the load. Lift with the bands on, never by a "
        "band. Weights are computed: add gear, ice and water."
    ),
}
