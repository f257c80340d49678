"""The cautions that every report prints."""

STANDING = (
    "This is an audit of past records. It gives no advice for any one patient and is not a "
    "medical device; it measures nothing in a mouth.",
    "Decisions rest with licensed clinicians, with local rules and with data-protection law.",
    "An association is not a cause: teeth that were filled to different levels may differ in "
    "other ways that records do not hold.",
    "No X-ray is taken for audit. A review without a film is shown as not taken, never as a "
    "shortfall of a clinician, and no scan is asked for.",
    "Small numbers move much by chance; read the interval before the number.",
    "Teeth that were not reviewed may differ from those that were; rates among reviewed "
    "teeth can lie either side of the rate among all.",
    "A film shows the radiographic apex and not the foramen, so it under-counts fillings that "
    "end beyond; a share beyond is more likely too low than too high.",
    "Sealer beyond and core material beyond are kept apart; they need not matter alike.",
    "Outcomes read from film and from cone-beam scans are not mixed, and strict and loose "
    "criteria give different rates.",
)
INCORPORATION = (
    "The confirmed length was chosen with the other methods in view, so agreement with it is "
    "agreement and not accuracy: a method that weighed more in the choice agrees more."
)
FILM_LIMIT = (
    "A film under-counts fillings that end beyond, so read each share beyond as a lower figure."
)
OBSERVED_ONLY = (
    "The figures describe what went together in these records; they do not say what a "
    "different filling would have changed."
)
SAFETY = (
    "Clinical review now; urgent referral if numbness or spreading swelling. For breathing or "
    "swallowing difficulty, emergency care at once."
)
QUERY = (
    "To query a record, give its treatment key to whoever runs the audit; a corrected row "
    "replaces the old one with a trace, and the next run shows it."
)


def all_cautions() -> tuple[str, ...]:
    """Return every standing caution with those of agreement and of outcome."""
    return (*STANDING, INCORPORATION, OBSERVED_ONLY)
