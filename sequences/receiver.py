"""The receiver file, as models: everything about a receiver that the plan, the scans and the procedures need to know.

One class a table of the file. `sequences/receivers/README.md` documents every key. A frequency is in kHz, as service
notes give it; every other unit stands in the key's name. References between tables are dotted, such as `filter.T1`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

Kilohertz = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Power = Annotated[float, Field(strict=True, ge=-140, le=20, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=1, le=20)]
Name = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=60, pattern=r"^[^\n\r\t]+$")]
Sentence = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=400)]
Identifier = Annotated[str, StringConstraints(strict=True, pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
DialEnds = tuple[Kilohertz, Kilohertz]
SIGNAL = "signal"


class Table(BaseModel):
    """What all tables share: frozen, and a key nobody knows is an error rather than silence."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Supply(Table):
    """What feeds the receiver, and so what can kill."""

    kind: Literal["transformer", "transformerless", "battery"]
    highest_voltage_v: Positive
    cautions: tuple[Sentence, ...] = ()


class Control(Table):
    """A control of the front panel: named choices, or a scale from low to high."""

    choices: tuple[Name, ...] = ()
    low: Number | None = None
    high: Number | None = None
    unit: Name | None = None


class Band(Table):
    """One band: what the dial covers there."""

    low_khz: Kilohertz
    high_khz: Kilohertz


class Dial(Table):
    """The tuning dial, its marks and how far it may be out."""

    control: Name
    reads: Literal["frequency", "above band edge"]
    marks_khz: Annotated[tuple[NotNegative, ...], Field(min_length=2)]
    low_end_mark_khz: NotNegative
    high_end_mark_khz: NotNegative


class Conversion(Table):
    """One mixer and its oscillator: what it takes in, what it gives, and on which side the oscillator runs."""

    takes: Name
    gives: Name
    oscillator: Name
    oscillator_kind: Literal["crystal", "tunable", "fixed"]
    side: Literal["high", "low"]
    oscillator_khz: Kilohertz | dict[Name, Kilohertz] | None = None
    oscillator_range_khz: DialEnds | dict[Name, DialEnds] | None = None
    activity_reference_band: Name | None = None


class IntermediateFrequency(Table):
    """One IF: fixed on a centre, or moving with the dial."""

    name: Name
    centre_khz: Kilohertz | None = None
    range_khz: DialEnds | None = None
    width_khz: Kilohertz | dict[Name, Kilohertz]
    width_control: Name | None = None


class Filter(Table):
    """Tuned circuits adjusted as one: a can, a filter of several circuits, or a single circuit."""

    intermediate: Annotated[Name, Field(alias="if")]
    kind: Literal["double-tuned can", "filter", "single circuit"]
    circuits: Count
    width_khz: Kilohertz | None = None
    coupling: Literal["loose", "critical", "over-coupled"] | None = None
    align_at_mark_khz: NotNegative | None = None


class PassbandControl(Table):
    """A control that shifts the passband of one IF about its centre."""

    control: Name
    intermediate: Annotated[Name, Field(alias="if")]
    shift_khz: Kilohertz


class BeatOscillator(Table):
    """The oscillator that makes a carrier audible."""

    centre_khz: Kilohertz
    intermediate: Annotated[Name, Field(alias="if")]
    control: Name | None = None


class Preselector(Table):
    """The tuned circuits between the antenna and the first mixer."""

    name: Name
    circuits: Count
    loaded_q: Positive | dict[Name, Positive]
    tuned_by: Literal["knob", "gang"]
    control: Name | None = None
    knob_marks: dict[Name, tuple[NotNegative, NotNegative, NotNegative]] = {}
    scan_marks_khz: tuple[NotNegative, ...] = ()
    shared_coils: tuple[tuple[Name, ...], ...] = ()


class Adjuster(Table):
    """Anything turned to align, and what it moves."""

    kind: Literal["slug", "trimmer", "padder", "dial pointer", "knob on shaft"]
    moves: Name
    bands: tuple[Name, ...] = ()
    end: Literal["low", "high"] | None = None
    factory_only: bool = False
    nudge_turns: Positive = 0.125
    clockwise: Literal["raises", "lowers", "unknown"] = "unknown"


class Point(Table):
    """A place of the receiver a lead may go to, and what must stand between."""

    coupling: Literal["direct", "blocking capacitor", "dummy antenna", "loose pick-up"]
    through: Sentence
    voltage_v: NotNegative = 0.0
    capacitor_pf: Positive | None = None
    capacitor_rating_v: Positive | None = None
    cautions: tuple[Sentence, ...] = ()


class SourcePoint(Point):
    """A place to inject a signal."""

    enters: Annotated[tuple[Name, ...], Field(min_length=1)]
    level_dbm: Power
    highest_level_dbm: Power


class MeterPoint(Point):
    """A place to read a voltage."""

    reads: Literal["detector", "agc line", "rf probe", "oscillator activity"]
    at: Name | None = None
    law: Literal["linear", "square", "calibrate"] = "calibrate"
    settle_s: Positive


class CounterPoint(Point):
    """A place to count a frequency."""

    counts: Name


class Limits(Table):
    """What each step is held against. A step whose limit is absent is not in the plan of this receiver."""

    drift_hz_per_minute: Positive
    longest_warm_up_minutes: Positive
    oscillator_hz: Positive
    beat_oscillator_hz: Positive | None = None
    passband_centre_percent: Positive
    passband_width_percent: Positive
    passband_skew_db: Positive
    can_gain_db: Positive
    peak_gain_db: Positive
    dial_khz: Positive
    activity_below_reference_db: Positive | None = None
    preselector_pointer_marks: Positive | None = None
    preselector_centre_percent: Positive
    preselector_gain_db: Positive
    passband_symmetry_hz: Positive | None = None


class Receiver(Table):
    """A whole receiver file. Conversions, IFs and filters stand in the order the signal meets them."""

    id: Identifier
    name: Name
    description: Sentence
    band_control: Name | None = None
    controls_at_rest: dict[Name, Name | Number] = {}
    supply: Supply
    controls: Annotated[dict[Name, Control], Field(alias="control", min_length=1)]
    bands: Annotated[dict[Name, Band], Field(alias="band", min_length=1)]
    dial: Dial
    conversions: Annotated[dict[Name, Conversion], Field(alias="conversion", min_length=1)]
    ifs: Annotated[dict[Name, IntermediateFrequency], Field(alias="if", min_length=1)]
    filters: Annotated[dict[Name, Filter], Field(alias="filter", min_length=1)]
    passband_control: PassbandControl | None = None
    beat_oscillator: BeatOscillator | None = None
    preselector: Preselector
    adjusters: Annotated[dict[Name, Adjuster], Field(alias="adjuster", min_length=1)]
    source_points: Annotated[dict[Name, SourcePoint], Field(alias="source_point", min_length=1)]
    meter_points: Annotated[dict[Name, MeterPoint], Field(alias="meter_point", min_length=1)]
    counter_points: Annotated[dict[Name, CounterPoint], Field(alias="counter_point")] = {}
    limits: Annotated[Limits, Field(alias="limit")]
