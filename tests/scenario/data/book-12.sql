PRAGMA application_id = 1163349297;
PRAGMA user_version = 12;
BEGIN TRANSACTION;
CREATE TABLE alarm_trip (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), at TEXT NOT NULL, time_s REAL NOT NULL, from_s REAL NOT NULL, to_s REAL NOT NULL, name TEXT NOT NULL, action TEXT NOT NULL, says TEXT NOT NULL, value REAL, bound REAL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE amendment (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id), reading INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, reason TEXT NOT NULL, changes TEXT NOT NULL, undoes INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL, UNIQUE (pull_id, reading)) STRICT;
CREATE TABLE "attachment" (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL, owner_id INTEGER NOT NULL, place TEXT NOT NULL, name TEXT NOT NULL, media TEXT NOT NULL, bytes_count INTEGER NOT NULL, sha256 TEXT NOT NULL, note TEXT, at TEXT NOT NULL, who TEXT NOT NULL, withdrawn TEXT, bytes BLOB NOT NULL, taken_at TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', UNIQUE (belongs, owner_id, place, sha256)) STRICT;
INSERT INTO "attachment" VALUES(1,'build',1,'','note.txt','text/plain',18,'d1ba4dea312bab30e0639b44749d54942221e31d7b3dbd7c7a6b4bc543c5ef04',NULL,'2026-11-28T16:20:20.841216Z','tester',NULL,X'706C756773206C6F6F6B6564206576656E0A',NULL,'2026-11-28','01a222f5-24e9-7bad-ae8a-97423b311e0b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "attachment" VALUES(2,'pull',1,'','plug.txt','text/plain',16,'65400b55c46a50f61b8ffda5cb3c3e07593d7b7d7c7b82ae94a0e62672a685c7','plug of cylinder 4','2026-11-28T18:55:05.533677Z','tester',NULL,X'706C75672C2063796C696E6465722034',NULL,'2026-11-28','01a22382-d13e-7b95-aab7-43f9f6e8db7b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE build (id INTEGER PRIMARY KEY, engine_id INTEGER NOT NULL REFERENCES engine(id), name TEXT NOT NULL, started_at TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "build" VALUES(1,1,'build','2026-11-28T16:20:20.749914Z','2026-11-28','01a222f5-248e-7ac8-90b5-01d2aa7b05ba','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE build_record (id INTEGER PRIMARY KEY, build_id INTEGER NOT NULL REFERENCES build(id), kind TEXT NOT NULL, item TEXT, position TEXT, batch TEXT, serial TEXT, number TEXT, at TEXT NOT NULL, who TEXT NOT NULL, yaml TEXT NOT NULL, withdrawn TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "build_record" VALUES(1,1,'facts',NULL,NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.749560Z','tester','mains: 0
at: "2026-11-28T16:20:20.749560Z"
',NULL,'2026-11-28','01a222f5-248e-77eb-8543-e5602cd89be4','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(2,1,'items','main clearance',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750032Z','tester','item: "main clearance"
kind: "length"
by: main
times: none
low: 4.4999999999999996e-05 m
high: 7.5e-05 m
needed: yes
caution: "A tight bearing seizes and a loose one starves the rest; the bearing maker''s figure decides"
',NULL,'2026-11-28','01a222f5-248e-7999-af40-2ada8e418167','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(3,1,'items','rod clearance',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750067Z','tester','item: "rod clearance"
kind: "length"
by: rod
times: none
low: 4e-05 m
high: 7.000000000000001e-05 m
needed: yes
caution: "A rod that lets go comes through the block; the bearing maker''s figure decides"
',NULL,'2026-11-28','01a222f5-248e-70dc-b339-65b1bf735feb','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(4,1,'items','crank end float',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750095Z','tester','item: "crank end float"
kind: "length"
by: engine
times: none
low: 8e-05 m
high: 0.00025 m
needed: yes
',NULL,'2026-11-28','01a222f5-248e-725f-99b5-133dc67d4e76','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(5,1,'items','rod side clearance',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750120Z','tester','item: "rod side clearance"
kind: "length"
by: rod
times: none
low: 0.00015 m
high: 0.0006 m
needed: no
',NULL,'2026-11-28','01a222f5-248e-7c0b-a28d-3224f7cc68c7','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(6,1,'items','cylinder bore',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750147Z','tester','item: "cylinder bore"
kind: "length"
by: bore
times: none
taper: 1e-05 m
ovality: 1e-05 m
needed: yes
note: "with the torque plate on where the maker asks for one"
',NULL,'2026-11-28','01a222f5-248e-7ec7-8943-6b897948bef0','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(7,1,'items','piston',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750170Z','tester','item: "piston"
kind: "length"
by: cylinder
times: none
needed: yes
note: "at the gauge point the piston''s maker names"
',NULL,'2026-11-28','01a222f5-248e-76c1-b01a-b069777f5a55','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(8,1,'items','piston clearance',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750196Z','tester','item: "piston clearance"
kind: "length"
by: cylinder
times: none
low: 6e-05 m
high: 0.00011 m
larger: "cylinder bore"
smaller: "piston"
needed: no
caution: "A tight piston seizes; the piston maker''s figure and gauge point decide"
',NULL,'2026-11-28','01a222f5-248e-716e-a0f1-b0cd49c56ed8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(9,1,'items','top ring gap',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750222Z','tester','item: "top ring gap"
kind: "length"
by: cylinder
times: bore
low: 0.004
high: 0.006
needed: yes
caution: "A gap that closes when hot breaks ring and land; the ring maker''s figure decides"
',NULL,'2026-11-28','01a222f5-248e-7749-8afb-3bae65d2bde1','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(10,1,'items','second ring gap',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750248Z','tester','item: "second ring gap"
kind: "length"
by: cylinder
times: bore
low: 0.0045
high: 0.0075
needed: yes
caution: "A gap that closes when hot breaks ring and land; the ring maker''s figure decides"
',NULL,'2026-11-28','01a222f5-248e-7a0d-a39e-6dfd3d51abed','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(11,1,'items','oil rail gap',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750271Z','tester','item: "oil rail gap"
kind: "length"
by: cylinder
times: none
low: 0.00038 m
needed: no
',NULL,'2026-11-28','01a222f5-248e-733d-aafd-73d6c4ae5ef3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(12,1,'items','deck height',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750294Z','tester','item: "deck height"
kind: "length"
by: cylinder
times: none
needed: no
note: "piston below the deck at top dead centre is positive"
',NULL,'2026-11-28','01a222f5-248e-78a8-b4ee-4ca31c8b93bd','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(13,1,'items','chamber volume',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750317Z','tester','item: "chamber volume"
kind: "volume"
by: cylinder
times: none
spread: 0.015
needed: yes
',NULL,'2026-11-28','01a222f5-248e-74ab-b628-81e36e57a568','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(14,1,'items','guide clearance',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750342Z','tester','item: "guide clearance"
kind: "length"
by: valve
times: none
low: 2e-05 m
high: 7.000000000000001e-05 m
needed: no
',NULL,'2026-11-28','01a222f5-248e-78d9-a9bb-949f48f0566d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(15,1,'items','spring height',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750366Z','tester','item: "spring height"
kind: "length"
by: valve
times: spring_height
low: 0.99
high: 1.01
needed: no
',NULL,'2026-11-28','01a222f5-248e-799d-b576-a6dab1ededca','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(16,1,'items','spring seat load',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750391Z','tester','item: "spring seat load"
kind: "force"
by: valve
times: spring_force
low: 0.95
high: 1.08
needed: yes
caution: "A compressed spring stores enough to injure - use the tool made for it"
',NULL,'2026-11-28','01a222f5-248e-7b28-b035-d42e0d121cd3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(17,1,'items','valve to piston',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750416Z','tester','item: "valve to piston"
kind: "length"
by: valve
times: none
low: 0.002 m
needed: no
caution: "Turn by hand until this is proved - a valve that meets its piston ends the engine"
',NULL,'2026-11-28','01a222f5-248e-743a-8749-64d5bcc41e94','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(18,1,'items','port flow',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750440Z','tester','item: "port flow"
kind: "volume flow"
by: valve
times: none
spread: 0.03
needed: no
',NULL,'2026-11-28','01a222f5-248e-77b6-b80c-1852e9b92187','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(19,1,'items','turning torque break-away',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750463Z','tester','item: "turning torque break-away"
kind: "torque"
by: engine
times: none
needed: no
',NULL,'2026-11-28','01a222f5-248e-7100-a53d-3c5aeb5973bb','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(20,1,'items','turning torque running',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750486Z','tester','item: "turning torque running"
kind: "torque"
by: engine
times: none
needed: no
',NULL,'2026-11-28','01a222f5-248e-7f20-bc0d-d197ed9ed827','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(21,1,'items','leak-down',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750516Z','tester','item: "leak-down"
kind: "ratio"
by: cylinder
times: none
high: 0.1
change: 0.03
needed: no
caution: "Pressure turns the engine - lock the crank and keep hands away from belts and shaft"
note: "compare only readings of one tester - its orifice and supply pressure make the figure"
',NULL,'2026-11-28','01a222f5-248f-7387-a6f6-f7c0569ab1af','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(22,1,'items','cranking pressure',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750543Z','tester','item: "cranking pressure"
kind: "pressure"
by: cylinder
times: none
lowest_share: 0.75
needed: no
note: "throttle open and battery full - speed and cam make the figure"
',NULL,'2026-11-28','01a222f5-248f-746a-a92e-f5916af888f9','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(23,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750617Z','tester','list: "assembly"
step: "oil galleries brushed, blown through and plugged"
before: none
',NULL,'2026-11-28','01a222f5-248f-72ba-bb89-7ac27225c375','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(24,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750645Z','tester','list: "assembly"
step: "bearing shells seated, tangs and oil holes checked"
before: none
',NULL,'2026-11-28','01a222f5-248f-7969-9492-7f87f5241c9a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(25,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750669Z','tester','list: "assembly"
step: "crank turns freely after each main cap"
before: none
',NULL,'2026-11-28','01a222f5-248f-7f30-91ae-b97f12e87fa9','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(26,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750690Z','tester','list: "assembly"
step: "rod bolts stretched or torqued in steps and written down"
before: none
',NULL,'2026-11-28','01a222f5-248f-7543-a9f7-f7193414c47d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(27,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750712Z','tester','list: "assembly"
step: "piston and pin locks seated, gaps of the rings staggered"
before: none
',NULL,'2026-11-28','01a222f5-248f-7bb9-9fc8-de6b2619e8ca','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(28,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750734Z','tester','list: "assembly"
step: "cam degreed in on at least two cylinders"
before: none
caution: "A cam a tooth out bends valves"
',NULL,'2026-11-28','01a222f5-248f-7961-88a0-c42e364d8fef','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(29,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750756Z','tester','list: "assembly"
step: "valve to piston clearance proved through the overlap"
before: none
caution: "Turn by hand only until this is done"
',NULL,'2026-11-28','01a222f5-248f-7bde-bf57-97a2a92741a8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(30,1,'steps','assembly',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750778Z','tester','list: "assembly"
step: "oil pump turned until oil stands at every rocker"
before: none
',NULL,'2026-11-28','01a222f5-248f-70b5-9b87-b238eb74c8eb','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(31,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750800Z','tester','list: "hook-up"
step: "damper mark proved with a piston stop"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-7458-940f-facc8cda5848','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(32,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750822Z','tester','list: "hook-up"
step: "crank end float kept with the coupling fitted"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-7659-b736-11e6499e6152','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(33,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750844Z','tester','list: "hook-up"
step: "bell-housing run-out and coupling alignment read"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-70d1-b8b2-3d9dc5b1ad7b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(34,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750866Z','tester','list: "hook-up"
step: "shaft guard on and bolted"
before: first fire
caution: "A shaft that lets go kills - nobody stands in line with it"
',NULL,'2026-11-28','01a222f5-248f-7583-bfca-55812a415323','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(35,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750888Z','tester','list: "hook-up"
step: "throttle return spring pulls it shut from every place"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-783b-87d6-d51e437abf9b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(36,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.750911Z','tester','list: "hook-up"
step: "ignition and fuel stop tried and working"
before: first fire
caution: "Try it with the engine still, from the place of the operator"
',NULL,'2026-11-28','01a222f5-248f-785a-9298-817ebd2db706','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(37,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751047Z','tester','list: "hook-up"
step: "fuel lines tested for leaks at working pressure"
before: first fire
caution: "Petrol vapour burns - no heat, no sparks, extinguisher in reach"
',NULL,'2026-11-28','01a222f5-248f-700f-ab63-5974c8c4f58d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(38,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751076Z','tester','list: "hook-up"
step: "coolant filled and bled, oil level read"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-740b-b40f-8c06fe57813f','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(39,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751099Z','tester','list: "hook-up"
step: "exhaust extraction and cell air running"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-7d0f-925f-d73d60c7acc8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(40,1,'steps','hook-up',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751122Z','tester','list: "hook-up"
step: "extinguisher in reach and checked"
before: first fire
',NULL,'2026-11-28','01a222f5-248f-7479-80ac-d66f38d389a8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(41,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751147Z','tester','list: "full throttle proof"
step: "lever in the cell gives full opening, looked at in the bore"
before: load
',NULL,'2026-11-28','01a222f5-248f-7eff-adec-7d8408ba22a9','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(42,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751170Z','tester','list: "full throttle proof"
step: "second overspeed device tried and working"
before: load
',NULL,'2026-11-28','01a222f5-248f-7421-974e-25a1f1dfb93f','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(43,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751195Z','tester','list: "full throttle proof"
step: "water pressure and flow of the absorber read under flow"
before: load
',NULL,'2026-11-28','01a222f5-248f-7e7e-bb54-72a6e77a1977','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(44,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751221Z','tester','list: "full throttle proof"
step: "timing proved with the light at two speeds"
before: load
',NULL,'2026-11-28','01a222f5-248f-73aa-a6c5-814e35be0649','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(45,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751245Z','tester','list: "full throttle proof"
step: "oil pressure read by a second gauge"
before: load
',NULL,'2026-11-28','01a222f5-248f-7755-9e18-c8bf0d964389','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(46,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751269Z','tester','list: "full throttle proof"
step: "hot lash set and written down"
before: load
',NULL,'2026-11-28','01a222f5-248f-7c69-8b02-3e1d4dba5432','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(47,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751292Z','tester','list: "full throttle proof"
step: "oil and filter changed after the run-in, filter cut open and looked at"
before: load
',NULL,'2026-11-28','01a222f5-248f-7e7c-be17-0dff72ea4cb6','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(48,1,'steps','full throttle proof',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751316Z','tester','list: "full throttle proof"
step: "no leaks after the first heat"
before: load
',NULL,'2026-11-28','01a222f5-248f-7f8c-a52b-055e27377914','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(49,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751339Z','tester','list: "run-in"
step: "oil pressure within five seconds of first fire"
before: none
',NULL,'2026-11-28','01a222f5-248f-7f8c-842c-938886a5b314','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(50,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751364Z','tester','list: "run-in"
step: "flat tappets held at varying speed, never at idle"
before: none
caution: "Follow the cam maker''s run-in to the letter; his figures decide"
',NULL,'2026-11-28','01a222f5-248f-79f4-851a-102e37a75354','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(51,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751387Z','tester','list: "run-in"
step: "leak check hot"
before: none
',NULL,'2026-11-28','01a222f5-248f-7a3c-81f5-15b83eb6c931','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(52,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751412Z','tester','list: "run-in"
step: "cooled to hand-warm before the next heat"
before: none
',NULL,'2026-11-28','01a222f5-248f-743f-9274-66195417c170','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(53,1,'steps','run-in',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751436Z','tester','list: "run-in"
step: "torque again only where the maker asks for it"
before: none
',NULL,'2026-11-28','01a222f5-248f-77e2-8865-e8579c6307a3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(54,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751460Z','tester','list: "after-run"
step: "leak-down and cranking pressure of each cylinder"
before: none
',NULL,'2026-11-28','01a222f5-248f-7d83-9811-6593cd43d23e','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(55,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751485Z','tester','list: "after-run"
step: "lash of every valve"
before: none
',NULL,'2026-11-28','01a222f5-248f-7365-8a0c-f88c55132281','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(56,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751509Z','tester','list: "after-run"
step: "filter cut open and looked at"
before: none
',NULL,'2026-11-28','01a222f5-2490-7c7b-b8a6-e5cf5aea703f','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(57,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751533Z','tester','list: "after-run"
step: "plugs looked at and photographed"
before: none
',NULL,'2026-11-28','01a222f5-2490-70b9-9fbd-dd8a0d625232','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(58,1,'steps','after-run',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751557Z','tester','list: "after-run"
step: "bolts marked and looked at for movement"
before: none
',NULL,'2026-11-28','01a222f5-2490-70a3-b1b5-5ae21c77fdc0','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(59,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751582Z','tester','list: "dispatch"
step: "run-in oil out, the oil that is in it written on a tag"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-754c-81ed-798a2d8b6cea','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(60,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751607Z','tester','list: "dispatch"
step: "coolant drained or mixed against frost, written on a tag"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-78e8-b3f9-85f5a17e21d8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(61,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751632Z','tester','list: "dispatch"
step: "fuel flushed out and lines plugged"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-72ce-91a1-77e1d1aecbec','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(62,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751657Z','tester','list: "dispatch"
step: "ports, breathers and sensors plugged"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-76f4-86ae-4a40887f578c','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(63,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751682Z','tester','list: "dispatch"
step: "loose parts packed and listed"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-7641-b6e1-549074ee076a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(64,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751707Z','tester','list: "dispatch"
step: "lifted at the lift points only"
before: dispatch
caution: "Use lifting gear rated for the weight; never stand under it"
',NULL,'2026-11-28','01a222f5-2490-7d60-bba9-479702a12c52','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(65,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751732Z','tester','list: "dispatch"
step: "first-start card and care sheet inside"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-721c-82a7-f4d638855216','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(66,1,'steps','dispatch',NULL,NULL,NULL,NULL,'2026-11-28T16:20:20.751759Z','tester','list: "dispatch"
step: "photographs taken from all sides"
before: dispatch
',NULL,'2026-11-28','01a222f5-2490-7ce1-a9ef-613133247784','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "build_record" VALUES(67,1,'lash','lash','1 inlet',NULL,NULL,NULL,'2026-11-28T16:20:20.793867Z','tester','valve: "1 inlet"
hot: 0.0002 m
stage: "run-in"
at: "2026-11-28T16:20:20.793867Z"
',NULL,'2026-11-28','01a222f5-24ba-7705-b1aa-fba5cecc39a4','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE calibration (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, at TEXT NOT NULL, valid_until TEXT, value REAL, json TEXT NOT NULL, note TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE change_log (id INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, detail TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "change_log" VALUES(1,'2026-11-28T16:20:20.595145Z','tester','setting','shop','2026-11-28','01a222f5-23f3-7ba6-9ba1-cda829c93ad1','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(2,'2026-11-28T16:20:20.656128Z','tester','engine','Air-cooled flat four','2026-11-28','01a222f5-2430-72b7-b9a5-d46baed6ba86','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(3,'2026-11-28T16:20:20.711494Z','tester','recording','small.csv','2026-11-28','01a222f5-2467-7ca3-80b9-ff7762d9f6ac','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(4,'2026-11-28T16:20:20.749949Z','tester','build','build','2026-11-28','01a222f5-248e-705a-961e-0656a065461b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(5,'2026-11-28T16:20:20.750014Z','tester','facts','mains: 0
at: "2026-11-28T16:20:20.749560Z"
','2026-11-28','01a222f5-248e-7ed7-8a60-927eab51472a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(6,'2026-11-28T16:20:20.750057Z','tester','items','main clearance','2026-11-28','01a222f5-248e-7275-a755-9504a6502c4c','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(7,'2026-11-28T16:20:20.750087Z','tester','items','rod clearance','2026-11-28','01a222f5-248e-7cda-8a53-31a4d388f5f6','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(8,'2026-11-28T16:20:20.750113Z','tester','items','crank end float','2026-11-28','01a222f5-248e-7847-aba3-925165cd5b6b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(9,'2026-11-28T16:20:20.750139Z','tester','items','rod side clearance','2026-11-28','01a222f5-248e-7365-9017-ca935b928ac8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(10,'2026-11-28T16:20:20.750164Z','tester','items','cylinder bore','2026-11-28','01a222f5-248e-7e97-8ff1-56d33777ca7d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(11,'2026-11-28T16:20:20.750187Z','tester','items','piston','2026-11-28','01a222f5-248e-7c72-86dd-0d913e4218db','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(12,'2026-11-28T16:20:20.750214Z','tester','items','piston clearance','2026-11-28','01a222f5-248e-7508-b022-2cd4ade02d78','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(13,'2026-11-28T16:20:20.750240Z','tester','items','top ring gap','2026-11-28','01a222f5-248e-70ae-ab06-1cc367bbab8e','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(14,'2026-11-28T16:20:20.750265Z','tester','items','second ring gap','2026-11-28','01a222f5-248e-7912-82ea-d81dfcf945e0','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(15,'2026-11-28T16:20:20.750288Z','tester','items','oil rail gap','2026-11-28','01a222f5-248e-725f-9583-e0eb6a2dd196','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(16,'2026-11-28T16:20:20.750311Z','tester','items','deck height','2026-11-28','01a222f5-248e-766f-b079-669c6c8adcc0','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(17,'2026-11-28T16:20:20.750334Z','tester','items','chamber volume','2026-11-28','01a222f5-248e-7b45-b59d-f997c11599db','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(18,'2026-11-28T16:20:20.750359Z','tester','items','guide clearance','2026-11-28','01a222f5-248e-70e8-8e57-1c291e77d34b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(19,'2026-11-28T16:20:20.750383Z','tester','items','spring height','2026-11-28','01a222f5-248e-769e-9d41-c48999c052b5','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(20,'2026-11-28T16:20:20.750409Z','tester','items','spring seat load','2026-11-28','01a222f5-248e-71fc-9c23-2e3100695c4b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(21,'2026-11-28T16:20:20.750433Z','tester','items','valve to piston','2026-11-28','01a222f5-248e-72fd-8085-6f0a78f63a0f','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(22,'2026-11-28T16:20:20.750457Z','tester','items','port flow','2026-11-28','01a222f5-248e-7a50-a54c-0608483b32a2','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(23,'2026-11-28T16:20:20.750481Z','tester','items','turning torque break-away','2026-11-28','01a222f5-248e-7b5d-ac5f-b53a02bccef2','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(24,'2026-11-28T16:20:20.750506Z','tester','items','turning torque running','2026-11-28','01a222f5-248f-7e0f-bdd2-a294b8ba8778','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(25,'2026-11-28T16:20:20.750535Z','tester','items','leak-down','2026-11-28','01a222f5-248f-7cc8-a586-3e569d17ecc9','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(26,'2026-11-28T16:20:20.750607Z','tester','items','cranking pressure','2026-11-28','01a222f5-248f-7d58-b2bc-6a5354184f4b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(27,'2026-11-28T16:20:20.750639Z','tester','steps','assembly','2026-11-28','01a222f5-248f-7bec-807f-5fb61b0ef8e3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(28,'2026-11-28T16:20:20.750663Z','tester','steps','assembly','2026-11-28','01a222f5-248f-79bb-890b-ef5852c18d36','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(29,'2026-11-28T16:20:20.750685Z','tester','steps','assembly','2026-11-28','01a222f5-248f-7b2f-a801-fda9666dc5c9','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(30,'2026-11-28T16:20:20.750706Z','tester','steps','assembly','2026-11-28','01a222f5-248f-7ee8-98e9-2522b103e62e','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(31,'2026-11-28T16:20:20.750728Z','tester','steps','assembly','2026-11-28','01a222f5-248f-707b-9ee5-9c92d069474c','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(32,'2026-11-28T16:20:20.750750Z','tester','steps','assembly','2026-11-28','01a222f5-248f-771f-a3fc-d32569d05987','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(33,'2026-11-28T16:20:20.750772Z','tester','steps','assembly','2026-11-28','01a222f5-248f-78c9-a469-41216d58e217','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(34,'2026-11-28T16:20:20.750794Z','tester','steps','assembly','2026-11-28','01a222f5-248f-720b-86a8-b437b9fe705a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(35,'2026-11-28T16:20:20.750816Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-76af-9823-f1b51176c0ee','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(36,'2026-11-28T16:20:20.750838Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-716d-be63-5c152d7af4f3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(37,'2026-11-28T16:20:20.750860Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-77c4-b224-05d5f435e886','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(38,'2026-11-28T16:20:20.750883Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-7a60-804d-f19c466263c3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(39,'2026-11-28T16:20:20.750905Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-7016-9729-63306a64e8cb','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(40,'2026-11-28T16:20:20.751037Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-7c81-87e6-95d2c1d2813a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(41,'2026-11-28T16:20:20.751070Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-72ab-8fc4-18e1cad55374','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(42,'2026-11-28T16:20:20.751094Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-786a-bc2e-3c61274e49e0','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(43,'2026-11-28T16:20:20.751117Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-7d17-99cb-a00381c4dcf1','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(44,'2026-11-28T16:20:20.751141Z','tester','steps','hook-up','2026-11-28','01a222f5-248f-761a-83f5-648f576f2874','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(45,'2026-11-28T16:20:20.751164Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-71d3-b324-2cf9b9e4643e','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(46,'2026-11-28T16:20:20.751189Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-75f6-a659-a19637df8f68','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(47,'2026-11-28T16:20:20.751215Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-7cd6-9edb-c3dae0b70b50','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(48,'2026-11-28T16:20:20.751240Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-7190-b7e6-2771db906c00','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(49,'2026-11-28T16:20:20.751263Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-7a39-ad14-7803f2665d2f','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(50,'2026-11-28T16:20:20.751287Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-7aa8-a68f-3a1f6c1ebf9d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(51,'2026-11-28T16:20:20.751311Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-7091-b2f7-e101fb3009ea','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(52,'2026-11-28T16:20:20.751334Z','tester','steps','full throttle proof','2026-11-28','01a222f5-248f-77d2-8f80-872ed904deb1','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(53,'2026-11-28T16:20:20.751358Z','tester','steps','run-in','2026-11-28','01a222f5-248f-7f38-a54b-1e7dd02f6455','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(54,'2026-11-28T16:20:20.751382Z','tester','steps','run-in','2026-11-28','01a222f5-248f-7da9-8074-740487761570','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(55,'2026-11-28T16:20:20.751406Z','tester','steps','run-in','2026-11-28','01a222f5-248f-7f2a-82f8-fb7cc5fa9a58','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(56,'2026-11-28T16:20:20.751430Z','tester','steps','run-in','2026-11-28','01a222f5-248f-72b2-9c5a-d114b9447302','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(57,'2026-11-28T16:20:20.751455Z','tester','steps','run-in','2026-11-28','01a222f5-248f-7add-a5df-da76f634d18d','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(58,'2026-11-28T16:20:20.751480Z','tester','steps','after-run','2026-11-28','01a222f5-248f-773c-8222-7d57ea84b934','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(59,'2026-11-28T16:20:20.751504Z','tester','steps','after-run','2026-11-28','01a222f5-2490-7b58-8293-c82ae9894a1c','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(60,'2026-11-28T16:20:20.751528Z','tester','steps','after-run','2026-11-28','01a222f5-2490-74d3-a807-e92e6be9a28b','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(61,'2026-11-28T16:20:20.751552Z','tester','steps','after-run','2026-11-28','01a222f5-2490-7c97-a76a-388efbcbbd99','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(62,'2026-11-28T16:20:20.751577Z','tester','steps','after-run','2026-11-28','01a222f5-2490-7f3a-b635-07911ebcbc3a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(63,'2026-11-28T16:20:20.751602Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7c2f-91bf-9723866766f3','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(64,'2026-11-28T16:20:20.751627Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7c98-9836-afa16d78c072','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(65,'2026-11-28T16:20:20.751652Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-78de-a161-ec677b6eeb38','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(66,'2026-11-28T16:20:20.751676Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7a0a-b431-a61f65419ab8','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(67,'2026-11-28T16:20:20.751701Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7241-97b1-e0c3fccaac89','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(68,'2026-11-28T16:20:20.751727Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7bd1-9ce2-4b610a3d0b25','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(69,'2026-11-28T16:20:20.751752Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7bba-8db2-2a79874d6829','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(70,'2026-11-28T16:20:20.751779Z','tester','steps','dispatch','2026-11-28','01a222f5-2490-7910-a9ce-f86693c88900','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(71,'2026-11-28T16:20:20.799871Z','tester','lash','lash','2026-11-28','01a222f5-24c0-7494-88d2-d23f890d2626','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(72,'2026-11-28T16:20:20.841283Z','tester','attachment','note.txt','2026-11-28','01a222f5-24e9-7e39-ae07-ece384afa67a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(73,'2026-11-28T18:52:57.156015Z','tester','note','drip at the rear main seal: wiped','2026-11-28','01a22380-dbc4-7f6d-a7b7-11d9f683ccba','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(74,'2026-11-28T18:55:05.533748Z','tester','attachment','plug.txt','2026-11-28','01a22382-d13e-7ac5-ae8c-be229097c0d6','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(75,'2026-12-01T01:10:17.835728Z','tester','curve computed anew','pull 1: 0a732b1b20d0b3d5358e57a9356444c21c5d2d89d2d6fec31b8d7ae1f5d32cda, before 0a732b1b20d0b3d5358e57a9356444c21c5d2d89d2d6fec31b8d7ae1f5d32cda','2026-12-01','01a22f27-0bec-768e-9e1b-063c7c2def81','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
INSERT INTO "change_log" VALUES(76,'2026-12-01T06:05:13.944046Z','the shop','recording','file:live.txt','2026-12-01','01a23035-1158-7499-a9a0-173b11f97d82','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
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
','0a732b1b20d0b3d5358e57a9356444c21c5d2d89d2d6fec31b8d7ae1f5d32cda',X'314357450000000000000000000000002300000000000000000000000070A740000000000038A840000000000000A9400000000000C8A940000000000090AA40000000000058AB40000000000020AC400000000000E8AC400000000000B0AD40000000000078AE40000000000040AF40000000000004B040000000000068B0400000000000CCB040000000000030B140000000000094B1400000000000F8B14000000000005CB2400000000000C0B240000000000024B340000000000088B3400000000000ECB340000000000050B4400000000000B4B440000000000018B54000000000007CB5400000000000E0B540000000000044B6400000000000A8B64000000000000CB740000000000070B7400000000000D4B740000000000038B84000000000009CB840000000000000B94057651A5A0F4566402AC618B45D6366400343D7AFE889664015A549DB71AC664047CB327DA4C966407A1C82D708EF6640CA4752D2C109674036FC3C531F2B6740F2D09F999B48674077AD3AF1A55F674028A473E4E47567403127B3C4D376674082E57A7E2C7B67400F4A3FCBEF836740DC2E37B7988E674027CD03E01A9467403A9AA35D498D67403C1E3BA791866740839E456DB88C67402DB932F8329667402D41527F439C6740A6D47EC8039367400FE7C30495806740094525F3FA6D67402FBE8E56794E67400C0BD70C9C1C674051DFDDF78EEA6640F36FD39FD4CD6640C20758A0DCC366405CE09E4A3FB16640EB68D6AC268E66406C86A9B9B65D66405A038186E32E66408BD63BFA7DFE65400AFB99B939CC65403BF8CE85A9DBE73FB0A3D48B9CAFE13F6D1754A293ACE13FAA2D422425E4E03F1307080A39F5E03F91A8E7B9631DE13F81E7909CDE59E13FE81768ABDC57E13F4B5785DE4F6CE13F576D40AA7C64E13F2FAFB5F3928AE13F2C223C12287AE13F901108695E7DE13FE2DBE5D63C87E13F0E71B8552AB2E13F5A822C15E89BE13F8CDF3CB59B82E13F85B14DAD51A4E13F06F745DC0EA0E13FEDB921C526A7E13F440AA02612B4E13FEF94E43DBF9AE13F3D4794DA3B94E13F73FEBB6DB49AE13F2F8E14739A87E13F61388508FD33E13FFEC83B3B7B0AE13F478354A3FC07E13FA5531A4D6500E13F26FA64B751E2E03F90368F7B87E5E03FC6D16FD467B2E03F9C3B5B4EE94FE13F9654F17F7252E13FFB83C4045A8AE73F54F2BECF4054EB401D784A77E463EC400576AE0ACB80ED403291EF1B709BEE40C19D7FE67BB1EF4057090646D36AF04016E68D0695F6F040099FC5827588F14056232771AF18F240559CCE0AFAA4F240572169858F31F340E3ABF69F2EADF3400A019D29C62BF4405EE79D896DAEF440BFB0A6B42533F540D672D2BA8FB3F540D21D32749A28F6400565FF92769DF640578CAFB3AE1EF74024E422E47CA3F7400170BA863025F8409DDC0F702A97F840E01E0D03FFFEF840B413019EE365F9400C7FF4C5C4BDF9400ED6673DB5FFF940046426C9643FFA408A551522E495FA401AB3ED8F7701FB4013B207B23362FB401C5A4A0FF3ADFB40F05F8ACC9DE7FB40C79C62B55821FC4007BC1DD32257FC4096AF5F827F88FC404A867A3CCFD965402E3382A28BF76540732130FF5C1D664079CEDAD73F3F66408AF42EDCE55B6640EF1A5C2296806640B9CD3D6BCE9A6640E76E8F3C8BBB66402B5EB48279D866402ECC16E414EF6640A9EE9EB4E8046740DD3E7316D3056740045E61E1160A6740695E7DFAAF126740C7B80F90251D6740D07694318D226740AADA8485DC1B67403D78302945156740B6452C4F4E1B67401937F3339B246740619526868E2A67409060285A7B216740FC58D75B650F6740A2E32FE024FD6640283F51FF3ADE6640909FCDDA4DAD66405A1D35D1317C6640756C71D3016066401D724CD639566640121D4526F64366405DE8198E86216640B15FACE0FFF165409ECF782F0EC465402E86DAB691946540E1664C8B3F636540000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000005D8406C8D61B2040F071F0D33E0F2040CC47C737C2F51F4040EC6E7C62BB1F4021BF631D0EA01F405F7665DE2EC91F406BFCDDFA6B052040AD3663A7850820400068BDC6EEDC1F4098B6269BEEB51F40E5573DE72CA91F40165AA891C3A41F400881C6DFE1A91F400206966739D01F4016B0F66DE4ED1F40DF1A5D2E29DA1F400783ED95D7B71F4033A5D330CDB91F40A4B60A1613EE1F4068EA1C4261FF1F40F6BA20FB95DC1F406AFB7F1294C81F4082D0821ED1F31F40203DCE3ECB132040D3EFDB7F53062040D9D82A7F92C01F40D025D33FFF9B1F40F202F027BEAC1F4076D095B946C41F40AF5D35B07AC41F4004C1409C33CD1F40CC979E3185DB1F40F9453481FAD61F40771C364C52CD1F40CCCA2EFEC3EB1F4000000000000018400000000000001C4000000000000020400000000000002240000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000244000000000000024400000000000002440000000000000264000000000000024400000000000002440000000000000244000000000000026400000000000002440000000000000244000000000000024400000000000002240000000000000244000000000000024400000000000002440000000000000224000000000000020400000000000001C4000000000000018402C00000000000000EC51B81E8547A740B81E85EB51E8A7405C8FC2F5A889A84048E17A14AE24A940B81E85EB51D2A940000000008069AA40000000000003AB4085EB51B89EA7AB40EC51B81E0547AC4048E17A142EEDAC40B81E85EB518AAD4048E17A142E2CAE40E17A14AE47CAAE409A9999999965AF4048E17A14EE04B040C3F5285CCF55B0403D0AD7A370A1B040CDCCCCCC4CF1B040295C8FC2B544B1409A9999991994B140AE47E17AD4E4B1400AD7A370FD31B2401F85EB513882B24052B81E85EBD1B24066666666A625B3400AD7A370FD71B340F6285C8F42C5B340333333333314B440C3F5285C4F62B4401F85EB51B8B1B44014AE47E13A07B5405C8FC2F52858B54085EB51B89EA5B5401F85EB5138F2B5409A999999D943B640B81E85EBD195B6400000000000E4B64085EB51B85E33B740CDCCCCCCCC81B740D7A3703D0AD5B740C3F5285C8F24B84052B81E85EB71B8407B14AE4721C5B840E17A14AEC712B94005A26715FA446640D54EE65D904566409FC6C02F748566409237DB3D0A80664095B61C6DF0B46640605B49D444CD6640F43DE20AC0E166404EAC9069E0C666403C7B20D7415A67407689436E8F08674006A5B4FFD031674038B4F831086F67402895A90321696740A5E9E092457367402B7EBE135F7F67403A858CAA8D6C6740A683B6A20E866740DEFAB3C3937A67403D414F255BAA67400A7DA102787C67404465CB8E769F6740993F67C0F88F67407CBADB44F768674039E4FA6079A06740E3A64788EA8767407B31CB929BB56740191A9CB84E88674057FC0262228D674077715F27AD8367409E3D4DCEEE656740A6D508ECAD4E674053BEEB6E445567408A2424325CEA6640519F114D6AEF6640D9AEEABB72A866401AD3114945D96640B3313C15A6C96640A95B690409A966404B97221B52736640439C4F5686626640DD31388BA33D6640F04058031413664079EA0682E5DE6540922366469CC7654007000000000000000C00000000000000000000000000000010000000000000000D000000000000006F696C5F707265737375726500AFC818458A341741D91B033F44421741FABFB410C64A17419E6680B2B960174118616D6FA38317412F1C4F84ABAC17417870891DCBD31741704B191AAFF81741D3313EEB992018414959A0B3433D1841D850212305521841186A3DB1F36B184110E6769961851841F7909E50DFAB184116CC618247D618411B19D54550FF1841F3B0C04688201941DBA0AEF7A8321941D19769D5654D1941C53C140E41731941BF4033CC849219410A7BDD6360AC194103FBBBA447CB1941CFE9577F61EA1941E483221FB10E1A41A1A772B50C2A1A414F51930E18481A412AE3EBBF03751A4190D5EE8B4CA11A41A20EF654F1C31A41854B9C1A11DB1A41C624828C85F21A41075640808A141B41D674ADD572351B41083E6FAE6E3B1B416B69DB6455048E402D107EF84622864041545566A7F885401DC916CC81DF844047699AA6C2D98440A36FBB58D6E884407C9B1D80231A8540FF880A4352F98440AFE2BA9B5EF784405248147652D98440AEED231F0AF384406D95222D9ADE84402809F17492DE84400DE5D6D18DE284403050B34C290C854060311538CBEC84402B4FAD63C1D484400C3A5643DA0285407273086D4BF88440D65F0B364BF88440456A2E343D02854090CDB02462EC84401EBB715007F58440F15C60E4670D8540DFE5F7C7E612854042A00B7400DB844038546FA1CDD58440B58DC564FCEC844063718064CEEC8440FAE6A4CAD5D884409F549EC142FD84400CB10021ACEA8440A3C9A357C3DD85406BAFBFE31B118640964E1AF636428E400D000000000000000000000000000000130000000000000010000000000000006F696C5F74656D7065726174757265004D2529FD827976400FB1A9AC497B7640BE9EEE500B7D76409728C1D8D27E76401FE42C489D8076403E27CB3568827640C68A32A72E8476403A39A0A1EE857640A66D79A1B3877640616B65D77D8976406A4100B3468B7640950BB736108D7640C4FA0403DB8E7640EEC099C4A3907640846F73E669927640713BB4B32D94764076EC8DC6F6957640FDF468B1C19776409160E11F89997640BD677DA24C9B76407B21FD01109D7640C3B352FFD99E76406284ED0CA3A07640E8A1EBF764A27640A4F16E8A25A476401E3D0CCAEBA5764060E274AAB7A7764079A8357B82A97640D3A781A649AB76407BD88DC011AD764033114373DAAE7640AB3FDDB2A1B07640421CF2F266B27640965762632EB47640DEB00B53F7B576403880BC3FA1D2553F6A04C1B87817503FF46485E96BF24F3F5FDFD60EA0594E3F203D21F744514E3FDD8F3E1531674E3F4648FFA1E0AE4E3F38B98CF8287F4E3F1F7A8775527C4E3F178098D6A1504E3FE2015EAF06764E3FBC5422464F584E3F3BF2AF0C44584E3FAEE21F3C0E5E4E3F73B44ED18D9A4E3F5E83BDD4F16C4E3FC032AFF8FD494E3FC35BF2CE048D4E3F56749ACCAA7D4E3F9DF2A57CAA7D4E3FBB4E7E70208C4E3F4538300C596C4E3FBDFF1E11EB784E3F253D9C0F5D9C4E3FDCB9A9B85AA44E3F83EA600F13534E3FEC56A500844B4E3FD5C71555396D4E3FF2CD0572F66C4E3F2CBF8F90EC4F4E3F670B685AE3844E3FE0F13A29DC694E3F3403634752CB4F3F8466F46DFD0A503F9D8E85509EFF553F0E00000000000000000000000000000013000000000000001400000000000000636F6F6C616E745F74656D7065726174757265004E2529FD8229764010B1A9AC492B7640BE9EEE500B2D76409828C1D8D22E76401EE42C489D3076403E27CB3568327640C58A32A72E3476403C39A0A1EE357640A66D79A1B3377640616B65D77D3976406B4100B3463B7640960BB736103D7640C5FA0403DB3E7640EFC099C4A3407640846F73E669427640713BB4B32D44764077EC8DC6F6457640FDF468B1C14776409060E11F89497640BD677DA24C4B76407B21FD01104D7640C4B352FFD94E76406184ED0CA3507640E9A1EBF764527640A4F16E8A255476401F3D0CCAEB5576405FE274AAB757764079A8357B82597640D4A781A6495B76407AD88DC0115D764032114373DA5E7640AC3FDDB2A1607640421CF2F266627640975762632E647640DEB00B53F76576403366BD3FA1D2553F00AEC1B87817503FA0B586E96BF24F3F371FD80EA0594E3FA07C22F744514E3F44D03F1531674E3FA18B00A2E0AE4E3F9BFA8DF8287F4E3F65BB8875527C4E3F90BF99D6A1504E3FE5425FAF06764E3F879423464F584E3F0532B10C44584E3FB422213C0E5E4E3FF8F64FD18D9A4E3F02C4BED4F16C4E3FF371B0F8FD494E3FB99DF3CE048D4E3FAAB59BCCAA7D4E3FF133A77CAA7D4E3FA8907F70208C4E3FE278310C596C4E3FDF402011EB784E3FBD7F9D0F5D9C4E3FC7FCAAB85AA44E3F162A620F13534E3F2F96A600844B4E3F7C081755396D4E3F960E0772F66C4E3F9DFE9090EC4F4E3F074D695AE3844E3F63323C29DC694E3F4452644752CB4F3F950FF56DFD0A503F727686509EFF553F070000000000000000000000000000001D0000000000000007000000000000006C616D626461002F6DBA537D3FEC3FD9FCDE7FEE35EC3F4BF4C9943C31EC3FA980EB7D0F30EC3F8A90D986F535EC3FBE7DE486DB34EC3F04D659C82C33EC3FB3C9CA53AE2DEC3F11A26D09D021EC3F97311968BD1FEC3FB3C26B750626EC3F65F4244FB92AEC3F44549D99062DEC3F19BE0CE6E32BEC3FE4161381D934EC3F7BE6A26F574AEC3F73433615D148EC3F02477C7FCE33EC3F1D2EB34B8B1FEC3F070B86FFBC1CEC3F0D8392B1FA28EC3F873F975F2D2EEC3FDF71AD90A134EC3F44DF44239135EC3F8C17B003E835EC3F1B5F7D072C38EC3F1FF3D0610D36EC3F59A255E0EF2EEC3FAF7BED8D9425EC3F114EE8916E1AEC3F122C46167F1CEC3FD2AE64E7CE2AEC3FF094576EEE31EC3F2ADA8C53082AEC3F2AACA4E617F7EB3F03296A9FA3F05A3F03F8E95F72DD533F9E2FC41117B8533FDE86493BC3BB523F923725E39AB6523FB2CB65F022C4523F1BC5955762F0523F11941149EED2523F13C580D92DD1523FFEB1A93236B6523FC66875FD4ACD523FA022745AF3BA523F7B36D56CECBA523FE767F14B7FBE523F59BA25EED6E3523FD8AA47FCAFC7523FCBC0A9F61CB2523FABAFA62B7CDB523F68F0506402D2523FD8DAF63202D2523F34EAFD35EFDA523FBD5640AE51C7523FCC64B2FC13CF523F87676CDDF4E4523FE09DE489E3E9523F9002EB1CB8B7523F486B52B50DB3523F20C48B1EDCC7523F51AF6BD5B2C7523F82BCC44EC6B5523F8474106777D6523FF959CB90C8C5523F931742ACF49F533FE16D73D109CE533FEFB36C532D285B3F1100000000000000000000000000000010000000000000000E000000000000006675656C5F70726573737572650083ECFC3095531241E6E12D743D5A12412B3DB3065F571241E73BE309A55312416E9FF7AE3B521241871791CD835112418485DEFE23501241ADE900AB4D521241D3768B8A155812410A647AFE7F591241F40DBF840353124194671C4BDB4B12416000B34F534C12412309A117E7511241B72A29CA035312415BA59F5C534E1241BEC1D70FD94B12411AE3452BFB5012414178EA7296531241760F4A01A7551241D3D10EE5BB511241DEC3086745501241D7BAB786BC5312412D325CE044541241A4227B3DF85B124193BE7F8E4C5D124174B46C04C75912410B8F7EEA6E5012414C452400B544124108CBBBEFF9431241B3B6D7D087431241431520AB214812411FFCB11782521241903028200F5B12418D848E5981551241BA55021E39C58140B7FC082804357A40406E8AB0BB037A40A3147C1DD9B6784032EF8B3D0BB078403EBBE537E5C17840708C38FC44FC7840AC798CB469D57840F3454E1A1AD378401766B76786AF7840BE1C59A0F9CD7840419DC0DEC6B57840CA96E3BABDB57840AFDF7CAE74BA78400A5FF44DB8EB7840E7942E7C94C67840C01BBF311EAA7840A96088BAB2E078405A85348032D478408BE7183F32D478400A233DC4F8DF784080399E1218C678406EFBF88554D078404C00AF8631ED7840C47C8751B3F378405A65D38683B1784012267CCC5BAB7840657182B5CEC678408F4C1B3E98C6784076BB07CBF2AE7840F72ACFC913DA7840E396D97311C478409F076CCAE4E379408930CD44B0207A4015BFC186DBE981401300000000000000000000000000000013000000000000001600000000000000696E6C65745F6169725F74656D7065726174757265000DDCE05A61A17240E5232E3A26A2724086C37E5445A272406E7D2BA429A27240DE36D70817A272408D2310E3F0A17240E3F2E4224AA27240E0F77F927CA27240E1C716D586A27240E55E92D573A27240E950671B14A272400E318EBA35A27240159DA5DF7AA27240EC904BF86AA2724031838E6F39A27240070160C324A27240B011152067A27240AB8F1E9D93A27240D1EAE031BEA27240AD75AFDABAA27240B6791645DAA272409892EBF3D0A27240DDFE56F28AA27240D69E079F7FA27240888D09B03EA272406DE7D07552A272405A21FC4827A27240166BFF2810A27240B963E87261A27240609B63928CA272402470C928B9A2724075EE7CE091A27240EC7EEBE232A27240F76EF0C72AA272400E31D41530A27240EBFEAAA0560CA33FB2CBEBDB6E179C3F089423329BE29B3F0EAF97EAC87D9A3FC20573CA7D769A3F3FCB5C60A0899A3F9FF09CAF32C89A3FC1CDB2238C9E9A3FAB2050FF119C9A3F9A906767EF759A3F82AC752593969A3F51C697F3A27C9A3FDCD87A27997C9A3F1C9A7CE4A6819A3F497E135D75B69A3F960C98E0A58E9A3F009F0FA923709A3F716C73E6A4AA9A3F5C4ABE8E3E9D9A3F3A2DF4483E9D9A3F66AFFD90DDA99A3F9F0ADD84208E9A3FCF31226519999A3F5ACAA6B509B89A3FAFFE2F4803BF9A3F91635B2211789A3FBA94381A78719A3F7340B349E48E9A3F65C0AFE7A98E9A3F25A77E2D51759A3FD7367C158CA39A3F7CEB669BF48B9A3F96F953337AC09B3F778832C8A4019C3F2242F5659B33A33F2100000000000000000000000000000012000000000000000500000000000000626D657000B3FCDA143F1832414D6B12EDDE303241E7D382153050324144407BBE3F6C32416E86680FF9833241CEBDE4D25AA232413000354811B83241677ECD742DD33241C913D09B22EB3241E021CC26DBFD32412391FC6EEE0F33415664A386B0103341EDE556A4381433413EA25460571B334127E39EB000243341A393547A7A28334125D5CD35F0223341147228E77A1D3341233BA0717A22334174CF3B112E2A3341B01C72881B2F3341C8D186B597273341AED0D9999D1833411E81A04E800933416AF56FCEE6EF32419FFF0CB562C73241D5913AC6B79E3241F82E0D32608732416A05FBA2467F3241261667B026703241A0CCA979A2533241DF5FCF38472C32413BEE79563B06324158EF4B89E8DE314113B6AAC610B6314161783DD09E62B3403AAE5B5B95BDAC40CF177CD6A6B8AC402862AADAF072AB404C0D2065B18EAB4043C3C23FF7CFAB40ABAD0FAC3F32AC402BFEEF7DFC2EAC4016E38EF03750AC40A4CD4CA38043AC4097EB0B516581AC407D8D9F6FB766AC40A6D5A6C6EF6BAC40FD8FDB57F97BAC4047E15DCBBBC1AC4066EC4BDD8F9DAC40387DC5727374AC40965EA78E3BABAC40027ABCED4EA4AC4018902DDED5AFAC40D564C284D4C4AC406170DC7BAD9BAC4060963BE61791AC4036E078E99B9BAC401564CA76917CAC409AF0BFA5B0F4AB403CDF26373DB1AB40F8428E782FADAB40B2AED774D9A0AB401A241644F96FAB40B0E1D4AC3075AB40AF865C9E1C22AB40D90A05EE1022AC40BBB07AE62F26AC4069F408B98D20B340204F09F2802BF840363DFCBE55A27240E595CC345EBE9840DC4603780B7276404B81DF99E3B47640DC4603780B2276404B81DF99E364764007F0164850A272409568B61829A27240000000000000F87F000000000000F87FC0F5FFFFFF00794008000000000000006368616E6E656C0008000000000000006368616E6E656C0008000000000000006368616E6E656C000100000000000000010000000000000030056B69884EF03FC81C367987C8F74001000000000000000000000000000000000000000000594000000000000079400000000000406F40CDCCCCCCCCCCE43F000000000000F03F00000000000018409A9999999999C93F00000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000CC2EA23CFB65763F000000000000000046B6F3FD344CB040000000000000B940583053CC721A67405D63BEE17794503FEC51B81E8547A740E17A14AEC712B94000000000000000409A99999999992740000000000000F87F0000000000000000000000000000F87F010000000000000051000000000000006E6F20696E6572746961206F6620746865206162736F72626572206973207374617465643A2074686520746F727175652074686174207370696E73206974206973206E6F74206164646564206261636B00','enginewright 0.1.0, reduction 2',NULL,2);
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
','2026-11-28T16:20:20.656051Z','2026-11-28','01a222f5-2430-736d-8bf1-1ad67dfcf91a','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE figures (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), digest TEXT NOT NULL) STRICT;
INSERT INTO "figures" VALUES(1,'9460d3aa619a1ccd0822d30df2dd90c5fece1179aaa34157077ca136e057b11d');
CREATE TABLE former (pull_id INTEGER NOT NULL REFERENCES pull(id), reading INTEGER NOT NULL, part INTEGER NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL, day TEXT NOT NULL, engine_id INTEGER REFERENCES engine(id), run INTEGER NOT NULL, mounting INTEGER NOT NULL, purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT, told TEXT NOT NULL, top_rpm REAL, band_mean_n_m REAL, channel_map TEXT, recorder TEXT, clock TEXT, measured_at TEXT, method TEXT NOT NULL, cell_record TEXT NOT NULL, engine TEXT NOT NULL, calibration TEXT, bytes BLOB NOT NULL, digest TEXT NOT NULL, program TEXT NOT NULL, reduction INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (pull_id, reading)) STRICT;
CREATE TABLE found (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL, owner_id INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, withdrawn TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE hold (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id), finding TEXT NOT NULL, at TEXT NOT NULL, answered_at TEXT, who TEXT, answer TEXT, reason TEXT, amendment_id INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;
CREATE TABLE life (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), reduction INTEGER NOT NULL, json TEXT NOT NULL) STRICT;
CREATE TABLE mark (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), at TEXT NOT NULL, time_s REAL NOT NULL, text TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "mark" VALUES(1,2,'2026-12-01T06:05:14.164336Z',1.95,'a noise at idle','2026-12-01','01a23035-1234-7359-84a7-c8605e858691','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE note (id INTEGER PRIMARY KEY, day TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, kept_at TEXT NOT NULL, withdrawn TEXT, uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', UNIQUE (at, text)) STRICT;
INSERT INTO "note" VALUES(1,'2026-11-28','2026-11-28T18:52:57.152719Z','tester','drip at the rear main seal: wiped','2026-11-28T18:52:57.155966Z',NULL,'01a22380-dbc4-74ca-824f-d0e53f77edca','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1');
CREATE TABLE pull (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES recording(id), engine_id INTEGER REFERENCES engine(id), part INTEGER NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL, run INTEGER NOT NULL, day TEXT NOT NULL, mounting INTEGER NOT NULL, purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT, top_rpm REAL, band_mean_n_m REAL, uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', told TEXT NOT NULL DEFAULT '[]', reading INTEGER NOT NULL DEFAULT 1, UNIQUE (recording_id, part)) STRICT;
INSERT INTO "pull" VALUES(1,1,1,0,'sweep','2026-03-02T10:00:00Z',1,'2026-03-02',1,'pull','spark: 28 deg
pressure: 98500 Pa
temperature: 295.15 K
humidity: 0.5
',NULL,NULL,6418.78,1.84826513445356567901e+02,'019cadfd-8900-7128-ac8d-36db82c00395','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1','[]',1);
CREATE TABLE recorder (id INTEGER PRIMARY KEY, name TEXT NOT NULL, version INTEGER NOT NULL, yaml TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, withdrawn TEXT, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL, UNIQUE (name, version)) STRICT;
CREATE TABLE recorder_mark (fingerprint TEXT PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL) STRICT;
CREATE TABLE recording (id INTEGER PRIMARY KEY, engine_id INTEGER REFERENCES engine(id), name TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL, rows INTEGER NOT NULL, channels INTEGER NOT NULL, channel_map TEXT, run_s REAL, added_at TEXT NOT NULL, measured_at TEXT, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', recorder TEXT, clock TEXT) STRICT;
INSERT INTO "recording" VALUES(1,1,'small.csv',X'54696D65205B735D2C456E67696E65205370656564205B72706D5D2C546F72717565205B4EC2B76D5D2C5468726F74746C65205B255D2C4F696C205072657373757265205B6261725D2C4F696C2054656D70205BC2B0435D2C436F6F6C616E742054656D70205BC2B0435D2C4C616D6264612C4675656C205072657373757265205B6261725D2C4261726F205B6850615D2C496E74616B65204169722054656D70205BC2B0435D2C48756D6964697479205B255D2C4B6E6F636B20436F756E740A302C323530332E33372C33332E303930352C31392E373735362C332E36343437392C38352C38302C302E38383132372C332E30303031382C3938392E3939332C32342E393538372C35302E313230342C300A302E322C323439372E382C33342E333532322C32302E313432392C332E36373233372C38352E303838392C38302E303838392C302E3838313532362C332E30313939382C3939302E3038312C32342E383836352C35302E313534332C300A302E342C323439392E33312C33342E303830312C31392E393037352C332E36393538312C38352E313737382C38302E313737382C302E38373839332C332E30303037322C3939302E3033372C32342E393535382C34392E3539392C300A302E362C323439372E32362C33352E363437312C31392E393635322C332E36373731342C38352E323636372C38302E323636372C302E3837373738392C332E30323234382C3939302E3031352C32342E393237382C34392E393031362C300A302E382C323530302E382C33342E353632392C31392E383437312C332E36383233382C38352E333535362C38302E333535362C302E3837373931332C332E30303533382C3939302E30352C32352E303339372C35302E333338312C300A312C323439382E31312C33332E363732312C32302E303938322C332E363732322C38352E343434342C38302E343434342C302E3837373430322C332E30303232342C3938392E3937392C32342E383935372C35302E333738372C300A312E322C323439382E35382C33342E303331362C31392E393337312C332E36353934382C38352E353333332C38302E353333332C302E3837393030382C322E393839312C3939302E3038332C32342E393436392C35302E313739372C300A312E342C323439392E30342C33342E343736352C31392E373136322C332E363731342C38352E363232322C38302E363232322C302E3837373036322C322E39393039352C3939302E3131332C32342E393434362C34392E39382C300A312E362C323530312E31392C33342E343937322C32302E343434342C332E3634312C38352E373131312C38302E373131312C302E3838313236352C322E39393930382C3938392E3930392C32352E303533372C35302E3233372C300A312E382C323530332E35342C33332E333638382C32302E303935342C332E36393638372C38352E382C38302E382C302E3838313930382C332E303131352C3939302E3031362C32352E303139322C35302E313737332C300A322C323530302E37342C3136362E3735342C3130302E33362C332E36343635382C38352E383838392C38302E383838392C302E3838363334392C332E30303037392C3939302E3033352C32352E303030382C34392E373632352C300A322E322C323537372E372C3136382E3136362C39392E383534342C332E36373836312C38352E393737382C38302E393737382C302E3838313533352C332E30303537392C3939302E3032332C32342E393938362C34392E383232322C300A322E342C323635372E30312C3136392E35392C3130302E3335312C332E37333031362C38362E303636372C38312E303636372C302E3838313634372C322E393836322C3938392E3936372C32352E303035322C34392E393532322C300A322E362C323734302E31342C3136392E3338362C3130302E3038382C332E37333835332C38362E313535362C38312E313535362C302E3838303131322C322E393934392C3938392E3933362C32342E393839332C34392E363337322C300A322E382C323831352E35342C3137312E3839342C3130302E3131342C332E37343032392C38362E323434342C38312E323434342C302E3838313336342C322E39393333352C3939302E3030352C32342E393839332C34392E393835392C300A332C323839382E30322C3137312E3738392C3130302E3231372C332E37343634322C38362E333333332C38312E333333332C302E3837363937392C322E39393832382C3938392E3938362C32342E393633382C35302E303632362C300A332E322C323937392E37362C3137342E3830342C3130302E3030332C332E37393034382C38362E343232322C38312E343232322C302E3837383738342C322E39393731342C3938392E3931392C32342E3939362C34392E39382C300A332E342C333036302E31362C3137342E3832322C39392E373338382C332E38333037362C38362E353131312C38312E353131312C302E3838333230362C332E30313531372C3939302E3032372C32352E303137312C34392E393537332C300A332E362C333134302E38332C3137362E3738312C3130302E3031382C332E38303438322C38362E362C38312E362C302E3838323133352C332E30303536322C3938392E3939372C32342E393238332C35302E313132342C300A332E382C333231382E33342C3137362E3631352C39392E393039322C332E38313833392C38362E363838392C38312E363838392C302E3837393135312C332E30303434372C3939302E3035362C32342E3937362C35302E323037382C300A342C333330352E31362C3137382E3233372C3130302E3237322C332E3832322C38362E373737382C38312E373737382C302E3838323530352C322E39393631372C3939302E3132392C32342E393236352C34392E373836342C300A342E322C333338302E37352C3137382E3938332C39392E393338342C332E38353230332C38362E383636372C38312E383636372C302E3838323435322C332E30303730362C3938392E3936312C32352E303933342C34392E393035312C300A342E342C333435372E352C3137392E3631312C3130302E3033372C332E38373139382C38362E393535362C38312E393535362C302E38373833352C332E30303234322C3939302E3036362C32342E393433382C35302E313338322C300A342E362C333533392E38312C3137382E3738372C39392E383136322C332E38393531362C38372E303434342C38322E303434342C302E3838313738392C322E39393834392C3938392E3939372C32342E393439312C34392E363430362C300A342E382C333631392E35312C3138332E3330362C39392E383836372C332E38383739392C38372E313333332C38322E313333332C302E3838343233322C332E30303334392C3938392E3935312C32342E3938322C35302E3335322C300A352C333730322E35392C3138302E3830312C39392E373035352C332E39353133322C38372E323232322C38322E323232322C302E3838303234352C322E39393530362C3939302E30312C32352E303134362C34392E383336312C300A352E322C333738312E31362C3138322E3036362C39392E393231322C332E39333033362C38372E333131312C38322E333131312C302E3837383532312C332E30303930362C3939302E3037362C32342E3938312C34392E3439322C300A352E342C333836322E30392C3138332E3934332C39392E393430392C332E39373632312C38372E342C38322E342C302E3838303832352C332E303035362C3939302E3033372C32342E393438382C34392E3830322C300A352E362C333934312E31342C3138332E3736322C3130302E3239392C332E39373537362C38372E343838392C38322E343838392C302E3838303134312C332E303130312C3939302E3031382C32352E3038322C34392E393432342C300A352E382C343031382E382C3138342E3037332C3130302E3334382C332E39393235342C38372E353737382C38322E353737382C302E3837373630382C332E30303030382C3938392E3931312C32352E303034342C34392E393131372C300A362C343130302E39332C3138342E3434342C39392E373039312C332E39383632332C38372E363636372C38322E363636372C302E3837373039322C322E39393532372C3938392E3939362C32342E393439312C35302E313233382C300A362E322C343138312E38312C3138332E3836372C3130302E3438322C342E30323138392C38372E373535362C38322E373535362C302E3838333938342C322E39393235312C3939302E3036312C32352E303239332C34392E383638322C300A362E342C343235372E34342C3138342E3634392C3130302E3031362C342E303433322C38372E383434342C38322E383434342C302E3838313232382C332E30303433372C3939302E3131312C32342E393238382C34392E393537332C300A362E362C343333372E332C3138342E3239372C3130302E3130332C342E30323830392C38372E393333332C38322E393333332C302E3837393037372C332E30303236332C3938392E3934382C32352E303038322C34392E383337372C300A362E382C343432302E37312C3138352E3736322C39392E383433352C342E30383636362C38382E303232322C38332E303232322C302E3837383033332C332E30303631322C3938392E3933352C32352E303636342C34392E383434392C300A372C343530302E312C3138342E3335352C3130302E3035362C342E303937392C38382E313131312C38332E313131312C302E3838343238392C322E39393537392C3939302E3032382C32342E3937332C35302E323334342C300A372E322C343538302E38332C3138352E3432382C3130302E3137312C342E31313133352C38382E322C38332E322C302E3838323232372C322E393935392C3938392E3937392C32342E393636382C34392E353633352C300A372E342C343635372E39392C3138342E3935332C39392E373832372C342E31333532352C38382E323838392C38332E323838392C302E3838363235362C322E39393834362C3938392E3936322C32342E393737372C35302E313430352C300A372E362C343733382E32322C3138332E3735372C3130302E3131372C342E31313432342C38382E333737382C38332E333737382C302E38383536392C332E30303138352C3938392E3935362C32352E303035392C34392E393732392C300A372E382C343831372E39322C3138352E3435392C3130302E312C342E31363435342C38382E343636372C38332E343636372C302E3837343437312C332E30303639342C3939302E3030362C32352E303039312C34392E393131312C300A382C343930312E36352C3138342E3730362C3130302E3133382C342E31343935372C38382E353535362C38332E353535362C302E3838313636372C332E30303730312C3938392E3934332C32352E303636382C35302E333734392C300A382E322C343937372E39392C3138362E3130372C3130302E3237322C342E32303436332C38382E363434342C38332E363434342C302E3837353830332C322E39383732312C3939302E3036362C32342E3930342C35302E313733352C300A382E342C353036312E32362C3138342E3731382C3130302E3039312C342E32303937362C38382E373333332C38332E373333332C302E3838313433392C332E303230392C3938392E3933322C32352E313331372C35302E303834362C300A382E362C353134302E322C3138342E3836362C3130302E3132372C342E31393139362C38382E383232322C38332E383232322C302E3838313039332C322E39383733342C3939302E3031342C32342E393839342C34392E393230362C300A382E382C353231382E33312C3138342E3537362C39392E373535362C342E32323838352C38382E393131312C38332E393131312C302E3838303132362C322E39393939372C3938392E3930332C32352E303036392C35302E303731352C300A392C353239372E37322C3138332E3636342C39392E3937382C342E32353832352C38392C38342C302E38383139372C332E30313438342C3939302E3032362C32352E303431342C34392E373834382C300A392E322C353338332E32332C3138322E3935312C39392E393737372C342E32363831362C38392E303838392C38342E303838392C302E3838303134372C332E30303033382C3938392E3938392C32352E303137332C35302E303037332C300A392E342C353436342E31362C3138332E3135332C3130302E3436382C342E32373032352C38392E313737382C38342E313737382C302E3838343334392C332E303034312C3938392E3936382C32342E393834342C35302E363033312C300A392E362C353534312E36322C3137392E3837352C3130302E3231322C342E32393630342C38392E323636372C38342E323636372C302E3837393431342C332E30313535332C3938392E3939352C32342E393937352C34392E363034382C300A392E382C353631382E32322C3138302E30332C39392E393034332C342E33313737322C38392E333535362C38342E333535362C302E3838323035312C332E30313035362C3939302E3031332C32352E303131382C34392E373935332C300A31302C353639392E38352C3137372E3835342C3130302E3037322C342E33323630362C38392E343434342C38342E343434342C302E3838313332342C322E39393234352C3938392E3937352C32342E393439342C34392E393938312C300A31302E322C353738312E38322C3137392E3335312C39392E383635382C342E33353134352C38392E353333332C38342E353333332C302E3838333339392C322E39393932322C3939302E3035392C32352E303233342C35302E3037362C300A31302E342C353836302C3137382E3837322C39392E393032332C342E33393432322C38392E363232322C38342E363232322C302E3837373335372C322E39383632382C3939302E3130392C32352E303030392C34392E393332392C300A31302E362C353933392E33372C3137372E3837322C39392E393832392C342E33383939392C38392E373131312C38342E373131312C302E3837383232342C322E39393330372C3938392E3937342C32342E393036342C34392E353435312C300A31302E382C363031372E382C3137362E3232352C39392E373634392C342E34303131362C38392E382C38342E382C302E3838303434322C322E39393739372C3938392E3935312C32352E303430372C34392E393338322C300A31312C363130312E30342C3137352E37312C3130302E3031372C342E34303631322C38392E383838392C38342E383838392C302E3837363336382C322E39393734382C3939302E3030372C32352E303731322C35302E313533372C300A31312E322C363138302E35362C3137342E3537392C3130302E3232312C342E34333033362C38392E393737382C38342E393737382C302E3837393736352C322E39383432312C3938392E3934392C32342E393836352C34392E393433372C300A31312E342C363235372E39322C3137332E3237342C3130302E3036342C342E34353730342C39302E303636372C38352E303636372C302E3838313432362C332E30313332392C3938392E3937382C32342E393832352C34392E393233322C300A31312E362C363334312E31332C3137312E3637342C39392E393734372C342E34373233392C39302E313535362C38352E313535362C302E3838323637332C332E30323334392C3939302E3030362C32352E303039362C35302E303936322C300A31312E382C363431382E37382C3137302E39362C39392E3833362C342E34353536352C39302E323434342C38352E323434342C302E3837383239342C322E393934312C3939302E3033322C32352E303239382C35302E313534352C300A31322C363439362E32382C31372E343233352C342E383730392C342E34383937312C39302E333333332C38352E333333332C302E3837323130342C322E39393130392C3939302E3037322C32342E393034322C34392E393435382C300A31322E322C363333372E38372C31382E393334362C342E36313439312C342E34373233332C39302E343232322C38352E343232322C302E3838333439312C332E30303233312C3938392E3937372C32352E303231312C34392E383033372C300A31322E342C363137382E33392C31352E363634312C352E31383137322C342E34353137362C39302E353131312C38352E353131312C302E3838343730382C322E39393435372C3939302E3036342C32352E303836312C35302E3135312C300A31322E362C363032302E31332C31362E323030342C342E36363436382C342E34343032382C39302E362C38352E362C302E38373238312C322E39383036322C3938392E3933372C32342E393131392C34392E393931332C300A31322E382C353836302E39382C31372E353738382C342E39363830342C342E33373437352C39302E363838392C38352E363838392C302E3838323337312C322E39393839352C3939302E3035322C32352E303137362C35302E30322C300A31332C353730302E39362C31382E343938342C342E39353731362C342E33343135342C39302E373737382C38352E373737382C302E3837373836372C322E39393937352C3938392E3937332C32342E3934372C34392E373238392C300A31332E322C353533392E352C31372E303730332C342E37383637382C342E33323634352C39302E383636372C38352E383636372C302E3838333133362C322E39393931362C3938392E3937352C32352E303037352C34392E383638372C300A31332E342C353337392E392C31372E383630382C352E30313237392C342E32383839332C39302E393535362C38352E393535362C302E3838313732382C332E30303830372C3939302E3130312C32342E393934382C35302E303239322C300A','9e9c4329b577af59a96292a2360586fd5ca6e75e34fbdd57bab1f4ea1378120c',68,13,NULL,13.4,'2026-11-28T16:20:20.711417Z','2026-03-02T10:00:00Z','2026-03-02','01a222f5-2467-73d9-9c34-ddf5643f95b1','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1',NULL,NULL);
INSERT INTO "recording" VALUES(2,1,'file:live.txt',X'6C69766520323032362D31322D30315430363A30353A31332E3934333737325A2066726F6D2066696C653A6C6976652E7478743A205B7B226E616D65223A22456E67696E65207370656564222C22756E6974223A2272706D227D2C7B226E616D65223A224F696C207072657373757265222C22756E6974223A22626172227D5D0A','dbd0f0f265c44f8c8486b16cb24ab0be73254eb27ec27b33be0fe50163803c25',0,2,NULL,NULL,'2026-12-01T06:05:13.943821Z',NULL,'2026-12-01','01a23035-1158-753b-af2d-75f474a27bc4','01a222f5-23f3-7e72-8485-9abb7754fe42','01a222f5-23f3-7653-af64-4640246edcf1',NULL,NULL);
CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
INSERT INTO "setting" VALUES('shop','An older shop');
INSERT INTO "setting" VALUES('identity','6523b932fb282bfe420093a0df55efbe');
INSERT INTO "setting" VALUES('zone','Etc/UTC');
INSERT INTO "setting" VALUES('cell_uid','01a222f5-23f3-7e72-8485-9abb7754fe42');
CREATE TABLE stream (recording_id INTEGER PRIMARY KEY REFERENCES recording(id), source TEXT NOT NULL, channels TEXT NOT NULL, durability TEXT NOT NULL, began_at TEXT NOT NULL, ended_at TEXT, how TEXT, rows INTEGER) STRICT;
INSERT INTO "stream" VALUES(2,'file:live.txt','[{"name":"Engine speed","unit":"rpm"},{"name":"Oil pressure","unit":"bar"}]','power','2026-12-01T06:05:13.943772Z','2026-12-01T06:05:14.660422Z','stopped',40);
CREATE TABLE stream_block (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES stream(recording_id), rows INTEGER NOT NULL, first_s REAL, last_s REAL, stored_at TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL, sequence INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO "stream_block" VALUES(8589934592,2,40,0.0,1.95,'2026-12-01T06:05:13.944099Z',X'00000000000000000000000000208C409A999999999909409A9999999999A93F0000000000288C40AE47E17A14AE09409A9999999999B93F0000000000308C40C3F5285C8FC20940333333333333C33F0000000000208C40D7A3703D0AD709409A9999999999C93F0000000000288C40EC51B81E85EB0940000000000000D03F0000000000308C409A99999999990940333333333333D33F0000000000208C40AE47E17A14AE0940666666666666D63F0000000000288C40C3F5285C8FC209409A9999999999D93F0000000000308C40D7A3703D0AD70940CDCCCCCCCCCCDC3F0000000000208C40EC51B81E85EB0940000000000000E03F0000000000288C409A999999999909409A9999999999E13F0000000000308C40AE47E17A14AE0940333333333333E33F0000000000208C40C3F5285C8FC20940CDCCCCCCCCCCE43F0000000000288C40D7A3703D0AD70940666666666666E63F0000000000308C40EC51B81E85EB0940000000000000E83F0000000000208C409A999999999909409A9999999999E93F0000000000288C40AE47E17A14AE0940333333333333EB3F0000000000308C40C3F5285C8FC20940CDCCCCCCCCCCEC3F0000000000208C40D7A3703D0AD70940666666666666EE3F0000000000288C40EC51B81E85EB0940000000000000F03F0000000000308C409A99999999990940CDCCCCCCCCCCF03F0000000000208C40AE47E17A14AE09409A9999999999F13F0000000000288C40C3F5285C8FC20940666666666666F23F0000000000308C40D7A3703D0AD70940333333333333F33F0000000000208C40EC51B81E85EB0940000000000000F43F0000000000288C409A99999999990940CDCCCCCCCCCCF43F0000000000308C40AE47E17A14AE09409A9999999999F53F0000000000208C40C3F5285C8FC20940666666666666F63F0000000000288C40D7A3703D0AD70940333333333333F73F0000000000308C40EC51B81E85EB0940000000000000F83F0000000000208C409A99999999990940CDCCCCCCCCCCF83F0000000000288C40AE47E17A14AE09409A9999999999F93F0000000000308C40C3F5285C8FC20940666666666666FA3F0000000000208C40D7A3703D0AD70940333333333333FB3F0000000000288C40EC51B81E85EB0940000000000000FC3F0000000000308C409A99999999990940CDCCCCCCCCCCFC3F0000000000208C40AE47E17A14AE09409A9999999999FD3F0000000000288C40C3F5285C8FC20940666666666666FE3F0000000000308C40D7A3703D0AD70940333333333333FF3F0000000000208C40EC51B81E85EB0940','9e9e8ba4c3363f3192b098bab572398cd17558ca9a7637f3604aa616bf5e1233',0);
CREATE TABLE stream_pull (recording_id INTEGER NOT NULL REFERENCES stream(recording_id), cut_id INTEGER NOT NULL UNIQUE REFERENCES recording(id), from_s REAL NOT NULL, to_s REAL NOT NULL, near TEXT NOT NULL, block INTEGER, skip INTEGER, rows INTEGER, sensors TEXT) STRICT;
CREATE TABLE trip_time (trip_id INTEGER NOT NULL REFERENCES alarm_trip(id), recording_id INTEGER NOT NULL REFERENCES stream(recording_id), time_s REAL NOT NULL, PRIMARY KEY (trip_id, recording_id)) STRICT;
CREATE TABLE verdict (id INTEGER PRIMARY KEY, at TEXT NOT NULL, engine_id INTEGER REFERENCES engine(id), question TEXT NOT NULL, pair TEXT NOT NULL, pulls TEXT NOT NULL, says TEXT NOT NULL, json TEXT NOT NULL, day TEXT NOT NULL DEFAULT '', uid TEXT NOT NULL DEFAULT '', cell TEXT NOT NULL DEFAULT '', writer TEXT NOT NULL DEFAULT '', readings TEXT) STRICT;
CREATE TABLE writer (uid TEXT PRIMARY KEY, cell TEXT NOT NULL, place TEXT NOT NULL, at TEXT NOT NULL) STRICT;
INSERT INTO "writer" VALUES('01a222f5-23f3-7653-af64-4640246edcf1','01a222f5-23f3-7e72-8485-9abb7754fe42','','2026-11-28T16:20:20.595145Z');
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
COMMIT;
