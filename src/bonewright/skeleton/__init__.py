"""The average skeleton, from incomplete individuals.

A lost animal is seldom one skeleton. It is a drawer of loose bones, some of them left and
right of the same bird, some measured twice by two people, some cast and sent to another
collection, a few young, a few labelled wrong. The question here is: how long, how broad,
how thick was each bone of an *average grown individual*, and how well is that known?

What counts is individuals, not bones and not measurements:

1. Repeats of one measurement on one bone become one value: the mean of what each observer
   got on average, so that an observer who measured five times weighs no more than one who
   measured once.
2. A cast is its original. Where both were measured, only the original is used.
3. Left and right of one individual become one value.
4. A loose bone, of which nobody knows which others belong to it, is an individual of its
   own. That may count one animal twice, and the finding says so.
5. Young animals stay out.

Averaging each measurement for itself would throw away most of what the bones say. A bird
with a long femur had a long tarsometatarsus; if the one bird that has left its humerus was
large, so was the humerus. So all averages are estimated together
(:mod:`bonewright.skeleton.joint_average`): each individual has a size, each of its bones a
deviation, each measurement a residual and the error of measuring, which repeats tell
(:mod:`bonewright.skeleton.measuring_error`). Living relatives say in which pattern
measurements vary together. The result is draws in which bones move together; the plain mean
of each measurement stands beside it in the report, for comparison.

A broken bone is given the length that goes with what is left of it
(:mod:`bonewright.skeleton.fragments`). What nobody has left at all is told by living
relatives, with a much wider interval (:mod:`bonewright.skeleton.from_relatives`): it serves the
body that is grown from the skeleton, never the mass told from leg bones.

'Average' may mean the arithmetic or geometric mean, the median individual, a percentile, or
one sex; where more of one sex was collected, the middle of both can be asked for.

A row that is out by a factor of ten, in the wrong column, unlike the rest of its individual,
a bone whose sizes belong to another element, or a cast that matches a bone it does not name,
is held out and named, and the person decides (:mod:`bonewright.skeleton.doubts`,
:mod:`~bonewright.skeleton.fit_doubts`, :mod:`~bonewright.skeleton.cast_doubts`).

What goes wrong silently: if collectors picked large or handsome bones, the average is of
picked bones. If sexes are unknown and one was
collected more, the average leans to it. Two columns swapped whose values hardly differ are not
seen.
"""
