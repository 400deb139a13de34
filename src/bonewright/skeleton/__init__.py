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

The mean over individuals has a t interval. Individuals that gave several bones tie those
bones' means together: if the sample happens to hold large birds, all their bones come out
large. That tie is kept by giving each individual one random weight in each imagined world
(the Bayesian bootstrap, [Rubin1981]_), the same weight for all its bones.

A row that is out by a factor of ten, or a bone whose sizes belong to another element, is
held out and named, and the person decides (:mod:`bonewright.skeleton.doubts`).

What goes wrong silently: if collectors picked large or handsome bones, the average is of
picked bones. If the two sexes differ and one was collected more, the average leans to it.
"""
