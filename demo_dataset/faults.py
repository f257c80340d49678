"""The rows put in on purpose, export by export.

They stand on host treatments of their own, so that no clean row loses its parent. Hosts are
complete treatments with nothing wrong but what is listed.
"""

from collections.abc import Iterator

from demo_dataset.sheets import Sheet

# Host treatments: tooth, and the confirmed length of each canal.
HOSTS = {
    "short_tooth": ("41", {}),
    "spread_molar": ("36", {}),
    "molar": ("46", {"MB": "20.0", "ML": "20.2", "D": "19.8"}),
    "third_molar": ("38", {"MB": "20.5", "ML": "20.0", "D": "20.0"}),
    "premolar": ("14", {"B": "20.0", "P": "20.5"}),
    "upper_molar": ("26", {"MB2": "19.5", "DB": "19.8", "P": "20.5"}),
    "lost": ("24", {"B": "20.4", "P": "20.8"}),
    "present": ("11", {"C": "23.0"}),
    "second_molar": ("47", {"MB": "19.6", "ML": "19.8", "D": "19.9"}),
}  # fmt: skip
UNKNOWN = "T99999"
NOT_YES_NO = "an answer other than yes or no"
BELL = "\x07"


def plant_treatments(sheet: Sheet, key: dict[str, str], spare: list[str]) -> None:
    """Plant hosts and faulty treatments."""
    hosts = {
        name: sheet.clean(treatment_id=key[name], patient_id=f"P9{number:04d}", tooth=tooth)
        for number, (name, (tooth, _)) in enumerate(HOSTS.items(), start=1)
    }
    ids = iter(spare)
    row = {"patient_id": "P90020", "tooth": "15"}
    sheet.error({"treatment_id": "missing"}, "no key", treatment_id="", **row)
    needed = ["patient_id", "clinician_id", "tooth", "period"]
    blank = dict.fromkeys(needed, "")
    sheet.error(dict.fromkeys(needed, "missing"), "required fields left empty",
                treatment_id=next(ids), **blank)  # fmt: skip
    sheet.error({"patient_id": "missing"}, "a missing code in a required field",
                treatment_id=next(ids), patient_id="not_recorded", tooth="15")  # fmt: skip
    bad = {"treatment_id": "T#1", "patient_id": "-P1", "clinician_id": "C/02", "site_id": "S1!"}
    sheet.error(dict.fromkeys(bad, "malformed"), "keys with signs that keys may not hold",
                **{**row, **bad})  # fmt: skip
    sheet.error({"tooth": "not_allowed"}, "no such tooth", treatment_id=next(ids),
                patient_id="P90020", tooth="19")  # fmt: skip
    sheet.error({"period": "malformed"}, "no such quarter", treatment_id=next(ids), **row,
                period="2024-Q5")  # fmt: skip
    _plant_treatment_values(sheet, ids, row)
    sheet.raw(sheet.line(treatment_id=next(ids), **row) + ",spare", "too_many_fields",
              "one field more than the header")  # fmt: skip
    short = sheet.line(treatment_id=next(ids), **row).rsplit(",", 2)[0]
    sheet.raw(short, "too_few_fields", "two fields fewer than the header")
    sheet.raw(sheet.line(treatment_id=next(ids), **row, difficulty=f"low{BELL}"),
              "control_character", "an unprintable character", "difficulty")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=next(ids), **row, difficulty="x" * 5000),
              "field_too_long", "5,000 letters in one field", "difficulty")  # fmt: skip
    sheet.raw(hosts["molar"], "duplicate_row", "the same row as a host's, again")
    twice = {"treatment_id": next(ids), "tooth": "15", "patient_id": "P90021"}
    sheet.conflict("one key, two ages", twice, {**twice, "age_band": "60-69"})
    sheet.warning("apical_diagnosis", "diagnosis_without_lesion", "diagnosis asks for a lesion",
                  treatment_id=next(ids), patient_id="P90022", tooth="25", preop_pai="1",
                  apical_diagnosis="asymptomatic_apical_periodontitis")  # fmt: skip


def _plant_treatment_values(sheet: Sheet, ids: Iterator[str], row: dict[str, str]) -> None:
    """Plant treatments whose optional fields hold what they may not."""
    words = {"treatment_type": "tertiary", "pulpal_diagnosis": "sore", "restoration": "paint",
             "apical_diagnosis": "sore", "age_band": "middle", "difficulty": "so-so",
             "complication": "bother"}  # fmt: skip
    sheet.error(dict.fromkeys(words, "not_allowed"), "words outside the lists",
                treatment_id=next(ids), **row, **words)  # fmt: skip
    words = dict.fromkeys(["metal_restoration", "isolation", "restoration_adequate"], "perhaps")
    sheet.error(dict.fromkeys(words, "not_yes_or_no"), NOT_YES_NO,
                treatment_id=next(ids), **row, **words)  # fmt: skip
    sheet.error({"preop_pai": "not_an_integer", "preop_lesion_mm": "not_a_number"},
                "words in number fields", treatment_id=next(ids), **row, preop_pai="low",
                preop_lesion_mm="large")  # fmt: skip
    sheet.error({"preop_pai": "out_of_range", "preop_lesion_mm": "out_of_range"},
                "numbers outside the scale", treatment_id=next(ids), **row, preop_pai="7",
                preop_lesion_mm="75.0")  # fmt: skip


def plant_canals(sheet: Sheet, key: dict[str, str]) -> None:
    """Plant the hosts' canals and faulty canals."""
    for name, (_, lengths) in HOSTS.items():
        for canal, length in lengths.items():
            sheet.clean(treatment_id=key[name], canal=canal, confirmed_length_mm=length)
    molar, second = {"treatment_id": key["molar"]}, {"treatment_id": key["second_molar"]}
    words = {"apical_size_iso": "thirty", "taper_pct": "six", "confirmed_length_mm": "about 20",
             "patency": "perhaps", "root": "north", "reference_point": "edge"}  # fmt: skip
    kinds = ["not_an_integer", "not_a_number", "not_a_number", "not_yes_or_no", "not_allowed",
             "not_allowed"]  # fmt: skip
    sheet.error(dict(zip(words, kinds, strict=True)), "words that the fields do not allow",
                **molar, canal="MM", **words)  # fmt: skip
    sheet.error({"confirmed_length_mm": "out_of_range"}, "longer than any tooth", **molar,
                canal="DB", confirmed_length_mm="47.0")  # fmt: skip
    sheet.error({"apical_size_iso": "out_of_range"}, "no such size", **molar, canal="DL",
                apical_size_iso="300")  # fmt: skip
    sheet.error({"taper_pct": "out_of_range"}, "no such taper", **second, canal="MM",
                taper_pct="14.0")  # fmt: skip
    sheet.error({"canal": "not_allowed"}, "no such canal code", **second, canal="ZZ")
    sheet.error({"canal": "missing"}, "canal left empty", **second, canal="")
    sheet.raw(sheet.line(**second, canal="DB") + ",spare", "too_many_fields",
              "one field more than the header")  # fmt: skip
    sheet.raw(sheet.line(**second, canal="DL", patency=f"yes{BELL}"), "control_character",
              "an unprintable character", "patency")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=UNKNOWN, canal="C"), "treatment_unknown",
              "no such treatment", "treatment_id")  # fmt: skip
    again = sheet.clean(treatment_id=key["upper_molar"], canal="MB")
    sheet.raw(again, "duplicate_row", "the same row again")
    twice = {"treatment_id": key["third_molar"], "canal": "DB"}
    sheet.conflict("one canal, two lengths", twice, {**twice, "confirmed_length_mm": "20.4"})
    sheet.warning("canal", "not_usual_for_tooth", "a mesiolingual canal in an upper premolar",
                  treatment_id=key["premolar"], canal="ML")  # fmt: skip
    sheet.warning("confirmed_length_mm", "confirmed_length_unusual_for_tooth",
                  "short for a lower central incisor", treatment_id=key["short_tooth"],
                  canal="C", confirmed_length_mm="12.5")  # fmt: skip
    for canal, length in {"MB": "17.0", "D": "23.5"}.items():
        sheet.warning("confirmed_length_mm", "length_spread_large",
                      "two canals of one molar 6.5 mm apart; both rows",
                      treatment_id=key["spread_molar"], canal=canal,
                      confirmed_length_mm=length)  # fmt: skip


def plant_incidents(sheet: Sheet, key: dict[str, str]) -> None:
    """Plant faulty incidents. Every field is in the key, so none can contradict another."""
    host = {"treatment_id": key["molar"], "canal": "MB"}
    sheet.error({"kind": "missing"}, "kind left empty", **host, kind="")
    sheet.error({"kind": "not_allowed", "canal": "not_allowed"}, "words outside the lists",
                treatment_id=key["molar"], canal="ZZ", kind="fright")  # fmt: skip
    sheet.error({"days_from_treatment": "not_an_integer"}, "a word for a number", **host,
                days_from_treatment="later")  # fmt: skip
    sheet.error({"days_from_treatment": "out_of_range"}, "more days than a life has", **host,
                days_from_treatment="25000")  # fmt: skip
    sheet.raw(sheet.line(**host, days_from_treatment="-2"), "before_treatment",
              "before the treatment", "days_from_treatment")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=UNKNOWN, canal="C"), "treatment_unknown",
              "no such treatment", "treatment_id")  # fmt: skip
    again = sheet.clean(**host)
    sheet.raw(again, "duplicate_row", "the same row again")
    sheet.raw(sheet.line(**host, days_from_treatment="1") + ",spare", "too_many_fields",
              "one field more than the header")  # fmt: skip
