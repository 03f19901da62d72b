"""How sure an answer is: intervals, quantile bounds, judgement against what was asked.

Takes counts and arrays, knows no vehicle and no study.
"""

from __future__ import annotations

from leadline.risk.acceptance import (
    Judgement,
    Verdict,
    allowed_failures,
    allowed_failures_uniform_prior,
    judge,
    judge_replicates,
    smallest_sample,
    smallest_sample_uniform_prior,
)
from leadline.risk.paired import paired_difference, replicate_difference
from leadline.risk.proportion import (
    Interval,
    Replicates,
    clopper_pearson,
    exact_lower_bound,
    exact_upper_bound,
    jeffreys,
    replicate_interval,
    replicate_mean,
    wilson,
)
from leadline.risk.quantiles import (
    Binned,
    binned_quantile,
    one_sided_rank,
    order_statistic_ranks,
    sample_quantile,
)

__all__ = [
    "Binned",
    "Interval",
    "Judgement",
    "Replicates",
    "Verdict",
    "allowed_failures",
    "allowed_failures_uniform_prior",
    "binned_quantile",
    "clopper_pearson",
    "exact_lower_bound",
    "exact_upper_bound",
    "jeffreys",
    "judge",
    "judge_replicates",
    "one_sided_rank",
    "order_statistic_ranks",
    "paired_difference",
    "replicate_difference",
    "replicate_interval",
    "replicate_mean",
    "sample_quantile",
    "smallest_sample",
    "smallest_sample_uniform_prior",
    "wilson",
]
