-- Rows of a fleet. The columns are those that rows had at
-- first; later ones are added as analysis/fleet/columns.go lists them. Null is "not known";
-- start is in seconds since 1970, UTC; made and near_end are 0 or 1.

CREATE TABLE rides (
	content TEXT NOT NULL,
	part INTEGER NOT NULL,
	path TEXT NOT NULL,
	bike TEXT NOT NULL,
	rider TEXT NOT NULL,
	team TEXT NOT NULL,
	profile TEXT NOT NULL,
	version TEXT NOT NULL,
	start INTEGER,
	month TEXT NOT NULL,
	made INTEGER NOT NULL,
	basis TEXT NOT NULL,
	duration_s INTEGER NOT NULL,
	moving_s INTEGER NOT NULL,
	distance_m REAL,
	ascent_m REAL,
	air_c REAL,
	battery_wh REAL,
	rider_wh REAL,
	lugging_loss_wh REAL,
	lugging_loss_low_wh REAL,
	lugging_loss_high_wh REAL,
	plan_saving_wh REAL,
	copper_wh REAL,
	battery_heat_wh REAL,
	lugging_s INTEGER NOT NULL,
	in_band_s INTEGER NOT NULL,
	spinning_out_s INTEGER NOT NULL,
	resting_s INTEGER NOT NULL,
	coasting_s INTEGER NOT NULL,
	stopped_s INTEGER NOT NULL,
	unknown_s INTEGER NOT NULL,
	lugging_wh REAL,
	legs_lugging_s INTEGER NOT NULL,
	both_lugging_s INTEGER NOT NULL,
	pedalling_s INTEGER NOT NULL,
	gear_named_s INTEGER NOT NULL,
	shifts INTEGER NOT NULL,
	shifts_planned INTEGER NOT NULL,
	winding_peak_c REAL,
	winding_limit_c REAL,
	over_limit_s INTEGER NOT NULL,
	resistance_ratio REAL,
	resistance_se REAL,
	resistance_steps INTEGER NOT NULL,
	capacity_wh REAL,
	warnings INTEGER NOT NULL,
	PRIMARY KEY (content, part)
) STRICT;

CREATE TABLE habits (
	content TEXT NOT NULL,
	part INTEGER NOT NULL,
	kind TEXT NOT NULL,
	count INTEGER NOT NULL,
	opportunities INTEGER NOT NULL,
	cost_wh REAL,
	PRIMARY KEY (content, part, kind)
) STRICT, WITHOUT ROWID;

CREATE TABLE segments (
	content TEXT NOT NULL,
	part INTEGER NOT NULL,
	number INTEGER NOT NULL,
	from_s INTEGER NOT NULL,
	to_s INTEGER NOT NULL,
	cell INTEGER NOT NULL,
	direction INTEGER NOT NULL,
	lat REAL,
	lon REAL,
	near_end INTEGER NOT NULL,
	loss_wh REAL,
	grade REAL,
	motor_rpm REAL,
	gear_from TEXT NOT NULL,
	gear_to TEXT NOT NULL,
	winding_c REAL,
	legs_lugging_s INTEGER NOT NULL,
	PRIMARY KEY (content, part, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE logs (
	path TEXT NOT NULL,
	fingerprint TEXT NOT NULL,
	content TEXT NOT NULL,
	serial TEXT NOT NULL,
	start INTEGER,
	bike TEXT NOT NULL,
	rider TEXT NOT NULL,
	team TEXT NOT NULL,
	profile TEXT NOT NULL,
	version TEXT NOT NULL,
	problem TEXT NOT NULL,
	PRIMARY KEY (path)
) STRICT, WITHOUT ROWID;

-- To tell whether the content of a log that changed is still held by another.
CREATE INDEX logs_by_content ON logs (content);

-- To tell whose a habit or a segment is without looking at the wide rows.
CREATE INDEX rides_by_key ON rides (content, part, bike, rider, team);

-- To hand rides to other bikes and riders.
CREATE INDEX rides_by_path ON rides (path);

CREATE TABLE secrets (
	name TEXT PRIMARY KEY,
	value BLOB NOT NULL
) STRICT;
