"""Everything intake stores. Models hold data and constraints; changes are made by actions."""

from intake.models.arrivals import Arrival, ArrivalPart, BenchCheck, Sighting
from intake.models.consignments import Bottle, Consignment, Sample, SpentNumber
from intake.models.dates import CalendarAddress, DatePolicy, DateRequest
from intake.models.injections import Injection
from intake.models.jobs import Job
from intake.models.judgements import AdviceRow, ClockRow, FindingRow, SampleJudgement
from intake.models.people import Group, Invitation, Membership, User
from intake.models.photographs import Photograph
from intake.models.policy import LabPolicy
from intake.models.questions import Answer, AskedBottle, Question
from intake.models.record import ChainHead, PersonalText, RecordEntry, Token
from intake.models.results import Result
from intake.models.rulebooks import RulebookVersion
from intake.models.search import SearchWord
from intake.models.staged import StagedSheet
from intake.models.statements import Statement
from intake.models.storage import StoragePlace
from intake.models.tallies import CountedMonth, MonthTally

__all__ = [
    "AdviceRow",
    "Answer",
    "Arrival",
    "ArrivalPart",
    "AskedBottle",
    "BenchCheck",
    "Bottle",
    "CalendarAddress",
    "ChainHead",
    "ClockRow",
    "Consignment",
    "CountedMonth",
    "DatePolicy",
    "DateRequest",
    "FindingRow",
    "Group",
    "Injection",
    "Invitation",
    "Job",
    "LabPolicy",
    "Membership",
    "MonthTally",
    "PersonalText",
    "Photograph",
    "Question",
    "RecordEntry",
    "Result",
    "RulebookVersion",
    "Sample",
    "SampleJudgement",
    "SearchWord",
    "Sighting",
    "SpentNumber",
    "StagedSheet",
    "Statement",
    "StoragePlace",
    "Token",
    "User",
]
