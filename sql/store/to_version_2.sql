-- purpose: bring a database of schema version 1 to version 2
-- grain: none; new tables come from loads.sql, here are the columns that tables gained
-- inputs: record.load_files, record.fills, results.runs
-- parameters: none
alter table record.load_files add column date_regime text default '';

alter table record.load_files alter column date_regime set not null;

alter table record.load_files add column rows_absent bigint default 0;

alter table record.load_files alter column rows_absent set not null;

alter table results.runs add column run_number bigint default 0;

alter table results.runs alter column run_number set not null;

create type record.fills_fill_level as enum('short', 'within', 'flush', 'beyond');

alter table record.fills add column fill_level record.fills_fill_level;
