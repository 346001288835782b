#!/usr/bin/env python3
"""What comes into the program from others: every crate of the lock file, held against allowed.toml.

    tests/supply/crates.py

Licences, versions of one crate beside each other, where crates come from, crates that speak to a
network, versions that were withdrawn, known faults, and that our own code stays without `unsafe`.
Withdrawn versions are asked of the registry by cargo itself. Known faults (advisories) need a
checkout of the RustSec database, in $ADVISORY_DB or ~/.cargo/advisory-db: without one it is said
that they were not looked at. `--self-test` shows that each check can fail.
"""

import json
import os
import pathlib
import re
import subprocess
import sys
import tomllib

HERE = pathlib.Path(__file__).resolve().parent
TOP = HERE.parent.parent
REGISTRY = "registry+https://github.com/rust-lang/crates.io-index"


def allows(expression, licences):
    """Whether a licence expression (SPDX, or the older form with strokes) can be kept with these."""
    words = re.findall(r"\(|\)|[^\s()]+", expression.replace("/", " OR "))

    def either():
        result = both()
        while words[:1] == ["OR"]:
            words.pop(0)
            result = both() or result
        return result

    def both():
        result = one()
        while words[:1] == ["AND"]:
            words.pop(0)
            result = one() and result
        return result

    def one():
        word = words.pop(0)
        if word == "(":
            result = either()
            words.pop(0)
            return result
        if words[:1] == ["WITH"]:
            word = f"{word} WITH {words[1]}"
            del words[:2]
        return word in licences

    return either() and not words


def licence_faults(packages, licences):
    for package in packages:
        expression = package["license"] or "none stated"
        if not allows(expression, licences):
            yield f"{package['name']} {package['version']}: licence '{expression}' is not allowed"


def source_faults(packages):
    for package in packages:
        if package["source"] not in (REGISTRY, None):
            yield f"{package['name']}: comes from {package['source']}"
        if package["source"] is None and package["name"] != "concento":
            yield f"{package['name']}: comes from a folder"


def twice_faults(packages, known):
    versions = {}
    for package in packages:
        versions.setdefault(package["name"], set()).add(package["version"])
    for name, found in sorted(versions.items()):
        stated = set(known.get(name, {}).get("versions", []))
        if len(found) > 1 and found != stated:
            yield f"{name}: in versions {', '.join(sorted(found))}"
    for name in sorted(known):
        if len(versions.get(name, ())) < 2:
            yield f"{name}: stands among the crates in several versions, and is not"


def network_faults(packages, denied):
    for package in packages:
        if package["name"] in denied:
            yield f"{package['name']}: speaks to a network"


def number(version):
    """A version to compare by; what comes before a release counts as the release's eve."""
    version = version.split("+")[0]
    release, _, early = version.partition("-")
    parts = [int(part) for part in release.split(".")]
    return parts + [0] * (3 - len(parts)), not early, early


def meets(version, requirement):
    """Whether a version is one of those an advisory names (`>= 1.2, < 2`, `^1.2.3`, `~1.2`, `=1`)."""
    for part in requirement.split(","):
        sign, wanted = re.fullmatch(r"\s*(>=|<=|>|<|=|\^|~)?\s*(\S+)\s*", part).groups()
        here, there = number(version), number(wanted)
        given = wanted.split("-")[0].count(".") + 1
        if sign in (None, "^", "~", "="):
            fixed = given if sign == "=" else min(given, 2) if sign == "~" else None
            if fixed is None:
                fixed = next((i + 1 for i, part in enumerate(there[0]) if part), given)
            same = here[0][:fixed] == there[0][:fixed]
            if not same or (sign != "=" and here < there):
                return False
        elif not {">=": here >= there, "<=": here <= there, ">": here > there, "<": here < there}[sign]:
            return False
    return True


def advisory_faults(packages, database, passed_over):
    for package in packages:
        for path in sorted(database.glob(f"crates/{package['name']}/*.md")):
            head = tomllib.loads(path.read_text().split("```toml")[1].split("```")[0])
            advisory, versions = head["advisory"], head.get("versions", {})
            safe = versions.get("patched", []) + versions.get("unaffected", [])
            if advisory["id"] in passed_over or "withdrawn" in advisory:
                continue
            if not any(meets(package["version"], requirement) for requirement in safe):
                what = advisory.get("informational", "fault")
                yield f"{package['name']} {package['version']}: {advisory['id']} ({what})"


def unsafe_faults(manifest, sources):
    if manifest.get("lints", {}).get("rust", {}).get("unsafe_code") != "forbid":
        yield "Cargo.toml: unsafe code is not forbidden"
    for path, text in sources:
        if re.search(r"unsafe_code|\bunsafe\s*(\{|fn|impl|trait|extern)", text):
            yield f"{path}: has to do with unsafe code"


def withdrawn_faults(said):
    for name in re.findall(r"package `([^`]+)` in Cargo.lock is yanked", said):
        yield f"{name}: this version was withdrawn"


def ask_withdrawn():
    """What cargo says of withdrawn versions when it packs the sources, as it would to publish them."""
    target = os.environ.get("CARGO_TARGET_DIR", str(TOP / "target"))
    packing = ["cargo", "package", "--no-verify", "--allow-dirty", "--locked", "--target-dir", target]
    run = subprocess.run(packing, cwd=TOP, capture_output=True, text=True)
    return None if run.returncode else run.stderr


def self_test():
    def package(name="a", version="1.0.0", licence="MIT", source=REGISTRY):
        return {"name": name, "version": version, "license": licence, "source": source}

    licences = {"MIT", "Zlib", "Apache-2.0 WITH LLVM-exception"}
    for expression, expected in [
        ("MIT", True), ("GPL-3.0", False), ("GPL-3.0 OR MIT", True), ("GPL-3.0/MIT", True),
        ("MIT AND GPL-3.0", False), ("(GPL-3.0 OR MIT) AND Zlib", True), ("Apache-2.0", False),
        ("GPL-3.0 AND (MIT OR Zlib)", False), ("Apache-2.0 WITH LLVM-exception OR GPL-3.0", True),
    ]:
        assert allows(expression, licences) == expected, expression
    for version, requirement, expected in [
        ("1.2.3", ">= 1.2.3", True), ("1.2.3", ">1.2.3", False), ("0.9.9", "^0.9.8", True),
        ("0.10.0", "^0.9.8", False), ("2.0.0", ">=1.1, <2", False), ("1.9.0", ">=1.1, <2", True),
        ("1.3.0", "~1.2.3", False), ("1.2.4", "~1.2.3", True), ("1.2.3", "=1.2.3", True),
        ("1.2.4", "=1.2.3", False), ("2.0.0-rc.1", ">= 2.0.0", False), ("0.0.4", "^0.0.3", False),
        ("1.10.0", ">= 1.9.0", True), ("1.5.0", "1.2", True), ("2.5.0", "1.2", False),
    ]:
        assert meets(version, requirement) == expected, (version, requirement)
    assert len([*licence_faults([package(licence=None), package(licence="GPL-3.0")], licences)]) == 2
    assert [*source_faults([package(source="git+https://example.org/a")])]
    assert [*source_faults([package(source=None)])]
    two = [package(), package(version="2.0.0")]
    assert [*twice_faults(two, {})]
    assert not [*twice_faults(two, {"a": {"versions": ["1.0.0", "2.0.0"]}})]
    assert [*twice_faults(two + [package(version="3.0.0")], {"a": {"versions": ["1.0.0", "2.0.0"]}})]
    assert [*twice_faults([package()], {"a": {"versions": ["1.0.0", "2.0.0"]}})]
    assert [*network_faults([package()], ["a"])]
    assert [*withdrawn_faults("warning: package `a v1.0.0` in Cargo.lock is yanked in registry")]
    forbidden = {"lints": {"rust": {"unsafe_code": "forbid"}}}
    assert [*unsafe_faults({}, [])] and not [*unsafe_faults(forbidden, [("a.rs", "fn safe() {}")])]
    assert [*unsafe_faults(forbidden, [("a.rs", "#![allow(unsafe_code)]")])]
    import tempfile
    with tempfile.TemporaryDirectory() as folder:
        home = pathlib.Path(folder, "crates", "a")
        home.mkdir(parents=True)
        head = '[advisory]\nid = "X-1"\n[versions]\npatched = [">= 1.0.1"]\n'
        (home / "X-1.md").write_text(f"```toml\n{head}```\n# Title\n")
        assert [*advisory_faults([package()], pathlib.Path(folder), [])]
        assert not [*advisory_faults([package()], pathlib.Path(folder), ["X-1"])]
        assert not [*advisory_faults([package(version="1.0.1")], pathlib.Path(folder), [])]


def main():
    self_test()
    if sys.argv[1:] == ["--self-test"]:
        return 0
    allowed = tomllib.loads((HERE / "allowed.toml").read_text())
    manifest = tomllib.loads((TOP / "Cargo.toml").read_text())
    metadata = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked"],
        cwd=TOP, capture_output=True, text=True, check=True,
    )
    packages = json.loads(metadata.stdout)["packages"]
    sources = [
        (path.relative_to(TOP), path.read_text())
        for folder in ("src", "tests") for path in (TOP / folder).rglob("*.rs")
    ]
    faults = [
        *licence_faults(packages, allowed["licences"]),
        *source_faults(packages),
        *twice_faults(packages, allowed["twice"]),
        *network_faults(packages, allowed["network"]["crates"]),
        *unsafe_faults(manifest, sources),
    ]
    said = ask_withdrawn()
    if said is None:
        print("supply: withdrawn versions: NOT LOOKED AT, as the registry does not answer")
    else:
        faults += withdrawn_faults(said)
    databases = [os.environ.get("ADVISORY_DB"), pathlib.Path.home() / ".cargo" / "advisory-db"]
    database = next((pathlib.Path(d) for d in databases if d and pathlib.Path(d, "crates").is_dir()), None)
    if database is None:
        print("supply: known faults: NOT LOOKED AT, as no checkout of the advisory database is at hand")
    else:
        faults += advisory_faults(packages, database, allowed["advisories"])
    for fault in faults:
        print(f"supply: FAILED: {fault}: see tests/supply/allowed.toml", file=sys.stderr)
    print(f"supply: {len(packages)} crates, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
