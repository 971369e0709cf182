; inspect: material=PA6-CF machine=closed-hardened
; a square tube, wall of eight closed loops, written by hand with a ruler and a table of beads
; the bed is warm before the nozzle is asked to wait; no probing, the plate was trammed cold last week
G21 ; millimetres
G90 ; from the corner of the plate
M82 ; E counts up from here to the end of the job
M107 ; no air on the first layers
M140 S88
M190 R88 ; wait, warming or cooling
M104 S262
G28
M109 R262
G92 E0 ; the count starts at nought
G1 F6000
G1 Z2
G1 X20 Y6
G1 F480
G1 Z0.25
G1 F900
G1 X120 Y6 E6.710 ; line along the front edge, to wet the nozzle
G1 F1800
G1 E5.910 ; pull back
G1 F480
G1 Z1
; --- course 1 of 12 ---
G1 F480
G1 Z0.2
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E6.710 ; push forward
G1 F1260
G1 X136.926 E7.518 ; inmost loop, front side
G1 Y138.926 E8.325 ; inmost loop, right side
G1 X113.074 E9.132 ; inmost loop, back side
G1 Y115.074 E9.940 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F1260
G1 X137.333 E10.775 ; seventh loop, front side
G1 Y139.333 E11.610 ; seventh loop, right side
G1 X112.667 E12.444 ; seventh loop, back side
G1 Y114.667 E13.279 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F1260
G1 X137.740 E14.142 ; sixth loop, front side
G1 Y139.740 E15.004 ; sixth loop, right side
G1 X112.260 E15.867 ; sixth loop, back side
G1 Y114.260 E16.729 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F1260
G1 X138.147 E17.619 ; fifth loop, front side
G1 Y140.147 E18.509 ; fifth loop, right side
G1 X111.853 E19.399 ; fifth loop, back side
G1 Y113.853 E20.289 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F1260
G1 X138.554 E21.207 ; fourth loop, front side
G1 Y140.554 E22.124 ; fourth loop, right side
G1 X111.446 E23.042 ; fourth loop, back side
G1 Y113.446 E23.960 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F1260
G1 X138.961 E24.905 ; third loop, front side
G1 Y140.961 E25.850 ; third loop, right side
G1 X111.039 E26.795 ; third loop, back side
G1 Y113.039 E27.740 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F1260
G1 X139.368 E28.713 ; second loop, front side
G1 Y141.368 E29.685 ; second loop, right side
G1 X110.632 E30.658 ; second loop, back side
G1 Y112.632 E31.631 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1260
G1 X139.775 E32.631 ; outmost loop, front side
G1 Y141.775 E33.631 ; outmost loop, right side
G1 X110.225 E34.632 ; outmost loop, back side
G1 Y112.225 E35.632 ; outmost loop, left side
G1 F1800
G1 E34.832
; --- course 2 of 12 ---
M104 S258
G1 F480
G1 Z0.4
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E35.632 ; push forward
G1 F2100
G1 X136.926 E36.439 ; inmost loop, front side
G1 Y138.926 E37.246 ; inmost loop, right side
G1 X113.074 E38.054 ; inmost loop, back side
G1 Y115.074 E38.861 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E39.696 ; seventh loop, front side
G1 Y139.333 E40.531 ; seventh loop, right side
G1 X112.667 E41.366 ; seventh loop, back side
G1 Y114.667 E42.201 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E43.063 ; sixth loop, front side
G1 Y139.740 E43.926 ; sixth loop, right side
G1 X112.260 E44.788 ; sixth loop, back side
G1 Y114.260 E45.651 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E46.541 ; fifth loop, front side
G1 Y140.147 E47.431 ; fifth loop, right side
G1 X111.853 E48.321 ; fifth loop, back side
G1 Y113.853 E49.211 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E50.128 ; fourth loop, front side
G1 Y140.554 E51.046 ; fourth loop, right side
G1 X111.446 E51.964 ; fourth loop, back side
G1 Y113.446 E52.881 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E53.826 ; third loop, front side
G1 Y140.961 E54.771 ; third loop, right side
G1 X111.039 E55.716 ; third loop, back side
G1 Y113.039 E56.662 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E57.634 ; second loop, front side
G1 Y141.368 E58.607 ; second loop, right side
G1 X110.632 E59.580 ; second loop, back side
G1 Y112.632 E60.552 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E61.553 ; outmost loop, front side
G1 Y141.775 E62.553 ; outmost loop, right side
G1 X110.225 E63.553 ; outmost loop, back side
G1 Y112.225 E64.553 ; outmost loop, left side
G1 F1800
G1 E63.753
; --- course 3 of 12 ---
G1 F480
G1 Z0.6
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E64.553 ; push forward
G1 F2100
G1 X136.926 E65.361 ; inmost loop, front side
G1 Y138.926 E66.168 ; inmost loop, right side
G1 X113.074 E66.975 ; inmost loop, back side
G1 Y115.074 E67.783 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E68.618 ; seventh loop, front side
G1 Y139.333 E69.453 ; seventh loop, right side
G1 X112.667 E70.287 ; seventh loop, back side
G1 Y114.667 E71.122 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E71.985 ; sixth loop, front side
G1 Y139.740 E72.847 ; sixth loop, right side
G1 X112.260 E73.710 ; sixth loop, back side
G1 Y114.260 E74.572 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E75.462 ; fifth loop, front side
G1 Y140.147 E76.352 ; fifth loop, right side
G1 X111.853 E77.242 ; fifth loop, back side
G1 Y113.853 E78.132 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E79.050 ; fourth loop, front side
G1 Y140.554 E79.967 ; fourth loop, right side
G1 X111.446 E80.885 ; fourth loop, back side
G1 Y113.446 E81.803 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E82.748 ; third loop, front side
G1 Y140.961 E83.693 ; third loop, right side
G1 X111.039 E84.638 ; third loop, back side
G1 Y113.039 E85.583 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E86.556 ; second loop, front side
G1 Y141.368 E87.528 ; second loop, right side
G1 X110.632 E88.501 ; second loop, back side
G1 Y112.632 E89.474 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E90.474 ; outmost loop, front side
G1 Y141.775 E91.474 ; outmost loop, right side
G1 X110.225 E92.475 ; outmost loop, back side
G1 Y112.225 E93.475 ; outmost loop, left side
G1 F1800
G1 E92.675
; --- course 4 of 12 ---
G1 F480
G1 Z0.8
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E93.475 ; push forward
G1 F2100
G1 X136.926 E94.282 ; inmost loop, front side
G1 Y138.926 E95.089 ; inmost loop, right side
G1 X113.074 E95.897 ; inmost loop, back side
G1 Y115.074 E96.704 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E97.539 ; seventh loop, front side
G1 Y139.333 E98.374 ; seventh loop, right side
G1 X112.667 E99.209 ; seventh loop, back side
G1 Y114.667 E100.044 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E100.906 ; sixth loop, front side
G1 Y139.740 E101.769 ; sixth loop, right side
G1 X112.260 E102.631 ; sixth loop, back side
G1 Y114.260 E103.494 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E104.384 ; fifth loop, front side
G1 Y140.147 E105.274 ; fifth loop, right side
G1 X111.853 E106.164 ; fifth loop, back side
G1 Y113.853 E107.054 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E107.971 ; fourth loop, front side
G1 Y140.554 E108.889 ; fourth loop, right side
G1 X111.446 E109.807 ; fourth loop, back side
G1 Y113.446 E110.724 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E111.669 ; third loop, front side
G1 Y140.961 E112.614 ; third loop, right side
G1 X111.039 E113.559 ; third loop, back side
G1 Y113.039 E114.505 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E115.477 ; second loop, front side
G1 Y141.368 E116.450 ; second loop, right side
G1 X110.632 E117.423 ; second loop, back side
G1 Y112.632 E118.395 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E119.396 ; outmost loop, front side
G1 Y141.775 E120.396 ; outmost loop, right side
G1 X110.225 E121.396 ; outmost loop, back side
G1 Y112.225 E122.396 ; outmost loop, left side
G1 F1800
G1 E121.596
; --- course 5 of 12 ---
M106 S40 ; a breath of air
G1 F480
G1 Z1.0
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E122.396 ; push forward
G1 F2100
G1 X136.926 E123.204 ; inmost loop, front side
G1 Y138.926 E124.011 ; inmost loop, right side
G1 X113.074 E124.818 ; inmost loop, back side
G1 Y115.074 E125.626 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E126.461 ; seventh loop, front side
G1 Y139.333 E127.296 ; seventh loop, right side
G1 X112.667 E128.130 ; seventh loop, back side
G1 Y114.667 E128.965 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E129.828 ; sixth loop, front side
G1 Y139.740 E130.690 ; sixth loop, right side
G1 X112.260 E131.553 ; sixth loop, back side
G1 Y114.260 E132.415 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E133.305 ; fifth loop, front side
G1 Y140.147 E134.195 ; fifth loop, right side
G1 X111.853 E135.085 ; fifth loop, back side
G1 Y113.853 E135.975 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E136.893 ; fourth loop, front side
G1 Y140.554 E137.810 ; fourth loop, right side
G1 X111.446 E138.728 ; fourth loop, back side
G1 Y113.446 E139.646 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E140.591 ; third loop, front side
G1 Y140.961 E141.536 ; third loop, right side
G1 X111.039 E142.481 ; third loop, back side
G1 Y113.039 E143.426 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E144.399 ; second loop, front side
G1 Y141.368 E145.371 ; second loop, right side
G1 X110.632 E146.344 ; second loop, back side
G1 Y112.632 E147.317 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E148.317 ; outmost loop, front side
G1 Y141.775 E149.317 ; outmost loop, right side
G1 X110.225 E150.318 ; outmost loop, back side
G1 Y112.225 E151.318 ; outmost loop, left side
G1 F1800
G1 E150.518
; --- course 6 of 12 ---
G1 F480
G1 Z1.2
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E151.318 ; push forward
G1 F2100
G1 X136.926 E152.125 ; inmost loop, front side
G1 Y138.926 E152.932 ; inmost loop, right side
G1 X113.074 E153.740 ; inmost loop, back side
G1 Y115.074 E154.547 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E155.382 ; seventh loop, front side
G1 Y139.333 E156.217 ; seventh loop, right side
G1 X112.667 E157.052 ; seventh loop, back side
G1 Y114.667 E157.887 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E158.749 ; sixth loop, front side
G1 Y139.740 E159.612 ; sixth loop, right side
G1 X112.260 E160.474 ; sixth loop, back side
G1 Y114.260 E161.337 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E162.227 ; fifth loop, front side
G1 Y140.147 E163.117 ; fifth loop, right side
G1 X111.853 E164.007 ; fifth loop, back side
G1 Y113.853 E164.897 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E165.814 ; fourth loop, front side
G1 Y140.554 E166.732 ; fourth loop, right side
G1 X111.446 E167.650 ; fourth loop, back side
G1 Y113.446 E168.567 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E169.512 ; third loop, front side
G1 Y140.961 E170.457 ; third loop, right side
G1 X111.039 E171.402 ; third loop, back side
G1 Y113.039 E172.348 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E173.320 ; second loop, front side
G1 Y141.368 E174.293 ; second loop, right side
G1 X110.632 E175.266 ; second loop, back side
G1 Y112.632 E176.238 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E177.239 ; outmost loop, front side
G1 Y141.775 E178.239 ; outmost loop, right side
G1 X110.225 E179.239 ; outmost loop, back side
G1 Y112.225 E180.239 ; outmost loop, left side
G1 F1800
G1 E179.439
; --- course 7 of 12 ---
G1 F480
G1 Z1.4
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E180.239 ; push forward
G1 F2100
G1 X136.926 E181.047 ; inmost loop, front side
G1 Y138.926 E181.854 ; inmost loop, right side
G1 X113.074 E182.661 ; inmost loop, back side
G1 Y115.074 E183.469 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E184.304 ; seventh loop, front side
G1 Y139.333 E185.139 ; seventh loop, right side
G1 X112.667 E185.973 ; seventh loop, back side
G1 Y114.667 E186.808 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E187.671 ; sixth loop, front side
G1 Y139.740 E188.533 ; sixth loop, right side
G1 X112.260 E189.396 ; sixth loop, back side
G1 Y114.260 E190.258 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E191.148 ; fifth loop, front side
G1 Y140.147 E192.038 ; fifth loop, right side
G1 X111.853 E192.928 ; fifth loop, back side
G1 Y113.853 E193.818 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E194.736 ; fourth loop, front side
G1 Y140.554 E195.653 ; fourth loop, right side
G1 X111.446 E196.571 ; fourth loop, back side
G1 Y113.446 E197.489 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E198.434 ; third loop, front side
G1 Y140.961 E199.379 ; third loop, right side
G1 X111.039 E200.324 ; third loop, back side
G1 Y113.039 E201.269 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E202.242 ; second loop, front side
G1 Y141.368 E203.214 ; second loop, right side
G1 X110.632 E204.187 ; second loop, back side
G1 Y112.632 E205.160 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E206.160 ; outmost loop, front side
G1 Y141.775 E207.160 ; outmost loop, right side
G1 X110.225 E208.161 ; outmost loop, back side
G1 Y112.225 E209.161 ; outmost loop, left side
G1 F1800
G1 E208.361
; --- course 8 of 12 ---
G1 F480
G1 Z1.6
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E209.161 ; push forward
G1 F2100
G1 X136.926 E209.968 ; inmost loop, front side
G1 Y138.926 E210.775 ; inmost loop, right side
G1 X113.074 E211.583 ; inmost loop, back side
G1 Y115.074 E212.390 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E213.225 ; seventh loop, front side
G1 Y139.333 E214.060 ; seventh loop, right side
G1 X112.667 E214.895 ; seventh loop, back side
G1 Y114.667 E215.730 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E216.592 ; sixth loop, front side
G1 Y139.740 E217.455 ; sixth loop, right side
G1 X112.260 E218.317 ; sixth loop, back side
G1 Y114.260 E219.180 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E220.070 ; fifth loop, front side
G1 Y140.147 E220.960 ; fifth loop, right side
G1 X111.853 E221.850 ; fifth loop, back side
G1 Y113.853 E222.740 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E223.657 ; fourth loop, front side
G1 Y140.554 E224.575 ; fourth loop, right side
G1 X111.446 E225.493 ; fourth loop, back side
G1 Y113.446 E226.410 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E227.355 ; third loop, front side
G1 Y140.961 E228.300 ; third loop, right side
G1 X111.039 E229.246 ; third loop, back side
G1 Y113.039 E230.191 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E231.163 ; second loop, front side
G1 Y141.368 E232.136 ; second loop, right side
G1 X110.632 E233.109 ; second loop, back side
G1 Y112.632 E234.081 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E235.082 ; outmost loop, front side
G1 Y141.775 E236.082 ; outmost loop, right side
G1 X110.225 E237.082 ; outmost loop, back side
G1 Y112.225 E238.082 ; outmost loop, left side
G1 F1800
G1 E237.282
; --- course 9 of 12 ---
G1 F480
G1 Z1.8
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E238.082 ; push forward
G1 F2100
G1 X136.926 E238.890 ; inmost loop, front side
G1 Y138.926 E239.697 ; inmost loop, right side
G1 X113.074 E240.504 ; inmost loop, back side
G1 Y115.074 E241.312 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E242.147 ; seventh loop, front side
G1 Y139.333 E242.982 ; seventh loop, right side
G1 X112.667 E243.816 ; seventh loop, back side
G1 Y114.667 E244.651 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E245.514 ; sixth loop, front side
G1 Y139.740 E246.376 ; sixth loop, right side
G1 X112.260 E247.239 ; sixth loop, back side
G1 Y114.260 E248.101 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E248.991 ; fifth loop, front side
G1 Y140.147 E249.881 ; fifth loop, right side
G1 X111.853 E250.771 ; fifth loop, back side
G1 Y113.853 E251.661 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E252.579 ; fourth loop, front side
G1 Y140.554 E253.496 ; fourth loop, right side
G1 X111.446 E254.414 ; fourth loop, back side
G1 Y113.446 E255.332 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E256.277 ; third loop, front side
G1 Y140.961 E257.222 ; third loop, right side
G1 X111.039 E258.167 ; third loop, back side
G1 Y113.039 E259.112 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E260.085 ; second loop, front side
G1 Y141.368 E261.057 ; second loop, right side
G1 X110.632 E262.030 ; second loop, back side
G1 Y112.632 E263.003 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E264.003 ; outmost loop, front side
G1 Y141.775 E265.003 ; outmost loop, right side
G1 X110.225 E266.004 ; outmost loop, back side
G1 Y112.225 E267.004 ; outmost loop, left side
G1 F1800
G1 E266.204
; --- course 10 of 12 ---
G1 F480
G1 Z2.0
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E267.004 ; push forward
G1 F2100
G1 X136.926 E267.811 ; inmost loop, front side
G1 Y138.926 E268.619 ; inmost loop, right side
G1 X113.074 E269.426 ; inmost loop, back side
G1 Y115.074 E270.233 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E271.068 ; seventh loop, front side
G1 Y139.333 E271.903 ; seventh loop, right side
G1 X112.667 E272.738 ; seventh loop, back side
G1 Y114.667 E273.573 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E274.435 ; sixth loop, front side
G1 Y139.740 E275.298 ; sixth loop, right side
G1 X112.260 E276.160 ; sixth loop, back side
G1 Y114.260 E277.023 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E277.913 ; fifth loop, front side
G1 Y140.147 E278.803 ; fifth loop, right side
G1 X111.853 E279.693 ; fifth loop, back side
G1 Y113.853 E280.583 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E281.500 ; fourth loop, front side
G1 Y140.554 E282.418 ; fourth loop, right side
G1 X111.446 E283.336 ; fourth loop, back side
G1 Y113.446 E284.253 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E285.198 ; third loop, front side
G1 Y140.961 E286.143 ; third loop, right side
G1 X111.039 E287.089 ; third loop, back side
G1 Y113.039 E288.034 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E289.006 ; second loop, front side
G1 Y141.368 E289.979 ; second loop, right side
G1 X110.632 E290.952 ; second loop, back side
G1 Y112.632 E291.924 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E292.925 ; outmost loop, front side
G1 Y141.775 E293.925 ; outmost loop, right side
G1 X110.225 E294.925 ; outmost loop, back side
G1 Y112.225 E295.925 ; outmost loop, left side
G1 F1800
G1 E295.125
; --- course 11 of 12 ---
G1 F480
G1 Z2.2
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E295.925 ; push forward
G1 F2100
G1 X136.926 E296.733 ; inmost loop, front side
G1 Y138.926 E297.540 ; inmost loop, right side
G1 X113.074 E298.347 ; inmost loop, back side
G1 Y115.074 E299.155 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E299.990 ; seventh loop, front side
G1 Y139.333 E300.825 ; seventh loop, right side
G1 X112.667 E301.659 ; seventh loop, back side
G1 Y114.667 E302.494 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E303.357 ; sixth loop, front side
G1 Y139.740 E304.219 ; sixth loop, right side
G1 X112.260 E305.082 ; sixth loop, back side
G1 Y114.260 E305.944 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E306.834 ; fifth loop, front side
G1 Y140.147 E307.724 ; fifth loop, right side
G1 X111.853 E308.614 ; fifth loop, back side
G1 Y113.853 E309.504 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E310.422 ; fourth loop, front side
G1 Y140.554 E311.339 ; fourth loop, right side
G1 X111.446 E312.257 ; fourth loop, back side
G1 Y113.446 E313.175 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E314.120 ; third loop, front side
G1 Y140.961 E315.065 ; third loop, right side
G1 X111.039 E316.010 ; third loop, back side
G1 Y113.039 E316.955 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E317.928 ; second loop, front side
G1 Y141.368 E318.901 ; second loop, right side
G1 X110.632 E319.873 ; second loop, back side
G1 Y112.632 E320.846 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E321.846 ; outmost loop, front side
G1 Y141.775 E322.846 ; outmost loop, right side
G1 X110.225 E323.847 ; outmost loop, back side
G1 Y112.225 E324.847 ; outmost loop, left side
G1 F1800
G1 E324.047
; --- course 12 of 12 ---
G1 F480
G1 Z2.4
G1 F7200
G1 X113.074 Y115.074
G1 F1800
G1 E324.847 ; push forward
G1 F2100
G1 X136.926 E325.654 ; inmost loop, front side
G1 Y138.926 E326.462 ; inmost loop, right side
G1 X113.074 E327.269 ; inmost loop, back side
G1 Y115.074 E328.076 ; inmost loop, left side
G1 F7200
G1 X112.667 Y114.667
G1 F2100
G1 X137.333 E328.911 ; seventh loop, front side
G1 Y139.333 E329.746 ; seventh loop, right side
G1 X112.667 E330.581 ; seventh loop, back side
G1 Y114.667 E331.416 ; seventh loop, left side
G1 F7200
G1 X112.260 Y114.260
G1 F2100
G1 X137.740 E332.278 ; sixth loop, front side
G1 Y139.740 E333.141 ; sixth loop, right side
G1 X112.260 E334.003 ; sixth loop, back side
G1 Y114.260 E334.866 ; sixth loop, left side
G1 F7200
G1 X111.853 Y113.853
G1 F2100
G1 X138.147 E335.756 ; fifth loop, front side
G1 Y140.147 E336.646 ; fifth loop, right side
G1 X111.853 E337.536 ; fifth loop, back side
G1 Y113.853 E338.426 ; fifth loop, left side
G1 F7200
G1 X111.446 Y113.446
G1 F2100
G1 X138.554 E339.343 ; fourth loop, front side
G1 Y140.554 E340.261 ; fourth loop, right side
G1 X111.446 E341.179 ; fourth loop, back side
G1 Y113.446 E342.096 ; fourth loop, left side
G1 F7200
G1 X111.039 Y113.039
G1 F2100
G1 X138.961 E343.041 ; third loop, front side
G1 Y140.961 E343.986 ; third loop, right side
G1 X111.039 E344.932 ; third loop, back side
G1 Y113.039 E345.877 ; third loop, left side
G1 F7200
G1 X110.632 Y112.632
G1 F2100
G1 X139.368 E346.849 ; second loop, front side
G1 Y141.368 E347.822 ; second loop, right side
G1 X110.632 E348.795 ; second loop, back side
G1 Y112.632 E349.767 ; second loop, left side
G1 F7200
G1 X110.225 Y112.225
G1 F1680
G1 X139.775 E350.768 ; outmost loop, front side
G1 Y141.775 E351.768 ; outmost loop, right side
G1 X110.225 E352.768 ; outmost loop, back side
G1 Y112.225 E353.768 ; outmost loop, left side
G1 F1800
G1 E352.968
G1 F480
G1 Z25 ; up
G1 F6000
G1 X10 Y230 ; and out of the way
M104 S0
M140 S0
M107
M18 ; let the axes go
