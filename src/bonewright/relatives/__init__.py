"""Body mass from the leg bones of living relatives.

A bird stands on its legs, so the thickness and length of its leg bones tell what they
carried. Living relatives whose masses are known give, for each measurement, a line of the
logarithm of mass on the logarithm of the measurement; the lost animal's average bone is
read off that line.

Three things are told apart:

* *The prediction and its interval.* One more species scatters about the line as the
  living ones do, and the line itself is uncertain; beyond the relatives' range it is more so.
  The draws hold both, and the uncertainty of the average bone.
* *The middle and the mean.* A line on logarithms predicts the middle (median) mass. The
  mean is larger, by a correction that the study names ([Baskerville1972]_,
  [Sprugel1983]_, [Duan1983]_, [Smith1993]_). The correction moves the point
  estimate of the mean only. It must not move the draws: an interval that holds 95 of 100
  animals would no longer do so.
* *How good a measurement is.* Each relative is predicted with itself left out; the
  measurement with the least error, in percent of the prediction, is chosen.

The blind proof asks the method for a living relative of known mass, with that relative
left out of everything, the choice of measurement included.

What goes wrong silently: species are taken for independent, though close kin resemble each
other, so that intervals may be too narrow; and a lost animal that stood or moved unlike any
relative follows no line of theirs.
"""
