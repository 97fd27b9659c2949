% 

 M2.000000001 S1
%nythi 