"""What is left of a working channel with a device, a fibre or a wire in it: a circle in a circle."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.outcomes.fit.size import Size


@dataclass(frozen=True)
class Channel:
    """free_mm2 and free_share are None when it does not pass: nothing then is in the channel to leave room."""

    channel: Size
    device: Size
    passes: bool
    free_mm2: float | None
    free_share: float | None
    reason: str | None


def channel_with(channel: Size, device: Size) -> Channel:
    """Free area of a channel with one round device in it, in mm2 and as a share of the empty channel."""
    if device >= channel:
        said = f"{device.in_fr()} Fr does not pass a channel of {channel.in_fr()} Fr: it has to be thinner."
        return Channel(channel, device, passes=False, free_mm2=None, free_share=None, reason=said)
    free = channel.mm**2 - device.mm**2
    return Channel(
        channel,
        device,
        passes=True,
        free_mm2=math.pi / 4 * float(free),
        free_share=float(free / channel.mm**2),
        reason=None,
    )
