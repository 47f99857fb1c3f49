package sqlite

// migrations bring a data file from one version to the next: the first one
// makes an empty file version 1. A published migration never changes.
//
// Times are Unix nanoseconds, 0 for none. What is only ever read whole lies in
// a JSON column; what is searched, sorted or of use to other programs has a
// column of its own. Units are in the names.
var migrations = []string{`
CREATE TABLE section (
	id       INTEGER PRIMARY KEY,
	name     TEXT NOT NULL,
	used     INTEGER NOT NULL,           -- grows with each save; the last one used has the highest
	doc      TEXT NOT NULL               -- hub.Section without its chairs
) STRICT;
CREATE TABLE chair (
	id         INTEGER PRIMARY KEY,
	section    INTEGER NOT NULL REFERENCES section(id),
	listed     INTEGER NOT NULL,         -- 0: taken out of the section, kept for its history
	place      INTEGER NOT NULL,         -- order within the section's list
	label      TEXT NOT NULL,
	name       TEXT NOT NULL,
	instrument TEXT NOT NULL,
	doc        TEXT NOT NULL             -- hub.Chair
) STRICT;
CREATE INDEX chair_section ON chair(section, listed, place);
CREATE TABLE node (
	node       TEXT PRIMARY KEY,
	section    INTEGER NOT NULL REFERENCES section(id),
	chair      INTEGER NOT NULL REFERENCES chair(id),
	token_hash BLOB NOT NULL,            -- SHA-256
	enrolled   INTEGER NOT NULL
) STRICT;
CREATE TABLE round (
	id      INTEGER PRIMARY KEY,
	section INTEGER NOT NULL REFERENCES section(id),
	started INTEGER NOT NULL,
	ended   INTEGER NOT NULL,
	doc     TEXT NOT NULL                -- hub.Round
) STRICT;
CREATE INDEX round_section ON round(section, started);
CREATE TABLE reading (
	id         INTEGER PRIMARY KEY,
	chair      INTEGER NOT NULL REFERENCES chair(id),
	round      INTEGER NOT NULL,         -- 0: not asked for
	node       TEXT NOT NULL,
	boot       TEXT NOT NULL,
	sequence   INTEGER NOT NULL,
	at         INTEGER NOT NULL,
	hz         REAL NOT NULL,
	ci95_cents REAL NOT NULL,
	note       INTEGER NOT NULL,         -- MIDI number of the called sounding note
	target_hz  REAL NOT NULL,
	cents      REAL NOT NULL,            -- from the target
	counted    INTEGER NOT NULL,
	why        TEXT NOT NULL,
	verdict    TEXT NOT NULL,
	wire       TEXT NOT NULL,            -- proto.Reading as it came
	answer     TEXT NOT NULL,            -- hub.Answer, empty for none
	heard      TEXT NOT NULL,            -- hub.Heard, empty for none
	UNIQUE (node, boot, sequence)
) STRICT;
CREATE INDEX reading_chair ON reading(chair, at);
CREATE INDEX reading_at ON reading(at);
CREATE TABLE boot (
	node   TEXT NOT NULL,
	boot   TEXT NOT NULL,
	stored INTEGER NOT NULL,             -- prefix that was stored before readings were deleted
	PRIMARY KEY (node, boot)
) STRICT;
CREATE TABLE move (
	id             INTEGER PRIMARY KEY,
	chair          INTEGER NOT NULL REFERENCES chair(id),
	round          INTEGER NOT NULL,
	reading        INTEGER NOT NULL,
	at             INTEGER NOT NULL,
	slide          TEXT NOT NULL,
	from_mm        REAL NOT NULL,
	to_mm          REAL NOT NULL,
	expected_cents REAL NOT NULL,
	done           INTEGER NOT NULL,
	assumed        INTEGER NOT NULL,
	withdrawn      INTEGER NOT NULL,
	measured_cents REAL NOT NULL,
	follow_through TEXT NOT NULL
) STRICT;
CREATE INDEX move_chair ON move(chair, at);
CREATE TABLE setting (
	id     INTEGER PRIMARY KEY,
	chair  INTEGER NOT NULL REFERENCES chair(id),
	at     INTEGER NOT NULL,
	slide  TEXT NOT NULL,
	from_mm REAL NOT NULL,
	mm     REAL NOT NULL,
	source TEXT NOT NULL
) STRICT;
CREATE INDEX setting_chair ON setting(chair, at);
CREATE TABLE value (
	key   TEXT PRIMARY KEY,
	value TEXT NOT NULL
) STRICT;
`, `
ALTER TABLE reading ADD COLUMN settled INTEGER NOT NULL DEFAULT 0;
ALTER TABLE reading ADD COLUMN level_dbfs REAL NOT NULL DEFAULT 0;
ALTER TABLE reading ADD COLUMN early_cents REAL NOT NULL DEFAULT 0;
ALTER TABLE reading ADD COLUMN drift_cents_per_s REAL NOT NULL DEFAULT 0;
ALTER TABLE reading ADD COLUMN middle_s REAL NOT NULL DEFAULT 0;          -- from the onset to the middle of the rest
ALTER TABLE reading ADD COLUMN played_s REAL NOT NULL DEFAULT 0;
ALTER TABLE reading ADD COLUMN second_db REAL NOT NULL DEFAULT -9e999;    -- of another source, minus infinity for none
UPDATE reading SET
	settled = wire ->> 'settled', level_dbfs = wire ->> 'level_dbfs', early_cents = wire ->> 'early_cents',
	drift_cents_per_s = wire ->> 'drift_cents_per_s', middle_s = ((wire ->> 'start_s') + (wire ->> 'end_s')) / 2.0 - (wire ->> 'onset_s'),
	played_s = wire ->> 'played_s', second_db = coalesce(wire ->> '$.second.level_db', -9e999);
`}
