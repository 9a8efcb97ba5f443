"""Headless Chromium and checkers of HTML, as far as they are there. What is not there is None or raises unittest.SkipTest with a word."""
import glob
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest


def chromium():
    for name in ("chromium", "chromium-browser"):
        if shutil.which(name):
            return shutil.which(name)
    raise unittest.SkipTest("no chromium (Debian package chromium)")


def headless(*arguments):
    with tempfile.TemporaryDirectory(prefix="swh_browser_") as profile:
        return subprocess.run([chromium(), "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}", *arguments],
                              capture_output=True, timeout=120)


def sheets(html):
    """Pages of paper that a file prints to, and the size of the first in points."""
    with tempfile.TemporaryDirectory(prefix="swh_print_") as folder:
        pdf = os.path.join(folder, "page.pdf")
        headless("--no-pdf-header-footer", f"--print-to-pdf={pdf}", "file://" + os.path.abspath(html))
        with open(pdf, "rb") as f:
            data = f.read()
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", data)
    return len(re.findall(rb"/Type\s*/Page\b", data)), tuple(float(x) for x in box.groups())


def python_with(module):
    """A Python that has the module: this one or Debian's."""
    for python in (sys.executable, "/usr/bin/python3"):
        if os.path.exists(python) and subprocess.run([python, "-c", f"import {module}"], capture_output=True).returncode == 0:
            return python
    raise unittest.SkipTest(f"no Python module {module}")


def errors_of_html5lib(html):
    """What html5lib (the parsing algorithm of the HTML standard) finds wrong."""
    code = ("import html5lib, sys\np = html5lib.HTMLParser(strict=False)\np.parse(open(sys.argv[1], encoding='utf-8').read())\n"
            "print([(e[0], e[1]) for e in p.errors])")
    return subprocess.run([python_with("html5lib"), "-c", code, html], capture_output=True, text=True, timeout=120).stdout.strip()


def complaints_of_tidy(html):
    """Errors and warnings of HTML Tidy, but for empty elements, which are no mistake."""
    if not shutil.which("tidy"):
        raise unittest.SkipTest("no tidy (Debian package tidy)")
    out = subprocess.run(["tidy", "-q", "-e", html], capture_output=True, text=True, timeout=120).stderr
    return [line for line in out.splitlines() if "trimming empty" not in line]


def violations_of_axe(html):
    """What axe-core (from the PyPI package axe-core-python) finds hard to use with a keyboard or a screen reader."""
    python = python_with("axe_core_python")
    where = subprocess.run([python, "-c", "import axe_core_python as a; print(list(a.__path__)[0])"], capture_output=True, text=True).stdout.strip()
    with open(glob.glob(os.path.join(where, "axe.min.js"))[0], encoding="utf-8") as f:
        axe = f.read()
    with open(html, encoding="utf-8") as f:
        page = f.read()
    run = ("<script>axe.run().then(r => { const d = document.createElement('pre'); d.id = 'axe'; d.textContent = JSON.stringify("
           "r.violations.map(v => [v.id, v.nodes.map(n => n.html.slice(0, 120))])); document.body.appendChild(d); });</script>")
    with tempfile.TemporaryDirectory(prefix="swh_axe_") as folder:
        path = os.path.join(folder, "page.html")
        with open(path, "w", encoding="utf-8") as f:
            f.write(page.replace("</body>", "<script>" + axe + "</script>" + run + "</body>"))
        dom = headless("--dump-dom", "--virtual-time-budget=20000", "file://" + path).stdout.decode()
    found = re.search(r'<pre id="axe">(.*?)</pre>', dom, re.S)
    if not found:
        raise AssertionError("axe did not come to an end")
    return json.loads(found.group(1).replace("&quot;", '"').replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
