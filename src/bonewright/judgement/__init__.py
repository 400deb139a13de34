"""Judgement: what the lines of evidence say together about the animal's mass.

Each line of evidence gives the mass with its own uncertainty. If they were all perfect but
for that, they would differ only as much as their intervals allow. They never are: every
method has its own unknown lean. So the lines are pooled on the logarithm of mass with a
term for how much honest methods differ beyond their stated uncertainty. That term cannot
be learnt from two or three lines alone; study.toml gives what is thought likely before
looking, with a reason, and the lines then add what they can.

Only lines that rest on different evidence are pooled. Ten equations on the same femur are
one witness. What two pooled lines share all the same (one skeleton, say) stays correlated
draw by draw, and the weights allow for it.

Beside the pooled mass stand: each line's weight, the pooled mass without each line, and
in words where lines contradict each other. A pooled number does not settle a contradiction;
it says what is left to believe if neither line is dropped.

Then the case is examined. Which estimates rest on the same bones or relatives? How would the
result look under every other way to pool? What would each line have to say to overturn the
verdict, and which new measurement would narrow it most? Rival hypotheses of the animal's
condition over the year, named by a person, stand side by side with the witnesses that speak
for and against each. A line that fits badly is named, never dropped: to set it aside takes a
row with a reason, and the reason is printed.

What goes wrong silently: two lines that share an unnoticed error agree and are both wrong.
"""
