%
G21 G90
G0 X1 Y1 Z1
G1 X2 F100 M3 S1
%
anything (at all
