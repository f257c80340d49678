"""The methods behind the numbers of this run, each with its source."""

from lengthwise.report.run_data import RunData
from lengthwise.report.tables import pipe_table, text

OWN = "this project's rule, no source"
PRACTICE = "common practice, no source"
METHODS = {
    "A1": ("Limits of agreement of independent pairs, exact intervals",
           "Carkeet 2015, doi:10.1097/OPX.0000000000000513"),
    "A2": ("Limits of agreement with patient, tooth and canal as components; intervals by "
           "leaving patients out", "Miller 1968, doi:10.1214/aoms/1177698418; Zou 2007, "
           "doi:10.1037/1082-989X.12.4.399"),
    "A3": ("Repeated readings: scatter within canals, repeatability coefficient",
           "Bland and Altman 1999, doi:10.1177/096228029900800204"),
    "A4": ("Own error of each method, none taken as the truth; patients left out in turn",
           "Grubbs 1948, doi:10.1080/01621459.1948.10483261"),
    "A5": ("Growth of the difference with length; Deming line",
           "Bland and Altman 1999, doi:10.1177/096228029900800204"),
    "A6": ("Share within a tolerance, Wilson interval with a design effect for patients",
           "Rao and Scott 1992, doi:10.2307/2532311"),
    "A7": ("Bias and scatter by condition: cluster-robust mean and log-variance models",
           "Smyth and others 2001, doi:10.1177/1471082X0100100301"),
    "A8": ("Concordance, ICC(A,1), deviation index, equivalence by two one-sided tests",
           "Lin 1989, doi:10.2307/2532051; McGraw and Wong 1996, doi:10.1037/1082-989X.1.1.30"),
    "A9": ("Readers: raw agreement, weighted kappa, AC2, alpha, limits",
           "Fleiss 1971, doi:10.1037/h0031619, and as named with each coefficient"),
    "A10": ("Canals where two methods differ by more than a threshold", PRACTICE),
    "B1": ("Shares of criteria and levels, Wilson interval with a design effect for patients",
           "Wilson 1927, doi:10.1080/01621459.1927.10502953; Rao and Scott 1992, "
           "doi:10.2307/2532311"),
    "B2": ("Run chart: longest run and crossings of the median",
           "Anhøj and Olesen 2014, doi:10.1371/journal.pone.0113825"),
    "B3": ("Control charts of shares, p and p'", "Laney 2002, doi:10.1081/QEN-120003555"),
    "B4": ("Funnel of clinicians around the target, exact binomial tail",
           "Spiegelhalter 2005, doi:10.1002/sim.1970"),
    "B5": ("Observed against expected by case-mix; ratios drawn towards the whole",
           "Normand and others 1997, doi:10.1080/01621459.1997.10474036"),
    "B7": ("Change between two periods, interval robust to clusters (CR2)",
           "Pustejovsky and Tipton 2018, doi:10.1080/07350015.2016.1247004"),
    "C1": ("Not healed by level, crude; difference of shares, exact test where small",
           "Newcombe 1998, doi:10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I"),
    "C2": ("Adjusted odds: estimating equations by patient, robust errors",
           "Liang and Zeger 1986, doi:10.1093/biomet/73.1.13"),
    "C3": ("Adjusted odds where events are few: penalised likelihood",
           "Firth 1993, doi:10.1093/biomet/80.1.27"),
    "C4": ("Risk by level, standardised over this practice's case-mix",
           "Muller and MacLehose 2014, doi:10.1093/ije/dyu029"),
    "C5": ("Odds along the offset: restricted cubic spline, piecewise line",
           "Harrell 2015, doi:10.1007/978-3-319-19425-7"),
    "C6": ("Proportional odds of PAI, with a check of the assumption",
           "Brant 1990, doi:10.2307/2532457"),
    "C7": ("Loss to follow-up: weights, bounds, tipping point",
           "Robins and others 2000, doi:10.1097/00001648-200009000-00011"),
    "C8": ("Time: teeth kept (Kaplan-Meier), healing between reviews (Turnbull)",
           "Kaplan and Meier 1958, doi:10.1080/01621459.1958.10501452; Turnbull 1976, "
           "doi:10.1111/j.2517-6161.1976.tb01597.x"),
    "C9": ("E-value: how strong an unrecorded reason would have to be",
           "VanderWeele and Ding 2017, doi:10.7326/M16-2607"),
    "C10": ("Missing case-mix filled in many times, results combined",
            "White and others 2011, doi:10.1002/sim.4067"),
    "change_point": ("The most likely month of a change in level",
                     "Worsley 1986, doi:10.1093/biomet/73.1.91"),
    "chain": ("From doubtful readings to level to outcome, step by step", OWN),
    "heaping": ("Readings on half millimetres", "Preece 1981, doi:10.2307/2987702"),
    "film_quality": ("Films rated acceptable", PRACTICE),
    "flow": ("Counts of cases", PRACTICE),
    "quality": ("Completeness by field", PRACTICE),
}  # fmt: skip
UNKNOWN = ("Described in the handbook", "")


def methods(run_data: RunData) -> str:
    """Return one row for each method id that has a result in this run."""
    used = [str(name) for name in dict.fromkeys(run_data.estimates["analysis"])]
    order = [*(name for name in METHODS if name in used), *sorted(set(used) - set(METHODS))]
    level = round(100 * float(run_data.setting("confidence_level", default=0.95)))
    opening = (
        f"Intervals are {level}% unless said. A result id starts with its method id; the "
        "handbook describes each in full, and `lengthwise explain` leads from a result id to "
        "the rows behind it.\n"
    )
    rows = [(name, *METHODS.get(name, UNKNOWN)) for name in order]
    if not rows:
        return opening
    columns = (text("Id"), text("What"), text("Source"))
    table = pipe_table(columns, rows, caption="Methods used in this run", label="methods")
    return f"{opening}\n{table}"
