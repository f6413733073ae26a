"""Findings to repairs: what is called for, how many times, with what hours and materials."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.configuration import Configuration
from assess.job.workshop_profile import Workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange, Scope
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.work import HoursPer, Material, Repair
from assess.planning.fault_finding import Search
from assess.plugin.api import Quantity


@dataclass(frozen=True)
class WorkContext:
    """What the hours and materials of a step depend on, besides the step itself.

    Attributes:
        knowledge: what the plugins declare.
        configuration: tags and facts of the object.
        workshop: hours, prices and pace of the workshop.
        judgements: counted answers, by criterion; without them everything is done once.
        quantities: amounts of material that plugins computed, by repair and material.
        searches: what the cause is to be found of.
    """

    knowledge: Knowledge
    configuration: Configuration
    workshop: Workshop
    judgements: Mapping[str, Judgement] = field(default_factory=dict)
    quantities: Mapping[tuple[str, str], Quantity] = field(default_factory=dict)
    searches: tuple[Search, ...] = ()

    @property
    def transport(self) -> float:
        """What it costs to bring it to the workshop and back, or only back from there."""
        return self.workshop.transport * (0.5 if self.configuration.in_workshop else 1.0)


@dataclass(frozen=True)
class Multiplicity:
    """How many times a repair is done, and whether that was counted or only assumed."""

    count: float
    counted: bool
    note: str = ""


@dataclass(frozen=True)
class MaterialNeed:
    """An amount of one material: net, with waste as bought, and its price.

    Attributes:
        lead_days: days from the order until it is there; 0 for what is in stock.
        kind: ``material``, ``service`` or ``trip``.
        price_low, price_high: the range of the price; both ``price`` where none is declared.
    """

    material: str
    title: str
    unit: str
    quantity: float
    price: float
    lead_days: int
    kind: str = "material"
    price_low: float = 0.0
    price_high: float = 0.0


def material_need(material: Material, quantity: float, workshop: Workshop) -> MaterialNeed:
    """What an amount of a material costs in a workshop, and how long it takes to get."""
    price = workshop.prices.get(material.id, material.price)
    own_price = material.id in workshop.prices
    low, high = material.price_range or (price, price)
    if own_price:
        low = high = price
    return MaterialNeed(
        material.id,
        material.title,
        material.unit,
        quantity,
        quantity * price,
        workshop.lead_days.get(material.id, material.days_to_get),
        material.kind,
        quantity * low,
        quantity * high,
    )


def called_for(graded: Graded, scope: Scope) -> dict[str, tuple[str, ...]]:
    """Repairs that the findings call for within a scope, each with the criteria that call."""
    calls: dict[str, list[str]] = {}
    for finding in graded.findings:
        for repair in finding.calls(scope):
            calls.setdefault(repair, []).append(finding.id)
    return {repair: tuple(criteria) for repair, criteria in sorted(calls.items())}


def multiplicity(repair: Repair, context: WorkContext) -> Multiplicity:
    """How many times a repair is done on this object.

    Counted answers add up and facts multiply; where nothing was counted it is taken as one,
    with a note.
    """
    judgements, configuration = context.judgements, context.configuration
    if repair.per:
        counts = [
            judgements[c].value for c in repair.per if c in judgements and judgements[c].counts
        ]
        known = [c for c in counts if c is not None]
        total = sum(known)
        if total <= 0:
            return Multiplicity(1.0, False, "not counted; taken as 1")
        return Multiplicity(total, len(known) == len(counts))
    product = 1.0
    for fact in repair.per_fact:
        if fact not in configuration.facts:
            return Multiplicity(1.0, False, f"{fact} is not known; taken as 1")
        product *= configuration.facts[fact]
    return Multiplicity(product, not any(f in configuration.assumed for f in repair.per_fact))


def step_hours(step: str, context: WorkContext) -> HoursRange:
    """Low, likely and high bench hours of one step, before overlap.

    Hours of the workshop profile, like declared ones, are for the usual size.
    """
    repair = context.knowledge.repairs.get(step)
    count = multiplicity(repair, context).count if repair else 1.0
    usual, hours_per = _usual_hours(step, context)
    scale = count * _size(hours_per, context.configuration)
    return HoursRange(tuple(scale * h for h in context.workshop.hours.get(step) or usual))


def _usual_hours(step: str, context: WorkContext) -> tuple[HoursRange, HoursPer | None]:
    """The declared hours of a step done once, and what they grow with."""
    knowledge, found = context.knowledge, Step(step)
    work = knowledge.work(step)
    if work:
        return work.hours, work.hours_per
    if found.kind is StepKind.FIND:
        return next(search.hours for search in context.searches if search.step == step), None
    place = knowledge.places[found.target]
    hours = place.open_hours if found.kind is StepKind.OPEN else place.close_hours
    return hours, place.hours_per


def _size(hours_per: HoursPer | None, configuration: Configuration) -> float:
    """How much more than usual there is of what the hours grow with; 1 while that is not known."""
    facts = configuration.facts
    if hours_per is None or not facts.keys() >= set(hours_per.facts):
        return 1.0
    return math.prod(facts[fact] for fact in hours_per.facts) / hours_per.usual


def step_materials(step: str, context: WorkContext) -> list[MaterialNeed]:
    """What one step uses, with waste, before amounts are rounded up for buying.

    An amount that a plugin computed replaces the declared one. Of what is bought once a job each
    step shows the one unit.
    """
    repair = context.knowledge.repairs.get(step)
    if repair is None:
        return []
    count = multiplicity(repair, context).count
    needs = []
    for use in repair.materials:
        material = context.knowledge.materials[use.id]
        computed = context.quantities.get((step, use.id))
        amount = computed.amount if computed else use.quantity * (1.0 if use.fixed else count)
        quantity = 1.0 if material.once else amount * (1 + material.waste)
        needs.append(material_need(material, quantity, context.workshop))
    return needs


def joined_materials(
    needs: list[MaterialNeed], knowledge: Knowledge, workshop: Workshop
) -> list[MaterialNeed]:
    """The same materials added up, rounded up where only whole units are sold, or bought once.

    Materials of several subsystems are the same when title and unit are.
    """
    totals: dict[tuple[str, str], float] = {}
    first: dict[tuple[str, str], str] = {}
    for need in sorted(needs, key=lambda n: n.material):
        what = (need.title.casefold(), need.unit)
        totals[what] = totals.get(what, 0.0) + need.quantity
        first.setdefault(what, need.material)
    joined = []
    for what, material_id in sorted(first.items()):
        material = knowledge.materials[material_id]
        quantity = totals[what]
        if material.once:
            quantity = 1.0
        elif material.whole:
            quantity = float(math.ceil(quantity - 1e-9))
        joined.append(material_need(material, quantity, workshop))
    return joined
