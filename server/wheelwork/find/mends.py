"""Mends: the nearest changes of one or two settings that make the whole plan legal, each tried by the plan's reckoning.

Nearest: fewest settings changed, then least change of the core clock, then of all frequencies (the product of each
clock's change as a ratio above 1, which orders like the sum of |log ratio|). Core voltage and wait states count as
settings. Nothing is left out: every pair of changes must move the first place that is outside, so only such changes
are tried first, and settings that scale clocks are reckoned by spans of factors instead of value by value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from wheelwork.find.counting import count_settings
from wheelwork.find.knobs import Knob, knobs_of
from wheelwork.find.pairs import Pair, pair_up, span_of
from wheelwork.find.states import GUARD, Place, State, logarithm
from wheelwork.findings import Finding, Mend
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Divider, Oscillator, Part, Pll, Selector, Step, Value
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import group, write_exact
from wheelwork.quantities.units import say_frequency

MOST_OFFERED = 3
MOST_CHANGES = 2
LARGEST_LISTED = 64
"""A divider on which a scaler's condition depends is tried value by value up to this many ratios."""

StillTime = Callable[[], bool]


class _OutOfTime(Exception):
    """The budget has ended."""


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A change with how near it is: settings changed, then change of core clock and of all clocks (logarithms)."""

    changes: int
    core: float
    total: float
    state: State


@dataclass(frozen=True, slots=True)
class Mends:
    """What the search found: the nearest mends, whether all was tried within the time, and where there is none

    how many settings of the part are legal at all with these loads and this board (None: not decided).
    """

    offered: tuple[Mend, ...]
    finished: bool
    legal_settings: int | None = None

    @property
    def tried(self) -> str:
        """What to say where no mend is offered."""
        if self.offered:
            return ""
        if not self.finished:
            return "No mend found yet: the time for it ended before every change of two settings was tried."
        return f"No change of one or two settings makes the plan right; all were tried.{self._beyond()}"

    def _beyond(self) -> str:
        if self.legal_settings is None:
            return ""
        if self.legal_settings == 0:
            return " No setting of this part is legal with these loads and this board."
        if self.legal_settings == 1:
            return " One setting of this part is legal with these loads and this board."
        return f" {group(str(self.legal_settings))} settings of this part are legal with these loads and this board."


def with_mends(judgement: Judgement, still_time: StillTime) -> Judgement:
    """The judgement with mends on each finding that stops, or with what was tried."""
    return judgement if judgement.legal else offer_mends(judgement, seek_mends(judgement, still_time))


def seek_mends(judgement: Judgement, still_time: StillTime) -> Mends:
    """The mends of a plan; where there is none, how many settings are legal at all."""
    part, plan = judgement.part, judgement.plan
    mends, finished = find_mends(part, plan, still_time)
    if mends or not finished:
        return Mends(mends, finished)
    return Mends(mends, finished, count_settings(part, plan, still_time))


def offer_mends(judgement: Judgement, mends: Mends) -> Judgement:
    """The judgement with known mends on each finding that stops."""
    return replace(judgement, findings=tuple(_offer(finding, mends) for finding in judgement.findings))


def _offer(finding: Finding, mends: Mends) -> Finding:
    if finding.severity != "stop" or finding.link:
        return finding
    return replace(finding, mend=mends.offered, tried=mends.tried)


def find_mends(part: Part, plan: Plan, still_time: StillTime) -> tuple[tuple[Mend, ...], bool]:
    """The nearest mends, nearest first, at most MOST_OFFERED, and whether all was tried within the time."""
    search = _Search(State.of(part, plan), still_time)
    finished = True
    try:
        search.run()
    except _OutOfTime:
        finished = False
    return tuple(_as_mend(search.start, state) for state in search.best()), finished


class _Search:
    """Gathers candidates: changes of the structure one by one, knobs by spans, then pairs of both."""

    def __init__(self, start: State, still_time: StillTime) -> None:
        self.start = start
        self.still_time = still_time
        self.found: list[_Candidate] = []

    def run(self) -> None:
        """Singles first; pairs only where no single change does."""
        if self.start.legal:
            if self.start.wait_states is not None:
                self._note(self.start, 0)
            return
        states = []
        for state in self._states_that_run():
            self._try_state(state, 1)
            states.append(state)
        self._try_knobs(self.start, 0)
        if any(candidate.changes == 1 for candidate in self.found):
            return
        for state in states:
            self._tick()
            self._try_knobs(state, 1)
        self._try_structural_pairs()
        self._try_knob_pairs(self.start)

    def _states_that_run(self) -> Iterator[State]:
        """The states after each change of the structure in which every oscillator in use is fitted."""
        for change in _structural(self.start, None):
            self._tick()
            state = _after(self.start, change)
            if state.can_run:
                yield state

    def _tick(self) -> None:
        """Asked before anything that takes a millisecond or more. Raises _OutOfTime when the time is over."""
        if not self.still_time():
            raise _OutOfTime

    def _note(self, state: State, changes: int) -> bool:
        """Keep a state that is legal exactly, wait states counted where they must rise too."""
        changes += state.wait_states is not None
        if changes > MOST_CHANGES or not state.legal:
            return False
        core, total = _distance(self.start, state)
        self.found.append(_Candidate(changes, core, total, state))
        return True

    def _try_state(self, state: State, changes: int) -> None:
        if state.legal:
            self._note(state, changes)

    def _try_knobs(self, state: State, before: int) -> None:
        """Every knob that moves all places outside, turned as little as its spans ask."""
        for places, extra in _readings(state):
            if before + 1 + extra > MOST_CHANGES:
                continue
            must = _outside_mask(places)
            for knob in knobs_of(state, places):
                if must & ~(knob.places | knob.against) == 0 and knob.key not in state.moved:
                    self._tick()
                    for value in self._nearest_values(state, places, knob):
                        self._tick()
                        self._note(state.moved_to({knob.key: value}), before + 1)

    def _nearest_values(self, state: State, places: list[Place], knob: Knob) -> Iterator[Fraction]:
        """The values of a knob that may do, nearest to where some clock below it was first, each once."""
        low, high = span_of(places, knob, _all(places))
        if low > high + GUARD:
            return
        seen: set[Fraction] = set()
        for centre in _centres(self.start, state, knob):
            self._tick()
            for value in knob.near(low, high, centre):
                if value not in seen:
                    seen.add(value)
                    yield value

    def _try_structural_pairs(self) -> None:
        """Two changes of the structure: the first moves what is outside now, the second what is outside then."""
        for change in _structural(self.start, _first_outside(self.start)):
            state = _after(self.start, change)
            self._tick()
            if not state.can_run:
                continue
            for second in _structural(state, _first_outside(state)):
                if not _same_setting(change, second):
                    self._try_state(_after(state, second), 2)
                self._tick()

    def _try_knob_pairs(self, state: State) -> None:
        """Two knobs: for each value of the one, the spans of the other follow."""
        places = _tight_places(state)
        must = _outside_mask(places)
        for one, other in combinations(knobs_of(state, places), 2):
            moved = one.places | one.against | other.places | other.against
            if must & ~moved == 0:
                self._tick()
                self._try_pair(state, pair_up(state, places, one, other))

    def _try_pair(self, state: State, pair: Pair) -> None:
        """The nearest legal values of two knobs: the first is run through its span, the second follows."""
        if is_empty(pair.own) or is_empty(pair.rest):
            return
        nearest: tuple[float, float] | None = None
        for value in pair.first.within(*pair.own):
            self._tick()
            for option, rank in _followers(pair, value):
                nearer = nearest is None or rank < (nearest[0] + GUARD, nearest[1] + GUARD)
                if nearer and self._note(state.moved_to({pair.first.key: value, pair.second.key: option}), 2):
                    nearest = rank if nearest is None else min(nearest, rank)

    def best(self) -> list[State]:
        """The nearest states, exactly ordered, each once."""
        rough = sorted(self.found, key=lambda found: (found.changes, found.core, found.total))[: 8 * MOST_OFFERED]
        exact = sorted(rough, key=lambda found: (found.changes, *_exact_distance(self.start, found.state)))
        seen: dict[tuple[object, ...], State] = {}
        for candidate in exact:
            state = candidate.state
            seen.setdefault((state.step.id, *sorted(state.moved.items(), key=str)), state)
        return list(seen.values())[:MOST_OFFERED]


def _centres(start: State, state: State, knob: Knob) -> list[float]:
    """Where turning a knob brings some clock below it nearest to its first frequency: the least change is by one."""
    if state is start:
        return [0.0]
    below = (name for name in state.way.order if name in start.clocks and knob.node in set(state.upstream(name)))
    shifts = (logarithm(start.clocks[name].nominal / state.clocks[name].nominal) for name in below)
    return list(dict.fromkeys([0.0, *(round(shift, 9) for shift in shifts)]))


def _followers(pair: Pair, value: Fraction) -> Iterator[tuple[Fraction, tuple[float, float]]]:
    """The values of the second knob worth trying beside one of the first, each with how near the two are."""
    turned = pair.first.factor(value)
    low, high = pair.span_of_second(turned)
    if not is_empty((low, high)):
        follower = pair.second.after(pair.first, value)
        for option in dict.fromkeys([*follower.near(low, high, 0.0), *follower.near(low, high, -turned)]):
            yield option, pair.rank(turned, follower.factor(option))


def is_empty(span: tuple[float, float]) -> bool:
    """Whether nothing lies in a span, with the guard on the careful side."""
    return span[0] > span[1] + GUARD


def _all(places: list[Place]) -> int:
    return (1 << len(places)) - 1


def _outside_mask(places: list[Place]) -> int:
    return sum(1 << index for index, place in enumerate(places) if place.outside)


def _tight_places(state: State) -> list[Place]:
    """The places with the plan's own wait states as a bound."""
    own = state.chosen_wait_states_place()
    return state.places if own is None else [*state.places, own]


def _readings(state: State) -> Iterator[tuple[list[Place], int]]:
    """The places as the plan's wait states bound them, and once more with the wait states free as a change more."""
    tight = _tight_places(state)
    yield tight, 0
    if len(tight) > len(state.places):
        yield state.places, 1


def _first_outside(state: State) -> Place | None:
    return next((place for place in _tight_places(state) if place.outside), None)


@dataclass(frozen=True, slots=True)
class _Change:
    """One change of the structure: a setting to a value, or another core-voltage step."""

    key: str
    value: Value | Step


def _after(state: State, change: _Change) -> State:
    if isinstance(change.value, Step):
        return state.moved_to({}, change.value)
    return state.moved_to({change.key: change.value})


def _same_setting(one: _Change, other: _Change) -> bool:
    return one.key == other.key


def _structural(state: State, place: Place | None) -> Iterator[_Change]:
    """Changes that no factor describes: steps, inputs, oscillator choices, dividers with a condition on them.

    With a place given, only those that can move it: settings above it, and selectors that bring it in.
    """
    for step in state.part.steps:
        if step.id != state.step.id:
            yield _Change("core_voltage", step)
    above = None if place is None else {*state.upstream(place.node), *_upstream_of(state, place.against)}
    for name in state.way.order:
        node = state.part.nodes[name]
        touches = above is None or name in above or (place is not None and place.node in set(state.upstream(name)))
        touches = touches or (
            place is not None and place.against is not None and place.against in set(state.upstream(name))
        )
        if touches or (name in state.conditions):
            yield from _structural_of(state, node)


def _upstream_of(state: State, name: str | None) -> Iterator[str]:
    return state.upstream(name) if name is not None else iter(())


def _structural_of(state: State, node: object) -> Iterator[_Change]:
    match node:
        case Selector():
            options: tuple[Value, ...] = node.feeders
        case Oscillator() if len(node.choices) > 1:
            options = node.choices
        case Divider() if node.id in state.conditions and node.ratios.size <= LARGEST_LISTED:
            options = tuple(node.ratios)
        case _:
            return
    for value in options:
        if value != state.settings[node.id]:
            yield _Change(node.id, value)


def _distance(start: State, state: State) -> tuple[float, float]:
    """How far a state is from the start, in logarithms: the core clock, all clocks that run in both."""
    total = core = 0.0
    for name, clock in state.clocks.items():
        before = start.clocks.get(name)
        if before is not None and before.nominal != clock.nominal:
            ratio = clock.nominal / before.nominal
            change = abs(logarithm(ratio))
            total += change
            core = change if name == start.part.core_clock else core
    return core, total


def _exact_distance(start: State, state: State) -> tuple[Fraction, Fraction]:
    """The same without logarithms: the core clock's change as a ratio above 1, the product over all clocks."""
    core = product = Fraction(1)
    for name, clock in state.clocks.items():
        before = start.clocks.get(name)
        if before is not None and before.nominal != clock.nominal:
            ratio = max(clock.nominal / before.nominal, before.nominal / clock.nominal)
            product *= ratio
            core = ratio if name == start.part.core_clock else core
    return core, product


def _as_mend(start: State, state: State) -> Mend:
    step = state.step.id if state.step.id != start.step.id else None
    return Mend(dict(state.moved), step, state.wait_states, say_mend(start.part, state.moved, step, state.wait_states))


def say_mend(part: Part, moved: Mapping[str, Value], step: str | None, wait_states: int | None) -> str:
    """A mend as an act, its settings by title: `Set PLL converter tap to ÷9`, `Go to 1.15 V`, `Use 2 wait states`."""
    acts = [f"{say_setting(part, key)} to {say_value(part, key, value)}" for key, value in moved.items()]
    said = ["Set " + " and ".join(acts)] if acts else []
    if step is not None:
        said.append(f"Go to {write_exact(part.step(step).volts)}\u00a0V")
    if wait_states is not None:
        said.append(f"Use {wait_states} wait {'state' if wait_states == 1 else 'states'}")
    return " and ".join([said[0], *(act[0].lower() + act[1:] for act in said[1:])])


def say_setting(part: Part, key: str) -> str:
    """A setting's name in a sentence: its node's title, for a PLL its factor before it."""
    name, _, factor = key.partition(".")
    title = part.nodes[name].title
    return f"{factor.replace('_', ' ')} of {title}" if factor else title


def say_value(part: Part, key: str, value: Value) -> str:
    """A setting's value as the page writes it: `÷9`, `×28`, an input's title, a frequency."""
    if isinstance(value, str):
        return part.nodes[value].title
    node = part.nodes[key.partition(".")[0]]
    if isinstance(node, Oscillator):
        return say_frequency(value)
    sign = "×" if isinstance(node, Pll) and key.endswith(".feedback") else "" if key.endswith(".fraction") else "÷"
    return f"{sign}{write_exact(value)}"


def apply_mend(plan: Plan, mend: Mend) -> Plan:
    """The plan with a mend applied."""
    changed = plan.with_settings(mend.set)
    return replace(
        changed,
        core_voltage=mend.core_voltage or changed.core_voltage,
        wait_states=changed.wait_states if mend.wait_states is None else mend.wait_states,
    )
