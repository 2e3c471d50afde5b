"""Whether the tables of a receiver file fit together: every name one of them uses is in another.

Each fault is the end of a sentence that begins with the file's name: the key, what is wrong, what is allowed.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import chain, pairwise

from sequences.receiver.cautions import HAZARDOUS_V
from sequences.receiver.chain import conversions_in_order, for_band
from sequences.receiver.model import SIGNAL, Control, Point, Receiver

Faults = Iterator[str]
_Marks = tuple[float, ...] | dict[str, tuple[float, ...]]

LEAST_MARKS = 2


def reference_faults(receiver: Receiver) -> tuple[str, ...]:
    """List what does not fit together, in the order of the file's tables."""
    checks: tuple[Callable[[Receiver], Faults], ...] = (
        _controls,
        _controls_at_rest,
        _bands,
        _conversions,
        _path,
        _ifs,
        _filters,
        _dial,
        _single_tables,
        _preselector,
        _adjusters,
        _source_points,
        _other_points,
        _limits,
    )
    return tuple(chain.from_iterable(check(receiver) for check in checks))


def _one_of(names: Iterable[str]) -> str:
    return "use one of " + ", ".join(f"'{name}'" for name in names)


def _unknown(key: str, name: str, kind: str, known: Iterable[str]) -> Faults:
    if name not in (names := list(known)):
        yield f"{key} is '{name}', which is no {kind} of this file: {_one_of(names)}"


def _by_band(key: str, value: object, receiver: Receiver) -> Faults:
    """A table by band has an entry for each band and for nothing else."""
    if not isinstance(value, Mapping):
        return
    for band in value:
        yield from _unknown(f"{key}.{band}", band, "band", receiver.bands)
    for band in receiver.bands:
        if band not in value:
            yield f"{key} has no entry for band '{band}': add {key}.{band}"


def _choices(key: str, name: str, receiver: Receiver) -> Faults:
    with_choices = [control for control, entry in receiver.controls.items() if entry.choices]
    yield from _unknown(key, name, "control with choices", with_choices)


def _scale(key: str, name: str, receiver: Receiver) -> Faults:
    with_scale = [control for control, entry in receiver.controls.items() if entry.low is not None]
    yield from _unknown(key, name, "control with a scale", with_scale)


def _controls(receiver: Receiver) -> Faults:
    for name, control in receiver.controls.items():
        scale = (control.low, control.high)
        if bool(control.choices) == (scale != (None, None)) or (None in scale and scale != (None, None)):
            yield f"control.{name} must be one of two kinds: give either choices, or low and high"
        elif control.low is not None and control.high is not None and control.low >= control.high:
            yield f"control.{name}.low is {control.low:g}, not below its high of {control.high:g}: give both ends"


def _setting_fault(key: str, control: Control, value: str | float) -> Faults:
    if control.choices:
        if value not in control.choices:
            yield f"{key} is {value!r}: {_one_of(control.choices)}"
        return
    low, high = control.low or 0.0, control.high or 0.0
    if isinstance(value, str) or not low <= value <= high:
        yield f"{key} is {value!r}: give a number from {low:g} to {high:g}"


def _controls_at_rest(receiver: Receiver) -> Faults:
    yield from _settings("controls_at_rest", receiver.controls_at_rest, receiver)


def _settings(key: str, settings: Mapping[str, str | float], receiver: Receiver) -> Faults:
    for name, value in settings.items():
        if name in receiver.controls:
            yield from _setting_fault(f"{key}.{name}", receiver.controls[name], value)
        else:
            yield from _unknown(f"{key}.{name}", name, "control", receiver.controls)


def _bands(receiver: Receiver) -> Faults:
    for name, band in receiver.bands.items():
        if band.low_khz >= band.high_khz:
            yield f"band.{name}.low_khz is {band.low_khz:g}, not below high_khz, {band.high_khz:g}: give both ends"
    switch = receiver.band_control
    if switch is None:
        if len(receiver.bands) > 1:
            yield "band_control is missing: name the control that chooses the band"
        return
    yield from _choices("band_control", switch, receiver)
    yield from _band_choices(switch, receiver)


def _band_choices(switch: str, receiver: Receiver) -> Faults:
    """Each place of the band switch is a band, or one on which no crystal runs."""
    if switch in receiver.controls:
        choices = receiver.controls[switch].choices
        at_rest = [entry.activity_rest_controls.get(switch) for entry in receiver.conversions.values()]
        for choice in choices:
            if choice not in at_rest:
                yield from _unknown(f"control.{switch}.choices", choice, "band", receiver.bands)
        for name in receiver.bands:
            yield from _unknown(f"band.{name}", name, "choice of the band control", choices)


def _conversions(receiver: Receiver) -> Faults:
    for name, entry in receiver.conversions.items():
        key = f"conversion.{name}"
        yield from _unknown(f"{key}.takes", entry.takes, "IF", [SIGNAL, *receiver.ifs])
        yield from _unknown(f"{key}.gives", entry.gives, "IF", receiver.ifs)
        wanted = "oscillator_range_khz" if entry.oscillator_kind == "tunable" else "oscillator_khz"
        other = "oscillator_khz" if entry.oscillator_kind == "tunable" else "oscillator_range_khz"
        if getattr(entry, wanted) is None:
            yield f"{key}.{wanted} is missing: a {entry.oscillator_kind} oscillator needs it"
        if getattr(entry, other) is not None:
            yield f"{key}.{other} does not go with a {entry.oscillator_kind} oscillator: give {wanted} instead"
        yield from _by_band(f"{key}.oscillator_khz", entry.oscillator_khz, receiver)
        yield from _by_band(f"{key}.oscillator_range_khz", entry.oscillator_range_khz, receiver)
        yield from _settings(f"{key}.activity_rest_controls", entry.activity_rest_controls, receiver)
        if entry.activity_reference_band is not None:
            yield from _unknown(f"{key}.activity_reference_band", entry.activity_reference_band, "band", receiver.bands)


def _path(receiver: Receiver) -> Faults:
    """The conversions make one path from the signal through every IF, and turn nowhere."""
    rule = "let the first conversion take 'signal' and each next one take the IF the one before it gives"
    for what in (SIGNAL, *receiver.ifs):
        takers = [name for name, entry in receiver.conversions.items() if entry.takes == what]
        makers = [name for name, entry in receiver.conversions.items() if entry.gives == what]
        if len(takers) > 1:
            yield f"conversion.{takers[1]}.takes is '{what}', which conversion.{takers[0]} takes already: {rule}"
        if len(makers) > 1:
            yield f"conversion.{makers[1]}.gives is '{what}', which conversion.{makers[0]} gives already: {rule}"
        if not makers and what != SIGNAL:
            yield f"if.{what} is given by no conversion: {rule}"
    on_path = conversions_in_order(receiver)
    for name, entry in receiver.conversions.items():
        if name not in on_path:
            yield f"conversion.{name}.takes is '{entry.takes}', which the signal never reaches: {rule}"


def _ifs(receiver: Receiver) -> Faults:
    for name, entry in receiver.ifs.items():
        key, widths, control = f"if.{name}", entry.width_khz, entry.width_control
        if (entry.centre_khz is None) == (entry.range_khz is None):
            yield f"{key} must be one of two kinds: give either centre_khz, or range_khz where it moves with the dial"
        if control is not None:
            yield from _choices(f"{key}.width_control", control, receiver)
        if isinstance(widths, Mapping) != (control is not None):
            yield f"{key}.width_khz and {key}.width_control do not agree: give a table and its control, or neither"
        elif isinstance(widths, Mapping) and control in receiver.controls:
            yield from _same_choices(f"{key}.width_khz", widths, receiver.controls[control].choices)


def _same_choices(key: str, table: Mapping[str, float], choices: tuple[str, ...]) -> Faults:
    for choice in table:
        if choice not in choices:
            yield f"{key}.{choice} is no choice of its control: {_one_of(choices)}"
    for choice in choices:
        if choice not in table:
            yield f"{key} has no entry for '{choice}': add it"


def _filters(receiver: Receiver) -> Faults:
    for name, entry in receiver.filters.items():
        yield from _unknown(f"filter.{name}.if", entry.intermediate, "IF", receiver.ifs)
        if entry.align_at_mark_khz is not None:
            yield from _dial_value(f"filter.{name}.align_at_mark_khz", entry.align_at_mark_khz, receiver)


def _dial_value(key: str, value: float, receiver: Receiver) -> Faults:
    dial = receiver.controls.get(receiver.dial.control)
    if dial is not None:
        yield from _setting_fault(key, dial, value)


def _dial(receiver: Receiver) -> Faults:
    yield from _scale("dial.control", receiver.dial.control, receiver)
    for key, marks in _mark_lists(receiver):
        yield from _by_band(key, marks, receiver)
        for band in receiver.bands:
            yield from _marks_on_band(key, _marks(marks, band), band, receiver)
    for band in receiver.bands:
        listed = _marks(receiver.dial.marks_khz, band)
        if len(listed) < LEAST_MARKS or any(low >= high for low, high in pairwise(listed)):
            yield "dial.marks_khz needs two marks or more, and they must rise: list them from low to high"


def _mark_lists(receiver: Receiver) -> tuple[tuple[str, _Marks], ...]:
    return (
        ("dial.marks_khz", receiver.dial.marks_khz),
        ("preselector.scan_marks_khz", receiver.preselector.scan_marks_khz),
    )


def _marks_on_band(key: str, marks: tuple[float, ...], band: str, receiver: Receiver) -> Faults:
    entry = receiver.bands[band]
    low, high = entry.low_khz, entry.high_khz
    if receiver.dial.reads == "above band edge":
        low, high = 0.0, entry.high_khz - entry.low_khz
    for mark in marks:
        if not low <= mark <= high:
            yield f"{key} has {mark:g}, which is off band '{band}': give dial settings from {low:g} to {high:g}"


def _marks(value: _Marks, band: str) -> tuple[float, ...]:
    if isinstance(value, Mapping) and band not in value:
        return ()
    return for_band(value, band)


def _single_tables(receiver: Receiver) -> Faults:
    if receiver.passband_control is not None:
        yield from _scale("passband_control.control", receiver.passband_control.control, receiver)
        yield from _unknown("passband_control.if", receiver.passband_control.intermediate, "IF", receiver.ifs)
    if receiver.beat_oscillator is not None:
        yield from _unknown("beat_oscillator.if", receiver.beat_oscillator.intermediate, "IF", receiver.ifs)
        if receiver.beat_oscillator.control is not None:
            yield from _choices("beat_oscillator.control", receiver.beat_oscillator.control, receiver)


def _preselector(receiver: Receiver) -> Faults:
    entry = receiver.preselector
    yield from _by_band("preselector.loaded_q", entry.loaded_q, receiver)
    for coil in entry.shared_coils:
        for band in coil:
            yield from _unknown("preselector.shared_coils", band, "band", receiver.bands)
    yield from _gang(receiver) if entry.tuned_by == "gang" else _knob(receiver)


def _gang(receiver: Receiver) -> Faults:
    for key in ("control", "knob_marks"):
        if getattr(receiver.preselector, key):
            yield f"preselector.{key} does not go with tuned_by 'gang', which has no knob of its own: take it out"


def _knob(receiver: Receiver) -> Faults:
    control, knob_marks = receiver.preselector.control, receiver.preselector.knob_marks
    if control is None:
        yield "preselector.control is missing: name the control that tunes it, or set tuned_by to 'gang'"
        return
    yield from _scale("preselector.control", control, receiver)
    yield from _by_band("preselector.knob_marks", knob_marks, receiver)
    if control in receiver.controls:
        for band, marks in knob_marks.items():
            for mark in marks:
                yield from _setting_fault(f"preselector.knob_marks.{band}", receiver.controls[control], mark)


def _movable(receiver: Receiver) -> list[str]:
    names = ["dial", "preselector"]
    names += ["beat_oscillator"] if receiver.beat_oscillator else []
    names += ["passband_control"] if receiver.passband_control else []
    return [
        *names,
        *(f"conversion.{key}" for key in receiver.conversions),
        *(f"filter.{key}" for key in receiver.filters),
    ]


def _adjusters(receiver: Receiver) -> Faults:
    for name, entry in receiver.adjusters.items():
        key = f"adjuster.{name}"
        yield from _unknown(f"{key}.moves", entry.moves, "thing to move", _movable(receiver))
        for band in entry.bands:
            yield from _unknown(f"{key}.bands", band, "band", receiver.bands)
        if (entry.kind == "dial pointer") != (entry.moves == "dial"):
            yield f"{key} is a {entry.kind} that moves '{entry.moves}': let a dial pointer alone move 'dial'"


def _source_points(receiver: Receiver) -> Faults:
    for name, point in receiver.source_points.items():
        key = f"source_point.{name}"
        for what in point.enters:
            yield from _unknown(f"{key}.enters", what, "IF", [SIGNAL, *receiver.ifs])
        if point.after_filter is not None:
            inside = [
                filter_name for filter_name, entry in receiver.filters.items() if entry.intermediate in point.enters
            ]
            yield from _unknown(f"{key}.after_filter", point.after_filter, "filter of an IF the point enters", inside)
        yield from _coupling(key, point)
        if point.voltage_v and point.capacitor_rating_v is None:
            volts = f"{point.voltage_v:g} V"
            yield f"{key}.capacitor_rating_v is missing: {volts} stand there, which the source must never see"
        elif receiver.supply.kind == "transformerless" and point.capacitor_rating_v is None:
            yield f"{key}.capacitor_rating_v is missing: the chassis can be live, so couple through a rated capacitor"


def _coupling(key: str, point: Point) -> Faults:
    if point.coupling == "blocking capacitor":
        for needed in ("capacitor_pf", "capacitor_rating_v"):
            if getattr(point, needed) is None:
                yield f"{key}.{needed} is missing: a blocking capacitor needs it"


def _high_voltage(key: str, point: Point) -> Faults:
    if point.voltage_v >= HAZARDOUS_V and point.capacitor_rating_v is None:
        volts = f"{point.voltage_v:g} V"
        yield f"{key}.capacitor_rating_v is missing: {volts} stand there, which can kill, so couple through a capacitor"


def _other_points(receiver: Receiver) -> Faults:
    conversions = [f"conversion.{key}" for key in receiver.conversions]
    for name, meter in receiver.meter_points.items():
        key = f"meter_point.{name}"
        yield from _coupling(key, meter)
        yield from _high_voltage(key, meter)
        yield from _settings(f"{key}.controls", meter.controls, receiver)
        if meter.reads == "rf probe":
            yield from _unknown(f"{key}.at", meter.at or "", "tuned circuit to probe", ["preselector"])
        elif meter.reads == "oscillator activity":
            yield from _unknown(f"{key}.at", meter.at or "", "oscillator", conversions)
    for name, counter in receiver.counter_points.items():
        key = f"counter_point.{name}"
        yield from _coupling(key, counter)
        yield from _high_voltage(key, counter)
        beat = ["beat_oscillator"] if receiver.beat_oscillator else []
        yield from _unknown(f"{key}.counts", counter.counts, "thing to count", [*conversions, *beat, "audio"])


def _limits(receiver: Receiver) -> Faults:
    """A step that the plan will have needs the limit it is held against."""
    tested = any(point.reads == "oscillator activity" for point in receiver.meter_points.values())
    needed = {
        "beat_oscillator_hz": ("a beat oscillator", receiver.beat_oscillator is not None),
        "passband_symmetry_hz": ("a passband control", receiver.passband_control is not None),
        "preselector_pointer_marks": ("a preselector knob", receiver.preselector.tuned_by == "knob"),
        "activity_below_reference_db": ("an oscillator test point", tested),
    }
    for key, (what, present) in needed.items():
        if present and getattr(receiver.limits, key) is None:
            yield f"limit.{key} is missing: the receiver has {what}, so give a number above 0"
