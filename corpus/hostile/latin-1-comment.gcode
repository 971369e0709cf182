; Düse 215 °C, Breite 0.4 mm
M104 S215 ; °C
M117 heiß
G28
