"""Who is asking: the one place that tells which device a request comes from.

Nothing here decides what a device may see; it only names it.
"""

from __future__ import annotations

from flask import Request

from server.problems import RequestFault
from sync import oplines


def device_of(request: Request) -> str:
    """The device a request comes from [lower-case hex].

    Raises:
        RequestFault: bad_query, where it does not say so.
    """
    device = request.args.get("device", "")
    if not oplines.is_device(device):
        raise RequestFault("bad_query", name="device", found=device[:40])
    return device
