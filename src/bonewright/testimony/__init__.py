"""Testimony: what those who saw the animal, or copied those who did, left behind.

Pictures and accounts are put in order of date. Each picture is scored for fatness from
1 (very lean) to 5 (very fat), best by several people who do not see each other's scores.
The question asked is whether fatness changes over time: Pettitt's test looks for the one
date that best divides the scores into an earlier and a later level, and says how often
scores in a random order would divide as well.

Copies are no witnesses. A picture drawn after another repeats its maker's animal, and
ten copies of one fat bird make a trend that nobody saw. The test is therefore done twice,
with all pictures and with known copies set aside; the second is the one to believe.

An earlier mount is a witness too. Each of its measures is held against the bones: what one
individual's bone and its skin, sheath and flesh allow, and how odd the measure is if the
mount were right.

What goes wrong silently: a copy not known as one counts as a witness; scores are grades,
not amounts; a change may be one of fashion, of season or of captive animals; a picture's
date may be that of the print, not of the drawing.

Cautions: old mounts often hold arsenic or mercury in skin and feathers. Before measuring
one, have it tested or treat it as poisoned: gloves, mask, protective clothing, no brushing
or blowing, and a conservator's advice. Parts of protected species fall under local law.
"""
