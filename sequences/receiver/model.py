"""The receiver file, as models: everything about a receiver that the plan, the scans and the procedures need to know.

One class a table of the file; `sequences/receivers/README.md` documents every key. A frequency is in kHz, as service
notes give it; every other unit stands in the key's name. References between tables are dotted, such as `filter.T1`.
The description of a field says what its value may be, and is quoted when a file has something else there.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

SIGNAL = "signal"

_AboveZero = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
_NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
_Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
_Word = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=60, pattern=r"^\S(.*\S)?$")]
_Sentence = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=400, pattern=r"^\S(.*\S)?$")]
_DialEnds = tuple[_AboveZero, _AboveZero]

Kilohertz = Annotated[_AboveZero, Field(description="a number of kHz above 0")]
KilohertzByBand = Annotated[
    _AboveZero | dict[_Word, _AboveZero] | None,
    Field(description="a number of kHz above 0, or a table of such by band"),
]
DialEndsByBand = Annotated[
    _DialEnds | dict[_Word, _DialEnds] | None,
    Field(description="two numbers of kHz above 0, at the dial's low and high end, or a table of such pairs by band"),
]
Positive = Annotated[_AboveZero, Field(description="a number above 0")]
Number = Annotated[_Number, Field(description="a number")]
Power = Annotated[float, Field(strict=True, ge=-140, le=20, description="a number of dBm from -140 to 20")]
Count = Annotated[int, Field(strict=True, ge=1, le=20, description="a whole number from 1 to 20")]
Volts = Annotated[_AboveZero, Field(description="a number of volts above 0")]
Decibels = Annotated[_AboveZero, Field(description="a number of dB above 0")]
Hertz = Annotated[_AboveZero, Field(description="a number of Hz above 0")]
Percent = Annotated[_AboveZero, Field(description="a number of per cent above 0")]
Name = Annotated[_Word, Field(description="text in quotes, 1 to 60 characters on one line")]
Sentence = Annotated[_Sentence, Field(description="text in quotes, 1 to 400 characters on one line")]
Sentences = Annotated[tuple[_Sentence, ...], Field(description="a list of texts in quotes")]
BandNames = Annotated[tuple[_Word, ...], Field(description="a list of band names")]


class Table(BaseModel):
    """What all tables share: frozen, and a key nobody knows is an error rather than silence."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Supply(Table):
    """What feeds the receiver, and so what can kill."""

    kind: Literal["transformer", "transformerless", "battery"]
    highest_voltage_v: Volts
    cautions: Sentences = ()


class Control(Table):
    """A control of the front panel: named choices, or a scale from low to high."""

    choices: Annotated[tuple[_Word, ...], Field(description="a list of texts in quotes")] = ()
    low: Number | None = None
    high: Number | None = None
    unit: Name | None = None


class Band(Table):
    """One band: the signal frequencies at the two ends of the dial."""

    low_khz: Kilohertz
    high_khz: Kilohertz


class Dial(Table):
    """The tuning dial and the marks at which it is checked; the first and the last are where it is adjusted."""

    control: Annotated[_Word, Field(description="the key of a control that has a scale")]
    reads: Literal["frequency", "above band edge"]
    marks_khz: Annotated[
        tuple[_NotNegative, ...] | dict[_Word, tuple[_NotNegative, ...]],
        Field(description="a rising list of two or more numbers of kHz, or a table of such lists by band"),
    ]


class Conversion(Table):
    """One mixer and its oscillator: what it takes in, what it gives, and on which side the oscillator runs."""

    takes: Annotated[_Word, Field(description="'signal', or the key of an IF")]
    gives: Annotated[_Word, Field(description="the key of an IF")]
    oscillator: Name
    oscillator_kind: Literal["crystal", "tunable", "fixed"]
    side: Literal["high", "low", "sum"]
    oscillator_khz: KilohertzByBand = None
    oscillator_range_khz: DialEndsByBand = None
    activity_reference_band: Annotated[_Word | None, Field(description="the name of a band")] = None
    activity_rest_controls: Annotated[
        dict[_Word, _Word | _Number], Field(description="a table of choices or settings by control")
    ] = {}


class IntermediateFrequency(Table):
    """One IF: fixed on a centre, or moving with the dial."""

    name: Name
    centre_khz: Annotated[_AboveZero | None, Field(description="a number of kHz above 0")] = None
    range_khz: Annotated[
        _DialEnds | None, Field(description="two numbers of kHz above 0, at the dial's low and high end")
    ] = None
    width_khz: Annotated[
        _AboveZero | dict[_Word, _AboveZero],
        Field(description="a number of kHz above 0, or a table of such by choice of the width control"),
    ]
    width_control: Annotated[_Word | None, Field(description="the key of a control that has choices")] = None


class Filter(Table):
    """Tuned circuits adjusted as one: a can, a filter of several circuits, or a single circuit."""

    intermediate: Annotated[_Word, Field(alias="if", description="the key of an IF")]
    kind: Literal["double-tuned can", "filter", "single circuit"]
    circuits: Count
    width_khz: Annotated[_AboveZero | None, Field(description="a number of kHz above 0")] = None
    coupling: Literal["loose", "critical", "over-coupled"] | None = None
    align_at_mark_khz: Annotated[_NotNegative | None, Field(description="a dial setting in kHz")] = None


class PassbandControl(Table):
    """A control that shifts the passband of one IF about its centre."""

    control: Annotated[_Word, Field(description="the key of a control that has a scale")]
    intermediate: Annotated[_Word, Field(alias="if", description="the key of an IF")]
    shift_khz: Kilohertz


class BeatOscillator(Table):
    """The oscillator that makes a carrier audible."""

    centre_khz: Kilohertz
    intermediate: Annotated[_Word, Field(alias="if", description="the key of an IF")]
    control: Annotated[_Word | None, Field(description="the key of a control with the choices 'off' and 'on'")] = None


class Preselector(Table):
    """The tuned circuits between the antenna and the first mixer."""

    name: Name
    circuits: Count
    loaded_q: Annotated[
        _AboveZero | dict[_Word, _AboveZero], Field(description="a number above 0, or a table of such by band")
    ]
    tuned_by: Literal["knob", "gang"]
    control: Annotated[_Word | None, Field(description="the key of a control that has a scale")] = None
    knob_marks: Annotated[
        dict[_Word, tuple[_NotNegative, _NotNegative, _NotNegative]],
        Field(description="a table by band of three knob positions: at the low edge, in the middle, at the high edge"),
    ] = {}
    scan_marks_khz: Annotated[
        tuple[_NotNegative, ...] | dict[_Word, tuple[_NotNegative, ...]],
        Field(description="a list of dial settings in kHz, or a table of such lists by band"),
    ] = ()
    shared_coils: Annotated[tuple[tuple[_Word, ...], ...], Field(description="a list of lists of band names")] = ()


class Adjuster(Table):
    """Anything turned to align, and what it moves."""

    kind: Literal["slug", "trimmer", "padder", "dial pointer", "knob on shaft"]
    moves: Annotated[
        _Word,
        Field(
            description="'conversion.KEY', 'filter.KEY', 'dial', 'beat_oscillator', 'passband_control' or 'preselector'"
        ),
    ]
    bands: BandNames = ()
    end: Literal["low", "high"] | None = None
    factory_only: Annotated[bool, Field(strict=True, description="true or false")] = False
    nudge_turns: Positive = 0.125
    clockwise: Literal["raises", "lowers", "unknown"] = "unknown"


class Point(Table):
    """A place of the receiver a lead may go to, and what must stand between."""

    coupling: Literal["direct", "blocking capacitor", "dummy antenna", "loose pick-up"]
    through: Sentence
    voltage_v: Annotated[_NotNegative, Field(description="a number of volts, 0 or above")] = 0.0
    capacitor_pf: Annotated[_AboveZero | None, Field(description="a number of pF above 0")] = None
    capacitor_rating_v: Annotated[_AboveZero | None, Field(description="a number of volts above 0")] = None
    cautions: Sentences = ()


class SourcePoint(Point):
    """A place to inject a signal."""

    enters: Annotated[tuple[_Word, ...], Field(min_length=1, description="a list of 'signal' and keys of IFs")]
    after_filter: Annotated[_Word | None, Field(description="the key of a filter")] = None
    level_dbm: Power
    highest_level_dbm: Power


class MeterPoint(Point):
    """A place to read a voltage."""

    reads: Literal["detector", "agc line", "rf probe", "oscillator activity"]
    at: Annotated[_Word | None, Field(description="'preselector' or 'conversion.KEY'")] = None
    law: Literal["linear", "square", "calibrate"] = "calibrate"
    settle_s: Annotated[_AboveZero, Field(description="a number of seconds above 0")]
    controls: Annotated[
        dict[_Word, _Word | _Number], Field(description="a table of choices or settings by control")
    ] = {}
    s_marks_v: Annotated[dict[_Word, _Number], Field(description="a table of volts by S mark")] = {}


class CounterPoint(Point):
    """A place to count a frequency."""

    counts: Annotated[_Word, Field(description="'conversion.KEY', 'beat_oscillator' or 'audio'")]


class Limits(Table):
    """What each step is held against: within it, an adjuster is left alone."""

    drift_hz_per_minute: Annotated[_AboveZero, Field(description="a number of Hz a minute above 0")]
    longest_warm_up_minutes: Annotated[_AboveZero, Field(description="a number of minutes above 0")]
    oscillator_hz: Hertz
    beat_oscillator_hz: Hertz | None = None
    passband_centre_percent: Percent
    passband_width_percent: Percent
    passband_skew_db: Decibels
    can_gain_db: Decibels
    peak_gain_db: Decibels
    dial_khz: Kilohertz
    activity_below_reference_db: Decibels | None = None
    preselector_pointer_marks: Annotated[_AboveZero | None, Field(description="a number of knob marks above 0")] = None
    preselector_centre_percent: Percent
    preselector_gain_db: Decibels
    passband_symmetry_hz: Hertz | None = None
    image_rejection_db: Decibels | None = None
    if_rejection_db: Decibels | None = None
    drift_hz_per_hour: Annotated[_AboveZero | None, Field(description="a number of Hz an hour above 0")] = None
    half_if_rejection_db: Decibels | None = None
    sensitivity_dbm: Power | None = None
    shape_factor: Positive | None = None
    agc_merit_db: Decibels | None = None
    s9_db: Decibels | None = None


class Receiver(Table):
    """A whole receiver file. Conversions, IFs and filters stand in the order the signal meets them."""

    id: Annotated[
        str,
        Field(
            strict=True,
            max_length=40,
            pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$",
            description="small letters, digits and single hyphens, in quotes",
        ),
    ]
    name: Name
    description: Sentence
    band_control: Annotated[_Word | None, Field(description="the key of a control that has choices")] = None
    controls_at_rest: Annotated[
        dict[_Word, _Word | _Number], Field(description="a table of choices or settings by control")
    ] = {}
    supply: Supply
    controls: Annotated[dict[_Word, Control], Field(alias="control", min_length=1, description="a table by name")]
    bands: Annotated[dict[_Word, Band], Field(alias="band", min_length=1, description="a table by name")]
    dial: Dial
    conversions: Annotated[
        dict[_Word, Conversion], Field(alias="conversion", min_length=1, description="a table by key")
    ]
    ifs: Annotated[dict[_Word, IntermediateFrequency], Field(alias="if", min_length=1, description="a table by key")]
    filters: Annotated[dict[_Word, Filter], Field(alias="filter", description="a table by key")] = {}
    passband_control: PassbandControl | None = None
    beat_oscillator: BeatOscillator | None = None
    preselector: Preselector
    adjusters: Annotated[dict[_Word, Adjuster], Field(alias="adjuster", min_length=1, description="a table by name")]
    source_points: Annotated[
        dict[_Word, SourcePoint], Field(alias="source_point", min_length=1, description="a table by name")
    ]
    meter_points: Annotated[
        dict[_Word, MeterPoint], Field(alias="meter_point", min_length=1, description="a table by name")
    ]
    counter_points: Annotated[
        dict[_Word, CounterPoint], Field(alias="counter_point", description="a table by name")
    ] = {}
    limits: Annotated[Limits, Field(alias="limit", description="a table")]
