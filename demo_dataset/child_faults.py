"""The faulty readings, fillings and reviews."""

from demo_dataset.faults import BELL, NOT_YES_NO, UNKNOWN
from demo_dataset.sheets import Sheet


def plant_readings(sheet: Sheet, key: dict[str, str]) -> None:
    """Plant faulty readings."""
    host = {"treatment_id": key["molar"], "canal": "MB"}
    other = {"treatment_id": key["molar"], "canal": "ML"}
    sheet.error({"length_mm": "missing"}, "a missing code in a required field", **host,
                length_mm="not_recorded")  # fmt: skip
    sheet.error({"length_mm": "not_a_number"}, "words for a number", **host, replicate="2",
                length_mm="about 20")  # fmt: skip
    sheet.error({"length_mm": "out_of_range"}, "decimal point lost", **host, replicate="3",
                length_mm="205")  # fmt: skip
    sheet.error({"method": "not_allowed"}, "no such method", **host, method="guess")
    sheet.error({"method": "missing"}, "method left empty", **host, method="")
    words = {"stage": "late", "canal_state": "damp", "electrode": "hook"}
    sheet.error(dict.fromkeys(words, "not_allowed"), "words outside the lists", **host, **words)
    whole = ["replicate", "file_size_iso"]
    sheet.error(dict.fromkeys(whole, "not_an_integer"), "neither is a whole number", **other,
                replicate="two", file_size_iso="15.5")  # fmt: skip
    sheet.error(dict.fromkeys(whole, "out_of_range"), "outside the scale", **other,
                replicate="0", file_size_iso="300")  # fmt: skip
    words = dict.fromkeys(["metal_contact", "circuit_checked", "stable"], "perhaps")
    sheet.error(dict.fromkeys(words, "not_yes_or_no"), NOT_YES_NO, **other, replicate="4",
                **words)  # fmt: skip
    sheet.error({"observer_id": "malformed"}, "a key with a stroke", **other,
                observer_id="C/02")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=UNKNOWN, canal="C"), "canal_unknown",
              "no such treatment", "canal")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=key["molar"], canal="MM"), "canal_unknown",
              "its canal was set aside", "canal")  # fmt: skip
    again = sheet.clean(treatment_id=key["molar"], canal="D")
    sheet.raw(again, "duplicate_row", "the same row again")
    twice = {"treatment_id": key["second_molar"], "canal": "MB"}
    sheet.conflict("one reading, two lengths", twice, {**twice, "length_mm": "20.9"})
    short = sheet.line(treatment_id=key["second_molar"], canal="ML").rsplit(",", 3)[0]
    sheet.raw(short, "too_few_fields", "three fields fewer than the header")
    sheet.raw(sheet.line(treatment_id=key["second_molar"], canal="D", electrode=f"fork{BELL}"),
              "control_character", "an unprintable character", "electrode")  # fmt: skip
    empty = dict.fromkeys(["canal_state", "file_size_iso", "metal_contact", "circuit_checked",
                           "electrode", "stable"], "")  # fmt: skip
    sheet.warning("length_mm", "length_unusual_for_tooth", "long for a third molar",
                  treatment_id=key["third_molar"], canal="MB", method="tactile",
                  stage="initial", length_mm="22.5", **empty)  # fmt: skip


def plant_fills(sheet: Sheet, key: dict[str, str]) -> None:
    """Plant faulty readings of fillings."""
    host = {"treatment_id": key["upper_molar"], "canal": "MB2"}
    other = {"treatment_id": key["upper_molar"], "canal": "DB"}
    sheet.error({"fill_offset_mm": "not_a_number"}, "a word for a number", **host,
                fill_offset_mm="short")  # fmt: skip
    sheet.error({"fill_offset_mm": "out_of_range"}, "further than a tooth is long", **host,
                read="2", fill_offset_mm="-30.0")  # fmt: skip
    words = dict.fromkeys(["core_beyond", "sealer_beyond", "voids", "taper_ok"], "perhaps")
    sheet.error(dict.fromkeys(words, "not_yes_or_no"), NOT_YES_NO, **host, read="3", **words)
    sheet.error({"film_quality": "not_allowed", "reader_id": "malformed",
                 "read": "not_an_integer"}, "three fields filled in wrongly", **host,
                film_quality="B", reader_id="R/1", read="first")  # fmt: skip
    sheet.error({"read": "out_of_range"}, "more reads than anyone makes", **host, read="25")
    sheet.raw(sheet.line(treatment_id=key["upper_molar"], canal="ML"), "canal_unknown",
              "the tooth has no such canal", "canal")  # fmt: skip
    again = sheet.clean(treatment_id=key["upper_molar"], canal="P")
    sheet.raw(again, "duplicate_row", "the same row again")
    sheet.conflict("one read, two offsets", other, {**other, "fill_offset_mm": "-1.5"})
    sheet.raw(sheet.line(**other, read="4") + ",spare", "too_many_fields",
              "one field more than the header")  # fmt: skip
    sheet.warning("core_beyond", "offset_contradicts_beyond", "core beyond, offset short",
                  treatment_id=key["premolar"], canal="B", fill_offset_mm="-0.5",
                  core_beyond="yes", sealer_beyond="yes")  # fmt: skip
    sheet.warning("core_beyond", "offset_contradicts_beyond", "offset beyond, nothing beyond",
                  treatment_id=key["premolar"], canal="P", fill_offset_mm="0.5")  # fmt: skip


def plant_follow_ups(sheet: Sheet, key: dict[str, str]) -> None:
    """Plant faulty reviews."""
    host = {"treatment_id": key["molar"]}
    sheet.error({"days_from_treatment": "missing"}, "no day", **host, days_from_treatment="")
    sheet.error({"days_from_treatment": "not_an_integer"}, "not a whole number", **host,
                days_from_treatment="400.5")  # fmt: skip
    sheet.error({"days_from_treatment": "out_of_range"}, "more days than a life has", **host,
                days_from_treatment="25000")  # fmt: skip
    words = {"canal": "ZZ", "imaging": "photo", "loss_reason": "bother",
             "restoration_status": "so-so"}  # fmt: skip
    sheet.error(dict.fromkeys(words, "not_allowed"), "words outside the lists", **host,
                days_from_treatment="401", **words)  # fmt: skip
    whole = ["pai", "cbct_pai", "mobility", "read"]
    sheet.error(dict.fromkeys(whole, "not_an_integer"), "words for numbers", **host,
                days_from_treatment="402", **dict.fromkeys(whole, "low"))  # fmt: skip
    numbers = {"pai": "6", "cbct_pai": "7", "mobility": "4", "read": "0"}
    sheet.error(dict.fromkeys(numbers, "out_of_range"), "numbers outside the scales", **host,
                days_from_treatment="403", **numbers)  # fmt: skip
    answers = ["pain", "swelling", "sinus_tract", "tenderness", "function", "tooth_present"]
    sheet.error(dict.fromkeys(answers, "not_yes_or_no"), NOT_YES_NO, **host,
                days_from_treatment="404", **dict.fromkeys(answers, "perhaps"))  # fmt: skip
    sheet.error({"reader_id": "malformed"}, "a key with a stroke", **host,
                days_from_treatment="405", reader_id="C/02")  # fmt: skip
    sheet.raw(sheet.line(**host, days_from_treatment="-5"), "before_treatment",
              "before the treatment", "days_from_treatment")  # fmt: skip
    sheet.raw(sheet.line(treatment_id=UNKNOWN), "treatment_unknown", "no such treatment",
              "treatment_id")  # fmt: skip
    again = sheet.clean(**host, canal="MB")
    sheet.raw(again, "duplicate_row", "the same row again")
    twice = {"treatment_id": key["second_molar"], "canal": "D"}
    sheet.conflict("one review, two scores", twice, {**twice, "pai": "2"})
    short = sheet.line(treatment_id=key["second_molar"]).rsplit(",", 2)[0]
    sheet.raw(short, "too_few_fields", "two fields fewer than the header")
    odd = sheet.line(treatment_id=key["second_molar"], restoration_status=f"intact{BELL}")
    sheet.raw(odd, "control_character", "an unprintable character", "restoration_status")
    gone = dict.fromkeys(["pain", "swelling", "sinus_tract", "tenderness", "mobility",
                          "function", "restoration_status", "pai"], "")  # fmt: skip
    sheet.warning("loss_reason", "loss_without_reason", "tooth gone, reason not given",
                  treatment_id=key["lost"], imaging="none", tooth_present="no",
                  **gone)  # fmt: skip
    sheet.warning("loss_reason", "loss_reason_but_present", "a reason, but the tooth is there",
                  treatment_id=key["present"], loss_reason="other")  # fmt: skip
