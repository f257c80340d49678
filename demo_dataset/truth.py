"""The text of `truth.toml`."""

from demo_dataset import missing, planted

HEAD = """\
# What was planted in this dataset. The practice, its people and every number are invented.
# Nothing here says how real treatments behave.
# Differences are method minus confirmed length, positive = the method reads longer.
# fill_offset_mm: positive = beyond the radiographic apex, negative = short of it.
"""
RULES = {
    "tooth_level": "worst of its canals, beyond before short before within; within is "
    "-2 <= offset <= 0",
    "reading_of_record": "first read of the first reader: R1 where two readers read, else the "
    "treating clinician; the outcome depends on it, not on the exact offset",
    "event": "not healed at the first review from 366 days on; includes healing, an unchanged "
    "lesion and loss for an endodontic reason",
    "event_shares": "given the event, healing, unchanged and failed depend on the lesion only, "
    "so the odds ratios of level hold for each of them against healed",
    "odds": "short and beyond each against within; retreatment, molar and lesion against none",
    "scatter": "multipliers act on the residual and multiply each other; patient, tooth and "
    "canal parts stay as they are, so whole standard deviations differ by less",
    "confirmed_length": "close to the true length by construction; in a real practice it "
    "already used the other methods",
    "reader_rounding": "35 in 100 offsets are kept in 0.5 mm steps, the others in 0.1 mm; none "
    "is rounded across 0 or -2 mm",
    "reading_rounding": "electronic and cbct 0.1 mm, every other method 0.5 mm (heaping)",
    "not_written": "readings outside the soft limits of their tooth (a handful, most of them "
    "tactile) are left out",
    "attendance": "depends on lesion and clinician only: given these, who comes back does not "
    "depend on the outcome",
    "follow_up": "a first review falls due from 366 days on, a second from 731; reviews up to "
    "the cut-off only, counted from the last day of the treatment month",
    "not_planted": "no effect of site, age, isolation, electrode, circuit check, stability, "
    "restoration, difficulty, voids or taper on length, level or outcome",
}


def _number(value: float) -> str:
    return repr(float(value))


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _section(title: str, lines: list[str]) -> str:
    return "\n".join([f"[{title}]", *lines]) + "\n"


def text(seed: int, scale: float, counts: dict[str, int]) -> str:
    """Return `truth.toml`."""
    about = [
        "invented = true", f"seed = {seed}", f"scale = {_number(scale)}",
        f"cut_off = {_quoted(planted.CUT_OFF)}",
        f"action_month = {_quoted(planted.ACTION_MONTH)}",
        f"drift_month = {_quoted(planted.DRIFT_MONTH)}",
        f"drift_clinician = {_quoted(planted.DRIFT_CLINICIAN)}",
    ]  # fmt: skip
    parts = [HEAD, _section("dataset", about)]
    parts.append(_section("rows", [f"{name} = {count}" for name, count in counts.items()]))
    parts.append(
        _section("rules", [f"{name} = {_quoted(rule)}" for name, rule in RULES.items()])
    )
    shares = [f"{name} = {_number(share)}" for name, share in missing.SHARES.items()]
    usual = f"other_optional_fields = {_number(missing.USUAL_SHARE)}"
    poor = f"offset_on_poor_film = {_number(missing.UNREADABLE_ON_POOR_FILM)}"
    parts.append(_section("missing_at_random", [usual, *shares, poor]))
    for group, effects in planted.GROUPS.items():
        for name, effect in effects.items():
            lines = [
                f"size = {_number(effect.size)}", f"unit = {_quoted(effect.unit)}",
                f"acts_on = {_quoted(effect.acts_on)}", f"basis = {_quoted(effect.basis)}",
            ]  # fmt: skip
            parts.append(_section(f"{group}.{name}", lines))
    return "\n".join(parts)
