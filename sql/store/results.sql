-- purpose: the result tables that reports show and nothing else writes
-- grain: one row per run, per estimate, per plotted point, per listed case
-- inputs: none
-- parameters: none
create schema if not exists results;

create table if not exists results.runs (
    run_id text primary key,
    period text not null,
    created_at timestamp not null,
    version text not null,
    settings text not null,
    inputs text not null,
    versions text not null,
    run_number bigint not null default 0
);

create table if not exists results.estimates (
    run_id text not null,
    result_id text not null,
    section text not null,
    analysis text not null,
    measure text not null,
    subject text not null,
    reference text not null,
    stratum_kind text not null,
    stratum text not null,
    period text not null,
    scope text not null,
    unit text not null,
    estimate double,
    lower double,
    upper double,
    level double,
    numerator bigint,
    denominator bigint,
    n_used bigint not null,
    n_missing bigint not null,
    n_clusters bigint,
    target double,
    method text not null,
    valid boolean not null,
    reason text not null,
    position integer not null,
    primary key (run_id, result_id)
);

create table if not exists results.points (
    run_id text not null,
    figure text not null,
    panel text not null,
    series text not null,
    position integer not null,
    label text not null,
    x double,
    y double,
    lower double,
    upper double,
    n bigint
);

create table if not exists results.lists (
    run_id text not null,
    list_name text not null,
    position integer not null,
    treatment_id text not null,
    canal text not null,
    tooth text not null,
    clinician_id text not null,
    period text not null,
    value_mm double,
    detail text not null
);
