"""A simulated peripheral: Chromium's own emulation of Bluetooth, with one service and the values it answers with.

The page meets the browser's own API; what stands in is the radio and the sensor. No test lives here.
"""

from __future__ import annotations

import base64
from typing import Any

from playwright.sync_api import Page

from tests.support.browser import PATIENCE_MS

# Linux has Web Bluetooth only on request.
FLAG = "--enable-features=WebBluetooth"
BASE = "-0000-1000-8000-00805f9b34fb"
ADDRESS = "09:09:09:09:09:09"
STEP_MS = 50
# An error of the attribute protocol: unlikely error (Bluetooth Core Specification, volume 3, part F, 3.4.1.1).
FAILED = 0x0E


class Peripheral:
    """A sensor in reach; `values` are what its characteristics answer, by their numbers of four digits [bytes].

    One whose value is taken away later answers with an error.
    """

    def __init__(self, page: Page, name: str, service: str, values: dict[str, bytes]) -> None:
        browser = page.context.browser
        assert browser is not None
        self.page, self.service, self.values = page, service, values
        self.radio = browser.new_browser_cdp_session()
        self.chooser = page.context.new_cdp_session(page)
        self.waiting: list[tuple[str, dict[str, Any]]] = []
        self.prompts: list[dict[str, Any]] = []
        self.known: dict[str, str] = {}
        for event in ("gattOperationReceived", "characteristicOperationReceived"):
            self.radio.on(f"BluetoothEmulation.{event}", lambda told, event=event: self.waiting.append((event, told)))
        self.chooser.on("DeviceAccess.deviceRequestPrompted", lambda told: self.prompts.append(told))
        self._send("enable", state="powered-on", leSupported=True)
        self._send("simulatePreconnectedPeripheral", address=ADDRESS, name=name, manufacturerData=[],
                   knownServiceUuids=[f"0000{service}{BASE}"])
        self.chooser.send("DeviceAccess.enable")

    def _send(self, method: str, **values: Any) -> dict[str, Any]:
        answer: dict[str, Any] = self.radio.send(f"BluetoothEmulation.{method}", values)
        return answer

    def answer_until(self, script: str) -> None:
        """Choose the sensor when the browser asks, and answer for it, until a script on the page is true."""
        for _ in range(PATIENCE_MS // STEP_MS):
            if self.page.evaluate(script):
                return
            if self.prompts and self.prompts[-1]["devices"]:
                prompt = self.prompts[-1]
                self.prompts.clear()
                self.chooser.send("DeviceAccess.selectPrompt",
                                  {"id": prompt["id"], "deviceId": prompt["devices"][0]["id"]})
            while self.waiting:
                self._answer(*self.waiting.pop(0))
            self.page.wait_for_timeout(STEP_MS)
        raise AssertionError(f"never true: {script}")

    def _answer(self, event: str, told: dict[str, Any]) -> None:
        if event == "gattOperationReceived":
            if told["type"] == "connection":
                self._grow()
            self._send("simulateGATTOperationResponse", address=ADDRESS, type=told["type"], code=0)
            return
        value = self.values.get(self.known[told["characteristicId"]])
        answer = {"code": FAILED} if value is None else {"code": 0, "data": base64.b64encode(value).decode()}
        self._send("simulateCharacteristicOperationResponse", characteristicId=told["characteristicId"],
                   type=told["type"], **answer)

    def _grow(self) -> None:
        """Give it its service and characteristics."""
        service = self._send("addService", address=ADDRESS, serviceUuid=f"0000{self.service}{BASE}")["serviceId"]
        for number in self.values:
            added = self._send("addCharacteristic", serviceId=service, characteristicUuid=f"0000{number}{BASE}",
                               properties={"read": True})
            self.known[added["characteristicId"]] = number
