"""Three palettes: day, dusk and night. Red is kept for alarms; nothing is told by colour alone."""

from __future__ import annotations

from typing import Final

PALETTES: Final = ("day", "dusk", "night")

# ink on paper, ink on panel and dim on both: at least 4.5:1 (WCAG 2.2 AA), measured in the browser test.
_COLOURS: Final[dict[str, dict[str, str]]] = {
    "day": {
        "paper": "#dfe5e6", "panel": "#f4f6f5", "ink": "#10181b", "dim": "#465459", "edge": "#8b989c",
        "water": "#cfdde2", "land": "#d8d3c8", "hull": "#5c6b70", "hull-ink": "#ffffff", "rope": "#10181b",
        "band": "#7d8f96", "coming": "#10181b", "key": "#0b4f5e", "key-ink": "#ffffff",
        "caution": "#f2e3a0", "caution-ink": "#2b2400", "warning": "#e9a320", "warning-ink": "#1e1200",
        "alarm": "#b00012", "alarm-ink": "#ffffff", "unknown": "#dad2e6", "unknown-ink": "#2a1a44",
        "dv1": "#efe6cc", "dv2": "#dcc48a", "dv3": "#b98d45",
    },
    "dusk": {
        "paper": "#171e21", "panel": "#20292d", "ink": "#d5dde0", "dim": "#9aa8ad", "edge": "#4b5a60",
        "water": "#1b2b33", "land": "#2c2a25", "hull": "#7b8b91", "hull-ink": "#0b0f10", "rope": "#d5dde0",
        "band": "#6a7d85", "coming": "#d5dde0", "key": "#2f6b78", "key-ink": "#ffffff",
        "caution": "#4d461f", "caution-ink": "#f5ecc0", "warning": "#9a6200", "warning-ink": "#ffffff",
        "alarm": "#b00012", "alarm-ink": "#ffffff", "unknown": "#3d3350", "unknown-ink": "#e6dcf7",
        "dv1": "#2c2a21", "dv2": "#4a4027", "dv3": "#7a5f2c",
    },
    "night": {
        "paper": "#000000", "panel": "#0a0b0a", "ink": "#a39a86", "dim": "#857d6c", "edge": "#36332c",
        "water": "#040807", "land": "#0f0d09", "hull": "#4c4941", "hull-ink": "#e0d8c6", "rope": "#a39a86",
        "band": "#4c4941", "coming": "#a39a86", "key": "#2a2f22", "key-ink": "#c9c0aa",
        "caution": "#1d1a0b", "caution-ink": "#c4b679", "warning": "#3f2a00", "warning-ink": "#e0b56a",
        "alarm": "#7d000c", "alarm-ink": "#ffe3e3", "unknown": "#16121f", "unknown-ink": "#b3a6cb",
        "dv1": "#100e08", "dv2": "#221d10", "dv3": "#3d3018",
    },
}  # fmt: skip


_PRINTED: Final = {**_COLOURS["day"], "paper": "#ffffff", "panel": "#ffffff", "ink": "#000000", "dim": "#333333"}


def variables() -> str:
    """The palettes as style sheet variables; the palette in force is an attribute of the page's root. On paper
    there is one: black on white."""
    on_screen = (f':root[data-palette="{name}"] {{ {_set(colours)} }}' for name, colours in _COLOURS.items())
    return "\n".join((*on_screen, f"@media print {{ :root[data-palette] {{ {_set(_PRINTED)} }} }}"))


def _set(colours: dict[str, str]) -> str:
    return " ".join(f"--{key}: {value};" for key, value in colours.items())


def colours(palette: str) -> dict[str, str]:
    """One palette, by the name of its use."""
    return dict(_COLOURS[palette])
