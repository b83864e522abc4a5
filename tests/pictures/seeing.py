"""How colours look in grey and to colour-blind eyes, by published models.

Luminance and contrast: WCAG 2.1, relative luminance and contrast ratio. Colour blindness: Machado,
Oliveira and Fernandes 2009, A physiologically-based model for simulation of color vision
deficiency, severity 1.0, on linear RGB (matrices read in several public copies that agree).
"""

import numpy as np

MACHADO = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])


def linear(colour: str) -> np.ndarray:
    """Return "#rrggbb" as linear RGB, 0..1 (WCAG 2.1)."""
    part = np.array([int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)])
    return np.where(part <= 0.03928, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def luminance(colour: str, eye: str = "normal") -> float:
    """Return the relative luminance a colour has to an eye; a grey print shows the normal one."""
    return float(_WEIGHTS @ np.clip(MACHADO[eye] @ linear(colour), 0.0, 1.0))


def contrast(one: str, other: str, eye: str = "normal") -> float:
    """Return the contrast ratio, 1..21."""
    light, dark = sorted((luminance(one, eye), luminance(other, eye)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
