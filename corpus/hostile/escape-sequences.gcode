M117 [2J[31mred[0m
; ]0;title›31m
M118 P1$r\
[A G1 X5
M117 hidden
