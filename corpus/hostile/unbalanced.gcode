G1 X5 (open
G1 X6 close)
G1 (a (b) c) X7
G1 X8 ) ( Y9
M117 "open
M118 a"b"c"
SET_WORD NAME="open
SET_WORD NAME='a"b
(
)
"
;(
