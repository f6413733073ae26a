"""What ``--json`` says of reasons, what is installed, and its mistakes."""

from __future__ import annotations

from typing_extensions import TypedDict


class NodeData(TypedDict):
    """``why``: a statement, and what it rests on."""

    text: str
    under: list[NodeData]


class InstalledSubsystemData(TypedDict):
    """An installed subsystem."""

    id: str
    title: str
    weight: float
    position: int


class FaultData(TypedDict):
    """A plugin that could not be used."""

    plugin: str
    distribution: str
    version: str
    hook: str
    cause: str
    subsystem: str | None


class SubsystemsData(TypedDict):
    """``subsystems``: what is installed, and what had to be left out."""

    subsystems: list[InstalledSubsystemData]
    faults: list[FaultData]


class CheckData(TypedDict):
    """``check``: what is wrong in plugins, job files and a profile."""

    faults: list[str]
    doubts: list[str]
    dropped: list[str]
    jobs: list[str]
