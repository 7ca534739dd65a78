-- +goose Up

-- Rows of a fleet. The columns are those that rows had at
-- first; later ones are added as analysis/fleet/columns.go lists them. Null is "not known";
-- start is in seconds since 1970, UTC. Text sorts by its bytes, on any server.

CREATE TABLE rides (
	content TEXT COLLATE "C" NOT NULL,
	part BIGINT NOT NULL,
	path TEXT COLLATE "C" NOT NULL,
	bike TEXT COLLATE "C" NOT NULL,
	rider TEXT COLLATE "C" NOT NULL,
	team TEXT COLLATE "C" NOT NULL,
	profile TEXT COLLATE "C" NOT NULL,
	version TEXT COLLATE "C" NOT NULL,
	start BIGINT,
	month TEXT COLLATE "C" NOT NULL,
	made BOOLEAN NOT NULL,
	basis TEXT COLLATE "C" NOT NULL,
	duration_s BIGINT NOT NULL,
	moving_s BIGINT NOT NULL,
	distance_m DOUBLE PRECISION,
	ascent_m DOUBLE PRECISION,
	air_c DOUBLE PRECISION,
	battery_wh DOUBLE PRECISION,
	rider_wh DOUBLE PRECISION,
	lugging_loss_wh DOUBLE PRECISION,
	lugging_loss_low_wh DOUBLE PRECISION,
	lugging_loss_high_wh DOUBLE PRECISION,
	plan_saving_wh DOUBLE PRECISION,
	copper_wh DOUBLE PRECISION,
	battery_heat_wh DOUBLE PRECISION,
	lugging_s BIGINT NOT NULL,
	in_band_s BIGINT NOT NULL,
	spinning_out_s BIGINT NOT NULL,
	resting_s BIGINT NOT NULL,
	coasting_s BIGINT NOT NULL,
	stopped_s BIGINT NOT NULL,
	unknown_s BIGINT NOT NULL,
	lugging_wh DOUBLE PRECISION,
	legs_lugging_s BIGINT NOT NULL,
	both_lugging_s BIGINT NOT NULL,
	pedalling_s BIGINT NOT NULL,
	gear_named_s BIGINT NOT NULL,
	shifts BIGINT NOT NULL,
	shifts_planned BIGINT NOT NULL,
	winding_peak_c DOUBLE PRECISION,
	winding_limit_c DOUBLE PRECISION,
	over_limit_s BIGINT NOT NULL,
	resistance_ratio DOUBLE PRECISION,
	resistance_se DOUBLE PRECISION,
	resistance_steps BIGINT NOT NULL,
	capacity_wh DOUBLE PRECISION,
	warnings BIGINT NOT NULL,
	PRIMARY KEY (content, part)
);

CREATE TABLE habits (
	content TEXT COLLATE "C" NOT NULL,
	part BIGINT NOT NULL,
	kind TEXT COLLATE "C" NOT NULL,
	count BIGINT NOT NULL,
	opportunities BIGINT NOT NULL,
	cost_wh DOUBLE PRECISION,
	PRIMARY KEY (content, part, kind)
);

CREATE TABLE segments (
	content TEXT COLLATE "C" NOT NULL,
	part BIGINT NOT NULL,
	number BIGINT NOT NULL,
	from_s BIGINT NOT NULL,
	to_s BIGINT NOT NULL,
	cell BIGINT NOT NULL,
	direction BIGINT NOT NULL,
	lat DOUBLE PRECISION,
	lon DOUBLE PRECISION,
	near_end BOOLEAN NOT NULL,
	loss_wh DOUBLE PRECISION,
	grade DOUBLE PRECISION,
	motor_rpm DOUBLE PRECISION,
	gear_from TEXT COLLATE "C" NOT NULL,
	gear_to TEXT COLLATE "C" NOT NULL,
	winding_c DOUBLE PRECISION,
	legs_lugging_s BIGINT NOT NULL,
	PRIMARY KEY (content, part, number)
);

CREATE TABLE logs (
	path TEXT COLLATE "C" NOT NULL,
	fingerprint TEXT COLLATE "C" NOT NULL,
	content TEXT COLLATE "C" NOT NULL,
	serial TEXT COLLATE "C" NOT NULL,
	start BIGINT,
	bike TEXT COLLATE "C" NOT NULL,
	rider TEXT COLLATE "C" NOT NULL,
	team TEXT COLLATE "C" NOT NULL,
	profile TEXT COLLATE "C" NOT NULL,
	version TEXT COLLATE "C" NOT NULL,
	problem TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (path)
);

-- To tell whether the content of a log that changed is still held by another.
CREATE INDEX logs_by_content ON logs (content);

-- To tell whose a habit or a segment is without looking at the wide rows.
CREATE INDEX rides_by_key ON rides (content, part) INCLUDE (bike, rider, team);

-- To hand rides to other bikes and riders.
CREATE INDEX rides_by_path ON rides (path);

CREATE TABLE secrets (
	name TEXT PRIMARY KEY,
	value BYTEA NOT NULL
);

-- 244 random bits. Drawn here, so that the store never stands without its key.
INSERT INTO secrets (name, value)
VALUES ('pseudonyms', decode(replace(gen_random_uuid()::text || gen_random_uuid()::text, '-', ''), 'hex'));

-- +goose Down

DROP TABLE secrets, logs, segments, habits, rides;
