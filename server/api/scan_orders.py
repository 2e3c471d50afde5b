"""A scan as a page or program orders it, and what the worker makes of it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Protocol

from pydantic import BaseModel, ConfigDict, Field

from sequences.engine.events import Event
from sequences.engine.instruments import Bench
from sequences.engine.run import Clock, Limits, run
from sequences.errors import SequenceError
from sequences.procedures.sweeps.scan import Detector, ScanSettings, scan
from sequences.receiver.hookups import Hookup
from sequences.receiver.targets import ScanTarget
from server.bench.file import SourceEntry
from server.bench.stop_bell import StopBell
from server.errors import OrderRefused
from server.plain import to_plain
from server.records.runs import NewRun
from server.settings import Mode


class ScanOrder(BaseModel):
    """The body of `POST /api/scans`. What is left out is taken from the target."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    target: str
    start_hz: float | None = None
    stop_hz: float | None = None
    centre_hz: float | None = None
    span_hz: float | None = None
    level_dbm: float | None = None
    settle_s: float | None = None
    detector: Literal["linear", "square", "calibrate"] | None = None
    readings: int | None = None
    until_centre_percent: float | None = Field(default=None, gt=0, lt=100)


class HookingUp(Protocol):
    """Whoever can put a receiver on the bench and hook it up."""

    def hook_up(self, receiver_id: str, hookup: Hookup) -> None:
        """Do so."""


@dataclass(frozen=True, slots=True)
class ScanJob:
    """One scan, ready for the worker."""

    needs: ClassVar[tuple[str, ...]] = ("source", "meter")

    target: ScanTarget
    settings: ScanSettings
    limits: Limits
    mode: Mode
    hands: HookingUp | None
    """Whoever moves the leads before the scan; None where a person has done so."""

    def describe(self, instruments: list[dict[str, Any]]) -> NewRun:
        """Give what the record enters before the run begins."""
        fraction = self.settings.until_centre_fraction
        settings = {
            **to_plain(self.settings),
            "until_centre_percent": None if fraction is None else 100 * fraction,
            "loss_db": self.limits.loss_db,
            "highest_level_dbm": self.limits.highest_power_dbm,
            "hookup": to_plain(self.target.hookup),
        }
        del settings["until_centre_fraction"]
        return NewRun(
            mode=self.mode,
            target=self.target.id,
            target_name=self.target.name,
            receiver=self.target.receiver_name,
            settings=settings,
            instruments=instruments,
        )

    def carry_out(self, bench: Bench, *, emit: Callable[[Event], None], stop: StopBell, clock: Clock) -> dict[str, Any]:
        """Move the leads where there are hands to do so, scan, and give the figures."""
        if self.hands is not None:
            self.hands.hook_up(self.target.receiver_id, self.target.hookup)
        name = f"{self.target.receiver_name}: {self.target.name}"
        outcome = run(scan(self.settings), bench, emit=emit, stop=stop, clock=clock, limits=self.limits, name=name)
        return outcome.figures()


def settle_order(order: ScanOrder, target: ScanTarget) -> ScanSettings:
    """Complete an order from its target.

    Raises:
        OrderRefused: the order contradicts itself or asks what no scan can do.
    """
    start_hz, stop_hz = _span(order, target)
    percent = order.until_centre_percent
    try:
        return ScanSettings(
            start_hz=start_hz,
            stop_hz=stop_hz,
            level_dbm=target.level_dbm if order.level_dbm is None else order.level_dbm,
            settle_s=target.settle_s if order.settle_s is None else order.settle_s,
            detector=Detector(order.detector or target.detector),
            readings=order.readings,
            until_centre_fraction=None if percent is None else percent / 100,
        )
    except SequenceError as error:
        raise OrderRefused(str(error)) from error


def limits_for(target: ScanTarget, source: SourceEntry | None) -> Limits:
    """Give what the hookup allows: the target's ceiling, and the source's own less what is lost on the way."""
    if source is None:
        return Limits(target.max_level_dbm)
    return Limits(min(target.max_level_dbm, source.ceiling_dbm - source.loss_db), source.loss_db)


def check_level(settings: ScanSettings, limits: Limits) -> None:
    """Refuse a level that the hookup does not allow.

    Raises:
        OrderRefused: it is above the ceiling.
    """
    if settings.level_dbm > limits.highest_power_dbm:
        raise OrderRefused(
            f"level_dbm is {settings.level_dbm:g} but at most {limits.highest_power_dbm:g} dBm may reach this point; "
            "ask for that or less."
        )


def _span(order: ScanOrder, target: ScanTarget) -> tuple[float, float]:
    edges, about = (order.start_hz, order.stop_hz), (order.centre_hz, order.span_hz)
    given = [pair for pair in (edges, about) if pair != (None, None)]
    if len(given) > 1 or any(None in pair for pair in given):
        raise OrderRefused("Give start_hz with stop_hz, or centre_hz with span_hz, and not the other pair beside it.")
    if order.centre_hz is not None and order.span_hz is not None:
        return order.centre_hz - order.span_hz / 2, order.centre_hz + order.span_hz / 2
    if order.start_hz is not None and order.stop_hz is not None:
        return order.start_hz, order.stop_hz
    return target.start_hz, target.stop_hz
