"""patches.yml: cords and settings."""

from __future__ import annotations

from pathlib import Path

from benchrecord.intake.job_yml import read_list
from benchrecord.intake.yaml_file import Facts, Node, only_once
from benchrecord.model.job import Patch
from benchrecord.problems import Problem


def read_patches(folder: Path, report: list[Problem]) -> tuple[Patch, ...]:
    """Read every patch."""
    patches = tuple(p for n in read_list(folder, "patches.yml", "patch", report) if (p := _patch(n, report)).id)
    only_once([(p.id, p.place) for p in patches], report, "patch")
    return patches


def _patch(node: Node, report: list[Problem]) -> Patch:
    own = Facts.of(node, node.place, report, ("id", "title", "recording", "connections", "settings"))
    name, recording, settings = own.text("id", required=True), own.path("recording", "recordings"), own.get("settings")
    connections = tuple(_connection(n, report) for n in own.nodes("connections"))
    if settings and settings.keys is None:
        said, remedy = settings.said()[:80], "write each control with its position, as cutoff: 4"
        report.append(Problem("wrong-type", settings.place, said, "controls and their positions", remedy))
    values = {key: value.said() for key, (_, value) in (settings.keys or {}).items()} if settings else {}
    places = own.places("recording")
    return Patch(name, own.text("title") or name, recording, connections, values, own.at("id"), places)


def _connection(node: Node, report: list[Problem]) -> tuple[str, str, float | None]:
    own = Facts.of(node, node.place, report, ("from", "to", "level"))
    return own.text("from", required=True), own.text("to", required=True), own.number("level", unit=None)
