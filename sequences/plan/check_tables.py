"""A receiver file worked out as tables anyone can follow: every frequency, every window, every step."""

from sequences.plan.not_planned import not_planned
from sequences.plan.order import Plan
from sequences.plan.spur_tables import spur_tables
from sequences.plan.text_table import TextTable
from sequences.receiver.chain import conversions_in_order, mid_band
from sequences.receiver.contradictions import khz
from sequences.receiver.frequency_plan import Stage, frequency_plan, injections, product_khz, tuning
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.windows import windows


def check_tables(receiver: Receiver, plan: Plan) -> tuple[TextTable, ...]:
    """Work out every table. The receiver's references must hold; its arithmetic need not."""
    return (
        conversion_table(receiver),
        unwanted_table(receiver),
        *spur_tables(receiver),
        injection_table(receiver),
        window_table(receiver),
        step_table(plan),
        *_not_planned_table(receiver, plan),
    )


def _not_planned_table(receiver: Receiver, plan: Plan) -> tuple[TextTable, ...]:
    """Show what no step has; no table where there is nothing."""
    rows = tuple((each.name, each.reason, each.remedy or "-") for each in not_planned(receiver, plan))
    title, columns = "Not planned", ("what", "why", "what would bring it in")
    return (TextTable(title, columns, rows),) if rows else ()


def conversion_table(receiver: Receiver) -> TextTable:
    """Show the signal's way down: at every dial mark each oscillator, and what the mixer makes of it."""
    columns = ["band", "dial", "signal"]
    for key in conversions_in_order(receiver):
        entry = receiver.conversions[key]
        columns += [entry.oscillator, f"gives {receiver.ifs[entry.gives].name}"]
    rows = []
    inverted = False
    for line in frequency_plan(receiver):
        inverted = line.inverted
        row = [line.setting.band, f"{line.setting.dial_khz:g}", _bare(line.setting.signal_khz)]
        for stage in line.stages:
            row += [_bare(stage.oscillator_khz), f"{_sum(receiver, stage)} = {_bare(_product(receiver, stage))}"]
        rows.append(tuple(row))
    sense = "swapped: a beat falls where it would rise" if inverted else "as they were sent"
    return TextTable("Frequency plan, kHz", tuple(columns), tuple(rows), f"The sidebands arrive {sense}.")


def unwanted_table(receiver: Receiver) -> TextTable:
    """Show for mid-band what else would come through: images, where they are heard, and half-IF responses."""
    rows = []
    for band in receiver.bands:
        middle = tuning(receiver, mid_band(receiver, band))
        for place, stage in enumerate(middle.stages):
            rejection = f"{middle.image_rejection_db:.0f} dB" if place == 0 else ""
            rows.append(
                (
                    band,
                    _bare(middle.setting.signal_khz),
                    stage.conversion,
                    _bare(stage.image_khz),
                    _or_dash(stage.image_on_dial_khz),
                    _or_dash(stage.half_if_khz),
                    rejection,
                )
            )
    columns = ("band", "signal", "conversion", "image", "image at antenna", "half-IF", "preselector takes off")
    note = (
        "Image and half-IF stand at the mixer's input; the image at the antenna would be heard in place of the signal."
    )
    return TextTable("Images and half-IF responses in the middle of each band, kHz", columns, tuple(rows), note)


def injection_table(receiver: Receiver) -> TextTable:
    """Show what the source is set to at each injection point, in the middle of each band."""
    rows: dict[tuple[str, str], list[str]] = {}
    for band in receiver.bands:
        for injection in injections(receiver, mid_band(receiver, band)):
            rows.setdefault((injection.point, _name(receiver, injection.what)), []).append(
                _bare(injection.frequency_khz)
            )
    columns = ("source at", "enters as", *(f"band {band}" for band in receiver.bands))
    table_rows = tuple((point, what, *values) for (point, what), values in rows.items())
    return TextTable("Injection frequencies in the middle of each band, kHz", columns, table_rows)


def window_table(receiver: Receiver) -> TextTable:
    """Show what each circuit is seen through."""
    rows = tuple(
        (
            window.circuit,
            khz(round(window.width_khz, 3)),
            window.through or "nothing tuned",
            "" if window.through_khz is None else khz(round(window.through_khz, 3)),
            window.view.value,
        )
        for window in windows(receiver)
    )
    return TextTable("Windows", ("circuit", "3 dB width", "seen through", "3 dB width", "so it is seen"), rows)


def step_table(plan: Plan) -> TextTable:
    """Show the steps in order, how each is measured and what may be turned."""
    rows = []
    for number, step in enumerate(plan.steps, start=1):
        turned = [f"{one.name} (measure only)" if one.measure_only else one.name for one in step.adjusters]
        limits = "; ".join(limit.sentence() for limit in step.limits)
        rows.append((str(number), step.title, step.ways[0].name.value, ", ".join(turned), limits))
    return TextTable("Steps", ("", "step", "measured by", "adjusters", "good is"), tuple(rows))


def _product(receiver: Receiver, stage: Stage) -> float:
    return product_khz(receiver.conversions[stage.conversion].side, stage.takes_khz, stage.oscillator_khz)


def _sum(receiver: Receiver, stage: Stage) -> str:
    oscillator, takes = _bare(stage.oscillator_khz), _bare(stage.takes_khz)
    side = receiver.conversions[stage.conversion].side
    if side == "sum":
        return f"{takes} + {oscillator}"
    return f"{oscillator} - {takes}" if side == "high" else f"{takes} - {oscillator}"


def _name(receiver: Receiver, what: str) -> str:
    return SIGNAL if what == SIGNAL else receiver.ifs[what].name


def _bare(value_khz: float) -> str:
    return khz(value_khz).removesuffix(" kHz")


def _or_dash(value_khz: float | None) -> str:
    return "-" if value_khz is None else _bare(value_khz)
