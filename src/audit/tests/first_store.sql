-- What version 1 of the store held after two audits of three jobs, the third gone at the second: written by
-- the program of that version, but for the paths.

INSERT INTO _change VALUES(1,1,'/archive/shop/lid.gcode','','new',NULL,'released');
INSERT INTO _change VALUES(2,1,'/archive/shop/fast.gcode','','new',NULL,'held');
INSERT INTO _change VALUES(3,1,'/archive/shop/none.gcode','','new',NULL,'failed');
INSERT INTO _change VALUES(4,2,'/archive/shop/none.gcode','','gone','failed',NULL);
INSERT INTO _file VALUES(1,X'2F617263686976652F73686F702F6C69642E67636F6465','/archive/shop/lid.gcode',444,1790000000000000000,'2026-09','9ca4214ae13339a233b14b84336384d15ab1816303c85132f9f985ce19a4c4ed','6fc230a315030e03c285d463aae39514',1,1,1,NULL,NULL);
INSERT INTO _file VALUES(2,X'2F617263686976652F73686F702F666173742E67636F6465','/archive/shop/fast.gcode',437,1790000000000000000,'2026-09','64a16262f278588947fd0712e35c350e827b16f51d6b7601e9a3da03326ad457','6fc230a315030e03c285d463aae39514',1,1,1,NULL,NULL);
INSERT INTO _file VALUES(3,X'2F617263686976652F73686F702F6E6F6E652E67636F6465','/archive/shop/none.gcode',9,1790000000000000000,'2026-09','42f38d0f8e1be4ce81706ab42e7751228faa145bbfa5f3c2fa4d24f0753dd9e8','6fc230a315030e03c285d463aae39514',1,1,1,2,NULL);
INSERT INTO _finding VALUES(2,0,'heater-left-on','major',1,'places',10,210.0,NULL,NULL,NULL,'the job ends with the hotend set to 210 °C',0);
INSERT INTO _finding VALUES(2,1,'first-layer-fast','minor',1,'strokes',14,100.0,50.0,'mm/s','material sheet PLA, first_layer.speed_most','the first layer is laid at 100 mm/s, above the 50 mm/s that PLA wants',0);
INSERT INTO _job VALUES(1,1,'','released',NULL,'PLA','3ee7fd82ba4482ac31a52248e6ce6ffbfc9d2f3e0657ee153b557cf4a496ad52','job','closed-hardened','3577a123cda1e431dae2072350069c92157d496e10a289348306871a0d36bf19','major',0,0,0,0,'contact-small deposit-in-air enclosure-missing fan-below-sheet layer-too-slow moves-too-dense nozzle-narrow overlong-line spool-short',444,34,'plain',174017,31920,95,3,0.2,20.0,1.07002199359997085537e+01,2.39926867071617344606e+00,2.39801476694859161398e+00,80.0,80.0,80.0);
INSERT INTO _job VALUES(2,2,'','held',NULL,'PLA','3ee7fd82ba4482ac31a52248e6ce6ffbfc9d2f3e0657ee153b557cf4a496ad52','job','closed-hardened','3577a123cda1e431dae2072350069c92157d496e10a289348306871a0d36bf19','major',0,1,1,0,'contact-small deposit-in-air enclosure-missing fan-below-sheet layer-too-slow moves-too-dense nozzle-narrow overlong-line spool-short',437,34,'plain',161271,31920,95,3,0.2,100.0,1.07002199359997085537e+01,7.99756223572057933779e+00,7.88011838799234887176e+00,80.0,80.0,80.0);
INSERT INTO _job VALUES(3,3,'','failed','`/archive/shop/none.gcode` is no job: not one line of it is a command',NULL,NULL,NULL,NULL,NULL,NULL,0,0,0,0,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO _run VALUES(1,'2026-11-28T09:58:34Z','2026-11-28T09:58:34Z','0.1.0',1,3,0,0,0,0);
INSERT INTO _run VALUES(2,'2026-11-28T09:58:34Z','2026-11-28T09:58:34Z','0.1.0',1,0,2,0,1,0);
INSERT INTO _total VALUES('all','',2,1,0,1,0,0,2,0,1,1,0,881,335288,63840,190);
INSERT INTO _total VALUES('machine','closed-hardened',2,1,0,1,0,0,2,0,1,1,0,881,335288,63840,190);
INSERT INTO _total VALUES('material','PLA',2,1,0,1,0,0,2,0,1,1,0,881,335288,63840,190);
INSERT INTO _total VALUES('month','2026-09',2,1,0,1,0,0,2,0,1,1,0,881,335288,63840,190);
INSERT INTO _total VALUES('requirement','first-layer-fast',1,0,0,1,0,0,1,0,0,1,0,0,0,0,0);
INSERT INTO _total VALUES('requirement','heater-left-on',1,0,0,1,0,0,1,0,1,0,0,0,0,0,0);
INSERT INTO _value VALUES(1,'bed.least',60.0);
INSERT INTO _value VALUES(1,'bed.most',60.0);
INSERT INTO _value VALUES(1,'fan.mean',1.0);
INSERT INTO _value VALUES(1,'feed.most',30.0);
INSERT INTO _value VALUES(1,'hotend.0.least',210.0);
INSERT INTO _value VALUES(1,'hotend.0.most',210.0);
INSERT INTO _value VALUES(2,'bed.least',60.0);
INSERT INTO _value VALUES(2,'bed.most',60.0);
INSERT INTO _value VALUES(2,'fan.mean',1.0);
INSERT INTO _value VALUES(2,'feed.most',100.0);
INSERT INTO _value VALUES(2,'hotend.0.least',210.0);
INSERT INTO _value VALUES(2,'hotend.0.most',210.0);
