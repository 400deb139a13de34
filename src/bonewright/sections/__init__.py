"""Sections: the strength of a bone, judged from what it looks like cut across.

A leg bone is a bent tube. How much bending it bears depends on how much bone there is
and on how far from the middle it lies, and both can be read off a cross-section. You
give it in one of four ways:

- *by callipers*: two outer diameters, side to side and front to back, and either the inner
  ones or the thickness of the four walls, which say where the marrow space lies. It is taken
  as an ellipse with an elliptical hole;
- *as an outline*: the outer edge and the marrow space as closed lines, traced from a break
  (CSV, SVG or DXF), used as they are;
- *as a picture*: a photograph, a scan or one CT slice with a scale bar. A threshold parts
  bone from background, and the contour is shown before you accept it;
- *as a CT stack*, which is read a few slices at a time and cut across the bone's own axis,
  however it lies in the stack.

From each section come

- the *area* of bone and the *centroid*;
- the *second moments of area* about the mediolateral and anteroposterior axes through the
  centroid, and about the principal axes, where they are greatest and least; the *polar* one;
- the *section modulus* Z about each axis: the second moment over the distance to the
  farthest fibre on either side;
- the *torsion constant* J: by Bredt's formula for a thin wall, and solved from the warping
  of the section where the wall is thick or uneven;
- K, inner over outer diameter, and the share of the section that is bone;
- how far the callipers' division or the placing of the edge leave Z open. Weathering takes
  more: a stated allowance.

Sections come from bones of several sizes, so each is brought to the size of the average
animal: Z grows as the cube and the distance x from the section to the lower end as the
first power of length. Z / x is what the step on movement needs. Of a bone cut all along,
only the section where the other bones were cut enters the average.

What goes wrong silently: an ellipse hides thick ridges (trace an outline where the bone
is ridged); diameters taken obliquely are too long; a section far from mid-shaft answers
another question than one at mid-shaft; a wall thinner than the scanner's blur comes out too
thin by every threshold; the polar moment equals the torsion constant of round sections only.
"""
