BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE events (
	seq INTEGER NOT NULL, 
	id TEXT NOT NULL, 
	at TEXT NOT NULL, 
	who TEXT NOT NULL, 
	mark TEXT NOT NULL, 
	stage TEXT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (seq), 
	UNIQUE (id)
);
INSERT INTO "events" VALUES(1,'01a21320370a-f6fc9da8a8fcdd7a','2026-11-25T14:33:28.074962Z','AB','1-S-a1','moulded','{"hours":0.5}');
INSERT INTO "events" VALUES(2,'01a2132038a5-1c904a273f61f764','2026-11-25T14:33:28.485747Z','AB','1-S-a1','laid-out','{"slab":"A-01"}');
INSERT INTO "events" VALUES(3,'01a213203a3a-32ac283955a7210c','2026-11-25T14:33:28.890204Z','Änn','1-S-a1','roughed','{"hours":0.75}');
INSERT INTO "events" VALUES(4,'01a213203bda-177998e703ba42ac','2026-11-25T14:33:29.306995Z','AB','A-01','measured','{"moisture_percent":18.0}');
INSERT INTO "events" VALUES(5,'01a213203d96-5632d031087792a6','2026-11-25T14:33:29.750982Z','AB','A-02','moved','{"to":"the shed"}');
INSERT INTO "events" VALUES(6,'01a213203f40-65295c9939defe19','2026-11-25T14:33:30.176139Z','Änn','vessel','note','{"text":"keel is laid, \"at last\" – so"}');
INSERT INTO "events" VALUES(7,'01a2132040e8-a3959ad490f367e8','2026-11-25T14:33:30.600114Z','AB','1-P-a1','laid-out','{"slab":"A-01"}');
INSERT INTO "events" VALUES(8,'01a213204267-47a955b2b96763e3','2026-11-25T14:33:30.983346Z','AB','1-P-a1','spoiled','{"text":"a shake"}');
INSERT INTO "events" VALUES(9,'01a21320446f-3aa6f037da107b72','2026-11-25T14:33:31.503998Z','AB','1-S-a1','ends-sealed','{}');
INSERT INTO "events" VALUES(10,'01a2132045fc-8c159974479f5d41','2026-11-25T14:33:31.900412Z','AB','1-S-a1','rested','{}');
INSERT INTO "events" VALUES(11,'01a21320478d-8b3a5f8f1e5ca856','2026-11-25T14:33:32.301043Z','AB','1-S-a1','correction','{"because":"not yet","of":"01a2132045fc-8c159974479f5d41","undo":true}');
INSERT INTO "events" VALUES(12,'01a213204899-1ea0813eed0cc6f2','2026-11-25T14:33:32.569579Z','AB','1-S-a1','flattened','{}');
INSERT INTO "events" VALUES(13,'01a213204a1e-5933ba29b0a4857f','2026-11-25T14:33:32.958790Z','AB','2-S-f1','laid-out','{"slab":"A-03"}');
INSERT INTO "events" VALUES(14,'01a213204bae-badf54d10a782622','2026-11-25T14:33:33.358441Z','AB','1-S-a1','checked','{"found_mm":31.75,"name":"sided"}');
INSERT INTO "events" VALUES(15,'01a213204e0d-aaf5a0079bab03cc','2026-11-25T14:33:33.965262Z','AB','A-04','consumed','{"text":"split"}');
CREATE INDEX events_by_mark ON events (mark);
COMMIT;
