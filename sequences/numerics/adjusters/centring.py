"""Move both circuits of a can together: how far to turn each slug for the whole to come to its frequency."""

from dataclasses import dataclass, replace

LEAST_TRUST, MOST_TRUST = 0.4, 2.5
FAINT = 0.1


@dataclass(frozen=True, slots=True)
class CommonTurn:
    """What a turn of both slugs does.

    `half_width_hz` is that of each circuit, `half_width_turns` what it takes of each slug; `senses` is +1 for a slug
    that raises the frequency clockwise, -1 for one that lowers it. `trust` multiplies what a turn is expected to do,
    as the turns so far have shown.
    """

    half_width_hz: float
    half_width_turns: tuple[float, float]
    senses: tuple[int, int]
    trust: float = 1.0

    def turns_for(self, change_hz: float, finest_turns: float) -> tuple[float, float]:
        """Give the turns of the two slugs that move the can by so many Hz, in multiples of what fingers can do."""
        half_widths = change_hz / (self.half_width_hz * self.trust)
        first, second = (
            round(sense * turns * half_widths / finest_turns) * finest_turns
            for sense, turns in zip(self.senses, self.half_width_turns, strict=True)
        )
        return first, second

    def having_seen(self, wanted_hz: float, seen_hz: float) -> "CommonTurn":
        """Give the same with what a turn turned out to do; too small a turn teaches nothing."""
        if abs(wanted_hz) < FAINT * self.half_width_hz:
            return self
        ratio = seen_hz / wanted_hz
        if ratio < 0.0:
            return replace(self, senses=(-self.senses[0], -self.senses[1]))
        return replace(self, trust=self.trust * min(max(ratio, LEAST_TRUST), MOST_TRUST))


def half_width_of(frequency_hz: float, loaded_q: float | None, width_hz: float) -> float:
    """Give the half-width of each circuit of a pair: f / 2Q, or from the width of a critically coupled pair.

    Its 3 dB width is sqrt(2) f / Q (Zverev, Handbook of Filter Synthesis, 1967, n = 2 Butterworth: q 1.4142).
    """
    if loaded_q is not None:
        return frequency_hz / (2.0 * loaded_q)
    return float(width_hz / (2.0 * 2.0**0.5))
