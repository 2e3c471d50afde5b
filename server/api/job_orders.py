"""The bodies of the requests about jobs."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Words = Annotated[str, Field(max_length=2000)]
Celsius = Annotated[float, Field(ge=-60.0, le=90.0)]


class _Body(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class JobOrder(_Body):
    """The body of `POST /api/jobs`."""

    receiver_id: str
    owner: Words = ""
    make: Words = ""
    serial: Words = ""
    operator: Words = ""
    room_temperature_c: Celsius | None = None
    calibration_note: Words = ""
    remark: Words = ""


class JobChange(_Body):
    """The body of `PATCH /api/jobs/{id}`: what is left out stays as it is."""

    owner: Words = ""
    make: Words = ""
    serial: Words = ""
    operator: Words = ""
    room_temperature_c: Celsius | None = None
    calibration_note: Words = ""
    remark: Words = ""
    state: Literal["open", "paused", "done"] = "open"


class BeginOrder(_Body):
    """The body of `POST /api/jobs/{id}/steps/{step}/begin`. `way` null takes the first that the bench can measure."""

    way: str | None = None
    turning: Literal["live", "counted"] = "live"


class LeaveOrder(_Body):
    """The body of `POST /api/jobs/{id}/steps/{step}/leave`."""

    reason: Annotated[str, Field(min_length=1, max_length=2000)] = "The person left it as it is."


class RemarkOrder(_Body):
    """The body of `POST .../remarks`."""

    text: str


class AnswerOrder(_Body):
    """The body of `POST /api/answer`."""

    number: int
    answer: Annotated[str, Field(max_length=2000)]


class SignalOrder(_Body):
    """The body of `POST /api/signal`."""

    signal: Literal["step", "done", "cannot"]
