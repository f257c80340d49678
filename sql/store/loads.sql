-- purpose: what was loaded and taken back, from which files, what it changed, what was set aside
-- grain: one row per load, per file, per changed field, per load taken back, finding, row set aside
-- inputs: none
-- parameters: none
create schema if not exists record;

create schema if not exists reference;

create table if not exists record.schema_version (version integer not null);

create table if not exists record.loads (
    load_id integer primary key,
    loaded_at timestamp not null,
    program_version text not null
);

create table if not exists record.load_files (
    load_id integer not null,
    file_number integer not null,
    export text not null,
    file_name text not null,
    sha256 text not null,
    size_bytes bigint not null,
    separator text not null,
    decimal_mark text not null,
    encoding text not null,
    date_order text not null,
    rows_read bigint not null,
    rows_accepted bigint not null,
    rows_quarantined bigint not null,
    rows_unchanged bigint not null,
    rows_superseding bigint not null,
    -- Added by version 2 of the schema, hence last; see to_version_2.sql.
    date_regime text not null default '',
    rows_absent bigint not null default 0,
    primary key (load_id, file_number),
    check (rows_read = rows_accepted + rows_quarantined)
);

create table if not exists record.load_changes (
    load_id integer not null,
    file_number integer not null,
    column_name text not null,
    rows_changed bigint not null,
    primary key (load_id, file_number, column_name)
);

create table if not exists record.undone_loads (
    load_id integer primary key,
    loaded_at timestamp not null,
    undone_at timestamp not null,
    undone_by text not null,
    file_names text not null,
    rows_read bigint not null,
    rows_accepted bigint not null,
    rows_quarantined bigint not null,
    rows_removed bigint not null,
    rows_restored bigint not null
);

create table if not exists record.findings (
    load_id integer not null,
    file_number integer not null,
    row_number bigint not null,
    export text not null,
    column_name text not null,
    code text not null,
    severity text not null
);

create table if not exists record.quarantine (
    load_id integer not null,
    file_number integer not null,
    row_number bigint not null,
    export text not null,
    row_values text not null
);
