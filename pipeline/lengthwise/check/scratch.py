"""The temporary tables and the view that judging a load works in."""

SCRATCH_TABLES = """
create or replace temp table load_findings (
    file_number integer, row_number bigint, export varchar, column_name varchar, code varchar,
    severity varchar
);
create or replace temp table load_quarantine (
    file_number integer, row_number bigint, export varchar, row_values varchar
);
create or replace temp table load_rejected (export varchar, file_number integer, row_number bigint);
"""
# The tooth of every treatment, from this load or an earlier one, for the rules of sql/checks.
KNOWN_TEETH = """
create or replace temp view known_teeth as
select treatment_id, tooth from loading_treatments
union
select treatment_id, cast(tooth as varchar) from current_treatments
"""
