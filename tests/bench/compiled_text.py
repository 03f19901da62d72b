"""The reference budget as one formula in text, for a library that compiles formulas."""

from __future__ import annotations

from typing import Any

from bench.reference_budget import INPUTS
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics.propellants import PROPELLANTS

__all__ = ["reference_formula"]

_SHORT = ("dry", "isp", "mr", "load", "qo", "qf", "c1", "c2", "c3", "c4", "t1", "t2", "t3")


def reference_formula(library: Any) -> tuple[Any, Any]:
    """Make the formula and the joint law of its 13 inputs; outputs follow the reference mission.

    No tank runs dry in the reference budget, so boil-off needs no lower bound here.
    """
    data = PROPELLANTS["lox-lh2"]
    assert data.oxidiser is not None
    text = f"""
var ve := isp*{STANDARD_GRAVITY_M_S2!r}; var fo := mr/(1+mr); var ff := 1-fo; var lo := 5.9/6.9;
var o := load*lo; var f := load*(1-lo); var m := dry+load; var b := 0; var uo := 0.01*o; var uf := 0.01*f;
var bo := qo/{data.oxidiser.vent_heat_j_kg!r}; var bf := qf/{data.fuel.vent_heat_j_kg!r};
y3 := 170*0.96-o/{data.oxidiser.density_kg_m3!r}-f/{data.fuel.density_kg_m3!r};
"""
    left = "min((o-uo)*(1+1/mr),(f-uf)*(1+mr))"
    for number in (1, 2, 3, 4):
        text += f"b := m*(1-exp(-c{number}/ve)); m := m-b; o := o-b*fo; f := f-b*ff;\n"
        text += f"var s{number} := {left};\n"
        if number == 3:
            text += "y2 := -ve*ln(1-s3/m)-100;\n"
        if number < 4:
            text += f"b := bo*t{number}; o := o-b; m := m-b; b := bf*t{number}; f := f-b; m := m-b;\n"
    text += "y1 := s4-900; y4 := 25000-m; y5 := min(s1,s2,s3,s4);"
    model = library.SymbolicFunction(list(_SHORT), ["y1", "y2", "y3", "y4", "y5"], text)
    laws = [library.Normal(each.law.mean, each.law.sd) for each in INPUTS]
    return model, library.JointDistribution(laws)
