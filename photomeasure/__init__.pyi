from calib.outcome.errors import InputError as InputError
from calib.outcome.refusal import Refusal as Refusal
from photomeasure.asked.bars import Bars as Bars
from photomeasure.asked.request import Request as Request
from photomeasure.asked.state import State as State
from photomeasure.pipeline import Result as Result
from photomeasure.pipeline import measure as measure
from photomeasure.record.measure_and_record import recorded as recorded
from photomeasure.record.schema import Record as Record
from photomeasure.record.schema import read_record as read_record
from photomeasure.rules.load import default_rule as default_rule
from photomeasure.rules.load import load_rule as load_rule
from photomeasure.rules.model import Rule as Rule
from photomeasure.seen.look import Refused as Refused
from photomeasure.verdict.judge import Verdict as Verdict
from photomeasure.verdict.judge import judge as judge

__version__: str
