"""A stored run whose texts try to be obeyed: markup, commands, formulas, direction marks."""

from lengthwise.report.run_data import RunData
from report_runs import build_run

TEXTS = {
    "html": '<script>alert(1)</script><b onclick="x()">b</b> & <img src=http://evil.example/i.png>',
    "markdown": "**b** [l](http://evil.example) ![i](http://evil.example/i.png) | a | `c` ~~s~~",
    "shortcode": "{{< include /etc/passwd >}} {{< pagebreak >}} {{< env HOME >}}",
    "typst": '#pagebreak() #image("/etc/passwd") $x^2$ @fig-none <label> #link("http://evil.example")',
    "latex": r"\input{/etc/passwd} $\frac{1}{2}$ \write18{ls} \begin{x} 100% ~ ^",
    "formula": '=HYPERLINK("http://evil.example";"x")',
    "direction": "abc\u202egnp.exe\u200b\u2066def",
    "long": "x" * 300,
}
# Codes of people and places are drawn in figures, so each is short, as a code is.
CODES = ("<i>A</i>", "$A$|{{<x>}}", "#A() \\a", "=A+1", "@A\u202eB")
SITES = ("**S1**", "[S2](http://evil.example)")


def hostile_run() -> RunData:
    """Return the hand-made run with those texts as settings, codes, canals and reasons."""
    criteria = [
        {"id": "two_methods", "statement": TEXTS["html"], "rationale": TEXTS["typst"],
         "source": TEXTS["latex"], "exceptions": TEXTS["shortcode"], "target": 0.9,
         "suggestion": TEXTS["markdown"], "version": 1},
        {"id": "reading_dry", "statement": TEXTS["long"], "target": 0.95},
    ]  # fmt: skip
    actions = [
        {"gap": text, "cause": name, "action": text, "owner_role": text, "due": "2026-Q4",
         "measure": text, "status": "open"}
        for name, text in TEXTS.items()
    ]  # fmt: skip
    run = build_run(
        practice_name=TEXTS["markdown"], approval_reference=TEXTS["direction"],
        criteria=criteria, actions=actions,
    )  # fmt: skip
    inputs = [
        {"file": text, "export": "readings", "sha256": "ab", "rows": 1}
        for text in TEXTS.values()
    ]
    return RunData(
        run.run | {"inputs": inputs}, _estimates(run), _points(run), _lists(run), _findings(run)
    )


def _coded(code: str) -> str:
    number = int(code[1:]) - 1 if code[:1] == "C" and code[1:].isdigit() else len(CODES)
    return CODES[number] if number < len(CODES) else code


def _estimates(run: RunData):
    rows = run.estimates.copy()
    is_person = rows["stratum_kind"] == "clinician"
    rows.loc[is_person, "stratum"] = rows.loc[is_person, "stratum"].map(_coded)
    is_site = rows["stratum_kind"] == "site"
    names = dict(zip(dict.fromkeys(rows.loc[is_site, "stratum"]), SITES, strict=False))
    rows.loc[is_site, "stratum"] = rows.loc[is_site, "stratum"].map(
        lambda name: names.get(name, name)
    )
    scoped = rows["scope"].str.startswith("clinician:")
    rows.loc[scoped, "scope"] = [
        f"clinician:{_coded(scope.partition(':')[2])}" for scope in rows.loc[scoped, "scope"]
    ]
    refused = rows.index[~rows["valid"]]
    rows.loc[refused, "reason"] = TEXTS["latex"]
    return rows


def _points(run: RunData):
    rows = run.points.copy()
    rows["label"] = [_coded(str(label)) for label in rows["label"]]
    return rows


def _lists(run: RunData):
    rows = run.lists.copy()
    texts = list(TEXTS.values())
    rows["canal"] = [CODES[place % len(CODES)] for place in range(len(rows))]
    rows["clinician_id"] = rows["clinician_id"].map(_coded)
    rows["detail"] = [texts[place % len(texts)] for place in range(len(rows))]
    return rows


def _findings(run: RunData):
    rows = run.findings.copy()
    rows["remedy"] = [TEXTS["formula"], TEXTS["shortcode"], TEXTS["typst"]][: len(rows)]
    return rows
