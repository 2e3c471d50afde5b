"""A step of the plan in words: the same for page, terminal and paper, in the order a person needs them."""

from dataclasses import dataclass

from sequences.plan.content import Step, StepAdjuster, Way


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading and its lines."""

    heading: str
    lines: tuple[str, ...]


def step_paragraphs(step: Step, way: Way) -> tuple[Paragraph, ...]:
    """Write out a step measured in one of its ways. Cautions come first; a paragraph without lines is left out."""
    paragraphs = (
        Paragraph("Danger", way.cautions),
        Paragraph("Leads", _lead_lines(way)),
        Paragraph("Controls", tuple(f"{name}: {_plain(value)}" for name, value in way.hookup.controls.items())),
        Paragraph("Measured", (f"{way.measured[0].upper()}{way.measured[1:]}.", f"Why so: {way.because}.")),
        Paragraph("Good", (step.good,)),
        Paragraph("Adjusters", tuple(_adjuster_line(adjuster) for adjuster in step.adjusters)),
    )
    return tuple(paragraph for paragraph in paragraphs if paragraph.lines)


def _lead_lines(way: Way) -> tuple[str, ...]:
    hookup = way.hookup
    leads = (
        ("Source", hookup.source_to, hookup.source_through),
        ("Meter", hookup.meter_to, hookup.meter_through),
        ("Counter", hookup.counter_to, hookup.counter_through),
    )
    return tuple(f"{role} to {point}: {through}." for role, point, through in leads if point is not None)


def _adjuster_line(adjuster: StepAdjuster) -> str:
    line = f"{adjuster.name} ({adjuster.kind})"
    if adjuster.bands:
        line += f", band {' and '.join(adjuster.bands)}"
    if adjuster.end:
        line += f", at the {adjuster.end} end"
    if adjuster.measure_only:
        line += ": measure only, set in the factory, do not turn"
    return line + "."


def _plain(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"
