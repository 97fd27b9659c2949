n10 g0 x1 y2 z3 (a note)
/M8
g0 x 1 . 5 y-0.5;rest
 N20G1X+2.F1 M3 S5
G1X-.5Y00001.
() G1 X3
( MSG, hello )
x1 (a) y2 (b) z3
M2
after
