"""Movement: would its legs have carried it as those of living runners carry them.

One number compares leg bones of animals of all sizes. The *strength indicator* is
Z / (a m g x): section modulus over the bending that the animal's own weight would cause,
with m the body mass, g gravity, a the share of weight on that pair of legs (1 for a
two-legged animal) and x the distance from the section to the bone's lower end. It is in
GPa^-1: large where bone is strong for the weight it carries, small where it is weak.

The lost animal's mass is uncertain, so the question is also turned round: at which
masses would each leg bone stay within the range of the comparison animals? Where all
bones agree is the *mass window*. A mass above the window makes some bone weaker than that
of every comparison animal; a mass below makes some bone stronger, which does not forbid
running but puts the animal outside the comparison.

The range that counts as 'like the animals compared' is a choice: the range measured, a t
interval or a kernel density. Published indicators are shown beside those measured alike, and
counted only if you say so. Each state of fatness is laid over the window, and the greatest
share of fat that still fits in it follows.

Besides, the legs say, each only as far as it goes:

- *peak stresses* standing, walking and running, from bending, pressing, bow and twisting, set
  against the strength of bone. Muscles are left out, so safety factors are upper bounds;
- *hip height*, comfortable speed, and the speed at which animals of its size change from
  walking to running (Froude numbers); the speed that goes with a stride (Alexander 1976);
- *proportions* of the leg beside living relatives, which go with ways of moving loosely;
- *balance*: how far the centre of mass of the grown body lies from the ends of the feet.

What goes wrong silently: a range grows with the number of animals measured; geometrically
similar animals have indicators that fall as mass^(-1/3), so a large animal should be
compared with large ones; bones can be strong for reasons other than running; muscle,
tendon and joints are not looked at.
"""
