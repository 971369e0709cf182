"""Drives a headless Chromium by its DevTools protocol over two pipes: no port, and no package needed."""

import json
import os
import shutil
import subprocess
import tempfile

NAMES = ("chromium", "chromium-browser", "chrome")


def found():
    """The browser's program, or None."""
    return next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    """One browser with one page."""

    def __init__(self, program):
        to_read, self._to = os.pipe()
        self._from, to_write = os.pipe()
        self._home = tempfile.TemporaryDirectory()
        flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run"]
        flags += ["--disable-dev-shm-usage", "--disable-extensions", "--disable-background-networking"]
        flags += [f"--user-data-dir={self._home.name}", "--remote-debugging-pipe", "about:blank"]

        def pipes():
            # Duplicated away first, so that neither end is closed by the other's place.
            one, other = os.dup(to_read), os.dup(to_write)
            os.dup2(one, 3)
            os.dup2(other, 4)

        self._process = subprocess.Popen(
            [program, *flags], preexec_fn=pipes, close_fds=False,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._rest, self._count, self.events = b"", 0, []
        pages = self.call("Target.getTargets", session=None)["targetInfos"]
        target = next(page["targetId"] for page in pages if page["type"] == "page")
        self._session = None
        attached = self.call("Target.attachToTarget", session=None, targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def call(self, method, session=True, **params):
        """Calls a method of the protocol and waits for its answer; events are kept."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": params}
        if session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._count:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return answer["result"]
            self.events.append(answer)

    def _next(self):
        while b"\0" not in self._rest:
            piece = os.read(self._from, 1 << 16)
            assert piece, "the browser has ended"
            self._rest += piece
        line, self._rest = self._rest.split(b"\0", 1)
        return json.loads(line)

    def open(self, url, drawn=True):
        """Opens a page and waits until it is loaded and `drawn`; gives the events meanwhile."""
        self.events = []
        self.call("Page.navigate", url=url)
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())
        if drawn:
            self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        return self.events

    def run(self, script):
        """The value of an expression in the page."""
        said = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in said, said["exceptionDetails"]
        return said["result"].get("value")

    def window(self, width, height=900, dark=False, scale=1):
        """How wide the page is shown, and in which theme."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=scale, mobile=False)
        theme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[theme])

    def close(self):
        """Ends the browser."""
        try:
            self.call("Browser.close", session=None)
            self._process.wait(10)
        except (AssertionError, subprocess.TimeoutExpired, OSError):
            self._process.kill()
            self._process.wait()
        self._home.cleanup()
