"""A drawing in, a classified network of waterstop joints out.

Glossary
--------
across
    Direction over the strip's width, from one pour into the other.
arm
    One strip leaving a node.
bend
    A change of direction small or gentle enough for the strip to follow without a cut.
centreline
    The line along the middle of the strip; every length is measured along it.
closure
    The one splice at which a ring without any other node is closed.
corner, tee, wye, cross, end
    The kinds of node; `NodeKind` and `classify` hold the rules.
joint line
    One drawn line of waterstop, as it stands in the drawing.
lay
    How the strip lies: which way its width points along a run.
node
    A place where the waterstop ends, turns, meets or crosses.
run
    A stretch of waterstop between two nodes, without a node inside.
through
    Direction over the strip's thickness, square to along and across.
"""
