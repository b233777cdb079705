"""Every number told of a pitch: one registry, a module a part of the delivery.

To add a metric write its formula in the module of its group under a
``@measured`` line; tables, exports, reports and docs take it from there.
"""

from itertools import chain

from stream.metrics import landing, motion, push_off, stride
from stream.metrics.registry import Group, Lack, Metric, Need, metrics_of

#: Every metric in table order.
METRICS: tuple[Metric, ...] = tuple(
    chain.from_iterable(metrics_of(module) for module in (push_off, landing, motion, stride))
)
_BY_KEY = {m.key: m for m in METRICS}


def metric(key: str) -> Metric:
    """Return the metric registered under ``key``; raise KeyError."""
    return _BY_KEY[key]


__all__ = ["METRICS", "Group", "Lack", "Metric", "Need", "metric"]
