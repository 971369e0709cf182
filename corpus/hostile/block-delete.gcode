/G1 X5
//G1 X6
/ / G1 X7
G1 /X8
/
/2 G1 X9
