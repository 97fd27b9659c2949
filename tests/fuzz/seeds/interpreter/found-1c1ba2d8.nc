(Wall clock ovÿG4r peble driftwood)
(Cutter flam 6 - Z0 o this faG49e)
(Cut movement pocket)
 G90 G94
G54
G0 Z6.0000
M3 S16001
  Y40.0000
G4 P-18.3903
G17 G82 Z-1 R3 P0.5
(Cut movement pocket)
