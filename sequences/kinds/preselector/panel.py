"""The receiver's front panel as a procedure sees it: a control is asked for only where it is not so already."""

from collections.abc import Mapping

from sequences.engine.asks import Asking, set_controls

Setting = str | float


class Panel:
    """How the controls were last asked to stand."""

    def __init__(self, controls: Mapping[str, Setting]) -> None:
        self._controls: dict[str, Setting] = dict(controls)

    def standing(self, control: str) -> Setting | None:
        """Say how a control stands; None where it was never set."""
        return self._controls.get(control)

    @property
    def controls(self) -> Mapping[str, Setting]:
        """Say how all controls stand that are known."""
        return dict(self._controls)

    def set(self, controls: Mapping[str, Setting]) -> Asking:
        """Have those controls set that do not stand so."""
        changed = {name: to for name, to in controls.items() if self._controls.get(name) != to}
        self._controls.update(changed)
        yield from set_controls(changed)

    def forget(self, control: str) -> None:
        """Take a control for unknown, because it was set by other words."""
        self._controls.pop(control, None)
