"""What practices call the fields, in the words of the trade. Common practice, no source."""

# Field of the dictionary: headers in lower case, words parted by blanks, without accents.
FIELD_WORDS: dict[str, tuple[str, ...]] = {
    "treatment_id": (
        "treatment id", "treatment", "case", "case id", "case no", "case number", "fall",
        "fallnummer", "behandlung", "cas", "caso", "dossier code", "episode", "tx id", "rct id",
    ),
    "patient_id": (
        "patient id", "patient", "patient code", "pt", "pt id", "pat", "pat code", "paciente",
        "patient key", "pseudonym", "paziente", "patientcode",
    ),
    "clinician_id": (
        "clinician id", "clinician", "operator", "op", "dentist", "provider", "dr", "behandler",
        "beh", "operateur", "praticien", "operador", "dentista", "treated by", "behandelaar",
    ),
    "site_id": ("site id", "site", "practice", "location", "standort", "surgery", "clinic"),
    "tooth": (
        "tooth", "tooth no", "tooth number", "zahn", "zahn nr", "dent", "diente", "dente",
        "tooth fdi", "fdi", "tand", "element", "pieza", "th",
    ),
    "period": ("period", "month", "quarter", "monat", "quartal", "mois", "mes", "trimestre"),
    "treatment_date": (
        "treatment date", "date", "date of treatment", "date of obturation", "datum", "obturated on",
        "behandlungsdatum", "date of fill", "fecha", "data", "date obturation", "date completed",
    ),
    "treatment_type": ("treatment type", "type of treatment", "primary or retreatment", "tx type"),
    "pulpal_diagnosis": ("pulpal diagnosis", "pulp diagnosis", "pulp dx", "pulpadiagnose"),
    "apical_diagnosis": ("apical diagnosis", "periapical diagnosis", "apical dx", "apikale diagnose"),
    "preop_pai": ("preop pai", "pre op pai", "pai preop", "pai before", "initial pai"),
    "preop_lesion_mm": ("preop lesion", "lesion mm", "lesion size", "lesion diameter"),
    "isolation": (
        "isolation", "rubber dam", "dam", "rd", "kofferdam", "digue", "dique", "rubberdam", "diga",
    ),
    "age_band": ("age band", "age group", "altersgruppe"),
    "difficulty": ("difficulty", "case difficulty", "schwierigkeit", "complexity"),
    "restoration": ("restoration", "coronal restoration", "restauration"),
    "complication": ("complication", "mishap", "komplikation"),
    "canal": ("canal", "kanal", "conducto", "canale", "root canal", "kanaal", "can"),
    "root": ("root", "wurzel", "racine", "raiz"),
    "reference_point": (
        "reference point", "ref point", "ref", "referenzpunkt", "reference", "point de repere",
    ),
    "patency": ("patency", "patent", "gangbar"),
    "apical_size_iso": (
        "apical size", "maf", "master apical file", "final size", "iso size", "apical gauge",
        "maf iso",
    ),
    "taper_pct": ("taper", "final taper", "konizitat"),
    "confirmed_length_mm": (
        "confirmed length", "working length", "wl", "final wl", "arbeitslange", "al", "final length",
        "longueur de travail", "lt", "longitud de trabajo", "cwl", "werklengte", "al mm", "wl mm",
    ),
    "method": ("method", "messart", "methode", "metodo", "how measured", "wl method"),
    "stage": ("stage", "phase", "zeitpunkt"),
    "length_mm": ("length", "length mm", "lange", "reading", "longueur", "longitud", "mm"),
    "observer_id": ("observer", "measured by", "untersucher"),
    "fill_offset_mm": (
        "fill offset", "filling level", "fill level", "obturation level", "rf level", "fill to apex",
        "gp to apex", "distance to apex", "wurzelfullung", "wf", "obturation", "fill", "niveau",
        "nivel de obturacion", "wf abstand", "wf niveau",
    ),
    "fill_level": ("fill level in words", "fill category", "level category", "fill quality"),
    "sealer_beyond": ("sealer beyond", "sealer puff", "sealer extrusion", "puff"),
    "core_beyond": ("core beyond", "gp beyond", "overfill", "overfilled"),
    "voids": ("voids", "void", "hohlraume"),
    "reader_id": ("reader", "read by", "scored by"),
    "days_from_treatment": ("days from treatment", "days", "tage", "days after treatment"),
    "review_date": ("review date", "recall date", "follow up date", "recall", "kontrolldatum"),
    "pai": ("pai", "pai score", "pai at review", "review pai", "recall pai"),
    "pain": ("pain", "schmerz", "symptoms", "douleur", "dolor"),
    "swelling": ("swelling", "schwellung"),
    "sinus_tract": ("sinus tract", "sinus", "fistula", "fistel"),
    "tenderness": ("tenderness", "ttp", "tender to percussion", "perkussion"),
    "mobility": ("mobility", "lockerung"),
    "kind": ("incident", "kind", "event", "adverse event"),
}  # fmt: skip
METHOD_WORDS: dict[str, tuple[str, ...]] = {
    "electronic": ("eal", "apex locator", "electronic", "elektrisch", "elm", "endometrie", "locator"),
    "film_file": ("wl film", "working film", "film file", "messaufnahme", "wl radiograph"),
    "film": ("film", "xray", "x ray", "radiograph", "pa", "rontgen", "rx", "preop film"),
    "cbct": ("cbct", "dvt", "cone beam"),
    "tactile": ("tactile", "feel", "taktil"),
    "paper_point": ("paper point", "pp", "papierspitze"),
    "trial_cone": ("trial cone", "cone fit", "master cone"),
}  # fmt: skip
CANAL_WORDS: dict[str, tuple[str, ...]] = {
    "MB": ("mb", "mb1", "mesiobuccal", "mesio buccal"),
    "MB2": ("mb2",),
    "DB": ("db", "distobuccal", "disto buccal"),
    "P": ("p", "pal", "palatal", "palatinal"),
    "ML": ("ml", "mesiolingual"),
    "DL": ("dl", "distolingual"),
    "D": ("d", "distal"),
    "M": ("m", "mesial"),
    "B": ("b", "buccal"),
    "L": ("l", "lingual"),
}
# Words that say nothing of the field.
FILLERS = frozenset({"mm", "in", "of", "the", "nr", "no", "code", "value", "measured"})
EXPORT_OF: dict[str, str] = {
    "length_mm": "readings", "method": "readings", "stage": "readings", "observer_id": "readings",
    "confirmed_length_mm": "canals", "apical_size_iso": "canals", "taper_pct": "canals",
    "patency": "canals", "root": "canals", "reference_point": "canals",
    "fill_offset_mm": "fills", "fill_level": "fills", "sealer_beyond": "fills",
    "core_beyond": "fills", "voids": "fills",
    "reader_id": "fills", "days_from_treatment": "follow_ups", "review_date": "follow_ups",
    "pai": "follow_ups", "pain": "follow_ups", "swelling": "follow_ups",
    "sinus_tract": "follow_ups", "tenderness": "follow_ups", "mobility": "follow_ups",
    "kind": "incidents",
}  # fmt: skip
