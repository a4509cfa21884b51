-- A ledger of version 1, frozen: the tables and rows as that version wrote them. tests/ledger/test_older.c brings it
-- up to date. Unit, maker and figures are invented. Never to be changed.
BEGIN;
CREATE TABLE unit (
  id INTEGER PRIMARY KEY,
  make TEXT, type TEXT, serial TEXT
) STRICT;
CREATE UNIQUE INDEX unit_name ON unit (ifnull(make, ''), ifnull(type, ''), serial) WHERE serial IS NOT NULL;
CREATE TABLE job (
  id INTEGER PRIMARY KEY,
  unit_id INTEGER NOT NULL REFERENCES unit,
  identity TEXT NOT NULL UNIQUE,
  digest TEXT NOT NULL,
  date TEXT, client TEXT, work TEXT, program TEXT NOT NULL
) STRICT;
CREATE INDEX job_of_unit ON job (unit_id);
CREATE TABLE capture (
  id INTEGER PRIMARY KEY,
  job_id INTEGER NOT NULL REFERENCES job,
  place INTEGER NOT NULL,
  name TEXT, file TEXT, sha256 TEXT NOT NULL,
  role TEXT NOT NULL CHECK (role IN ('idle', 'sine', 'chain')),
  side TEXT NOT NULL CHECK (side IN ('', 'before', 'after')),
  power_w REAL, channel INTEGER NOT NULL, repeat INTEGER NOT NULL, note TEXT,
  seconds REAL, rate_hz REAL,
  UNIQUE (job_id, place)
) STRICT;
CREATE TABLE figure (
  capture_id INTEGER NOT NULL REFERENCES capture,
  channel INTEGER NOT NULL, other INTEGER NOT NULL, place INTEGER NOT NULL,
  key TEXT NOT NULL, unit TEXT NOT NULL,
  value REAL, low REAL, high REAL, u_a REAL, u_b REAL, dof REAL,
  band_low_hz REAL, band_high_hz REAL, order_first INTEGER, order_last INTEGER, removed_hz REAL,
  flags TEXT,
  PRIMARY KEY (capture_id, channel, other, place)
) STRICT, WITHOUT ROWID;
INSERT INTO unit VALUES (1, 'Thistlecote', 'Sedge 25', '0042');
INSERT INTO unit VALUES (2, 'Thistlecote', 'Sedge 25', NULL);
INSERT INTO job VALUES (1, 1, '7ff2020da6c46e8dd4abcd2cf73c1f528abfdc58a0f6284c037c22c2e86ef889', 'f001f5f79c46190b61be9bdb28bf99ee12addc5bd3f87fa30b861ea9deb7f8ee', '2019-03-02', 'the village hall', 'earth wiring, snubbers', 'loadside 0.1.0');
INSERT INTO job VALUES (2, 1, 'e4193790fc520d450912cbe5e0e8956b08d2f9037797d493ca56f3bb8dadc5f9', 'ac21086caa5409cac022dae3ed5844a294221cf87b302a21a636af1c649aa654', '2021-05-09', NULL, 'it''s 10 % quieter; "really"', 'loadside 0.1.0');
INSERT INTO job VALUES (3, 2, '25e45b05ca37fdee8d095420c037b4136d834ef407503dbe10e8276f9a8b0688', '301a82f6d75a2ac9b732587bfc75e6b7ec9e55f90853b9b47043ddbf5f7391a8', '2022-07-01', NULL, NULL, 'loadside 0.1.0');
INSERT INTO capture VALUES (1, 1, 1, 'idle-before.wav', 'idle-before.wav', '92a346c1c339730e07c5412781dfd9bdcfee2d9713e449a2646a679546aaff94', 'idle', 'before', NULL, 0, 1, 'range 2 V', 20.0, 192000.0);
INSERT INTO capture VALUES (2, 1, 2, 'idle-after.wav', 'idle-after.wav', '458cc3e37e3bf69ac2db7ca68f1b3da3a8b0a4606f17cd48feaaedcb24e08ae7', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO capture VALUES (3, 1, 3, 'ten-after.wav', 'ten-after.wav', '6c3697c59d41ac527444da11c70adb1923891891b61ab359a1101bd01c77d584', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO capture VALUES (4, 2, 1, 'idle-before.wav', 'idle-before.wav', '62b8687d96f64cd222ad872699ff8f2eacdab53f8ff265fc695c6ee2c0e65ee2', 'idle', 'before', NULL, 0, 1, 'range 2 V', 20.0, 192000.0);
INSERT INTO capture VALUES (5, 2, 2, 'idle-after.wav', 'idle-after.wav', '881131b7cbccb7344cf073d45fc53e3a24adb6ea35106d54d6c270d3bec54754', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO capture VALUES (6, 2, 3, 'ten-after.wav', 'ten-after.wav', 'a43c72678e60f753b73300135a45308fac657378927c2558ea595d4a7b807024', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO capture VALUES (7, 3, 1, 'idle-before.wav', 'idle-before.wav', '181f79d5cc2e773d683c72e42cfb4d55255f07df5a1a9238c53c48d458497aee', 'idle', 'before', NULL, 0, 1, 'range 2 V', 20.0, 192000.0);
INSERT INTO capture VALUES (8, 3, 2, 'idle-after.wav', 'idle-after.wav', '6834a53528609572bdc209f7e3507badc8b9b1bac0cd4d02727d5d3e2ff7241c', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO capture VALUES (9, 3, 3, 'ten-after.wav', 'ten-after.wav', 'ffc3ed369c16a3a87adfccc8df3d2713b6b75f718049c2929e27d7a714034a2f', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0);
INSERT INTO figure VALUES (1, 1, 0, 1, 'noise.band.20-20k', 'V', 0.0001, 9.98e-05, 0.00010020000000000001, 1.0000000000000001e-07, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (1, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (2, 1, 0, 1, 'noise.band.20-20k', 'V', 2.5e-05, 2.495e-05, 2.5050000000000002e-05, 2.5000000000000002e-08, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (2, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (3, 1, 0, 1, 'tone.power', 'W', 10.02, 10.0, 10.04, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 1, 0, 2, 'thd', 'dB', -90.4, -90.6, -90.2, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (3, 1, 2, 1, 'crosstalk', 'dB', -71.25, -71.5, -71.0, 0.125, 0.0, 40.0, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 1, 0, 1, 'noise.band.20-20k', 'V', 8.413951416451952e-05, 8.397123513619048e-05, 8.430779319284855e-05, 8.413951416451952e-08, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (4, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (5, 1, 0, 1, 'noise.band.20-20k', 'V', 2.103487854112988e-05, 2.099280878404762e-05, 2.1076948298212138e-05, 2.103487854112988e-08, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (5, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (6, 1, 0, 1, 'tone.power', 'W', 10.02, 10.0, 10.04, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (6, 1, 0, 2, 'thd', 'dB', -91.9, -92.1, -91.7, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (6, 1, 2, 1, 'crosstalk', 'dB', -71.25, -71.5, -71.0, 0.125, 0.0, 40.0, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (7, 1, 0, 1, 'noise.band.20-20k', 'V', 7.07945784384138e-05, 7.065298928153697e-05, 7.093616759529063e-05, 7.07945784384138e-08, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (7, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (8, 1, 0, 1, 'noise.band.20-20k', 'V', 1.769864460960345e-05, 1.766324732038424e-05, 1.7734041898822658e-05, 1.769864460960345e-08, 0.0, 812.0, 20.0, 20000.0, NULL, NULL, 84.25, 'chain not measured');
INSERT INTO figure VALUES (8, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2e-06, NULL, NULL, NULL, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (9, 1, 0, 1, 'tone.power', 'W', 10.02, 10.0, 10.04, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 1, 0, 2, 'thd', 'dB', -93.4, -93.6, -93.2, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (9, 1, 2, 1, 'crosstalk', 'dB', -71.25, -71.5, -71.0, 0.125, 0.0, 40.0, NULL, NULL, NULL, NULL, NULL, NULL);
PRAGMA application_id = 1281651532;
PRAGMA user_version = 1;
COMMIT;
