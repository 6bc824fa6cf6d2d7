"""The state of the aircraft on the ramp, always in sight in an interphone drill."""

from textual.content import Content
from textual.widgets import Static

from readback.drills.ramp import RampState


class RampStrip(Static):
    """Brakes, pin, tow, engines and push, in words; what just changed is marked with a star."""

    def __init__(self) -> None:
        super().__init__("", id="ramp", markup=False)
        self._shown: dict[str, str] = {}

    def show(self, state: RampState) -> None:
        """Show a state, and mark what is other than before."""
        now = ramp_words(state)
        parts: list[str | tuple[str, str]] = [" "]
        for name, value in now.items():
            changed = bool(self._shown) and self._shown.get(name) != value
            star = "*" if changed else ""
            parts += [f"{name} ", (f"{star}{value}", "bold reverse" if changed else "bold"), " "]
        self._shown = now
        self.update(Content.assemble(*parts))


def ramp_words(state: RampState) -> dict[str, str]:
    """Say the parts that matter most in a few words each."""
    brakes: str = state.brakes
    if state.brake_lamp != "not seen":
        brakes = f"{brakes} (lamp {state.brake_lamp})"
    engines = " ".join(map(str, state.engines_running)) or "none"
    if state.engine_starting is not None:
        engines += f" +{state.engine_starting} starting"
    push: str = state.push_motion
    if push == "none":
        push = "cleared" if state.push_clearance == "given" else "not cleared"
    if state.push_clearance == "held":
        push += ", held"
    tow = "connected" if "connected" in (state.tow_bar, state.tow_vehicle) else "away"
    words = {
        "brakes": brakes,
        "chocks": state.chocks,
        "pin": state.bypass_pin,
        "tow": "nose lifted" if state.nose_lifted else tow,
        "push": push,
        "engines": engines,
    }
    if state.hazard:
        at = f" engine {state.hazard_engine}" if state.hazard_engine else ""
        words["hazard"] = f"{state.hazard}{at}"
    return words
