"""From the verdict to the bench: what a preparator needs to build the animal.

The skeleton has been averaged, the body grown over it and weighed; now it is to stand in a
gallery. This room takes the standing body out of a run, in the state of fatness that was
chosen, and brings it to the scale at which it is built. From it follow the armature that
carries the figure, the wire or tube it is bent from and how to cut it, the amounts of clay,
plaster, resin, silicone and foam, the plumage, the base and how hard the figure is to tip.

Everything is figured for the median animal: the object has one size, and beside it stands
what the bones allow. A number that is a rule of the trade says so; stock, materials, limits
and allowances are rows of tables that a study may replace. Before anybody stands beneath a
heavy figure a licensed structural engineer has to look at it.
"""
