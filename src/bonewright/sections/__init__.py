"""Sections: the strength of a bone, judged from what it looks like cut across.

A leg bone is a bent tube. How much bending it bears depends on how much bone there is
and on how far from the middle it lies, and both can be read off a cross-section. You
give either four diameters by callipers (outer and inner, side to side and front to
back), which are taken as an ellipse with an elliptical marrow space in its middle, or an
outline traced from a break, a scan or a photograph, which is used as it is.

From each section come

- the *area* of bone,
- the *second moments of area* about the mediolateral and anteroposterior axes through
  its centroid, and the greatest, least and polar ones,
- the *section modulus* Z about each axis: the second moment over the distance to the
  farthest fibre on either side.

Sections come from bones of several sizes, so each is brought to the size of the average
animal: Z grows as the cube and the distance x from the section to the lower end as the
first power of length. Z / x is what the step on movement needs.

What goes wrong silently: an ellipse hides thick ridges (trace an outline where the bone
is ridged); diameters taken obliquely are too long; a section far from mid-shaft answers
another question than one at mid-shaft; the polar moment equals the torsion constant of
round sections only.
"""
