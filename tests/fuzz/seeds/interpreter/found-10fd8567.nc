%
 G90(note)G0 X1  Y1 Z0.1
G1 G1   
