"""Height of a tow coupling from photographs, with an honest uncertainty.

What programs may use is listed here, and nothing else: modules beneath may move. Names are loaded when they are used.
"""

from calib.outcome.late import late

__version__ = "0.1.0"

_WHERE = {
    "Bars": "photomeasure.asked.bars",
    "Request": "photomeasure.asked.request",
    "State": "photomeasure.asked.state",
    "InputError": "calib.outcome.errors",
    "Refusal": "calib.outcome.refusal",
    "Refused": "photomeasure.seen.look",
    "Result": "photomeasure.pipeline",
    "measure": "photomeasure.pipeline",
    "Record": "photomeasure.record.schema",
    "read_record": "photomeasure.record.schema",
    "recorded": "photomeasure.record.measure_and_record",
    "Rule": "photomeasure.rules.model",
    "default_rule": "photomeasure.rules.load",
    "load_rule": "photomeasure.rules.load",
    "Verdict": "photomeasure.verdict.judge",
    "judge": "photomeasure.verdict.judge",
}
__all__ = ["__version__", *_WHERE]


__getattr__ = late(__name__, _WHERE)


def __dir__() -> list[str]:
    return sorted(__all__)
