"""The paper, replayed: code apart that takes only what the sheets say and cuts a blank with marked faces, joints and ends.

Nothing of `solver.documents.lying` is used but the rows that sheets are printed from. A blank stands in a frame of its own: `u`
from its groove (left edge seen from outside), `z` from its foot, `d` from its outside face. The table's frame is right-handed:
`x` from zero, `y` from the fence, `h` up. Laying a thing down is a motion of a rigid body, so a sheet that asks for a mirror
image is told at once; all else shows in the places that are cut or left.
"""
