"""Opens a page in a headless Chromium as a telephone, in the dark and on paper, and checks that
nothing is wrong with it: no message on the console, nothing fetched, nothing wider than the
screen, and no more sheets of A4 than allowed. Speaks WebDriver to chromedriver; needs nothing
beyond Python.

    python3 render.py PAGE.html [--sheets N] [--pictures FOLDER]
"""

import argparse
import base64
import json
import pathlib
import re
import subprocess
import sys
import time
import urllib.error
import urllib.request

PHONE = {"width": 360, "height": 740}
PORT = 9517


class Browser:
    """A session of chromedriver."""

    def __init__(self):
        self.driver = subprocess.Popen(
            ["chromedriver", f"--port={PORT}", "--log-level=SEVERE"],
            stdout=subprocess.DEVNULL,
        )
        self.session = ""
        flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        capabilities = {
            "browserName": "chrome",
            "goog:loggingPrefs": {"browser": "ALL"},
            "goog:chromeOptions": {"args": flags},
        }
        try:
            self.session = self.begin({"capabilities": {"alwaysMatch": capabilities}})
        except BaseException:
            self.end()
            raise

    def begin(self, wanted):
        for _ in range(100):
            try:
                return "/" + self.ask("", wanted)["sessionId"]
            except urllib.error.HTTPError as error:
                raise SystemExit(f"no browser: {error.read().decode()}") from error
            except urllib.error.URLError:
                time.sleep(0.1)
        raise SystemExit("chromedriver does not answer")

    def ask(self, what, body):
        request = urllib.request.Request(
            f"http://127.0.0.1:{PORT}/session{self.session}{what}",
            json.dumps(body).encode(),
            {"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)["value"]

    def command(self, name, **parameters):
        return self.ask("/goog/cdp/execute", {"cmd": name, "params": parameters})

    def run(self, script):
        return self.ask("/execute/sync", {"script": script, "args": []})

    def end(self):
        if self.session:
            request = urllib.request.Request(
                f"http://127.0.0.1:{PORT}/session{self.session}", method="DELETE"
            )
            urllib.request.urlopen(request, timeout=30).close()
        self.driver.terminate()
        self.driver.wait()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("page", type=pathlib.Path)
    parser.add_argument("--sheets", type=int, default=2)
    parser.add_argument("--pictures", type=pathlib.Path)
    arguments = parser.parse_args()
    wrong = []
    browser = Browser()

    def keep(name, data):
        if arguments.pictures:
            arguments.pictures.mkdir(parents=True, exist_ok=True)
            (arguments.pictures / name).write_bytes(data)

    def picture(name):
        size = browser.command("Page.getLayoutMetrics")["cssContentSize"]
        shot = browser.command(
            "Page.captureScreenshot", captureBeyondViewport=True,
            clip={**size, "x": 0, "y": 0, "scale": 1},
        )
        keep(name, base64.b64decode(shot["data"]))

    def look(name, width, height, scheme):
        scale = 2 if width == PHONE["width"] else 1
        browser.command(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=scale, mobile=scale == 2,
        )
        scheme = {"name": "prefers-color-scheme", "value": scheme}
        browser.command("Emulation.setEmulatedMedia", features=[scheme])
        browser.ask("/url", {"url": arguments.page.resolve().as_uri()})
        wide = browser.run("return document.documentElement.scrollWidth")
        if wide > width:
            wrong.append(f"{name}: {wide} pixels wide where there are {width}")
        fetched = browser.run("return performance.getEntriesByType('resource').length")
        if fetched:
            wrong.append(f"{name}: {fetched} things were fetched")
        paint = browser.run("return getComputedStyle(document.body).backgroundColor")
        print(f"{name}: {wide} pixels wide, on {paint}")
        picture(f"{name}.png")

    try:
        look("phone", **PHONE, scheme="light")
        look("phone-dark", **PHONE, scheme="dark")
        look("screen", 1200, 900, "light")
        sheet = {"page": {"width": 21.0, "height": 29.7}, "background": True}
        paper = base64.b64decode(browser.ask("/print", sheet))
        keep("paper.pdf", paper)
        sheets = len(re.findall(rb"/Type\s*/Page\b", paper))
        print(f"paper: {sheets} sheets")
        if not 1 <= sheets <= arguments.sheets:
            wrong.append(f"paper: {sheets} sheets where {arguments.sheets} are allowed")
        for message in browser.ask("/se/log", {"type": "browser"}):
            wrong.append(f"console: {message['message']}")
    finally:
        browser.end()
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
