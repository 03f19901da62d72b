"""The budget core: legs walked one after another for many cases at once, margins out."""

from __future__ import annotations

from leadline.budget.ledger import Ledger, LedgerRow
from leadline.budget.plan import Check, Outcome, Plan, RequirementLabel, compile_plan
from leadline.budget.workspace import Workspace

__all__ = [
    "Check",
    "Ledger",
    "LedgerRow",
    "Outcome",
    "Plan",
    "RequirementLabel",
    "Workspace",
    "compile_plan",
]
