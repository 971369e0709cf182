-- Version 2: the values that a job was held by, past a limit or not, lie with the job, so that another
-- sheet's limits can be held against them. Version 1 kept what the job sets, used or not: its jobs are
-- looked at again, for the terms of their verdicts are older.

ALTER TABLE _job ADD COLUMN declared TEXT; -- the material that the job's comments declare
ALTER TABLE _job ADD COLUMN held TEXT;     -- a JSON object of values by name; null: not stored

DROP VIEW held_values;
DROP TABLE _value;
CREATE VIEW held_values AS
SELECT _file.path, member, _job.id AS job, value.key AS name, value.value AS value
FROM _job JOIN _file ON _file.id = _job.file, json_each(_job.held) AS value
WHERE gone_run IS NULL;

DROP VIEW jobs;
CREATE VIEW jobs AS
SELECT _job.id, path, member, digest, size, month, terms,
       state, error, material, material_digest, material_by, declared, machine, machine_digest, hold_from,
       critical, major, minor, observations, not_held, bytes, lines, packing,
       time_ms / 1e3 AS time_s, filament_um / 1e3 AS filament_mm, filament_mg / 1e3 AS filament_g,
       layers, first_layer_mm, first_layer_mm_s, quickest_layer_s, peak_flow_mm3_s,
       sustained_flow_mm3_s, footprint_x_mm, footprint_y_mm, longest_side_mm, moved_from, first_run
FROM _job JOIN _file ON _file.id = _job.file WHERE gone_run IS NULL;
