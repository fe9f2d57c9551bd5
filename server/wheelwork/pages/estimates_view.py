"""What the estimates page shows: the oscillators that run, the calculators for one, fields, answer, way on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from markupsafe import Markup

from wheelwork.clocks.propagate import Clock
from wheelwork.estimates.calculator import Calculator, Figure, Onward, Outcome, Step
from wheelwork.estimates.calculators import calculators_for
from wheelwork.findings import Unreadable, lower_first, name_list, quote
from wheelwork.formulas.expressions import lay_out, letter, letters_in
from wheelwork.judge import Judgement
from wheelwork.pages.estimates_form import AskField, read_estimate, with_keys
from wheelwork.pages.plan import permalink_of
from wheelwork.part.nodes import Oscillator, Part
from wheelwork.plan.plan import Fitted, Plan
from wheelwork.quantities.spans import EXACT, Span, read_tolerance, say_tolerance, write_tolerance
from wheelwork.quantities.units import say_frequency

GLYPHS = {"inside": "inside", "over": "over", "under": "under", "unsuitable": "over"}
BUDGET = "ppm_budget"


@dataclass(frozen=True, slots=True)
class Pick:
    """One oscillator or calculator to choose from."""

    name: str
    title: str
    about: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FigureView:
    """One figure of the answer."""

    letter: Markup
    title: str
    said: str
    chief: bool


@dataclass(frozen=True, slots=True)
class Take:
    """Taking the worst case into the plan: where that leads, or why not; `now` is what the plan counts."""

    address: str
    now: str
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer of the calculator."""

    glyph: str
    figures: tuple[FigureView, ...]
    choices: tuple[tuple[str, ...], ...]
    choice_heads: tuple[str, ...]
    steps: tuple[Markup, ...]
    notes: tuple[str, ...]
    onward: tuple[tuple[str, str], ...]
    take: Take | None


@dataclass(frozen=True, slots=True)
class EstimatesPage:
    """The whole page. `head` is its one sentence, `line` the quiet one below; `address` shows it again."""

    part: Part
    plan: Plan
    permalink: str
    oscillators: tuple[Pick, ...]
    calculators: tuple[Pick, ...]
    title: str
    question: str
    fields: tuple[AskField, ...]
    carried: tuple[tuple[str, str], ...]
    head: str
    line: str
    answer: Answer | None
    formulas: tuple[Markup, ...]
    letters: tuple[tuple[Markup, str], ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    address: str
    said: str


def build_estimates(judgement: Judgement, permalink: str, asked: Mapping[str, str]) -> EstimatesPage:
    """The page of a judged plan, with what its address asks for."""
    running = dict(_running(judgement))
    chosen = asked.get("of", "")
    name = chosen if chosen in running else _first(running)
    node, clock = running[name]
    offered = calculators_for(node.source, clock.nominal)
    calculator = next((each for each in offered if each.name == asked.get("calculator")), offered[0])
    read = read_estimate(calculator, name, clock, judgement.plan, asked)
    shown = {"plan": permalink, "of": name, "calculator": calculator.name}
    typed = {field.field.name: field.field.value for field in read.fields if field.field.value} | dict(read.carried)
    outcome = read.outcome
    head, line = _say_head(calculator, outcome, read.needed, read.faults)
    elsewhere = f"{quote(chosen)} is no oscillator that runs in this plan. " if chosen and chosen != name else ""
    steps = () if outcome is None else outcome.steps
    return EstimatesPage(
        part=judgement.part,
        plan=judgement.plan,
        permalink=permalink,
        oscillators=tuple(
            Pick(each.id, each.title, say_frequency(at.nominal), each.id == name) for each, at in running.values()
        ),
        calculators=tuple(Pick(each.name, each.title, each.question, each is calculator) for each in offered),
        title=calculator.title,
        question=calculator.question,
        fields=read.fields,
        carried=read.carried,
        head=head,
        line=f"{elsewhere}{line}",
        answer=None if outcome is None else _answer(judgement, name, clock, calculator, outcome, shown, typed),
        formulas=() if steps else tuple(Markup(lay_out(each)) for each in calculator.formulas),
        letters=_letters(calculator, steps),
        sources=calculator.sources,
        cautions=calculator.cautions,
        address=f"/estimates?{urlencode({**shown, **typed})}",
        said=f"{elsewhere}{node.title}, {calculator.title.lower()}. {head}",
    )


def _running(judgement: Judgement) -> Iterator[tuple[str, tuple[Oscillator, Clock]]]:
    """The oscillators that run, with their clocks."""
    for name, node in judgement.part.nodes.items():
        clock = judgement.nodes[name].clock
        if isinstance(node, Oscillator) and clock is not None:
            yield name, (node, clock)


def _first(running: Mapping[str, tuple[Oscillator, Clock]]) -> str:
    """The first crystal, else the first that runs; the core always has one."""
    return next((name for name, (node, _) in running.items() if node.source == "crystal"), next(iter(running)))


def _say_head(calculator: Calculator, outcome: Outcome | None, needed: tuple[str, ...], faults: int) -> tuple[str, str]:
    """The one sentence of the page, and the line below it."""
    if outcome is not None:
        return outcome.what, f"{calculator.title}: an estimate, not a measurement."
    if faults:
        what = "One value cannot be taken" if faults == 1 else f"{faults} values cannot be taken"
        return f"{what}.", "Each is told at its field."
    return calculator.question, f"It is reckoned once this is given: {name_list(needed)}."


def _answer(
    judgement: Judgement,
    name: str,
    clock: Clock,
    calculator: Calculator,
    outcome: Outcome,
    shown: Mapping[str, str],
    typed: Mapping[str, str],
) -> Answer:
    choices = outcome.choices
    return Answer(
        glyph="" if outcome.verdict is None else GLYPHS[outcome.verdict],
        figures=tuple(_figure(each, place == 0 and not choices) for place, each in enumerate(outcome.figures)),
        choices=tuple(tuple(figure.said() for figure in choice.figures) for choice in choices),
        choice_heads=tuple(figure.title for figure in choices[0].figures) if choices else (),
        steps=tuple(Markup(step.laid_out()) for step in outcome.steps),
        notes=outcome.notes,
        onward=tuple((each.act, _onward(each, name, shown, typed)) for each in outcome.onward),
        take=_take(judgement, name, clock, outcome.tolerance) if calculator.name == BUDGET else None,
    )


def _onward(way: Onward, name: str, shown: Mapping[str, str], typed: Mapping[str, str]) -> str:
    """The address at which another calculator goes on."""
    return f"/estimates?{urlencode({**shown, 'calculator': way.calculator, **with_keys(typed, name, way.keys)})}"


def _figure(figure: Figure, chief: bool) -> FigureView:
    laid = Markup(f"<math>{letter(figure.letter)}</math>") if figure.letter else Markup("")
    return FigureView(laid, figure.title, figure.said(), chief)


def _take(judgement: Judgement, name: str, clock: Clock, worst: Span | None) -> Take | None:
    """Setting the board's tolerance to the worst case."""
    if worst is None:
        return None
    now = f"The plan counts {'no tolerance' if clock.tolerance == EXACT else say_tolerance(clock.tolerance)} now."
    if worst == clock.tolerance:
        return Take("", now, "The plan has it already.")
    try:
        read_tolerance(write_tolerance(worst))
    except Unreadable as fault:
        return Take("", now, f"It cannot be taken into the plan: {fault.what}.")
    plan = judgement.plan
    fitted = replace(plan.fitted.get(name, Fitted()), tolerance=worst)
    taken = replace(plan, fitted={**plan.fitted, name: fitted})
    return Take(f"/plan?{urlencode({'plan': permalink_of(taken, judgement.part)})}", now)


def _letters(calculator: Calculator, steps: tuple[Step, ...]) -> tuple[tuple[Markup, str], ...]:
    """The letters of what is shown, each with its name; of the steps where there are any.

    A letter that only marks the side of another, `w_low`, is named with that one.
    """
    named = calculator.named_letters()
    formulas = [step.formula for step in steps] or list(calculator.formulas)
    met = (each for formula in formulas for each in letters_in(formula))
    seen = dict.fromkeys(each if each in named else each.partition("_")[0] for each in met)
    return tuple((Markup(f"<math>{letter(each)}</math>"), lower_first(named[each])) for each in seen)
