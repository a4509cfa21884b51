-- A ledger of version 4, frozen: the tables and rows as that version wrote them. tests/ledger/test_older.c brings it
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
  role TEXT NOT NULL,
  side TEXT NOT NULL CHECK (side IN ('', 'before', 'after')),
  power_w REAL, channel INTEGER NOT NULL, repeat INTEGER NOT NULL, note TEXT,
  seconds REAL, rate_hz REAL, load_ohm REAL, tone_hz REAL,
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
CREATE TABLE part (
  job_id INTEGER NOT NULL REFERENCES job,
  place INTEGER NOT NULL,
  name TEXT, before TEXT, after TEXT,
  PRIMARY KEY (job_id, place)
) STRICT, WITHOUT ROWID;
INSERT INTO unit VALUES (1, 'Thistlecote', 'Sedge 25', '0042');
INSERT INTO unit VALUES (2, 'Thistlecote', 'Sedge 25', '0043');
INSERT INTO job VALUES (1, 1, '4bbd7c122583e6c1e0e034777aee1a34d66b06429d6fc3789d4fcdab1b4d4403', 'b17f26e0d0c23c9c7ab8e946c35c60b986686c98449f18bbc4688001b5fae14c', '2022-03-02', 'the village hall', 'earth wiring', 'loadside 0.1.0');
INSERT INTO job VALUES (2, 1, 'b1cd50c1bacb399b61dbfe935f832ba29f21ae6388dd164f8bdf9cf3679118e7', '0e1698aa53a7048ffaf6b44cb94ba4becd6be270ea174c107ac1c08f6efdc690', '2023-05-09', NULL, NULL, 'loadside 0.1.0');
INSERT INTO job VALUES (3, 2, '4b86309cd1432e437486cc3c8601b1c1560feeff156e70a0d5f49e4c022d2351', 'ae4bec91028d7e98a3c2f961c1908ea77666c4331f50f45b15055b975d70e9ff', '2023-07-01', NULL, 'it''s 10 % quieter; "really"', 'loadside 0.1.0');
INSERT INTO part VALUES (1, 1, 'C7', '10 nF', '22 nF');
INSERT INTO capture VALUES (1, 1, 1, 'idle-before', 'idle-before.wav', 'c252b7284ad5b3363bb0a16e35e02fe2ecd1f8ab93251e50a081fdce33d2621f', 'idle', 'before', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (2, 1, 2, 'idle-after', 'idle-after.wav', '675eb49e10153b94c6b9038efb5fbf1f2cd955e5fe5c0c5cba42e8ae56e9ff4d', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (3, 1, 3, 'one', 'one.wav', '62df0d45b94471558acbd0e7d9e8a068635e05a05ebaf3c27e5dc0c56778ec78', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0, 8.0, 1000.003125);
INSERT INTO capture VALUES (4, 1, 4, 'six', 'six.wav', '75c50bca821491492f60bfd3c1cb5895e12d5181e1178efd01cb6f475f6dd66a', 'sine', 'after', 10.0, 0, 2, NULL, 20.0, 192000.0, 8.0, 5999.940625);
INSERT INTO capture VALUES (5, 1, 5, 'chain', 'chain.wav', '5a9a50ec99760bc7063a6434ba07c03e42f2d4a70fcc05f0beae6a1b4832d897', 'chain', '', NULL, 0, 1, NULL, 20.0, 192000.0, NULL, NULL);
INSERT INTO capture VALUES (6, 2, 1, 'idle-before', 'idle-before.wav', '1b6ccbb239ca0bb38f747dd1473f6f8d3ca3edd0fd308f6f3e8d34416f163e5f', 'idle', 'before', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (7, 2, 2, 'idle-after', 'idle-after.wav', '0495cf7362e40ebe2dfa2777d845374938b7630fb8e75839468e7bd7242dc0a5', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (8, 2, 3, 'one', 'one.wav', '15ced78d50021839381dd1220f3a83b1f9c27c8ef7cee542a6e96fb263d13e75', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0, 8.0, 1000.01875);
INSERT INTO capture VALUES (9, 2, 4, 'six', 'six.wav', '32edbfd3b02fce8d6ca8f3e2a4ae189257372f8a571bedf2c70fbd37aafb869e', 'sine', 'after', 10.0, 0, 2, NULL, 20.0, 192000.0, 8.0, 5999.95625);
INSERT INTO capture VALUES (10, 2, 5, 'chain', 'chain.wav', '6730eb8e4d4213139dd2c2885ed028e67f02df0ddc2490c1cd2979d82081c3ac', 'chain', '', NULL, 0, 1, NULL, 20.0, 192000.0, NULL, NULL);
INSERT INTO capture VALUES (11, 3, 1, 'idle-before', 'idle-before.wav', '6edfe72197cd99a37074ea82d3449e780330858480c3a0c0a701468a6eb3c192', 'idle', 'before', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (12, 3, 2, 'idle-after', 'idle-after.wav', '01e807a26ea97276ea36dae745bac50ab2d32d6bb2f3ad905a984875fbe082ad', 'idle', 'after', NULL, 0, 1, NULL, 20.0, 192000.0, 8.0, NULL);
INSERT INTO capture VALUES (13, 3, 3, 'one', 'one.wav', '94a5b2b9d334c21066bb64477495fb8069871b6a7be91d0a3c12923e5378def9', 'sine', 'after', 10.0, 0, 1, NULL, 20.0, 192000.0, 8.0, 1000.034375);
INSERT INTO capture VALUES (14, 3, 4, 'six', 'six.wav', '990ea5bb69285b2b6a399af4c3837e45e13bfde932e18f65d1178bd7804b7378', 'sine', 'after', 10.0, 0, 2, NULL, 20.0, 192000.0, 8.0, 5999.971875);
INSERT INTO capture VALUES (15, 3, 5, 'chain', 'chain.wav', 'db6c6eea3bce93a9885fcd70503510ee9f495b85e0807f4aee998e59823c49bf', 'chain', '', NULL, 0, 1, NULL, 20.0, 192000.0, NULL, NULL);
INSERT INTO figure VALUES (1, 1, 0, 1, 'noise.band.20-20k', 'V', 0.0001, 9.98e-05, 1.00200000000000009653e-04, 1.00000000000000008706e-07, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (1, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (2, 1, 0, 1, 'noise.band.20-20k', 'V', 2.5e-05, 2.495e-05, 2.50500000000000024123e-05, 2.5000000000000002177e-08, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (2, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (3, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 2, 0, 1, 'tone.frequency', 'Hz', 1000.003125, 1000.002125, 1.00000412499999993083e+03, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (3, 2, 0, 4, 'thd', 'dB', -90.5, -90.7, -90.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (4, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 2, 0, 1, 'tone.frequency', 'Hz', 5999.940625, 5999.939625, 5999.941625, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (4, 2, 0, 4, 'thd', 'dB', -60.5, -60.7, -60.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (5, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (5, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (5, 2, 0, 1, 'tone.frequency', 'Hz', 999.9875, 999.9865, 9.99988499999999930906e+02, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (5, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (5, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (5, 2, 0, 4, 'thd', 'dB', -110.5, -110.7, -110.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (6, 1, 0, 1, 'noise.band.20-20k', 'V', 8.4139514164519515621e-05, 8.39712351361904794401e-05, 8.43077931928485518105e-05, 8.41395141645195219787e-08, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (6, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (7, 1, 0, 1, 'noise.band.20-20k', 'V', 2.10348785411298789052e-05, 2.099280878404761986e-05, 2.10769482982121379526e-05, 2.10348785411298804946e-08, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (7, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (8, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (8, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (8, 2, 0, 1, 'tone.frequency', 'Hz', 1000.01875, 1000.01775, 1.00001974999999993084e+03, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (8, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (8, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (8, 2, 0, 4, 'thd', 'dB', -92.0, -92.2, -91.8, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (9, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 2, 0, 1, 'tone.frequency', 'Hz', 5999.95625, 5999.95525, 5999.95725, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (9, 2, 0, 4, 'thd', 'dB', -62.0, -62.2, -61.8, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (10, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (10, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (10, 2, 0, 1, 'tone.frequency', 'Hz', 999.9875, 999.9865, 9.99988499999999930906e+02, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (10, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (10, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (10, 2, 0, 4, 'thd', 'dB', -110.5, -110.7, -110.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (11, 1, 0, 1, 'noise.band.20-20k', 'V', 7.07945784384138e-05, 7.06529892815369660753e-05, 7.09361675952906319507e-05, 7.07945784384138e-08, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (11, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (12, 1, 0, 1, 'noise.band.20-20k', 'V', 1.76986446096034497534e-05, 1.76632473203842415188e-05, 1.77340418988226579876e-05, 1.76986446096034488531e-08, 0.0, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'chain not measured');
INSERT INTO figure VALUES (12, 2, 0, 1, 'noise.band.20-20k', 'V', NULL, NULL, 2.0e-06, NULL, NULL, 96.5, 20.0, 20000.0, NULL, NULL, NULL, 'below floor; chain not measured');
INSERT INTO figure VALUES (13, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (13, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (13, 2, 0, 1, 'tone.frequency', 'Hz', 1000.034375, 1000.033375, 1.00003537499999993086e+03, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (13, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (13, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (13, 2, 0, 4, 'thd', 'dB', -93.5, -93.7, -93.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (14, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (14, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (14, 2, 0, 1, 'tone.frequency', 'Hz', 5999.971875, 5999.970875, 5999.972875, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (14, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (14, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (14, 2, 0, 4, 'thd', 'dB', -63.5, -63.7, -63.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
INSERT INTO figure VALUES (15, 1, 0, 1, 'tone.frequency', 'Hz', 50.125, 49.875, 50.375, 0.125, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (15, 1, 0, 2, 'tone.level', 'V', 0.0625, 0.0615, 0.0635, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (15, 2, 0, 1, 'tone.frequency', 'Hz', 999.9875, 999.9865, 9.99988499999999930906e+02, 0.0005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (15, 2, 0, 2, 'tone.level', 'V', 8.9442719, 8.9342719, 8.9542719, 0.005, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (15, 2, 0, 3, 'tone.power', 'W', 10.0, 9.98, 10.02, 0.01, 0.0, 9e999, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO figure VALUES (15, 2, 0, 4, 'thd', 'dB', -110.5, -110.7, -110.3, 0.1, 0.0, 96.5, 20.0, 20000.0, 2, 19, NULL, NULL);
PRAGMA application_id = 1281651532;
PRAGMA user_version = 4;
COMMIT;
