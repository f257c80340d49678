"""Every planted effect: its size, unit, where it acts and what the size rests on.

The generator reads its sizes here and `truth.toml` is written from here, so the two cannot
drift apart.
"""

from dataclasses import dataclass

ASSUMED = "an assumption of this invented practice"
TRADE = "common practice, no source"
DISAGREE = "an assumption: published cohorts disagree"
TORONTO = (
    "between de Chevigny 2008, J Endod (2.86, 1.56-5.24) and Marquis 2006, J Endod "
    "(3.5, 1.7-7.2)"
)
FILM_LONG = (
    "direction: BioMed Res Int 2020:7890127 (all films slightly long); size: an assumption"
)
AFTER_PREPARATION = (
    "direction: Davis 2002 (working length shortens in curved canals); size: an assumption"
)
ACTION_MONTH = "2025-05"
DRIFT_MONTH = "2025-04"
DRIFT_CLINICIAN = "C05"
CUT_OFF = "2026-06-30"


@dataclass(frozen=True, slots=True)
class Effect:
    """One planted effect."""

    size: float
    unit: str
    acts_on: str
    basis: str


_WITHIN = "residual of one electronic reading (replicates of one canal differ by it)"
_TOOTH = (
    "tooth not healed (not: PAI <= 2, no signs, in function) at its first review from 12 months"
)
_REVIEW = "log odds that a tooth whose first yearly review fell due by the cut-off is seen"

LENGTHS = {
    "film_bias": Effect(0.5, "mm", "film minus confirmed length", FILM_LONG),
    "film_sd": Effect(0.8, "mm", "film minus true length, whole standard deviation", ASSUMED),
    "film_file_bias": Effect(0.1, "mm", "film_file minus confirmed length", FILM_LONG),
    "film_file_sd": Effect(0.55, "mm", "film_file minus true length, whole", ASSUMED),
    "film_shared_sd": Effect(
        0.35, "mm", "error that film and film_file of one canal have in common", ASSUMED
    ),
    "cbct_bias": Effect(-0.05, "mm", "cbct minus confirmed length", ASSUMED),
    "cbct_sd": Effect(0.35, "mm", "cbct minus true length, whole", ASSUMED),
    "tactile_bias": Effect(-0.2, "mm", "tactile minus confirmed length", ASSUMED),
    "tactile_sd": Effect(1.2, "mm", "tactile minus true length, whole", TRADE),
    "paper_point_bias": Effect(0.05, "mm", "paper_point minus confirmed length", ASSUMED),
    "paper_point_sd": Effect(
        0.3,
        "mm",
        "paper_point minus true length, whole",
        "size: an assumption; Marcos-Arenal 2009 found 87 in 100 within 0.5 mm",
    ),
    "trial_cone_bias": Effect(0.0, "mm", "trial_cone minus confirmed length", ASSUMED),
    "trial_cone_sd": Effect(0.3, "mm", "trial_cone minus true length, whole", ASSUMED),
    "electronic_dry_bias": Effect(
        0.02, "mm", "electronic, dry canal, no metal contact, stage after_preparation", ASSUMED
    ),
    "electronic_within_sd": Effect(0.3, "mm", _WITHIN + ", dry canal", ASSUMED),
    "electronic_patient_sd": Effect(
        0.15, "mm", "all electronic readings of a patient", ASSUMED
    ),
    "electronic_tooth_sd": Effect(0.15, "mm", "all electronic readings of a tooth", ASSUMED),
    "electronic_canal_sd": Effect(0.1, "mm", "all electronic readings of a canal", ASSUMED),
    "electronic_wet_shift": Effect(
        -0.15, "mm", "electronic, wet canal, added to the dry bias", TRADE
    ),
    "electronic_wet_scatter": Effect(1.6, "ratio", _WITHIN + ", wet to dry", TRADE),
    "metal_contact_shift": Effect(
        -0.6,
        "mm",
        "electronic with metal_contact yes: the circuit closes early, reads short",
        TRADE,
    ),
    "metal_contact_scatter": Effect(2.0, "ratio", _WITHIN + ", contact to none", TRADE),
    "small_file_scatter": Effect(
        2.0, "ratio", _WITHIN + ", file three or more ISO sizes under apical_size_iso", TRADE
    ),
    "curved_initial_shift": Effect(
        0.25,
        "mm",
        "electronic, stage initial, curved canals (latent; 60 in 100 mesial canals "
        "of molars, 10 in 100 others): the canal was still longer",
        AFTER_PREPARATION,
    ),
    "curved_flaring_shift": Effect(
        0.1, "mm", "electronic, stage after_flaring, curved canals", AFTER_PREPARATION
    ),
    "confirmed_own_sd": Effect(
        0.08, "mm", "confirmed_length_mm minus true length before rounding", ASSUMED
    ),
    "confirmed_half_mm_share": Effect(
        0.3, "share", "confirmed lengths kept in 0.5 mm steps; the others in 0.1 mm", ASSUMED
    ),
}

FILLING = {
    "offset_mean": Effect(
        -0.93, "mm", "fill_offset_mm, straight canal of a tooth other than a molar", ASSUMED
    ),
    "offset_sd": Effect(
        0.77,
        "mm",
        "fill_offset_mm of one canal; 20 in 100 of the variance is the patient's, "
        "25 in 100 the tooth's",
        ASSUMED,
    ),
    "molar_shift": Effect(-0.1, "mm", "fill_offset_mm in molars", ASSUMED),
    "curved_shift": Effect(-0.15, "mm", "fill_offset_mm in curved canals (latent)", ASSUMED),
    "electronic_carry_over": Effect(
        0.35,
        "mm per mm",
        "fill_offset_mm per mm of the canal's mean electronic difference at its last stage",
        ASSUMED,
    ),
    "discordance_shift": Effect(
        -0.2,
        "mm",
        "fill_offset_mm where film_file and the electronic mean differ by more than 1 mm",
        ASSUMED,
    ),
    "drift_beyond_odds_ratio": Effect(
        2.5,
        "odds ratio",
        f"beyond, canals of {DRIFT_CLINICIAN} from {DRIFT_MONTH} (2025-Q2) on",
        ASSUMED,
    ),
    "action_short_odds_ratio": Effect(
        0.45,
        "odds ratio",
        f"short, every canal from {ACTION_MONTH} on (the practice's action: "
        "reconfirm the length after preparation)",
        ASSUMED,
    ),
    "reconfirmed_share_before": Effect(
        0.55,
        "share",
        f"canals with an electronic reading after preparation before {ACTION_MONTH}",
        ASSUMED,
    ),
    "reconfirmed_share_after": Effect(
        0.85, "share", f"the same from {ACTION_MONTH} on", ASSUMED
    ),
    "reader_difference_sd": Effect(
        0.4,
        "mm",
        "second reader (R2) minus first reader (R1) of one film, before either is rounded to its "
        "steps; what is recorded differs by an SD of about 0.43",
        ASSUMED,
    ),
    "reader_difference_bias": Effect(0.05, "mm", "R2 minus R1", ASSUMED),
    "repeat_difference_sd": Effect(
        0.25,
        "mm",
        "second minus first read by one reader, before rounding; recorded: about 0.29",
        ASSUMED,
    ),
    "film_acceptable_share": Effect(0.93, "share", "film_quality A", ASSUMED),
}

OUTCOME = {
    "intercept_log_odds": Effect(
        -3.2,
        "log odds",
        _TOOTH + ", reference tooth",
        "healed about 0.93 without and 0.80 "
        "with a lesion: between the rates of de Chevigny 2008, J Endod (93 and 82 in 100)",
    ),
    "lesion_odds_ratio": Effect(3.2, "odds ratio", _TOOTH + ", preop_pai >= 3", TORONTO),
    "short_odds_ratio": Effect(
        1.5,
        "odds ratio",
        _TOOTH + ", worst canal short against within (reading of record)",
        DISAGREE + " (Jurič 2024: 1.61, 1.03-2.50; Kojima 2004: 1.12, 1.00-1.27)",
    ),
    "beyond_odds_ratio": Effect(
        2.2,
        "odds ratio",
        _TOOTH + ", worst canal beyond against within (reading of record)",
        DISAGREE + " (Jurič 2024: 2.27, 1.33-3.85; Terauchi 2023: 0.63, 0.26-1.54)",
    ),
    "retreatment_odds_ratio": Effect(1.6, "odds ratio", _TOOTH + ", retreatment", ASSUMED),
    "molar_odds_ratio": Effect(
        1.8,
        "odds ratio",
        _TOOTH + ", molars",
        "direction: de Chevigny 2008, J Endod (more than "
        "one root 2.53, 1.25-5.13); size: an assumption",
    ),
    "patient_log_odds_sd": Effect(
        0.5,
        "log odds",
        _TOOTH + ", random effect of the patient (marginal ratios lie about "
        "4 in 100 nearer to 1 on the log scale)",
        ASSUMED,
    ),
    "attendance_intercept": Effect(0.45, "log odds", _REVIEW, ASSUMED),
    "attendance_lesion": Effect(0.5, "log odds", _REVIEW + ", with a lesion", ASSUMED),
    "attendance_C01": Effect(0.6, "log odds", _REVIEW + ", clinician C01", ASSUMED),
    "attendance_C03": Effect(0.3, "log odds", _REVIEW + ", clinician C03", ASSUMED),
    "attendance_C04": Effect(-0.8, "log odds", _REVIEW + ", clinician C04", ASSUMED),
    "attendance_C05": Effect(-0.2, "log odds", _REVIEW + ", clinician C05", ASSUMED),
    "attendance_C06": Effect(0.4, "log odds", _REVIEW + ", clinician C06", ASSUMED),
    "attendance_C07": Effect(-1.0, "log odds", _REVIEW + ", clinician C07", ASSUMED),
    "pai_reader_disagreement": Effect(
        0.24,
        "share",
        "second reader's PAI steps away from the first's, up or down; a step off the scale (below "
        "1, above 5) stays, so fewer differ",
        ASSUMED,
    ),
    "lost_other_share": Effect(0.012, "share", "teeth lost for another reason", ASSUMED),
    "lost_endodontic_share": Effect(
        0.12, "share", "of the teeth that fail with signs, those taken out for it", ASSUMED
    ),
}

GROUPS = {"lengths": LENGTHS, "filling": FILLING, "outcome": OUTCOME}
_ALL = {name: effect for group in GROUPS.values() for name, effect in group.items()}


def size(name: str) -> float:
    """Return the planted size of one effect."""
    return _ALL[name].size
