n10 g0 x1 y2 z3 (a note)
/G91 X1

g3 x 1 . 5 ;