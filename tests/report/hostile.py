"""A result whose every name tries to be more than text."""

from __future__ import annotations

from leadline.run.result import CompareResult, Result, StudyLabel
from report.made import made_comparison, made_result

MARKUP = (
    '<script>alert(1)</script><b>bold</b> & "two" \'one\' <a href="https://example.invalid">go</a> %{x} {{ 7*7 }} <!--'
)
TURNED = "\u202eevil\u202c שלום \u2066עולם\u2069 مرحبا\x00\x07"
LONG = "a very long name " * 600
SOLID = "x" * 10_000
NAMES = (MARKUP, TURNED, LONG, SOLID)


def hostile_result() -> Result:
    made = made_result()
    requirements = [
        given.model_copy(update={"name": name, "sentence": f"{name} must hold"})
        for given, name in zip(made.requirements, NAMES, strict=True)
    ]
    ledger = [
        row.model_copy(update={"leg": NAMES[place % 4], "propellant_kg": dict.fromkeys(NAMES, row.mass_kg)})
        for place, row in enumerate(made.ledger)
    ]
    failures = [
        given.model_copy(update={"requirement": name, "leg": name, "cases": 10})
        for given, name in zip(made.first_failures, NAMES, strict=False)
    ]
    return made.model_copy(
        update={
            "study": StudyLabel(title=MARKUP, digest="ab" * 32, option=SOLID),
            "requirements": tuple(requirements),
            "ledger": tuple(ledger),
            "first_failures": tuple(failures),
            "combinations": tuple(c.model_copy(update={"requirements": NAMES, "cases": 5}) for c in made.combinations),
            "inputs": tuple(i.model_copy(update={"name": n}) for i, n in zip(made.inputs, NAMES, strict=False)),
            "notes": NAMES,
            "limits": NAMES,
            "sources": NAMES,
            "sentence": f"{MARKUP} gives way first.",
        }
    )


def hostile_comparison() -> CompareResult:
    made = made_comparison((MARKUP, TURNED, SOLID))
    return made.model_copy(update={"study": StudyLabel(title=MARKUP, digest="ab" * 32), "notes": NAMES})
