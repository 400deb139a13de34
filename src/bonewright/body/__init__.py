"""Body: the mass of a modelled animal, from the water its maquette displaces.

A preparator models the animal over its skeleton at a known scale and lowers the maquette
into water. The volume displaced, less wire or base that is no part of the body, times the
cube of the scale is the animal's volume; times the density of a living body it is its
mass. This line of evidence rests on the modeller's eye, not on living relatives.

Three things are uncertain and all enter the interval: the readings (repeats tell), how
far the modelled flesh may be off in volume, and the density. The last two are choices in
study.toml, with a reason each. Density is that of the whole living animal, lungs and air
sacs included, plumage not; the density of the clay never enters.

What goes wrong silently: a model over a skeleton of the wrong size is wrong by the cube;
a porous surface drinks water; air bubbles add volume; plumage modelled as flesh adds much.

Cautions: dust of old plaster, sanding dust of resin and clay, uncured resin and silicone
harm lungs and skin. Ventilate, use gloves and a mask fit for dust, and follow the maker's
safety sheet and local rules.
"""
