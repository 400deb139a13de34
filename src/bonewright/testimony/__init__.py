"""Testimony: what those who saw the animal, or copied those who did, left behind.

Pictures and accounts are put in order of date; a date is an interval, and what that does to
every result is carried through. Each picture is scored from 1 to 5 for fatness, posture and
plumage, best by several people who do not see each other's scores; how far they agree beyond
chance is told.

Named points marked on a picture need no scale: ratios of lengths say how deep the body or
how long the bill is drawn, and marking twice says how far such a ratio can be trusted.

Copies are no witnesses. A picture drawn after another repeats its maker's animal, and
ten copies of one fat bird make a trend that nobody saw. Who copied whom is known from what
you enter, and seen from shapes that lie as near to each other as only copies do. Every test
is then done twice, with all pictures and with copies set aside; the second is the one to
believe. Three questions are asked of fatness: is there one date that divides the scores
(Pettitt's test, and the probability of a change), do they rise or fall steadily
(Mann-Kendall's test), and does the date in the year explain them better than the century.

Accounts make claims: weights and heights in old local units, which a table of units turns
into present ones with a range, and words such as 'outran dogs'. What a claim is worth as
evidence is for you to say; what you enter is shown as yours and moves no other result.

An earlier mount is a witness too. Each of its measures, and each length marked on its
photographs or on a drawing, is held against the bones: what one individual's bone and its
skin, sheath and flesh allow, and how odd the measure is if the mount were right.

What goes wrong silently: a copy that changes the pose, and that nobody entered, counts as a
witness; scores are grades, not amounts; a change may be one of fashion, of season or of
captive animals; a picture's date may be that of the print, not of the drawing.

Cautions: old mounts often hold arsenic or mercury in skin and feathers. Before measuring
one, have it tested or treat it as poisoned: gloves, mask, protective clothing, no brushing
or blowing, and a conservator's advice. Parts of protected species fall under local law.
"""
