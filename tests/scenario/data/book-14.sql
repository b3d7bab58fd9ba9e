PRAGMA application_id = 1163349297;
PRAGMA user_version = 14;
BEGIN TRANSACTION;
CREATE TABLE alarm_trip (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), at TEXT NOT NULL, time_s REAL NOT NULL, from_s REAL NOT NULL, to_s REAL NOT NULL, name TEXT NOT NULL, action TEXT NOT NULL, says TEXT NOT NULL, value REAL, bound REAL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE amendment (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id), reading INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, reason TEXT NOT NULL, changes TEXT NOT NULL, undoes INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL, UNIQUE (pull_id, reading)) STRICT;
CREATE TABLE "attachment" (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL, owner_id INTEGER NOT NULL, place TEXT NOT NULL, name TEXT NOT NULL, media TEXT NOT NULL, bytes_count INTEGER NOT NULL, sha256 TEXT NOT NULL, note TEXT, at TEXT NOT NULL, who TEXT NOT NULL, withdrawn TEXT, bytes BLOB NOT NULL, taken_at TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', UNIQUE (belongs, owner_id, place, sha256)) STRICT;
INSERT INTO "attachment" VALUES(1,'build',1,'','note.txt','text/plain',18,'d1ba4dea312bab30e0639b44749d54942221e31d7b3dbd7c7a6b4bc543c5ef04',NULL,'2026-12-01T21:11:18.075739Z','tester',NULL,X'706C756773206C6F6F6B6564206576656E0A',NULL,'2026-12-01','01a23372-993b-76d7-bf56-a7a2316ca069','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "attachment" VALUES(2,'pull',1,'','plug.txt','text/plain',16,'65400b55c46a50f61b8ffda5cb3c3e07593d7b7d7c7b82ae94a0e62672a685c7','plug of cylinder 4','2026-12-01T21:11:18.407826Z','tester',NULL,X'706C75672C2063796C696E6465722034',NULL,'2026-12-01','01a23372-9a87-74b9-9a58-9944f842fb27','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE build (id INTEGER PRIMARY KEY, engine_id INTEGER NOT NULL REFERENCES engine(id), name TEXT NOT NULL, started_at TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "build" VALUES(1,1,'build','2026-12-01T21:11:05.981650Z','2026-12-01','01a23372-69fd-776e-8d52-674e40f1f5a0','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE build_record (id INTEGER PRIMARY KEY, build_id INTEGER NOT NULL REFERENCES build(id), kind TEXT NOT NULL, item TEXT, position TEXT, batch TEXT, serial TEXT, number TEXT, at TEXT NOT NULL, who TEXT NOT NULL, yaml TEXT NOT NULL, withdrawn TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "build_record" VALUES(1,1,'facts',NULL,NULL,NULL,NULL,NULL,'2026-12-01T21:11:05.981263Z','tester','mains: 0
at: "2026-12-01T21:11:05.981263Z"
',NULL,'2026-12-01','01a23372-6a1f-77c1-acb4-a81078d0ce7e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(2,1,'items','main clearance',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015462Z','tester','item: "main clearance"
kind: "length"
by: main
times: none
low: 4.4999999999999996e-05 m
high: 7.5e-05 m
needed: yes
caution: "A tight bearing seizes and a loose one starves the rest; the bearing maker''s figure decides"
',NULL,'2026-12-01','01a23372-6a1f-77c3-94db-18ec0015f29c','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(3,1,'items','rod clearance',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015501Z','tester','item: "rod clearance"
kind: "length"
by: rod
times: none
low: 4e-05 m
high: 7.000000000000001e-05 m
needed: yes
caution: "A rod that lets go comes through the block; the bearing maker''s figure decides"
',NULL,'2026-12-01','01a23372-6a1f-77c5-bb1a-d98247e796cb','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(4,1,'items','crank end float',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015534Z','tester','item: "crank end float"
kind: "length"
by: engine
times: none
low: 8e-05 m
high: 0.00025 m
needed: yes
',NULL,'2026-12-01','01a23372-6a1f-77c7-ab22-73edf557f4c8','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(5,1,'items','rod side clearance',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015564Z','tester','item: "rod side clearance"
kind: "length"
by: rod
times: none
low: 0.00015 m
high: 0.0006 m
needed: no
',NULL,'2026-12-01','01a23372-6a1f-77c9-98cb-01ff06c02619','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(6,1,'items','cylinder bore',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015596Z','tester','item: "cylinder bore"
kind: "length"
by: bore
times: none
taper: 1e-05 m
ovality: 1e-05 m
needed: yes
note: "with the torque plate on where the maker asks for one"
',NULL,'2026-12-01','01a23372-6a1f-77cb-b63e-9cb09bd7c4e9','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(7,1,'items','piston',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015624Z','tester','item: "piston"
kind: "length"
by: cylinder
times: none
needed: yes
note: "at the gauge point the piston''s maker names"
',NULL,'2026-12-01','01a23372-6a1f-77cd-9f36-15303a7dd9cd','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(8,1,'items','piston clearance',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015656Z','tester','item: "piston clearance"
kind: "length"
by: cylinder
times: none
low: 6e-05 m
high: 0.00011 m
larger: "cylinder bore"
smaller: "piston"
needed: no
caution: "A tight piston seizes; the piston maker''s figure and gauge point decide"
',NULL,'2026-12-01','01a23372-6a1f-77cf-bbc0-533ffd34ee5e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(9,1,'items','top ring gap',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015688Z','tester','item: "top ring gap"
kind: "length"
by: cylinder
times: bore
low: 0.004
high: 0.006
needed: yes
caution: "A gap that closes when hot breaks ring and land; the ring maker''s figure decides"
',NULL,'2026-12-01','01a23372-6a1f-77d1-a7fa-4b8abea87e68','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(10,1,'items','second ring gap',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015720Z','tester','item: "second ring gap"
kind: "length"
by: cylinder
times: bore
low: 0.0045
high: 0.0075
needed: yes
caution: "A gap that closes when hot breaks ring and land; the ring maker''s figure decides"
',NULL,'2026-12-01','01a23372-6a1f-77d3-b7b0-04c1db0d76a1','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(11,1,'items','oil rail gap',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015749Z','tester','item: "oil rail gap"
kind: "length"
by: cylinder
times: none
low: 0.00038 m
needed: no
',NULL,'2026-12-01','01a23372-6a1f-77d5-9033-9c52a4a3d81d','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(12,1,'items','deck height',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015780Z','tester','item: "deck height"
kind: "length"
by: cylinder
times: none
needed: no
note: "piston below the deck at top dead centre is positive"
',NULL,'2026-12-01','01a23372-6a1f-77d7-8f09-7e44f12ad394','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(13,1,'items','chamber volume',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015809Z','tester','item: "chamber volume"
kind: "volume"
by: cylinder
times: none
spread: 0.015
needed: yes
',NULL,'2026-12-01','01a23372-6a1f-77d9-8156-d26b46189c98','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(14,1,'items','guide clearance',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.015847Z','tester','item: "guide clearance"
kind: "length"
by: valve
times: none
low: 2e-05 m
high: 7.000000000000001e-05 m
needed: no
',NULL,'2026-12-01','01a23372-6a25-769d-ae28-7959414526d7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(15,1,'items','spring height',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021717Z','tester','item: "spring height"
kind: "length"
by: valve
times: spring_height
low: 0.99
high: 1.01
needed: no
',NULL,'2026-12-01','01a23372-6a25-769f-a0a5-c36d9b925e50','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(16,1,'items','spring seat load',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021772Z','tester','item: "spring seat load"
kind: "force"
by: valve
times: spring_force
low: 0.95
high: 1.08
needed: yes
caution: "A compressed spring stores enough to injure - use the tool made for it"
',NULL,'2026-12-01','01a23372-6a25-76a1-9add-ee610cb9620b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(17,1,'items','valve to piston',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021811Z','tester','item: "valve to piston"
kind: "length"
by: valve
times: none
low: 0.002 m
needed: no
caution: "Turn by hand until this is proved - a valve that meets its piston ends the engine"
',NULL,'2026-12-01','01a23372-6a25-76a3-93f4-d6ff451189c1','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(18,1,'items','port flow',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021845Z','tester','item: "port flow"
kind: "volume flow"
by: valve
times: none
spread: 0.03
needed: no
',NULL,'2026-12-01','01a23372-6a25-76a5-a922-2eb848e2cdd0','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(19,1,'items','turning torque break-away',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021876Z','tester','item: "turning torque break-away"
kind: "torque"
by: engine
times: none
needed: no
',NULL,'2026-12-01','01a23372-6a25-76a7-b5bb-cf4f4a41edec','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(20,1,'items','turning torque running',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021906Z','tester','item: "turning torque running"
kind: "torque"
by: engine
times: none
needed: no
',NULL,'2026-12-01','01a23372-6a25-76a9-8d89-7f106c078c12','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(21,1,'items','leak-down',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021944Z','tester','item: "leak-down"
kind: "ratio"
by: cylinder
times: none
high: 0.1
change: 0.03
needed: no
caution: "Pressure turns the engine - lock the crank and keep hands away from belts and shaft"
note: "compare only readings of one tester - its orifice and supply pressure make the figure"
',NULL,'2026-12-01','01a23372-6a25-76ab-b329-dfcd875b5f54','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(22,1,'items','cranking pressure',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.021985Z','tester','item: "cranking pressure"
kind: "pressure"
by: cylinder
times: none
lowest_share: 0.75
needed: no
note: "throttle open and battery full - speed and cam make the figure"
',NULL,'2026-12-01','01a23372-6a25-76ad-b72a-e2df9e5fba8e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(23,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022019Z','tester','list: "assembly"
step: "oil galleries brushed, blown through and plugged"
before: none
',NULL,'2026-12-01','01a23372-6a26-7335-86dd-97e581f648aa','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(24,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022045Z','tester','list: "assembly"
step: "bearing shells seated, tangs and oil holes checked"
before: none
',NULL,'2026-12-01','01a23372-6a26-7337-a18d-85fea324f44b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(25,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022071Z','tester','list: "assembly"
step: "crank turns freely after each main cap"
before: none
',NULL,'2026-12-01','01a23372-6a26-7339-ab49-591446aee659','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(26,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022098Z','tester','list: "assembly"
step: "rod bolts stretched or torqued in steps and written down"
before: none
',NULL,'2026-12-01','01a23372-6a26-733b-b624-1992a6f5fc9b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(27,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022125Z','tester','list: "assembly"
step: "piston and pin locks seated, gaps of the rings staggered"
before: none
',NULL,'2026-12-01','01a23372-6a26-733d-b8cc-3bd2ec87ad9b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(28,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022152Z','tester','list: "assembly"
step: "cam degreed in on at least two cylinders"
before: none
caution: "A cam a tooth out bends valves"
',NULL,'2026-12-01','01a23372-6a26-733f-a9a3-d4d6370ada54','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(29,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022182Z','tester','list: "assembly"
step: "valve to piston clearance proved through the overlap"
before: none
caution: "Turn by hand only until this is done"
',NULL,'2026-12-01','01a23372-6a26-7341-9697-b17e7a057653','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(30,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022209Z','tester','list: "assembly"
step: "oil pump turned until oil stands at every rocker"
before: none
',NULL,'2026-12-01','01a23372-6a26-7343-bc60-36a53d5954c2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(31,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022237Z','tester','list: "hook-up"
step: "damper mark proved with a piston stop"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7345-8cad-9c2536ffaaf8','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(32,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022306Z','tester','list: "hook-up"
step: "crank end float kept with the coupling fitted"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7347-88f4-df0b4c1283ee','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(33,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022332Z','tester','list: "hook-up"
step: "bell-housing run-out and coupling alignment read"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7349-a61d-badbbb3ec857','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(34,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022359Z','tester','list: "hook-up"
step: "shaft guard on and bolted"
before: first fire
caution: "A shaft that lets go kills - nobody stands in line with it"
',NULL,'2026-12-01','01a23372-6a26-734b-bf53-916d9069c025','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(35,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022387Z','tester','list: "hook-up"
step: "throttle return spring pulls it shut from every place"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-734d-9cee-e745899c25dc','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(36,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022414Z','tester','list: "hook-up"
step: "ignition and fuel stop tried and working"
before: first fire
caution: "Try it with the engine still, from the place of the operator"
',NULL,'2026-12-01','01a23372-6a26-734f-b895-7e99e8a27c7e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(37,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022443Z','tester','list: "hook-up"
step: "fuel lines tested for leaks at working pressure"
before: first fire
caution: "Petrol vapour burns - no heat, no sparks, extinguisher in reach"
',NULL,'2026-12-01','01a23372-6a26-7351-83cb-929fa386f3cb','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(38,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022526Z','tester','list: "hook-up"
step: "coolant filled and bled, oil level read"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7353-b272-9463f5691a9e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(39,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022561Z','tester','list: "hook-up"
step: "exhaust extraction and cell air running"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7355-ae59-78018858a409','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(40,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022590Z','tester','list: "hook-up"
step: "extinguisher in reach and checked"
before: first fire
',NULL,'2026-12-01','01a23372-6a26-7357-8201-c2c60f6571c7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(41,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022619Z','tester','list: "full throttle proof"
step: "lever in the cell gives full opening, looked at in the bore"
before: load
',NULL,'2026-12-01','01a23372-6a26-7359-b499-d6c3bbb0676f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(42,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022649Z','tester','list: "full throttle proof"
step: "second overspeed device tried and working"
before: load
',NULL,'2026-12-01','01a23372-6a26-735b-8b64-55d93848fb3a','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(43,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022678Z','tester','list: "full throttle proof"
step: "water pressure and flow of the absorber read under flow"
before: load
',NULL,'2026-12-01','01a23372-6a26-735d-8017-11dc526b8703','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(44,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022707Z','tester','list: "full throttle proof"
step: "timing proved with the light at two speeds"
before: load
',NULL,'2026-12-01','01a23372-6a26-735f-bbf0-4249c305f7dc','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(45,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022736Z','tester','list: "full throttle proof"
step: "oil pressure read by a second gauge"
before: load
',NULL,'2026-12-01','01a23372-6a26-7361-9041-db25afb3beb7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(46,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022767Z','tester','list: "full throttle proof"
step: "hot lash set and written down"
before: load
',NULL,'2026-12-01','01a23372-6a26-7363-a18a-c25725edd3e5','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(47,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022800Z','tester','list: "full throttle proof"
step: "oil and filter changed after the run-in, filter cut open and looked at"
before: load
',NULL,'2026-12-01','01a23372-6a26-7365-af9e-6eade15b1869','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(48,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022832Z','tester','list: "full throttle proof"
step: "no leaks after the first heat"
before: load
',NULL,'2026-12-01','01a23372-6a26-7367-849b-905e15adde81','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(49,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022863Z','tester','list: "run-in"
step: "oil pressure within five seconds of first fire"
before: none
',NULL,'2026-12-01','01a23372-6a26-7369-b27f-b3f5ffe5b660','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(50,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022897Z','tester','list: "run-in"
step: "flat tappets held at varying speed, never at idle"
before: none
caution: "Follow the cam maker''s run-in to the letter; his figures decide"
',NULL,'2026-12-01','01a23372-6a26-736b-867d-e5c6ac22b5e2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(51,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022930Z','tester','list: "run-in"
step: "leak check hot"
before: none
',NULL,'2026-12-01','01a23372-6a26-736d-a6bb-cac224729173','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(52,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022963Z','tester','list: "run-in"
step: "cooled to hand-warm before the next heat"
before: none
',NULL,'2026-12-01','01a23372-6a26-736f-9dee-ee8f4fce32d3','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(53,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.022997Z','tester','list: "run-in"
step: "torque again only where the maker asks for it"
before: none
',NULL,'2026-12-01','01a23372-6a27-761a-8ae3-21a22f151e06','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(54,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023030Z','tester','list: "after-run"
step: "leak-down and cranking pressure of each cylinder"
before: none
',NULL,'2026-12-01','01a23372-6a27-761c-b53d-71de2a2be6f7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(55,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023064Z','tester','list: "after-run"
step: "lash of every valve"
before: none
',NULL,'2026-12-01','01a23372-6a27-761e-86df-2adbc25e6782','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(56,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023097Z','tester','list: "after-run"
step: "filter cut open and looked at"
before: none
',NULL,'2026-12-01','01a23372-6a27-7620-ad8f-b3e2bf74de22','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(57,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023130Z','tester','list: "after-run"
step: "plugs looked at and photographed"
before: none
',NULL,'2026-12-01','01a23372-6a27-7622-ad9e-03a305239021','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(58,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023164Z','tester','list: "after-run"
step: "bolts marked and looked at for movement"
before: none
',NULL,'2026-12-01','01a23372-6a27-7624-8a2d-7943d1ae5f9c','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(59,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023217Z','tester','list: "dispatch"
step: "run-in oil out, the oil that is in it written on a tag"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-7626-a207-ec9af214be55','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(60,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023254Z','tester','list: "dispatch"
step: "coolant drained or mixed against frost, written on a tag"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-7628-8de1-8c2c20c12197','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(61,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023288Z','tester','list: "dispatch"
step: "fuel flushed out and lines plugged"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-762a-90f5-aa4c6e762222','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(62,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023322Z','tester','list: "dispatch"
step: "ports, breathers and sensors plugged"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-762c-81d0-95d8960cbb98','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(63,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023356Z','tester','list: "dispatch"
step: "loose parts packed and listed"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-762e-a461-fdef6b2db6b7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(64,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023399Z','tester','list: "dispatch"
step: "lifted at the lift points only"
before: dispatch
caution: "Use lifting gear rated for the weight; never stand under it"
',NULL,'2026-12-01','01a23372-6a27-7630-9305-bd842792dcbf','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(65,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023437Z','tester','list: "dispatch"
step: "first-start card and care sheet inside"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-7632-83f9-952fc1015094','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(66,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-12-01T21:11:06.023472Z','tester','list: "dispatch"
step: "photographs taken from all sides"
before: dispatch
',NULL,'2026-12-01','01a23372-6a27-7634-9b67-de59e8bfcd26','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "build_record" VALUES(67,1,'lash','lash','1 inlet',NULL,NULL,NULL,'2026-12-01T21:11:17.503027Z','tester','valve: "1 inlet"
hot: 0.0002 m
stage: "run-in"
at: "2026-12-01T21:11:17.503027Z"
',NULL,'2026-12-01','01a23372-9774-755c-8719-81d5dc26d42a','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE calibration (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, at TEXT NOT NULL, valid_until TEXT, value REAL, json TEXT NOT NULL, note TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE change_log (id INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, detail TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "change_log" VALUES(1,'2026-12-01T21:11:04.585397Z','tester','setting','shop','2026-12-01','01a23372-6489-717e-98e3-c2942ac72f7e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(2,'2026-12-01T21:11:05.310752Z','tester','engine','Air-cooled flat four','2026-12-01','01a23372-675e-7092-97be-f1f10b0b3e5c','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(3,'2026-12-01T21:11:05.620076Z','tester','recording','small.csv','2026-12-01','01a23372-6894-71e5-9cfc-33f0a140592d','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(4,'2026-12-01T21:11:05.620302Z','tester','pull','pull 1: recording 1, part 1','2026-12-01','01a23372-6894-71e7-a139-0369d1e97004','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(5,'2026-12-01T21:11:05.620387Z','tester','curve','pull 1: dffa56d1c14d0c91162c2195d94c8695a47e70454a056e5f78a467aa9bf9583e','2026-12-01','01a23372-6894-71e8-8dc1-6052eed5c8c1','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(6,'2026-12-01T21:11:05.620540Z','tester','held','pull 1: pull.doubt-typed-two','2026-12-01','01a23372-6894-71ea-b81e-0be44291e175','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(7,'2026-12-01T21:11:05.981775Z','tester','build','build','2026-12-01','01a23372-69fd-776f-b06f-19328afa2f7f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(8,'2026-12-01T21:11:06.015422Z','tester','facts','mains: 0
at: "2026-12-01T21:11:05.981263Z"
','2026-12-01','01a23372-6a1f-77c2-afef-d33021fa7334','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(9,'2026-12-01T21:11:06.015481Z','tester','items','main clearance','2026-12-01','01a23372-6a1f-77c4-9b83-a86748181071','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(10,'2026-12-01T21:11:06.015519Z','tester','items','rod clearance','2026-12-01','01a23372-6a1f-77c6-be32-faa617f22cc1','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(11,'2026-12-01T21:11:06.015550Z','tester','items','crank end float','2026-12-01','01a23372-6a1f-77c8-b223-7cd147ddb071','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(12,'2026-12-01T21:11:06.015580Z','tester','items','rod side clearance','2026-12-01','01a23372-6a1f-77ca-a52a-eb7d476e9185','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(13,'2026-12-01T21:11:06.015612Z','tester','items','cylinder bore','2026-12-01','01a23372-6a1f-77cc-bcd1-c3d67371263f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(14,'2026-12-01T21:11:06.015640Z','tester','items','piston','2026-12-01','01a23372-6a1f-77ce-ac34-e1867c94244c','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(15,'2026-12-01T21:11:06.015672Z','tester','items','piston clearance','2026-12-01','01a23372-6a1f-77d0-b3a0-7f842e9a1eab','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(16,'2026-12-01T21:11:06.015705Z','tester','items','top ring gap','2026-12-01','01a23372-6a1f-77d2-9b58-f2b2e29966e1','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(17,'2026-12-01T21:11:06.015737Z','tester','items','second ring gap','2026-12-01','01a23372-6a1f-77d4-8948-be1163403391','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(18,'2026-12-01T21:11:06.015767Z','tester','items','oil rail gap','2026-12-01','01a23372-6a1f-77d6-82e2-28ecbc1754dd','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(19,'2026-12-01T21:11:06.015796Z','tester','items','deck height','2026-12-01','01a23372-6a1f-77d8-8196-0056c9436209','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(20,'2026-12-01T21:11:06.015831Z','tester','items','chamber volume','2026-12-01','01a23372-6a1f-77da-b2f5-ee3bc58a3ef8','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(21,'2026-12-01T21:11:06.021671Z','tester','items','guide clearance','2026-12-01','01a23372-6a25-769e-811e-b976e5e274a5','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(22,'2026-12-01T21:11:06.021743Z','tester','items','spring height','2026-12-01','01a23372-6a25-76a0-910a-bd8c60bd2ed3','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(23,'2026-12-01T21:11:06.021793Z','tester','items','spring seat load','2026-12-01','01a23372-6a25-76a2-a1f8-8016759a62a2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(24,'2026-12-01T21:11:06.021831Z','tester','items','valve to piston','2026-12-01','01a23372-6a25-76a4-980a-963ffa78d6f8','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(25,'2026-12-01T21:11:06.021864Z','tester','items','port flow','2026-12-01','01a23372-6a25-76a6-8bd1-12c2c5da8f45','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(26,'2026-12-01T21:11:06.021895Z','tester','items','turning torque break-away','2026-12-01','01a23372-6a25-76a8-950b-a1764375cde6','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(27,'2026-12-01T21:11:06.021925Z','tester','items','turning torque running','2026-12-01','01a23372-6a25-76aa-8c5c-b03d316045da','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(28,'2026-12-01T21:11:06.021968Z','tester','items','leak-down','2026-12-01','01a23372-6a25-76ac-9beb-76f5951aee58','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(29,'2026-12-01T21:11:06.022006Z','tester','items','cranking pressure','2026-12-01','01a23372-6a26-7334-ad66-219446707f5b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(30,'2026-12-01T21:11:06.022034Z','tester','steps','assembly','2026-12-01','01a23372-6a26-7336-91ab-2865c97903fd','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(31,'2026-12-01T21:11:06.022060Z','tester','steps','assembly','2026-12-01','01a23372-6a26-7338-b423-29a90db7234b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(32,'2026-12-01T21:11:06.022087Z','tester','steps','assembly','2026-12-01','01a23372-6a26-733a-aff2-3d9d13ca0059','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(33,'2026-12-01T21:11:06.022113Z','tester','steps','assembly','2026-12-01','01a23372-6a26-733c-b483-95d9690e2289','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(34,'2026-12-01T21:11:06.022140Z','tester','steps','assembly','2026-12-01','01a23372-6a26-733e-b5b2-d020913a50c8','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(35,'2026-12-01T21:11:06.022169Z','tester','steps','assembly','2026-12-01','01a23372-6a26-7340-8718-325e0ae2f23b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(36,'2026-12-01T21:11:06.022198Z','tester','steps','assembly','2026-12-01','01a23372-6a26-7342-92ea-1a76749aec98','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(37,'2026-12-01T21:11:06.022226Z','tester','steps','assembly','2026-12-01','01a23372-6a26-7344-a49e-968a241c69f3','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(38,'2026-12-01T21:11:06.022294Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7346-ac7f-750020d0e6d2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(39,'2026-12-01T21:11:06.022321Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7348-9001-ab390d8d8258','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(40,'2026-12-01T21:11:06.022348Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-734a-b6f6-d05f5d859f62','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(41,'2026-12-01T21:11:06.022376Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-734c-94a5-b04122da39c4','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(42,'2026-12-01T21:11:06.022403Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-734e-8966-bde3bdc9d983','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(43,'2026-12-01T21:11:06.022431Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7350-8a82-be3db1ead21c','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(44,'2026-12-01T21:11:06.022460Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7352-a586-08113a44be0f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(45,'2026-12-01T21:11:06.022550Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7354-b371-70231cd32e73','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(46,'2026-12-01T21:11:06.022579Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7356-a3d5-55fe7e478da3','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(47,'2026-12-01T21:11:06.022608Z','tester','steps','hook-up','2026-12-01','01a23372-6a26-7358-8dc6-3497aa6ffd7e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(48,'2026-12-01T21:11:06.022638Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-735a-a0dd-e03bd09846c5','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(49,'2026-12-01T21:11:06.022667Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-735c-9a78-00c7ea11a80b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(50,'2026-12-01T21:11:06.022696Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-735e-bae6-e62567a6871d','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(51,'2026-12-01T21:11:06.022725Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-7360-b498-0e0faa8786e5','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(52,'2026-12-01T21:11:06.022756Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-7362-81e9-68fce72fd3c0','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(53,'2026-12-01T21:11:06.022788Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-7364-a15c-1a0e01cd54da','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(54,'2026-12-01T21:11:06.022821Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-7366-9ea4-8b47dbf806c5','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(55,'2026-12-01T21:11:06.022852Z','tester','steps','full throttle proof','2026-12-01','01a23372-6a26-7368-ba52-5b2d5f5d625e','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(56,'2026-12-01T21:11:06.022884Z','tester','steps','run-in','2026-12-01','01a23372-6a26-736a-b012-93cbcadab9eb','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(57,'2026-12-01T21:11:06.022919Z','tester','steps','run-in','2026-12-01','01a23372-6a26-736c-9dc1-5de2a2f43697','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(58,'2026-12-01T21:11:06.022951Z','tester','steps','run-in','2026-12-01','01a23372-6a26-736e-aa31-cbfc338ae2df','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(59,'2026-12-01T21:11:06.022986Z','tester','steps','run-in','2026-12-01','01a23372-6a26-7370-a8b6-b261ad18ae34','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(60,'2026-12-01T21:11:06.023019Z','tester','steps','run-in','2026-12-01','01a23372-6a27-761b-af9d-6d2e2da75d28','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(61,'2026-12-01T21:11:06.023053Z','tester','steps','after-run','2026-12-01','01a23372-6a27-761d-9e6b-547f51745505','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(62,'2026-12-01T21:11:06.023086Z','tester','steps','after-run','2026-12-01','01a23372-6a27-761f-936d-5da318c0c311','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(63,'2026-12-01T21:11:06.023120Z','tester','steps','after-run','2026-12-01','01a23372-6a27-7621-b313-21ac9215acec','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(64,'2026-12-01T21:11:06.023153Z','tester','steps','after-run','2026-12-01','01a23372-6a27-7623-8df1-097491a278fb','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(65,'2026-12-01T21:11:06.023187Z','tester','steps','after-run','2026-12-01','01a23372-6a27-7625-86d9-04907195edd2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(66,'2026-12-01T21:11:06.023241Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-7627-a587-354e09e2a625','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(67,'2026-12-01T21:11:06.023277Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-7629-9858-efdaa059dd76','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(68,'2026-12-01T21:11:06.023311Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-762b-aa7a-e713c14878a4','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(69,'2026-12-01T21:11:06.023346Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-762d-87d0-e4daed6d2770','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(70,'2026-12-01T21:11:06.023385Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-762f-bdc8-6af8ea2e4f8f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(71,'2026-12-01T21:11:06.023425Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-7631-9788-2d4853c9870b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(72,'2026-12-01T21:11:06.023462Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-7633-8c4a-a6e79744491f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(73,'2026-12-01T21:11:06.023498Z','tester','steps','dispatch','2026-12-01','01a23372-6a27-7635-bc54-618550a63e1f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(74,'2026-12-01T21:11:17.179743Z','tester','right as it is','pull 1: the recorder''s barometer stood in another room','2026-12-01','01a23372-95bb-7358-983b-87e2960067e6','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(75,'2026-12-01T21:11:17.620993Z','tester','lash','lash','2026-12-01','01a23372-9774-755d-8385-be498e6af18f','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(76,'2026-12-01T21:11:18.075979Z','tester','attachment','note.txt','2026-12-01','01a23372-993b-76d8-85e5-d3a0be36aa8b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(77,'2026-12-01T21:11:18.408000Z','tester','attachment','plug.txt','2026-12-01','01a23372-9a88-7297-8d53-b3435cf66631','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(78,'2026-12-01T21:11:18.668790Z','tester','note','drip at the rear main seal: wiped','2026-12-01','01a23372-9b8c-772d-9d98-647247adca39','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(79,'2026-12-01T21:11:19.283216Z','tester','recording','file:live.txt','2026-12-01','01a23372-9df3-7285-b8b9-e7bd4e047061','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(80,'2026-12-01T21:11:20.015632Z','tester','mark','recording 2: a noise at idle','2026-12-01','01a23372-a0cf-7755-92e3-e9c383937fd2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
INSERT INTO "change_log" VALUES(81,'2026-12-01T21:11:38.790809Z','tester','recording ended','recording 2: stopped','2026-12-01','01a23372-ea26-7195-96b9-ff1f33c7965b','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE channel_map (source TEXT PRIMARY KEY, yaml TEXT NOT NULL, at TEXT NOT NULL) STRICT;
CREATE TABLE curve (pull_id INTEGER PRIMARY KEY REFERENCES pull(id), method TEXT NOT NULL, cell TEXT NOT NULL, engine TEXT NOT NULL, digest TEXT NOT NULL, bytes BLOB NOT NULL, program TEXT NOT NULL, calibration TEXT, reduction INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO "curve" VALUES(1,'standard: j1349
charging: natural
grid_step: 100 rpm
half_width: 400 rpm
after_load: 250 rpm
band_low: 0.65
band_high: 1
spike_limit: 6
longest_fill: 0.2 s
weather_age: 1800 s
engine_inertia: no
','arm_uncertainty: 0.0001 m
gain_uncertainty: 0.003
hysteresis: 0.4 N.m
zero_drift: 8.333333333333333e-05 N.m/s
speed_uncertainty: 3 rpm
inertia_uncertainty: 0.05
pressure_uncertainty: 100 Pa
temperature_uncertainty: 0.5 K
humidity_uncertainty: 0.03
remounting: 0.004
calibration_limit: 0.01
','# An air-cooled flat four for a light racing special. Our own invention: no known engine is meant.
# Built in: injectors too small for the power hoped for, a cam that stands retarded as degreed in,
# and more compression than the fuel of the paddock likes in an air-cooled head.
name: Air-cooled flat four
serial: FF-4-007
equipment: cooling fan and oil pump driven; no alternator
strokes: 4
cooling: air
cylinders: 4
bore: 92.0 mm
stroke: 71.0 mm
fuel: petrol
octane: 95
lambda_target: 0.86
agreed_limit: 6400 rpm
rod_limit: 7200 rpm
crank_limit: 7000 rpm
idle_speed: 1000 rpm
inertia: 0.19 kg·m2

geometry:
  rod_length: 137 mm
  pin_offset: 0.8 mm
  layout: flat
  firing_order: [1, 4, 3, 2]
  banks: [1, 1, 2, 2]
  bore_spacing: 112 mm
  bank_stagger: 21 mm

compression:
  chambers: [45.4 cc, 45.2 cc, 45.5 cc, 45.3 cc]
  gasket_volume: 0 cc
  gasket_thickness: 0 mm
  deck: 1.05 mm
  dish: 0.6 cc
  wanted_ratio: 8.6

cam:
  lifter: flat hydraulic
  lifter_diameter: 27 mm
  lobe_separation: 110 deg
  advance: 3 deg

inlet:
  head_diameter: 41 mm
  throat_diameter: 36 mm
  stem_diameter: 8 mm
  seat_width: 1.4 mm
  valve_angle: 12 deg
  lobe_lift: 7.1 mm
  rocker_ratio: 1.3
  duration: 272 deg
  duration_lift: 0.15 mm
  check_duration: 226 deg
  check_lift: 1.27 mm
  ramp_height: 0.10 mm
  ramp_length: 32 deg
  flow_lifts: [2 mm, 4 mm, 6 mm, 8 mm, 9.2 mm]
  flows: [31 cfm, 62 cfm, 89 cfm, 109 cfm, 116 cfm]
  flow_depression: 10 inH2O
  spring_height: 43 mm
  spring_force: 410 N
  spring_rate: 36 N/mm
  spring_bind: 28.5 mm
  spring_mass: 78 g
  valve_mass: 92 g
  retainer_mass: 26 g
  rocker_inertia: 0.00009 kg·m2
  rocker_arm: 36 mm
  pushrod_mass: 70 g
  lifter_mass: 96 g
  retainer_to_seal: 12 mm
  piston_gap: 9.2 mm

exhaust:
  head_diameter: 34.5 mm
  throat_diameter: 30 mm
  stem_diameter: 9 mm
  seat_width: 1.8 mm
  valve_angle: 12 deg
  lobe_lift: 6.9 mm
  rocker_ratio: 1.3
  duration: 276 deg
  duration_lift: 0.15 mm
  check_duration: 230 deg
  check_lift: 1.27 mm
  ramp_height: 0.10 mm
  ramp_length: 32 deg
  flow_lifts: [2 mm, 4 mm, 6 mm, 8 mm, 9 mm]
  flows: [25 cfm, 49 cfm, 68 cfm, 81 cfm, 85 cfm]
  flow_depression: 10 inH2O
  spring_height: 43 mm
  spring_force: 410 N
  spring_rate: 36 N/mm
  spring_bind: 28.5 mm
  spring_mass: 78 g
  valve_mass: 88 g
  retainer_mass: 26 g
  rocker_inertia: 0.00009 kg·m2
  rocker_arm: 36 mm
  pushrod_mass: 70 g
  lifter_mass: 96 g
  retainer_to_seal: 12 mm
  piston_gap: 9.0 mm

breathing:
  volumetric_efficiency: 0.92
  expected_power: 92 kW
  power_speed: 5900 rpm
  expected_torque: 166 N·m
  torque_speed: 4300 rpm
  throttles: 2
  throttle_diameter: 46 mm
  runner_length: 360 mm
  runner_diameter: 37 mm
  primary_length: 920 mm
  primary_diameter: 38 mm

fuel_system:
  specific_fuel: 300 g/kWh
  injectors: 4
  injector_flow: 160 ml/min      # fault: too small
  injector_pressure: 300 kPa
  fuel_pressure: 300 kPa
  pump_flow: 95 l/h

torsion:
  coupling_stiffness: 1400 N·m/rad
  shaft_inertia: 0.022 kg·m2
  absorber_inertia: 0.085 kg·m2
  absorber_torque: 420 N·m
  absorber_power: 180 kW
  absorber_speed: 9000 rpm
  heat_to_air: 45 %

balance:
  piston: 398 g
  pin: 104 g
  rings: 38 g
  locks: 3 g
  rod_small_end: 168 g
  rod_big_end: 402 g
  bearing: 34 g
  cap: 150 g
  rods_a_pin: 1

degree_in:
  stop_first: -31.5 deg
  stop_second: 32.5 deg          # the wheel stands half a degree off
  near_peak_first: 71.5 deg
  near_peak_second: 150.0 deg
  inlet_opens: 3.0 deg           # fault: 3 degrees late
  inlet_closes: 44.0 deg
','dffa56d1c14d0c91162c2195d94c8695a47e70454a056e5f78a467aa9bf9583e',X'3443574500000000060000000000000073776565700024000000000000000000000000A8A640000000000070A740000000000038A840000000000000A9400000000000C8A940000000000090AA40000000000058AB40000000000020AC400000000000E8AC400000000000B0AD40000000000078AE40000000000040AF40000000000004B040000000000068B0400000000000CCB040000000000030B140000000000094B1400000000000F8B14000000000005CB2400000000000C0B240000000000024B340000000000088B3400000000000ECB340000000000050B4400000000000B4B440000000000018B54000000000007CB5400000000000E0B540000000000044B6400000000000A8B64000000000000CB740000000000070B7400000000000D4B740000000000038B84000000000009CB840000000000000B9404F2AB27BD70466404CB718E95D356640471E28D4D6626640DFD8C0A20D8D6640D6F3678478AC664013DBE42EABC96640B12730940FEF66409CEFD996C8096740BDCC9121262B6740A3049E70A2486740D094FDCEAC5F6740827FBFC8EB756740AD2E45A9DA7667400CCD5364337B6740F42FABB3F68367403ABBC4A29F8E674067992FCD219467405AA3CE48508D674037F86C9098866740D4134658BF8C67403601FCE5399667409B9BE36E4A9C67406BA458B50A936740AD8633EC9B806740E6FB1DD5016E6740BA18462F804E67409D74E8D6A21C6740AA4D3BB395EA66404973C052DBCD6640C95D5750E3C36640055826F545B16640918C0E4D2D8E6640382A2586685E6640FC7FF4E9512E664015E1000E0BFE654034CE7B3793CB6540B0C171A08980E03FA5A270474586DF3F6E7C816DF966E03F623F2FB7B3F4E03F8B63C4779311E13FD0694D4CD522E13F21F4BD046C4BE13FC4BB8C928988E13F794C143B8286E13F9315EA6E2C9BE13F9E40C72E4493E13F8EA1D8E8C0B9E13F3D6033DF29A9E13F8ECEC7D968ACE13F2EDDCAD261B6E13F1CEE3AC7C2E1E13F5A8786A844CBE13FC3E1923DB4B1E13FB0CB03E1C4D3E13F920E199A76CFE13FA1351297A1D6E13F57422DB8AFE3E13FB198DAB218CAE13FB093E4CA83C3E13FACB39CC50DCAE13FEB35C06AC0B6E13FAE23A91B4262E13FA724F5AA5038E13FB1547A5DCB35E13FF885679C1F2EE13FDF67B421BB0FE13FE7C01C88F912E13F613E8C70834BE03F77C6176FB8FEDF3F26FBF5B0BFB8DE3FFAAF97359454E73F2C074B30DD1EEA40A6094CABFE40EB403671BA6E3963EC405A9CA3B7E884ED40852EAE19799BEE405A10EC3585B1EF40D620A618D86AF0408C173C029AF6F04020294EA97A88F140D2E40DC2B418F24024ABEB84FFA4F2408E7CD2289531F340E0B4B06734ADF3408B1A8716CC2BF4400588E99C73AEF440442FEFEE2B33F540F00AD41A96B3F540B29595F6A028F640ED0BB7377D9DF64063D85C7EB51EF7401986D3D583A3F74036FF849E3725F8407FBF55A93197F8407F56D35A06FFF840BC210114EB65F9407655C555CCBDF940457E97E0BCFFF94000640B7F6C3FFA40852E63F1EB95FA405D8DD57E7F01FB40B0475ABD3B62FB40F95BDD30FBADFB4027F99EA07BE8FB40564B560FA020FC40B2E5DBBD8E56FC40357CEA8CA587FC40039C354BC69A65407518A0F862CA6540C68C4DD800F76540FD02824D6C20664079CEDAD73F3F66408AF42EDCE55B6640EF1A5C2296806640B9CD3D6BCE9A6640E76E8F3C8BBB66402B5EB48279D866402ECC16E414EF6640A9EE9EB4E8046740DD3E7316D3056740045E61E1160A6740695E7DFAAF126740C7B80F90251D6740D07694318D226740AADA8485DC1B67403D78302945156740B6452C4F4E1B67401937F3339B246740619526868E2A67409060285A7B216740FC58D75B650F6740A2E32FE024FD6640283F51FF3ADE6640909FCDDA4DAD66405A1D35D1317C6640756C71D3016066401D724CD639566640121D4526F64366405DE8198E862166405EAD57E2A7F265407AC880EB78C36540A183529D1A946540D537DCE2956265400000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000005979E871970A2040C71E37E92313204049501D10A40F2040C453054A81F81F4040EC6E7C62BB1F4021BF631D0EA01F405F7665DE2EC91F406BFCDDFA6B052040AD3663A7850820400068BDC6EEDC1F4098B6269BEEB51F40E5573DE72CA91F40165AA891C3A41F400881C6DFE1A91F400206966739D01F4016B0F66DE4ED1F40DF1A5D2E29DA1F400783ED95D7B71F4033A5D330CDB91F40A4B60A1613EE1F4068EA1C4261FF1F40F6BA20FB95DC1F406AFB7F1294C81F4082D0821ED1F31F40203DCE3ECB132040D3EFDB7F53062040D9D82A7F92C01F40D025D33FFF9B1F40F202F027BEAC1F4076D095B946C41F40AF5D35B07AC41F4004C1409C33CD1F400E7EF4C64CD61F40C3DEE8631BD91F40F4D15875A8DA1F40B09183CC9DE51F400000000000002240000000000000224000000000000024400000000000002440000000000000224000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000026400000000000002440000000000000244000000000000024400000000000002640000000000000244000000000000024400000000000002440000000000000224000000000000024400000000000002440000000000000244000000000000024400000000000002240000000000000224000000000000020402E00000000000000AE47E17A14FFA540D7A3703D0AA4A640EC51B81E8547A740B81E85EB51E8A7405C8FC2F5A889A84048E17A14AE24A940B81E85EB51D2A940000000008069AA40000000000003AB4085EB51B89EA7AB40EC51B81E0547AC4048E17A142EEDAC40B81E85EB518AAD4048E17A142E2CAE40E17A14AE47CAAE409A9999999965AF4048E17A14EE04B040C3F5285CCF55B0403D0AD7A370A1B040CDCCCCCC4CF1B040295C8FC2B544B1409A9999991994B140AE47E17AD4E4B1400AD7A370FD31B2401F85EB513882B24052B81E85EBD1B24066666666A625B3400AD7A370FD71B340F6285C8F42C5B340333333333314B440C3F5285C4F62B4401F85EB51B8B1B44014AE47E13A07B5405C8FC2F52858B54085EB51B89EA5B5401F85EB5138F2B5409A999999D943B640B81E85EBD195B6400000000000E4B64085EB51B85E33B740CDCCCCCCCC81B740D7A3703D0AD5B740C3F5285C8F24B84052B81E85EB71B8407B14AE4721C5B840E17A14AEC712B940E89640BC18E665402F205C14ACE26540F2DE20A00045664078B1CBE89645664029DC6ACD7A856640382AEED910806640FCD2B918F7B46640ED200C874BCD6640A643A9C3C6E16640C6BA721AE7C6664018F74DB3485A6740D72F7132960867408EDE00D0D7316740158340140F6F6740087735E427696740FA8F67764C7367405411D3FA657F6740C1ED198C946C6740BEE0C18B15866740B80460A99A7A6740CE64041962AA674084C7DBE87E7C67404E5B4D7F7D9F674009365CACFF8F674000595B25FE68674052E2C85180A06740BBD0DE71F18767402E7DCE89A2B567406AB250A255886740D691224D298D6740D6C3B70FB4836740F5C3E8ADF5656740A6A2CFC4B44E6740A3F9A1494B556740ABA872ED62EA6640BC4BDC0971EF6640F36FDC6379A86640DC295BFF4BD966405CB9EEC6ACC966407A4287AC0FA96640880379B358736640FCEDB6E98C6266406697C913AA3D664069F8687F1A136640656DC3EEEBDE654047794BACA2C7654007000000000000000D000000000000006F696C5F70726573737572650000000000000000000F0000000000000050524553535552455F4741554745000D000000000000006F696C5F707265737375726500A7B348AED2FA1641082F299DBF241741B414CFEA8D401741D644A59F795017419E6680B2B960174118616D6FA38317412F1C4F84ABAC17417870891DCBD31741704B191AAFF81741D3313EEB992018414959A0B3433D1841D850212305521841186A3DB1F36B184110E6769961851841F7909E50DFAB184116CC618247D618411B19D54550FF1841F3B0C04688201941DBA0AEF7A8321941D19769D5654D1941C53C140E41731941BF4033CC849219410A7BDD6360AC194103FBBBA447CB1941CFE9577F61EA1941E483221FB10E1A41A1A772B50C2A1A414F51930E18481A412AE3EBBF03751A4190D5EE8B4CA11A41A20EF654F1C31A41854B9C1A11DB1A4168041FF953F51A41771A311E73121B419EBB354EA52D1B41B84142FD773F1B4193B26549F4F38E4089FE95E817508D402E2F909ED2428E40B99965ECBD0D8F40437F16C44E178F401DDA7273BF0E8F407D54409434258F400933C426A46E8F402F12B643C23D8F40E8A52004DA3A8F4025916657180E8F40DFA6ADE466348F405AA28BC2F5158F4031BEF242EA158F40755EC4A1D81B8F4063D27351D2598F4007C92548192B8F403C83A3F94A078F40D7396EB7F44B8F403A6443C33A3C8F40262E5B713A3C8F40EEBFB6C50A4B8F400C57BAC47C2A8F40B63DAE595D378F403D9FF0DEAC5B8F4067FAFC78DC638F401A03B4D398108F4095C83887DA088F40DDCA5C87622B8F4001DF44021E2B8F4017C270A45E0D8F408DF42E72A0438F40B493563F1D168E400D938B6B8BC98D40B0F59FEDD9D88C40138F02A8DD1A964010000000000000006F696C5F74656D70657261747572650000000000000000000C0000000000000054454D50455241545552450010000000000000006F696C5F74656D7065726174757265000089DCCDC57776401F34132486797640D6F4CBA1477B7640F4DD39770B7D76409728C1D8D27E76401FE42C489D8076403E27CB3568827640C68A32A72E8476403A39A0A1EE857640A66D79A1B3877640616B65D77D8976406A4100B3468B7640950BB736108D7640C4FA0403DB8E7640EEC099C4A3907640846F73E669927640713BB4B32D94764076EC8DC6F6957640FDF468B1C19776409160E11F89997640BD677DA24C9B76407B21FD01109D7640C3B352FFD99E76406284ED0CA3A07640E8A1EBF764A27640A4F16E8A25A476401E3D0CCAEBA5764060E274AAB7A7764079A8357B82A97640D3A781A649AB76407BD88DC011AD764033114373DAAE7640A8CDBDC9A1B076400CBB41E167B27640610588B72EB47640CE84AAADF7B57640E35631BA8FD8553FFEA56B7F3BB0543F697CC6B38B5B553F559D4F06C3EA553FB347D85D83F1553F80563FC878EB553F169A946552FB553FB7A30BBE262F563F3F14C9B3A60C563F8144656D990A563FEF9EFBD602EB553F70B06B190C06563F2B3558DE8FF0553FB4AAD0C087F0553F05C92563B7F4553FC197AE0E7520563F03112A357BFF553F5ACAE0D135E6553F100F98D2AB16563F5B887663920B563F669BA729920B563F06BDAEB50616563FDA8B6ABE0CFF553F9C4F06672308563FE7279AFCC321563F4656C8048B27563FE54A90E1C6EC553F0B1BE8D04FE7553F4F5561E7AEFF553F4A253E8B7EFF553FB63EFAC67FEA553F58E81FE9CA10563F431D37CCFD3B553F85A0C13CF305553F0DFFF5E5125C543FDF085995D1335F3F1400000000000000636F6F6C616E745F74656D70657261747572650000000000000000000C0000000000000054454D5045524154555245001400000000000000636F6F6C616E745F74656D7065726174757265000289DCCDC52776402034132486297640D6F4CBA1472B7640F4DD39770B2D76409828C1D8D22E76401EE42C489D3076403E27CB3568327640C58A32A72E3476403C39A0A1EE357640A66D79A1B3377640616B65D77D3976406B4100B3463B7640960BB736103D7640C5FA0403DB3E7640EFC099C4A3407640846F73E669427640713BB4B32D44764077EC8DC6F6457640FDF468B1C14776409060E11F89497640BD677DA24C4B76407B21FD01104D7640C4B352FFD94E76406184ED0CA3507640E9A1EBF764527640A4F16E8A255476401F3D0CCAEB5576405FE274AAB757764079A8357B82597640D4A781A6495B76407AD88DC0115D764032114373DA5E7640A8CDBDC9A16076400CBB41E167627640620588B72E647640CE84AAADF7657640833132BA8FD8553F0A756C7F3BB0543F2752C7B38B5B553FAC785006C3EA553F4E23D95D83F1553FDE3140C878EB553F1376956552FB553FBB810CBE262F563FE9F0C9B3A60C563F1721666D990A563F497AFCD602EB553FD88C6C190C06563FBC1059DE8FF0553F4586D1C087F0553FC0A42663B7F4553F3175AF0E7520563F29ED2A357BFF553F84A5E1D135E6553F1EEC98D2AB16563FFB647763920B563F0578A829920B563F0E9AAFB50616563FFC676BBE0CFF553F192C07672308563F64059BFCC321563FFD33C9048B27563F502691E1C6EC553F40F6E8D04FE7553F783162E7AEFF553F70013F8B7EFF553F0A1AFBC67FEA553F2CC520E9CA10563FC5F137CCFD3B553FEA72C23CF305553FCECAF6E5125C543F23415A95D1335F3F07000000000000006C616D62646100000000000000000007000000000000004C414D4244410007000000000000006C616D626461008F880AFE0E27EC3F45FCD634FB2AEC3FE524FAC86831EC3FD3C17EC44238EC3F17EDEE2DAF31EC3FFBB45A943431EC3F4017D6CEB036EC3F14415D206734EC3F0E491B2ACD32EC3FB95B701D702BEC3F97C2C57E3420EC3F73329A48C820EC3F4F2E50856E27EC3FE16FD42B522BEC3F865B9AD64A2DEC3F3A60F7F6C22BEC3F5F5EC751CE39EC3F5EE6AF83B64BEC3FC3B242EBA245EC3FF18A4BAF912EEC3FCCD9BC9B111DEC3F1D9CD35EC61EEC3F2A44410E6A2BEC3F2BD515ECF02FEC3F19E27C81DA34EC3F3A2F9098D835EC3F08D744520436EC3FB6AB1BCC6338EC3FA77C281C7A34EC3F70E1E18ED72DEC3F7B3CDD19FB22EC3FFDAAC6067319EC3F4635BF45601FEC3FBCB0717AA727EC3F16D4A359072CEC3F9856985F5229EC3F69741E95DBBE5B3FD2F620F580465A3FA34113BA14205B3FF333DC24F9D55B3F06097F3B8CDE5B3F90296AFCDFD65B3F5F80AA6001EB5B3FB49A40E6D42C5C3F7FDA2FBA03015C3F7102779968FE5B3F84D852314AD65B3FCB0FC391A0F85B3F95AF03FA56DD5B3F875470AB4CDD5B3F61A511B49DE25B3F7210C05A2B1A5C3F3488D4BE49F05B3F09A2374531D05B3FB5CDE491BD0D5C3F920534CBA4FF5B3F7294C881A4FF5B3F3CBB12DEEB0C5C3F8F7D4773BDEF5B3F2B5DFC6E48FB5B3FA122A9BBD41B5C3F9B0A292F2B235C3FA4794E4F88D85B3FEECFC16B97D15B3F8E6601678BF05B3F076D8EFB4DF05B3F3CDA72BCA3D55B3F978AEA3F46065C3FA3F2135901F85A3FEBD1D4B35EB35A3FABC16F249EDB593F921CE3837BD0633F0E000000000000006675656C5F70726573737572650000000000000000000F0000000000000050524553535552455F4741554745000E000000000000006675656C5F70726573737572650009F9CE2B2B4E12414D682F8D25561241D0659FDAD6581241BC07F2D6FA571241E73BE309A55312416E9FF7AE3B521241871791CD835112418485DEFE23501241ADE900AB4D521241D3768B8A155812410A647AFE7F591241F40DBF840353124194671C4BDB4B12416000B34F534C12412309A117E7511241B72A29CA035312415BA59F5C534E1241BEC1D70FD94B12411AE3452BFB5012414178EA7296531241760F4A01A7551241D3D10EE5BB511241DEC3086745501241D7BAB786BC5312412D325CE044541241A4227B3DF85B124193BE7F8E4C5D124174B46C04C75912410B8F7EEA6E5012414C452400B544124108CBBBEFF9431241B3B6D7D087431241A1ED9B702C49124165E062E94F52124153B019F5BC571241FC3DD6F25358124179ADB185000682402AFE06F385118140BB522D68DC9E81407B27E88E041582408538B57B961A8240447A42839A1582406C134025AE228240576C2BDC704D82406ED22A35FA3082402CC3C1D7482F82400D19113539158240D410126B872B8240C4585F97CD198240A0EB5BE5C6198240267B4B053B1D8240AB886260514182402E3813A41C2682408F543E3C43118240EB7BE37E3E398240EFE8F13D16308240C76D400E163082400EBAFC45B638824002DF6781C1258240BA0F7F0E412D8240091099B36542824050358CF029478240FEB31127AE168240476CA2E32B128240BCBBA14A472682407203B6641F268240074DD413CD148240A433E9E764348240AE4365EFD384814021AA4E143E58814075A9AE1E17CC8040A4E5001426BE89401600000000000000696E6C65745F6169725F74656D70657261747572650000000000000000000C0000000000000054454D5045524154555245001600000000000000696E6C65745F6169725F74656D706572617475726500081EEE4C2AA27240183507BC04A27240B89ED57DECA17240DFF88DE0EEA1724082EA48F114A272404C9EDF102BA272408D07ED5721A2724063EFB64906A272404641617809A272405F6B131E69A27240F01937FD7CA27240426F1A1588A27240B8A7D5AF4AA272407DB01A3F0BA272406355020A5FA27240557414857EA27240E70EE1F360A2724023C21F7C1BA27240A138DB5F44A27240B0A01A2177A2724060E3EC72AAA27240846F9F73BFA272409D8D334AC3A27240D82E6B03E3A27240E65597AAABA27240A778DB4E94A27240254330CD61A27240FE82FF513EA2724048EDA3C449A272406EF12F980BA27240AC2F922F2FA27240C2B7B6437BA27240CEB4942D8DA272402BC10EC6A4A27240729BD742A4A2724056576A3FA7A27240A1EDEE296094A23F8559B05D5A98A13FED79ED4C0D2AA23F8F5F8DD0DAA3A23F04D63DBD98A9A23F8EEF726575A4A23F9E929453F0B1A23FCAC17CD204DEA23F5403A153ADC0A23F4455EA96EEBEA23F60179B1611A4A23F4A49987F0FBBA23F4C44FDA5C9A8A23F5E3D16BFC2A8A23F59C7092752ACA23F2AF62E9385D1A23FC7D8F3ED79B5A23F80C30ED4FB9FA23F9034A9EA32C9A23F20DE9F53C2BFA23FF1A37522C2BFA23F4702B17DA6C8A23F68405FFB1BB5A23FBBDBADC3D6BCA23F3DAB2F6DA2D2A23F96EE3A518CD7A23FD7C3A28A91A5A23FFBA543A9EBA0A23F6AEB6BE5A5B5A23F6DCF54C47CB5A23F1E5D369FA1A3A23F8AB5EC0333C4A23F39891D2F370FA23F23A9EC2141E1A13F166BA60FC750A13F6ED831018089AA3F08000000000000006465726976656400000000000000000018000000000000004D45414E5F4546464543544956455F5052455353555245000500000000000000626D657000252B5A4C11E43141B160A6D07E0B324144494D5671303241DB88C31FBE523241113AEE27456C3241689AD37FFE833241219F3C4C60A23241F5BCEDC716B832417AFB7CFC32D33241E33E892A28EB3241782905BBE0FD324124E98408F40F3341A0C06420B61033413EDA213F3E143341390937FD5C1B334141A60C500624334128ED121B80283341048DEBD4F522334194B0AB84801D3341A85A9B1080223341821E7AB2332A334174FD222B212F3341AB8D02569D273341073DEF35A3183341DC4745E685093341C4928F5EECEF32416AB2453968C73241A9F1803EBD9E3241BB2A78A365873241D1DF04124C7F32416183FF1A2C70324193B5E1DBA75332412A2308B0D72C32416F7A6506C5053241D66FA9288BDE31412B6FEF7B89B53141E96BE1EE12D1AA4068228747499DA9405027A74C88A7AA40BD67E1BCD88DAB40D2D791AFC4BCAB40EA6E93DECFD8AB40C3657148C51AAC401EE4D40C167EAC40CA086318CA7AAC405DC1D8EC5E9CAC402AA40C6C858FAC4092D8079210CEAC405237CBEE1AB3AC401D28135061B8AC403BF1B60396C8AC40C306C017140FAD40063CF2DF86EAAC40CCCCB1E2FBC0AC40ABA3295657F8AC401B3C8A1558F1AC401D61E606FEFCAC4025E845253512AD40888C166D9FE8AC400DF6B15FEDDDAC405A0270AB8DE8AC4052A2CBBB2FC9AC402FA1A974E13FAC40946B289BB8FBAB4050346BF59FF7AB401F28D5C328EBAB400ED1FB1DC5B9AB40BA527A8E0ABFAB4093F03E3CE87AAA4056D8ED9227FFA940251FE07D4BF6A8408EFB23ADDCF4B240C4B85F97802BF8403008AC1C5AA27240894A762811BF9840DC4603780B7276404B81DF99E3B47640DC4603780B2276404B81DF99E3647640BB6E37AE6CA27240923A014D84A27240000000000000F87F000000000000F87F780AAE47E1007940000000000000F87F08000000000000006368616E6E656C0008000000000000006368616E6E656C0008000000000000006368616E6E656C00010000000000000001000000000000007171BB338D4EF03F9ADFBD5284C8F74001000000000000000000000000000000000000000000594000000000000079400000000000406F40CDCCCCCCCCCCE43F000000000000F03F00000000000018409A9999999999C93F0000000000209C4006000000000000006A313334390008000000000000006E61747572616C0000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000088C927D832A2763F000000000000000046B6F3FD344CB040000000000000B9404873B17E701A67409D6A55C12BC3503FAE47E17A14FFA540E17A14AEC712B94000000000000000409A99999999992740000000000000F87F0000000000000000000000000000F87F01000000000000001F000000000000007B226964223A2270756C6C2E6E6F2D726F746F722D696E6572746961227D00','enginewright 0.1.0',NULL,5);
CREATE TABLE engine (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, yaml TEXT NOT NULL, added_at TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "engine" VALUES(1,'Air-cooled flat four','# An air-cooled flat four for a light racing special. Our own invention: no known engine is meant.
# Built in: injectors too small for the power hoped for, a cam that stands retarded as degreed in,
# and more compression than the fuel of the paddock likes in an air-cooled head.
name: Air-cooled flat four
serial: FF-4-007
equipment: cooling fan and oil pump driven; no alternator
strokes: 4
cooling: air
cylinders: 4
bore: 92.0 mm
stroke: 71.0 mm
fuel: petrol
octane: 95
lambda_target: 0.86
agreed_limit: 6400 rpm
rod_limit: 7200 rpm
crank_limit: 7000 rpm
idle_speed: 1000 rpm
inertia: 0.19 kg·m2

geometry:
  rod_length: 137 mm
  pin_offset: 0.8 mm
  layout: flat
  firing_order: [1, 4, 3, 2]
  banks: [1, 1, 2, 2]
  bore_spacing: 112 mm
  bank_stagger: 21 mm

compression:
  chambers: [45.4 cc, 45.2 cc, 45.5 cc, 45.3 cc]
  gasket_volume: 0 cc
  gasket_thickness: 0 mm
  deck: 1.05 mm
  dish: 0.6 cc
  wanted_ratio: 8.6

cam:
  lifter: flat hydraulic
  lifter_diameter: 27 mm
  lobe_separation: 110 deg
  advance: 3 deg

inlet:
  head_diameter: 41 mm
  throat_diameter: 36 mm
  stem_diameter: 8 mm
  seat_width: 1.4 mm
  valve_angle: 12 deg
  lobe_lift: 7.1 mm
  rocker_ratio: 1.3
  duration: 272 deg
  duration_lift: 0.15 mm
  check_duration: 226 deg
  check_lift: 1.27 mm
  ramp_height: 0.10 mm
  ramp_length: 32 deg
  flow_lifts: [2 mm, 4 mm, 6 mm, 8 mm, 9.2 mm]
  flows: [31 cfm, 62 cfm, 89 cfm, 109 cfm, 116 cfm]
  flow_depression: 10 inH2O
  spring_height: 43 mm
  spring_force: 410 N
  spring_rate: 36 N/mm
  spring_bind: 28.5 mm
  spring_mass: 78 g
  valve_mass: 92 g
  retainer_mass: 26 g
  rocker_inertia: 0.00009 kg·m2
  rocker_arm: 36 mm
  pushrod_mass: 70 g
  lifter_mass: 96 g
  retainer_to_seal: 12 mm
  piston_gap: 9.2 mm

exhaust:
  head_diameter: 34.5 mm
  throat_diameter: 30 mm
  stem_diameter: 9 mm
  seat_width: 1.8 mm
  valve_angle: 12 deg
  lobe_lift: 6.9 mm
  rocker_ratio: 1.3
  duration: 276 deg
  duration_lift: 0.15 mm
  check_duration: 230 deg
  check_lift: 1.27 mm
  ramp_height: 0.10 mm
  ramp_length: 32 deg
  flow_lifts: [2 mm, 4 mm, 6 mm, 8 mm, 9 mm]
  flows: [25 cfm, 49 cfm, 68 cfm, 81 cfm, 85 cfm]
  flow_depression: 10 inH2O
  spring_height: 43 mm
  spring_force: 410 N
  spring_rate: 36 N/mm
  spring_bind: 28.5 mm
  spring_mass: 78 g
  valve_mass: 88 g
  retainer_mass: 26 g
  rocker_inertia: 0.00009 kg·m2
  rocker_arm: 36 mm
  pushrod_mass: 70 g
  lifter_mass: 96 g
  retainer_to_seal: 12 mm
  piston_gap: 9.0 mm

breathing:
  volumetric_efficiency: 0.92
  expected_power: 92 kW
  power_speed: 5900 rpm
  expected_torque: 166 N·m
  torque_speed: 4300 rpm
  throttles: 2
  throttle_diameter: 46 mm
  runner_length: 360 mm
  runner_diameter: 37 mm
  primary_length: 920 mm
  primary_diameter: 38 mm

fuel_system:
  specific_fuel: 300 g/kWh
  injectors: 4
  injector_flow: 160 ml/min      # fault: too small
  injector_pressure: 300 kPa
  fuel_pressure: 300 kPa
  pump_flow: 95 l/h

torsion:
  coupling_stiffness: 1400 N·m/rad
  shaft_inertia: 0.022 kg·m2
  absorber_inertia: 0.085 kg·m2
  absorber_torque: 420 N·m
  absorber_power: 180 kW
  absorber_speed: 9000 rpm
  heat_to_air: 45 %

balance:
  piston: 398 g
  pin: 104 g
  rings: 38 g
  locks: 3 g
  rod_small_end: 168 g
  rod_big_end: 402 g
  bearing: 34 g
  cap: 150 g
  rods_a_pin: 1

degree_in:
  stop_first: -31.5 deg
  stop_second: 32.5 deg          # the wheel stands half a degree off
  near_peak_first: 71.5 deg
  near_peak_second: 150.0 deg
  inlet_opens: 3.0 deg           # fault: 3 degrees late
  inlet_closes: 44.0 deg
','2026-12-01T21:11:05.306305Z','2026-12-01','01a23372-675a-752b-84c4-7a6bb05509b2','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE figures (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), digest TEXT NOT NULL) STRICT;
INSERT INTO "figures" VALUES(1,'9460d3aa619a1ccd0822d30df2dd90c5fece1179aaa34157077ca136e057b11d');
CREATE TABLE former (pull_id INTEGER NOT NULL REFERENCES pull(id), reading INTEGER NOT NULL, part INTEGER NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL, day TEXT NOT NULL, engine_id INTEGER REFERENCES engine(id), run INTEGER NOT NULL, mounting INTEGER NOT NULL, purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT, told TEXT NOT NULL, top_rpm REAL, band_mean_n_m REAL, channel_map TEXT, recorder TEXT, clock TEXT, measured_at TEXT, method TEXT NOT NULL, cell_record TEXT NOT NULL, engine TEXT NOT NULL, calibration TEXT, bytes BLOB NOT NULL, digest TEXT NOT NULL, program TEXT NOT NULL, reduction INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (pull_id, reading)) STRICT;
CREATE TABLE found (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL, owner_id INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, withdrawn TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE hold (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id), finding TEXT NOT NULL, at TEXT NOT NULL, answered_at TEXT, who TEXT, answer TEXT, reason TEXT, amendment_id INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;
INSERT INTO "hold" VALUES(1,1,'{"id":"pull.doubt-typed-two","about":"barometer","arguments":{"channel":{"word":"channel.barometer"},"typed":{"quantity":98500,"of":"pressure absolute","decimals":1},"recorded":{"quantity":99000.03695652174,"of":"pressure absolute","decimals":1}}}','2026-12-01T21:11:05.620424Z','2026-12-01T21:11:17.179537Z','tester','right','the recorder''s barometer stood in another room',NULL,'01a23372-6894-71e9-8cff-f8580c74eb49','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11','2026-12-01');
CREATE TABLE job (id INTEGER PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;
CREATE TABLE job_record (id INTEGER PRIMARY KEY, job_id INTEGER REFERENCES job(id), kind TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, yaml TEXT NOT NULL, lines TEXT, withdrawn TEXT, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;
CREATE TABLE life (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), reduction INTEGER NOT NULL, json TEXT NOT NULL) STRICT;
CREATE TABLE mark (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), at TEXT NOT NULL, time_s REAL NOT NULL, text TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "mark" VALUES(1,2,'2026-12-01T21:11:20.015494Z',1.95,'a noise at idle','2026-12-01','01a23372-a0cf-7754-abb5-3cc2d9e356c7','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE note (id INTEGER PRIMARY KEY, day TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, kept_at TEXT NOT NULL, withdrawn TEXT, uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', UNIQUE (at, text)) STRICT;
INSERT INTO "note" VALUES(1,'2026-12-01','2026-12-01T21:11:18.666904Z','tester','drip at the rear main seal: wiped','2026-12-01T21:11:18.668602Z',NULL,'01a23372-9b8c-772c-b245-19deb5f71886','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11');
CREATE TABLE outbox (seq INTEGER PRIMARY KEY, mark INTEGER NOT NULL, what TEXT NOT NULL, number INTEGER, key TEXT) STRICT;
CREATE TABLE pull (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES recording(id), engine_id INTEGER REFERENCES engine(id), part INTEGER NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL, run INTEGER NOT NULL, day TEXT NOT NULL, mounting INTEGER NOT NULL, purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT, top_rpm REAL, band_mean_n_m REAL, uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', told TEXT NOT NULL DEFAULT '[]', reading INTEGER NOT NULL DEFAULT 1, UNIQUE (recording_id, part)) STRICT;
INSERT INTO "pull" VALUES(1,1,1,0,'sweep','2026-03-02T10:00:00Z',1,'2026-03-02',1,'pull','spark: 28 deg
pressure: 98500 Pa
temperature: 295.15 K
humidity: 0.5
',NULL,NULL,6418.78,1.84826232287008906498e+02,'01a23372-6894-71e6-aed7-29f8d65f4b0a','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11','[{"fact":"pressure","from":"channel","at":"2026-03-02T10:00:00Z","age_s":0,"u":100},{"fact":"temperature","from":"channel","at":"2026-03-02T10:00:00Z","age_s":0,"u":0.5},{"fact":"humidity","from":"channel","at":"2026-03-02T10:00:00Z","age_s":0,"u":0.03},{"fact":"time","from":"typed","at":"2026-03-02T10:00:00Z"},{"fact":"units","from":"file"},{"fact":"set-up","from":"typed"},{"fact":"engine","from":"default"},{"fact":"cell","from":"default"}]',1);
CREATE TABLE recorder (id INTEGER PRIMARY KEY, name TEXT NOT NULL, version INTEGER NOT NULL, yaml TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, withdrawn TEXT, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL, UNIQUE (name, version)) STRICT;
CREATE TABLE recorder_mark (fingerprint TEXT PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL) STRICT;
CREATE TABLE recording (id INTEGER PRIMARY KEY, engine_id INTEGER REFERENCES engine(id), name TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL, rows INTEGER NOT NULL, channels INTEGER NOT NULL, channel_map TEXT, run_s REAL, added_at TEXT NOT NULL, measured_at TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', recorder TEXT, clock TEXT) STRICT;
INSERT INTO "recording" VALUES(1,1,'small.csv',X'54696D65205B735D2C456E67696E65205370656564205B72706D5D2C546F72717565205B4EC2B76D5D2C5468726F74746C65205B255D2C4F696C205072657373757265205B6261725D2C4F696C2054656D70205BC2B0435D2C436F6F6C616E742054656D70205BC2B0435D2C4C616D6264612C4675656C205072657373757265205B6261725D2C4261726F205B6850615D2C496E74616B65204169722054656D70205BC2B0435D2C48756D6964697479205B255D2C4B6E6F636B20436F756E740A302C323530332E33372C33332E303930352C31392E373735362C332E36343437392C38352C38302C302E38383132372C332E30303031382C3938392E3939332C32342E393538372C35302E313230342C300A302E322C323439372E382C33342E333532322C32302E313432392C332E36373233372C38352E303838392C38302E303838392C302E3838313532362C332E30313939382C3939302E3038312C32342E383836352C35302E313534332C300A302E342C323439392E33312C33342E303830312C31392E393037352C332E36393538312C38352E313737382C38302E313737382C302E38373839332C332E30303037322C3939302E3033372C32342E393535382C34392E3539392C300A302E362C323439372E32362C33352E363437312C31392E393635322C332E36373731342C38352E323636372C38302E323636372C302E3837373738392C332E30323234382C3939302E3031352C32342E393237382C34392E393031362C300A302E382C323530302E382C33342E353632392C31392E383437312C332E36383233382C38352E333535362C38302E333535362C302E3837373931332C332E30303533382C3939302E30352C32352E303339372C35302E333338312C300A312C323439382E31312C33332E363732312C32302E303938322C332E363732322C38352E343434342C38302E343434342C302E3837373430322C332E30303232342C3938392E3937392C32342E383935372C35302E333738372C300A312E322C323439382E35382C33342E303331362C31392E393337312C332E36353934382C38352E353333332C38302E353333332C302E3837393030382C322E393839312C3939302E3038332C32342E393436392C35302E313739372C300A312E342C323439392E30342C33342E343736352C31392E373136322C332E363731342C38352E363232322C38302E363232322C302E3837373036322C322E39393039352C3939302E3131332C32342E393434362C34392E39382C300A312E362C323530312E31392C33342E343937322C32302E343434342C332E3634312C38352E373131312C38302E373131312C302E3838313236352C322E39393930382C3938392E3930392C32352E303533372C35302E3233372C300A312E382C323530332E35342C33332E333638382C32302E303935342C332E36393638372C38352E382C38302E382C302E3838313930382C332E303131352C3939302E3031362C32352E303139322C35302E313737332C300A322C323530302E37342C3136362E3735342C3130302E33362C332E36343635382C38352E383838392C38302E383838392C302E3838363334392C332E30303037392C3939302E3033352C32352E303030382C34392E373632352C300A322E322C323537372E372C3136382E3136362C39392E383534342C332E36373836312C38352E393737382C38302E393737382C302E3838313533352C332E30303537392C3939302E3032332C32342E393938362C34392E383232322C300A322E342C323635372E30312C3136392E35392C3130302E3335312C332E37333031362C38362E303636372C38312E303636372C302E3838313634372C322E393836322C3938392E3936372C32352E303035322C34392E393532322C300A322E362C323734302E31342C3136392E3338362C3130302E3038382C332E37333835332C38362E313535362C38312E313535362C302E3838303131322C322E393934392C3938392E3933362C32342E393839332C34392E363337322C300A322E382C323831352E35342C3137312E3839342C3130302E3131342C332E37343032392C38362E323434342C38312E323434342C302E3838313336342C322E39393333352C3939302E3030352C32342E393839332C34392E393835392C300A332C323839382E30322C3137312E3738392C3130302E3231372C332E37343634322C38362E333333332C38312E333333332C302E3837363937392C322E39393832382C3938392E3938362C32342E393633382C35302E303632362C300A332E322C323937392E37362C3137342E3830342C3130302E3030332C332E37393034382C38362E343232322C38312E343232322C302E3837383738342C322E39393731342C3938392E3931392C32342E3939362C34392E39382C300A332E342C333036302E31362C3137342E3832322C39392E373338382C332E38333037362C38362E353131312C38312E353131312C302E3838333230362C332E30313531372C3939302E3032372C32352E303137312C34392E393537332C300A332E362C333134302E38332C3137362E3738312C3130302E3031382C332E38303438322C38362E362C38312E362C302E3838323133352C332E30303536322C3938392E3939372C32342E393238332C35302E313132342C300A332E382C333231382E33342C3137362E3631352C39392E393039322C332E38313833392C38362E363838392C38312E363838392C302E3837393135312C332E30303434372C3939302E3035362C32342E3937362C35302E323037382C300A342C333330352E31362C3137382E3233372C3130302E3237322C332E3832322C38362E373737382C38312E373737382C302E3838323530352C322E39393631372C3939302E3132392C32342E393236352C34392E373836342C300A342E322C333338302E37352C3137382E3938332C39392E393338342C332E38353230332C38362E383636372C38312E383636372C302E3838323435322C332E30303730362C3938392E3936312C32352E303933342C34392E393035312C300A342E342C333435372E352C3137392E3631312C3130302E3033372C332E38373139382C38362E393535362C38312E393535362C302E38373833352C332E30303234322C3939302E3036362C32342E393433382C35302E313338322C300A342E362C333533392E38312C3137382E3738372C39392E383136322C332E38393531362C38372E303434342C38322E303434342C302E3838313738392C322E39393834392C3938392E3939372C32342E393439312C34392E363430362C300A342E382C333631392E35312C3138332E3330362C39392E383836372C332E38383739392C38372E313333332C38322E313333332C302E3838343233322C332E30303334392C3938392E3935312C32342E3938322C35302E3335322C300A352C333730322E35392C3138302E3830312C39392E373035352C332E39353133322C38372E323232322C38322E323232322C302E3838303234352C322E39393530362C3939302E30312C32352E303134362C34392E383336312C300A352E322C333738312E31362C3138322E3036362C39392E393231322C332E39333033362C38372E333131312C38322E333131312C302E3837383532312C332E30303930362C3939302E3037362C32342E3938312C34392E3439322C300A352E342C333836322E30392C3138332E3934332C39392E393430392C332E39373632312C38372E342C38322E342C302E3838303832352C332E303035362C3939302E3033372C32342E393438382C34392E3830322C300A352E362C333934312E31342C3138332E3736322C3130302E3239392C332E39373537362C38372E343838392C38322E343838392C302E3838303134312C332E303130312C3939302E3031382C32352E3038322C34392E393432342C300A352E382C343031382E382C3138342E3037332C3130302E3334382C332E39393235342C38372E353737382C38322E353737382C302E3837373630382C332E30303030382C3938392E3931312C32352E303034342C34392E393131372C300A362C343130302E39332C3138342E3434342C39392E373039312C332E39383632332C38372E363636372C38322E363636372C302E3837373039322C322E39393532372C3938392E3939362C32342E393439312C35302E313233382C300A362E322C343138312E38312C3138332E3836372C3130302E3438322C342E30323138392C38372E373535362C38322E373535362C302E3838333938342C322E39393235312C3939302E3036312C32352E303239332C34392E383638322C300A362E342C343235372E34342C3138342E3634392C3130302E3031362C342E303433322C38372E383434342C38322E383434342C302E3838313232382C332E30303433372C3939302E3131312C32342E393238382C34392E393537332C300A362E362C343333372E332C3138342E3239372C3130302E3130332C342E30323830392C38372E393333332C38322E393333332C302E3837393037372C332E30303236332C3938392E3934382C32352E303038322C34392E383337372C300A362E382C343432302E37312C3138352E3736322C39392E383433352C342E30383636362C38382E303232322C38332E303232322C302E3837383033332C332E30303631322C3938392E3933352C32352E303636342C34392E383434392C300A372C343530302E312C3138342E3335352C3130302E3035362C342E303937392C38382E313131312C38332E313131312C302E3838343238392C322E39393537392C3939302E3032382C32342E3937332C35302E323334342C300A372E322C343538302E38332C3138352E3432382C3130302E3137312C342E31313133352C38382E322C38332E322C302E3838323232372C322E393935392C3938392E3937392C32342E393636382C34392E353633352C300A372E342C343635372E39392C3138342E3935332C39392E373832372C342E31333532352C38382E323838392C38332E323838392C302E3838363235362C322E39393834362C3938392E3936322C32342E393737372C35302E313430352C300A372E362C343733382E32322C3138332E3735372C3130302E3131372C342E31313432342C38382E333737382C38332E333737382C302E38383536392C332E30303138352C3938392E3935362C32352E303035392C34392E393732392C300A372E382C343831372E39322C3138352E3435392C3130302E312C342E31363435342C38382E343636372C38332E343636372C302E3837343437312C332E30303639342C3939302E3030362C32352E303039312C34392E393131312C300A382C343930312E36352C3138342E3730362C3130302E3133382C342E31343935372C38382E353535362C38332E353535362C302E3838313636372C332E30303730312C3938392E3934332C32352E303636382C35302E333734392C300A382E322C343937372E39392C3138362E3130372C3130302E3237322C342E32303436332C38382E363434342C38332E363434342C302E3837353830332C322E39383732312C3939302E3036362C32342E3930342C35302E313733352C300A382E342C353036312E32362C3138342E3731382C3130302E3039312C342E32303937362C38382E373333332C38332E373333332C302E3838313433392C332E303230392C3938392E3933322C32352E313331372C35302E303834362C300A382E362C353134302E322C3138342E3836362C3130302E3132372C342E31393139362C38382E383232322C38332E383232322C302E3838313039332C322E39383733342C3939302E3031342C32342E393839342C34392E393230362C300A382E382C353231382E33312C3138342E3537362C39392E373535362C342E32323838352C38382E393131312C38332E393131312C302E3838303132362C322E39393939372C3938392E3930332C32352E303036392C35302E303731352C300A392C353239372E37322C3138332E3636342C39392E3937382C342E32353832352C38392C38342C302E38383139372C332E30313438342C3939302E3032362C32352E303431342C34392E373834382C300A392E322C353338332E32332C3138322E3935312C39392E393737372C342E32363831362C38392E303838392C38342E303838392C302E3838303134372C332E30303033382C3938392E3938392C32352E303137332C35302E303037332C300A392E342C353436342E31362C3138332E3135332C3130302E3436382C342E32373032352C38392E313737382C38342E313737382C302E3838343334392C332E303034312C3938392E3936382C32342E393834342C35302E363033312C300A392E362C353534312E36322C3137392E3837352C3130302E3231322C342E32393630342C38392E323636372C38342E323636372C302E3837393431342C332E30313535332C3938392E3939352C32342E393937352C34392E363034382C300A392E382C353631382E32322C3138302E30332C39392E393034332C342E33313737322C38392E333535362C38342E333535362C302E3838323035312C332E30313035362C3939302E3031332C32352E303131382C34392E373935332C300A31302C353639392E38352C3137372E3835342C3130302E3037322C342E33323630362C38392E343434342C38342E343434342C302E3838313332342C322E39393234352C3938392E3937352C32342E393439342C34392E393938312C300A31302E322C353738312E38322C3137392E3335312C39392E383635382C342E33353134352C38392E353333332C38342E353333332C302E3838333339392C322E39393932322C3939302E3035392C32352E303233342C35302E3037362C300A31302E342C353836302C3137382E3837322C39392E393032332C342E33393432322C38392E363232322C38342E363232322C302E3837373335372C322E39383632382C3939302E3130392C32352E303030392C34392E393332392C300A31302E362C353933392E33372C3137372E3837322C39392E393832392C342E33383939392C38392E373131312C38342E373131312C302E3837383232342C322E39393330372C3938392E3937342C32342E393036342C34392E353435312C300A31302E382C363031372E382C3137362E3232352C39392E373634392C342E34303131362C38392E382C38342E382C302E3838303434322C322E39393739372C3938392E3935312C32352E303430372C34392E393338322C300A31312C363130312E30342C3137352E37312C3130302E3031372C342E34303631322C38392E383838392C38342E383838392C302E3837363336382C322E39393734382C3939302E3030372C32352E303731322C35302E313533372C300A31312E322C363138302E35362C3137342E3537392C3130302E3232312C342E34333033362C38392E393737382C38342E393737382C302E3837393736352C322E39383432312C3938392E3934392C32342E393836352C34392E393433372C300A31312E342C363235372E39322C3137332E3237342C3130302E3036342C342E34353730342C39302E303636372C38352E303636372C302E3838313432362C332E30313332392C3938392E3937382C32342E393832352C34392E393233322C300A31312E362C363334312E31332C3137312E3637342C39392E393734372C342E34373233392C39302E313535362C38352E313535362C302E3838323637332C332E30323334392C3939302E3030362C32352E303039362C35302E303936322C300A31312E382C363431382E37382C3137302E39362C39392E3833362C342E34353536352C39302E323434342C38352E323434342C302E3837383239342C322E393934312C3939302E3033322C32352E303239382C35302E313534352C300A31322C363439362E32382C31372E343233352C342E383730392C342E34383937312C39302E333333332C38352E333333332C302E3837323130342C322E39393130392C3939302E3037322C32342E393034322C34392E393435382C300A31322E322C363333372E38372C31382E393334362C342E36313439312C342E34373233332C39302E343232322C38352E343232322C302E3838333439312C332E30303233312C3938392E3937372C32352E303231312C34392E383033372C300A31322E342C363137382E33392C31352E363634312C352E31383137322C342E34353137362C39302E353131312C38352E353131312C302E3838343730382C322E39393435372C3939302E3036342C32352E303836312C35302E3135312C300A31322E362C363032302E31332C31362E323030342C342E36363436382C342E34343032382C39302E362C38352E362C302E38373238312C322E39383036322C3938392E3933372C32342E393131392C34392E393931332C300A31322E382C353836302E39382C31372E353738382C342E39363830342C342E33373437352C39302E363838392C38352E363838392C302E3838323337312C322E39393839352C3939302E3035322C32352E303137362C35302E30322C300A31332C353730302E39362C31382E343938342C342E39353731362C342E33343135342C39302E373737382C38352E373737382C302E3837373836372C322E39393937352C3938392E3937332C32342E3934372C34392E373238392C300A31332E322C353533392E352C31372E303730332C342E37383637382C342E33323634352C39302E383636372C38352E383636372C302E3838333133362C322E39393931362C3938392E3937352C32352E303037352C34392E383638372C300A31332E342C353337392E392C31372E383630382C352E30313237392C342E32383839332C39302E393535362C38352E393535362C302E3838313732382C332E30303830372C3939302E3130312C32342E393934382C35302E303239322C300A','9e9c4329b577af59a96292a2360586fd5ca6e75e34fbdd57bab1f4ea1378120c',68,13,NULL,13.4,'2026-12-01T21:11:05.619809Z','2026-03-02T10:00:00Z','2026-03-02','01a23372-6893-7741-8c55-1822abd06230','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11',NULL,'typed');
INSERT INTO "recording" VALUES(2,1,'file:live.txt',X'6C69766520323032362D31322D30315432313A31313A31392E3238323839335A2066726F6D2066696C653A6C6976652E7478743A205B7B226E616D65223A22456E67696E65207370656564222C22756E6974223A2272706D227D2C7B226E616D65223A224F696C207072657373757265222C22756E6974223A22626172227D5D0A','7533e31a4e60e74e94b13e133743b15a36d8cc44163634a331d0175e22278a2c',0,2,NULL,NULL,'2026-12-01T21:11:19.282930Z',NULL,'2026-12-01','01a23372-9df2-75a8-9628-44ac8c8bdfa3','01a23372-633d-76c0-b716-953326ac0fe9','01a23372-6489-717d-a6f2-3688afa7ab11',NULL,NULL);
CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
INSERT INTO "setting" VALUES('identity','eba1f4fd1ab06cb3529406369f6a5bf0');
INSERT INTO "setting" VALUES('zone','UTC');
INSERT INTO "setting" VALUES('cell_uid','01a23372-633d-76c0-b716-953326ac0fe9');
INSERT INTO "setting" VALUES('shop','An older shop');
CREATE TABLE shop (address TEXT PRIMARY KEY, role TEXT NOT NULL, joined_at TEXT NOT NULL, shipped INTEGER NOT NULL, shipped_at TEXT, clock_s REAL) STRICT;
CREATE TABLE stream (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), source TEXT NOT NULL, channels TEXT NOT NULL, durability TEXT NOT NULL, began_at TEXT NOT NULL, ended_at TEXT, how TEXT, rows INTEGER) STRICT;
INSERT INTO "stream" VALUES(2,'file:live.txt','[{"name":"Engine speed","unit":"rpm"},{"name":"Oil pressure","unit":"bar"}]','power','2026-12-01T21:11:19.282893Z','2026-12-01T21:11:38.790638Z','stopped',40);
CREATE TABLE stream_block (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), rows INTEGER NOT NULL, first_s REAL, last_s REAL, stored_at TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL, sequence INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO "stream_block" VALUES(1,2,40,0.0,1.95,'2026-12-01T21:11:19.283308Z',X'00000000000000000000000000208C409A999999999909409A9999999999A93F0000000000288C40AE47E17A14AE09409A9999999999B93F0000000000308C40C3F5285C8FC20940333333333333C33F0000000000208C40D7A3703D0AD709409A9999999999C93F0000000000288C40EC51B81E85EB0940000000000000D03F0000000000308C409A99999999990940333333333333D33F0000000000208C40AE47E17A14AE0940666666666666D63F0000000000288C40C3F5285C8FC209409A9999999999D93F0000000000308C40D7A3703D0AD70940CDCCCCCCCCCCDC3F0000000000208C40EC51B81E85EB0940000000000000E03F0000000000288C409A999999999909409A9999999999E13F0000000000308C40AE47E17A14AE0940333333333333E33F0000000000208C40C3F5285C8FC20940CDCCCCCCCCCCE43F0000000000288C40D7A3703D0AD70940666666666666E63F0000000000308C40EC51B81E85EB0940000000000000E83F0000000000208C409A999999999909409A9999999999E93F0000000000288C40AE47E17A14AE0940333333333333EB3F0000000000308C40C3F5285C8FC20940CDCCCCCCCCCCEC3F0000000000208C40D7A3703D0AD70940666666666666EE3F0000000000288C40EC51B81E85EB0940000000000000F03F0000000000308C409A99999999990940CDCCCCCCCCCCF03F0000000000208C40AE47E17A14AE09409A9999999999F13F0000000000288C40C3F5285C8FC20940666666666666F23F0000000000308C40D7A3703D0AD70940333333333333F33F0000000000208C40EC51B81E85EB0940000000000000F43F0000000000288C409A99999999990940CDCCCCCCCCCCF43F0000000000308C40AE47E17A14AE09409A9999999999F53F0000000000208C40C3F5285C8FC20940666666666666F63F0000000000288C40D7A3703D0AD70940333333333333F73F0000000000308C40EC51B81E85EB0940000000000000F83F0000000000208C409A99999999990940CDCCCCCCCCCCF83F0000000000288C40AE47E17A14AE09409A9999999999F93F0000000000308C40C3F5285C8FC20940666666666666FA3F0000000000208C40D7A3703D0AD70940333333333333FB3F0000000000288C40EC51B81E85EB0940000000000000FC3F0000000000308C409A99999999990940CDCCCCCCCCCCFC3F0000000000208C40AE47E17A14AE09409A9999999999FD3F0000000000288C40C3F5285C8FC20940666666666666FE3F0000000000308C40D7A3703D0AD70940333333333333FF3F0000000000208C40EC51B81E85EB0940','9e9e8ba4c3363f3192b098bab572398cd17558ca9a7637f3604aa616bf5e1233',0);
CREATE TABLE stream_pull (recording_id INTEGER NOT NULL REFERENCES stream(recording_id), cut_id INTEGER NOT NULL UNIQUE REFERENCES recording(id), from_s REAL NOT NULL, to_s REAL NOT NULL, near TEXT NOT NULL, block INTEGER, skip INTEGER, rows INTEGER, sensors TEXT) STRICT;
CREATE TABLE trip_time (trip_id INTEGER NOT NULL REFERENCES alarm_trip(id), recording_id INTEGER NOT NULL REFERENCES stream(recording_id), time_s REAL NOT NULL, PRIMARY KEY (trip_id, recording_id)) STRICT;
CREATE TABLE verdict (id INTEGER PRIMARY KEY, at TEXT NOT NULL, engine_id INTEGER REFERENCES engine(id), question TEXT NOT NULL, pair TEXT NOT NULL, pulls TEXT NOT NULL, says TEXT NOT NULL, json TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', readings TEXT) STRICT;
CREATE TABLE writer (uid TEXT PRIMARY KEY, cell TEXT NOT NULL, place TEXT NOT NULL, at TEXT NOT NULL, first_seq INTEGER) STRICT;
INSERT INTO "writer" VALUES('01a23372-6489-717d-a6f2-3688afa7ab11','01a23372-633d-76c0-b716-953326ac0fe9','bb88d1e469cc453a83f86e7545a006bc 11165851 1796159464.144774357','2026-12-01T21:11:04.585246Z',NULL);
CREATE INDEX recording_sha256 ON recording(sha256);
CREATE INDEX pull_engine ON pull(engine_id, id);
CREATE INDEX build_engine ON build(engine_id, id);
CREATE INDEX build_record_build ON build_record(build_id, kind, id);
CREATE INDEX build_record_batch ON build_record(lower(batch));
CREATE INDEX note_day ON note(day, at);
CREATE INDEX trip_time_recording ON trip_time(recording_id, time_s);
CREATE INDEX stream_pull_recording ON stream_pull(recording_id, from_s);
CREATE INDEX found_owner ON found(belongs, owner_id);
CREATE INDEX figures_digest ON figures(digest);
CREATE UNIQUE INDEX engine_uid ON engine(uid);
CREATE UNIQUE INDEX recording_uid ON recording(uid);
CREATE UNIQUE INDEX pull_uid ON pull(uid);
CREATE UNIQUE INDEX verdict_uid ON verdict(uid);
CREATE UNIQUE INDEX calibration_uid ON calibration(uid);
CREATE UNIQUE INDEX build_uid ON build(uid);
CREATE UNIQUE INDEX build_record_uid ON build_record(uid);
CREATE UNIQUE INDEX attachment_uid ON attachment(uid);
CREATE UNIQUE INDEX note_uid ON note(uid);
CREATE UNIQUE INDEX mark_uid ON mark(uid);
CREATE UNIQUE INDEX alarm_trip_uid ON alarm_trip(uid);
CREATE UNIQUE INDEX found_uid ON found(uid);
CREATE UNIQUE INDEX change_log_uid ON change_log(uid);
CREATE UNIQUE INDEX stream_block_place ON stream_block(recording_id, sequence);
CREATE INDEX recording_began ON recording(engine_id, measured_at, added_at);
CREATE INDEX hold_pull ON hold(pull_id, answered_at);
CREATE INDEX verdict_pair ON verdict(pair, pulls);
CREATE INDEX job_record_job ON job_record(job_id, id);
COMMIT;
