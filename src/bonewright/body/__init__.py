"""Body: flesh on the average skeleton, its shape, mass and balance, lean and fat.

There are three ways to a body here, and they are reported side by side.

*A maquette.* A preparator models the animal over its skeleton at a known scale. Its volume
comes from the water it displaces, from its weight in air and in water, or from its weight
and the density of its material; less the armature, times the cube of the scale, times the
density of a living body it is the animal's mass. It rests on the modeller's eye.

*A scan.* A closed surface encloses a volume. Its unit and scale are held against the length
of a bone. An open surface is stitched where holes are small, one that is inside out is
turned, parts that pass through each other are counted once; each is said, and what cannot
be mended is refused. Of a scanned skeleton the convex hulls of its parts are taken.

*A body grown from the bones.* The body plan is a table: segments that hang on each other by
joints, and hoops across each segment's axis, given over bone measurements. The body is
lofted through the hoops in every imagined world, filled with bone, air, skin and muscle,
stood on its feet so that its centre of mass lies over them, and fattened. A plan of a
ground bird comes with the program; every hoop of it can be replaced.

Parts that leave no bone (beak sheath, claws, eyes, plumage) take the proportion they have in
living relatives. The fat between the lean and the fat state is turned into days of fasting.

What goes wrong silently: a model or plan over a skeleton of the wrong size is wrong by the
cube; a porous maquette drinks water; plumage modelled as flesh adds much; and no plucked and
measured bird stands behind the proportions of the plan, so that the grown body's interval is
only as honest as the range stated for it.

Cautions: dust of old plaster, sanding dust of resin and clay, uncured resin and silicone
harm lungs and skin. Ventilate, use gloves and a mask fit for dust, and follow the maker's
safety sheet and local rules.
"""
