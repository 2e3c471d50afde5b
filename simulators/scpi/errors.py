"""The numbers and texts of SCPI-99 volume 2, section 21.8, and the event-status bit each class sets."""

TEXTS = {
    0: "No error",
    -100: "Command error",
    -101: "Invalid character",
    -102: "Syntax error",
    -103: "Invalid separator",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -110: "Command header error",
    -112: "Program mnemonic too long",
    -113: "Undefined header",
    -114: "Header suffix out of range",
    -120: "Numeric data error",
    -123: "Exponent too large",
    -124: "Too many digits",
    -131: "Invalid suffix",
    -138: "Suffix not allowed",
    -151: "Invalid string data",
    -161: "Invalid block data",
    -200: "Execution error",
    -211: "Trigger ignored",
    -213: "Init ignored",
    -221: "Settings conflict",
    -222: "Data out of range",
    -224: "Illegal parameter value",
    -230: "Data corrupt or stale",
    -240: "Hardware error",
    -241: "Hardware missing",
    -300: "Device-specific error",
    -310: "System error",
    -350: "Queue overflow",
    -363: "Input buffer overrun",
    -400: "Query error",
}

# IEEE 488.2 section 11.5.1: the bit of the standard event status register by the hundreds of the number.
_EVENT_BITS = {1: 32, 2: 16, 3: 8, 4: 4, 5: 128, 6: 64, 7: 2, 8: 1}
_LONGEST_TEXT = 255


class ScpiError(Exception):
    """A message, or a part of it, that the instrument could not obey."""

    def __init__(self, number: int, detail: str = "") -> None:
        super().__init__(number, detail)
        self.number = number
        self.detail = detail

    @property
    def is_command_error(self) -> bool:
        """True for a message that could not be understood at all; the rest of it is thrown away."""
        return -199 <= self.number <= -100  # noqa: PLR2004 - the range SCPI-99 gives the class

    @property
    def event_bit(self) -> int:
        """The bit this error sets in the event status register."""
        return _EVENT_BITS.get(-self.number // 100, 8)

    def entry(self) -> str:
        """Write the error as `SYSTem:ERRor?` answers it."""
        text = TEXTS.get(self.number, "Device-specific error")
        if self.detail:
            text = f"{text};{self.detail}"
        return f'{self.number},"{_quotable(text)}"'


def _quotable(text: str) -> str:
    printable = "".join(character if character.isprintable() else "?" for character in text)
    return printable[:_LONGEST_TEXT].replace('"', '""')
