-- Database of schema version 1, as version 0.1 of the program made it, with two loads: three small
-- files, then a corrected readings.csv whose one reading supersedes an earlier one. Never edited.
create schema if not exists record;
create schema if not exists reference;
create schema if not exists results;
create type record.canals_reference_point as enum ('cusp_tip', 'incisal_edge', 'flattened_surface', 'restoration_margin', 'other');
create type record.canals_root as enum ('single', 'B', 'P', 'L', 'M', 'D', 'MB', 'DB', 'DL');
create type record.fills_film_quality as enum ('A', 'N');
create type record.follow_ups_imaging as enum ('film', 'cbct', 'none');
create type record.follow_ups_loss_reason as enum ('endodontic', 'other');
create type record.follow_ups_restoration_status as enum ('intact', 'defective', 'lost');
create type record.incidents_kind as enum ('perforation', 'separated_instrument', 'irrigant_extrusion', 'altered_sensation', 'other');
create type record.readings_canal_state as enum ('dry', 'wet');
create type record.readings_electrode as enum ('fork', 'clip');
create type record.readings_stage as enum ('initial', 'after_flaring', 'after_preparation', 'before_filling');
create type record.treatments_age_band as enum ('0-9', '10-19', '20-29', '30-39', '40-49', '50-59', '60-69', '70-79', '80-89', '90+');
create type record.treatments_apical_diagnosis as enum ('normal_apical_tissues', 'symptomatic_apical_periodontitis', 'asymptomatic_apical_periodontitis', 'acute_apical_abscess', 'chronic_apical_abscess', 'condensing_osteitis');
create type record.treatments_complication as enum ('none', 'ledge', 'perforation', 'separated_instrument', 'blockage', 'other');
create type record.treatments_difficulty as enum ('low', 'moderate', 'high');
create type record.treatments_pulpal_diagnosis as enum ('normal_pulp', 'reversible_pulpitis', 'symptomatic_irreversible_pulpitis', 'asymptomatic_irreversible_pulpitis', 'pulp_necrosis', 'previously_treated', 'previously_initiated_therapy');
create type record.treatments_restoration as enum ('none', 'temporary', 'direct', 'crown', 'other');
create type record.treatments_tooth as enum ('11', '12', '13', '14', '15', '16', '17', '18', '21', '22', '23', '24', '25', '26', '27', '28', '31', '32', '33', '34', '35', '36', '37', '38', '41', '42', '43', '44', '45', '46', '47', '48');
create type record.treatments_treatment_type as enum ('primary', 'retreatment');
CREATE TABLE record.canals(treatment_id VARCHAR NOT NULL, canal VARCHAR NOT NULL, root ENUM('single', 'B', 'P', 'L', 'M', 'D', 'MB', 'DB', 'DL'), reference_point ENUM('cusp_tip', 'incisal_edge', 'flattened_surface', 'restoration_margin', 'other'), patency BOOLEAN, apical_size_iso INTEGER, taper_pct DOUBLE, confirmed_length_mm DOUBLE, load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK(((apical_size_iso >= 6) AND (apical_size_iso <= 140))), CHECK(((taper_pct >= 0) AND (taper_pct <= 12))), CHECK(((confirmed_length_mm >= 8) AND (confirmed_length_mm <= 40))));
CREATE TABLE record.fills(treatment_id VARCHAR NOT NULL, canal VARCHAR NOT NULL, fill_offset_mm DOUBLE, core_beyond BOOLEAN, sealer_beyond BOOLEAN, voids BOOLEAN, taper_ok BOOLEAN, film_quality ENUM('A', 'N'), reader_id VARCHAR, "read" INTEGER, load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK(((fill_offset_mm >= -25) AND (fill_offset_mm <= 15))), CHECK((("read" >= 1) AND ("read" <= 20))));
CREATE TABLE record.findings(load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, "export" VARCHAR NOT NULL, column_name VARCHAR NOT NULL, code VARCHAR NOT NULL, severity VARCHAR NOT NULL);
CREATE TABLE record.follow_ups(treatment_id VARCHAR NOT NULL, canal VARCHAR, days_from_treatment INTEGER NOT NULL, imaging ENUM('film', 'cbct', 'none'), pai INTEGER, cbct_pai INTEGER, pain BOOLEAN, swelling BOOLEAN, sinus_tract BOOLEAN, tenderness BOOLEAN, mobility INTEGER, "function" BOOLEAN, tooth_present BOOLEAN, loss_reason ENUM('endodontic', 'other'), restoration_status ENUM('intact', 'defective', 'lost'), reader_id VARCHAR, "read" INTEGER, load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK((days_from_treatment <= 20000)), CHECK(((pai >= 1) AND (pai <= 5))), CHECK(((cbct_pai >= 0) AND (cbct_pai <= 5))), CHECK(((mobility >= 0) AND (mobility <= 3))), CHECK((("read" >= 1) AND ("read" <= 20))));
CREATE TABLE record.incidents(treatment_id VARCHAR NOT NULL, canal VARCHAR, kind ENUM('perforation', 'separated_instrument', 'irrigant_extrusion', 'altered_sensation', 'other') NOT NULL, days_from_treatment INTEGER, load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK((days_from_treatment <= 20000)));
CREATE TABLE record.load_files(load_id INTEGER, file_number INTEGER, "export" VARCHAR NOT NULL, file_name VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, size_bytes BIGINT NOT NULL, separator VARCHAR NOT NULL, decimal_mark VARCHAR NOT NULL, "encoding" VARCHAR NOT NULL, date_order VARCHAR NOT NULL, rows_read BIGINT NOT NULL, rows_accepted BIGINT NOT NULL, rows_quarantined BIGINT NOT NULL, rows_unchanged BIGINT NOT NULL, rows_superseding BIGINT NOT NULL, PRIMARY KEY(load_id, file_number), CHECK((rows_read = (rows_accepted + rows_quarantined))));
CREATE TABLE record.loads(load_id INTEGER PRIMARY KEY, loaded_at TIMESTAMP NOT NULL, program_version VARCHAR NOT NULL);
CREATE TABLE record.quarantine(load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, "export" VARCHAR NOT NULL, row_values VARCHAR NOT NULL);
CREATE TABLE record.readings(treatment_id VARCHAR NOT NULL, canal VARCHAR NOT NULL, "method" VARCHAR NOT NULL, stage ENUM('initial', 'after_flaring', 'after_preparation', 'before_filling'), replicate INTEGER, length_mm DOUBLE NOT NULL, canal_state ENUM('dry', 'wet'), file_size_iso INTEGER, metal_contact BOOLEAN, circuit_checked BOOLEAN, electrode ENUM('fork', 'clip'), "stable" BOOLEAN, observer_id VARCHAR, load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK(((replicate >= 1) AND (replicate <= 20))), CHECK(((length_mm >= 8) AND (length_mm <= 40))), CHECK(((file_size_iso >= 6) AND (file_size_iso <= 140))));
CREATE TABLE record.schema_version("version" INTEGER NOT NULL);
CREATE TABLE record.treatments(treatment_id VARCHAR NOT NULL, patient_id VARCHAR NOT NULL, clinician_id VARCHAR NOT NULL, site_id VARCHAR, tooth ENUM('11', '12', '13', '14', '15', '16', '17', '18', '21', '22', '23', '24', '25', '26', '27', '28', '31', '32', '33', '34', '35', '36', '37', '38', '41', '42', '43', '44', '45', '46', '47', '48') NOT NULL, period VARCHAR NOT NULL, treatment_type ENUM('primary', 'retreatment'), pulpal_diagnosis ENUM('normal_pulp', 'reversible_pulpitis', 'symptomatic_irreversible_pulpitis', 'asymptomatic_irreversible_pulpitis', 'pulp_necrosis', 'previously_treated', 'previously_initiated_therapy'), apical_diagnosis ENUM('normal_apical_tissues', 'symptomatic_apical_periodontitis', 'asymptomatic_apical_periodontitis', 'acute_apical_abscess', 'chronic_apical_abscess', 'condensing_osteitis'), preop_pai INTEGER, preop_lesion_mm DOUBLE, metal_restoration BOOLEAN, "isolation" BOOLEAN, age_band ENUM('0-9', '10-19', '20-29', '30-39', '40-49', '50-59', '60-69', '70-79', '80-89', '90+'), difficulty ENUM('low', 'moderate', 'high'), restoration ENUM('none', 'temporary', 'direct', 'crown', 'other'), restoration_adequate BOOLEAN, complication ENUM('none', 'ledge', 'perforation', 'separated_instrument', 'blockage', 'other'), load_id INTEGER NOT NULL, file_number INTEGER NOT NULL, row_number BIGINT NOT NULL, superseded_by INTEGER, CHECK(((preop_pai >= 1) AND (preop_pai <= 5))), CHECK(((preop_lesion_mm >= 0) AND (preop_lesion_mm <= 60))));
CREATE TABLE results.estimates(run_id VARCHAR, result_id VARCHAR, section VARCHAR NOT NULL, analysis VARCHAR NOT NULL, measure VARCHAR NOT NULL, subject VARCHAR NOT NULL, reference VARCHAR NOT NULL, stratum_kind VARCHAR NOT NULL, stratum VARCHAR NOT NULL, period VARCHAR NOT NULL, "scope" VARCHAR NOT NULL, unit VARCHAR NOT NULL, estimate DOUBLE, lower DOUBLE, upper DOUBLE, "level" DOUBLE, numerator BIGINT, denominator BIGINT, n_used BIGINT NOT NULL, n_missing BIGINT NOT NULL, n_clusters BIGINT, "target" DOUBLE, "method" VARCHAR NOT NULL, "valid" BOOLEAN NOT NULL, reason VARCHAR NOT NULL, "position" INTEGER NOT NULL, PRIMARY KEY(run_id, result_id));
CREATE TABLE results.lists(run_id VARCHAR NOT NULL, list_name VARCHAR NOT NULL, "position" INTEGER NOT NULL, treatment_id VARCHAR NOT NULL, canal VARCHAR NOT NULL, tooth VARCHAR NOT NULL, clinician_id VARCHAR NOT NULL, period VARCHAR NOT NULL, value_mm DOUBLE, detail VARCHAR NOT NULL);
CREATE TABLE results.points(run_id VARCHAR NOT NULL, figure VARCHAR NOT NULL, panel VARCHAR NOT NULL, series VARCHAR NOT NULL, "position" INTEGER NOT NULL, "label" VARCHAR NOT NULL, x DOUBLE, y DOUBLE, lower DOUBLE, upper DOUBLE, n BIGINT);
CREATE TABLE results.runs(run_id VARCHAR PRIMARY KEY, period VARCHAR NOT NULL, created_at TIMESTAMP NOT NULL, "version" VARCHAR NOT NULL, settings VARCHAR NOT NULL, inputs VARCHAR NOT NULL, versions VARCHAR NOT NULL);

insert into record.schema_version values (1);
insert into record.loads values
    (1, '2026-07-01 09:00:00', '0.1.0'), (2, '2026-07-02 09:00:00', '0.1.0');
insert into record.load_files values
    (1, 1, 'canals', 'canals.csv', 'aa', 73, ',', '.', 'utf-8', 'ymd', 3, 3, 0, 0, 0),
    (1, 2, 'readings', 'readings.csv', 'bb', 97, ',', '.', 'utf-8', 'ymd', 4, 3, 1, 0, 0),
    (1, 3, 'treatments', 'treatments.csv', 'cc', 94, ',', '.', 'utf-8', 'ymd', 2, 2, 0, 0, 0),
    (2, 1, 'readings', 'readings.csv', 'dd', 97, ',', '.', 'utf-8', 'ymd', 3, 3, 0, 2, 1);
insert into record.treatments (treatment_id, patient_id, clinician_id, tooth, period, load_id, file_number, row_number) values
    ('T1', 'P1', 'C01', '16', '2026-01', 1, 3, 1), ('T2', 'P2', 'C02', '11', '2026-02', 1, 3, 2);
insert into record.canals (treatment_id, canal, confirmed_length_mm, load_id, file_number, row_number) values
    ('T1', 'MB', 20.5, 1, 1, 1), ('T1', 'P', 21.0, 1, 1, 2), ('T2', 'C', 23.5, 1, 1, 3);
insert into record.readings (treatment_id, canal, method, length_mm, load_id, file_number, row_number, superseded_by) values
    ('T1', 'MB', 'electronic', 20.5, 1, 2, 1, null), ('T1', 'P', 'cbct', 21.2, 1, 2, 2, null),
    ('T2', 'C', 'film', 24.0, 1, 2, 3, 2), ('T2', 'C', 'film', 23.0, 2, 1, 3, null);
insert into record.findings values (1, 2, 4, 'readings', 'length_mm', 'reading.length_out_of_range', 'error');
insert into record.quarantine values
    (1, 2, 4, 'readings', '{"treatment_id":"T1","canal":"P","method":"film","length_mm":"215"}');
insert into results.runs values ('0123456789ab', '2026-Q1', '2026-07-02 10:00:00', '0.1.0', '{}', '[]', '{}');
