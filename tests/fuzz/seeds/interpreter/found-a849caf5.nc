n1 g0 x1 y2 z3 (a note)
g0 x 1 . 5 y-5;ret
/
 N20G1X+2.F1 M3 
G1X-.5Y00001.
() G1 X3																																																																																																																																																																																																																																																																																																												
( MSG, hello )
x1 (a) y2 () z3
M2
after
