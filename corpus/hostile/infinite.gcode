G1 Xinf
G1 X-inf Ynan
M104 Sinfinity
G1 XNaN E-nan
