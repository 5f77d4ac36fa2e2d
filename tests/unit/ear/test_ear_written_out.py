"""The ear's sums written out node by node, with scipy's normal distribution, held against the tables used for them."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, xlogy
from scipy.stats import norm

from centwise.draws import MAX_SEED, Draws, Purpose
from centwise.ear import placement, population
from centwise.ear.bound import SIZES_IN_SIGMAS, best_placement_variance, fisher_information, least_variance
from centwise.ear.curve import _at_even_steps, psychometric_curve
from centwise.ear.estimate import estimate_tally, estimate_trials, posterior_of
from centwise.ear.fit import _drawn_to_offsets, _within, best_of, chances_of, log_likelihood, most_likely
from centwise.ear.grid import (
    Grid,
    cell_edges,
    closer,
    drawn_in,
    mirrored,
    mixture_weights,
    normalised,
    offset_sizes,
    standard_grid,
    updated,
)
from centwise.ear.normal import normal_cdf, normal_density
from centwise.ear.observer import response_probabilities
from centwise.ear.placement import (
    COMFORT,
    Comfort,
    _at_ease,
    _best_of,
    balanced_places,
    entropy_places,
    held_places,
    predictions,
)
from centwise.ear.population import Population, _places, _Plan, _Run, simulate_blocks
from centwise.ear.prior import Prior
from centwise.ear.simulated import SimulatedListener, answer_codes
from centwise.ear.staircase import level_steps, off_the_last, place_on_ladder
from centwise.ear.summary import _scaled_quantiles, sigma_interval, summarised
from centwise.ear.threshold import _groups, _starts, estimate_threshold
from centwise.ear.track import Track, _place_of, begin_track, start_place
from centwise.ear.trial_run import Traits, TrialRun, _people, run_listeners
from centwise.ear.trials import tallied
from centwise.ear.truths import draw_independent_sides, draw_sides, runs_of

SMALL = Grid(
    octaves=np.array([1.0, 2.0, 3.0, 4.0]),
    sigma_weights=np.array([0.1, 0.4, 0.3, 0.2]),
    windows=np.array([0.3, 1.0]),
    window_weights=np.array([0.6, 0.4]),
    biases=np.array([-0.5, 0.0, 0.5]),
    bias_weights=np.array([0.2, 0.5, 0.3]),
    lapses=np.array([0.01, 0.1]),
    lapse_weights=np.array([0.7, 0.3]),
    sizes_cents=np.array([0.0, 2.0, 4.0, 8.0, 16.0]),
)
NODES = list(itertools.product(range(4), range(2), range(3), range(2)))


def chances_at(node: tuple[int, int, int, int], offset: float, order: float = 0.0) -> tuple[float, float, float]:
    sigma, window = 2.0 ** SMALL.octaves[node[0]], SMALL.windows[node[1]]
    bias, lapse = SMALL.biases[node[2]] + order, SMALL.lapses[node[3]]
    flat, sharp = float(ndtr(-offset / sigma - bias - window)), float(ndtr(offset / sigma + bias - window))
    return tuple((1.0 - lapse) * each + lapse / 3.0 for each in (flat, 1.0 - flat - sharp, sharp))


def prior_at(node: tuple[int, int, int, int]) -> float:
    weights = (SMALL.sigma_weights, SMALL.window_weights, SMALL.bias_weights, SMALL.lapse_weights)
    return math.prod(float(each[place]) for each, place in zip(weights, node, strict=True))


def posterior_by_hand(offsets: list[float], codes: list[int]) -> np.ndarray:
    found = np.zeros((4, 2, 3, 2))
    for node in NODES:
        found[node] = prior_at(node) * math.prod(
            chances_at(node, offset)[code] for offset, code in zip(offsets, codes, strict=True)
        )
    return np.asarray(found / found.sum())


OFFSETS, CODES = [8.0, -4.0, 0.0, 2.0, -16.0, 8.0, -4.0], [2, 0, 1, 1, 0, 1, 2]
WORDS = [("flat", "unison", "sharp")[code] for code in CODES]


def test_one_answer_after_the_other_gives_the_posterior_of_all() -> None:
    weights = SMALL.prior()
    for offset, code in zip(OFFSETS, CODES, strict=True):
        weights = updated(weights, SMALL.attentive_chances(offset)[code], SMALL.lapses)
    assert weights == pytest.approx(posterior_by_hand(OFFSETS, CODES), rel=1e-9)
    given = np.array([0.7, 0.1, 0.1, 0.1])
    assert SMALL.prior(given)[0].sum() == pytest.approx(0.7)
    assert SMALL.prior().sum(axis=(0, 2, 3)) == pytest.approx([0.6, 0.4])


def test_the_tables_hold_every_size_asked_sharp() -> None:
    for place, offset in enumerate(SMALL.sizes_cents):
        for s, k, b, lapse in NODES:
            attentive = np.array(chances_at((s, k, b, 0), float(offset)))
            attentive = (attentive - 0.01 / 3.0) / 0.99
            assert SMALL.table[place, :, s, k, b] == pytest.approx(attentive, abs=1e-12)
            row = ((s * 2 + k) * 3 + b) * 2 + lapse
            told = chances_at((s, k, b, lapse), float(offset))
            assert SMALL.rows_with_lapses[place, :, row] == pytest.approx(told, abs=1e-12)
            entropy = -sum(chance * math.log(chance) for chance in told)
            assert SMALL.answer_entropies[place, row] == pytest.approx(entropy, abs=1e-12)
            assert SMALL.flat_sharp_rows[s, place, k * 3 + b] == pytest.approx(attentive[0], abs=1e-12)
            assert SMALL.flat_sharp_rows[s, 5 + place, k * 3 + b] == pytest.approx(attentive[2], abs=1e-12)


def told_by_hand(weights: np.ndarray, side: int, offset: float) -> tuple[float, float, float]:
    """Expected loss of variance of log2 sigma, chance of the right answer, expected loss of entropy of everything."""
    octaves = SMALL.octaves
    asked = offset * (side or 1)
    over_sigma = weights.sum(axis=(1, 2, 3))
    before = float(over_sigma @ octaves**2 - (over_sigma @ octaves) ** 2)
    entropy = -float((weights * np.log(weights)).sum())
    loss, loss_of_entropy, right = before, entropy, 0.0
    for answer in range(3):
        after = np.zeros_like(weights)
        for node in NODES:
            after[node] = weights[node] * chances_at(node, asked)[answer]
        chance = float(after.sum())
        after /= chance
        left = after.sum(axis=(1, 2, 3))
        loss -= chance * float(left @ octaves**2 - (left @ octaves) ** 2)
        loss_of_entropy += chance * float((after * np.log(after)).sum())
        if answer == (1 if offset == 0.0 else int(np.sign(asked)) + 1):
            right = chance
    return loss, right, loss_of_entropy


@pytest.mark.parametrize("side", [-1, 1, 0])
def test_what_each_size_would_tell_and_how_likely_it_is_answered_right(side: int) -> None:
    weights = posterior_by_hand(OFFSETS, CODES)
    gain, likely = predictions(SMALL, weights[None], np.array([side]))
    for place, offset in enumerate(SMALL.sizes_cents):
        loss, right, _ = told_by_hand(weights, side, float(offset))
        assert gain[0, place] == pytest.approx(loss, abs=1e-9)
        assert likely[0, place] == pytest.approx(right, abs=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("last", [0, 1, 2, 3, 4])
@pytest.mark.parametrize(("trial", "right"), [(7, 5), (30, 30), (30, 8)])
def test_the_balanced_rule_asks_what_tells_most_among_what_is_comfortable(
    side: int, last: int, trial: int, right: int
) -> None:
    weights = posterior_by_hand(OFFSETS, CODES)
    told = [told_by_hand(weights, side, float(offset)) for offset in SMALL.sizes_cents]
    chances = [round(each[1], 9) for each in told]
    best = max(chances[1:])
    # The goal over the whole block, a lead or lag made good over 20 trials, catch trials' share taken off.
    wanted = 0.785 + (0.785 * trial - right) / 20.0
    aim = min(max((wanted - 0.22 * chances[0]) / 0.78 / best, 0.65), 0.93)
    distance = {place: round(chances[place] / best - aim, 9) for place in range(1, 5) if place != last}
    comfortable = [place for place, far in distance.items() if -0.26 <= far <= 0.10]
    expected = (
        max(comfortable, key=lambda place: round(told[place][0], 9))
        if comfortable
        else min(distance, key=lambda place: abs(distance[place]))
    )
    found = balanced_places(
        SMALL, weights[None], np.array([side]), trial=trial, right=np.array([right]), last=np.array([last])
    )
    assert found.tolist() == [expected]
    # With no band at all nothing is comfortable, and the nearest is asked.
    narrow = replace(COMFORT, band=(1.0, 1.0))
    nearest = min(distance, key=lambda place: abs(distance[place]))
    found = balanced_places(
        SMALL,
        weights[None],
        np.array([side]),
        trial=trial,
        right=np.array([right]),
        last=np.array([last]),
        comfort=narrow,
    )
    assert found.tolist() == [nearest]


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("last", [0, 1, 2, 3, 4])
def test_the_entropy_rule_asks_what_tells_most_of_everything(side: int, last: int) -> None:
    # Watson 2017, QUEST+, Journal of Vision 17(3):10: minimum expected entropy.
    weights = posterior_by_hand(OFFSETS, CODES)
    told = {
        place: told_by_hand(weights, side, float(SMALL.sizes_cents[place]))[2] for place in range(1, 5) if place != last
    }
    found = entropy_places(SMALL, weights[None], np.array([side]), last=np.array([last]))
    assert found.tolist() == [max(told, key=told.__getitem__)]


def test_no_rule_asks_a_unison_or_the_last_again(monkeypatch: pytest.MonkeyPatch) -> None:
    told = np.array([[0.9, 0.5, 0.1, 0.2, 0.3], [0.9, 0.8, 0.1, 0.2, 0.3], [0.0, 0.1, 0.2, 0.3, 0.4]])
    last, sides = np.array([4, 1, 4]), np.ones(3, dtype=np.int64)
    monkeypatch.setattr(placement, "_told", lambda *_: told.copy())
    assert entropy_places(SMALL, SMALL.prior()[None], sides, last=last).tolist() == [1, 4, 3]
    monkeypatch.setattr(population, "predictions", lambda *_: (told.copy(), None))
    run = _Run(sides, sides, last, sides, sides, np.zeros(3, dtype=bool))
    plan = _Plan("unheld", (), 1, COMFORT, ())
    assert _places(SMALL, SMALL.prior()[None], sides, run, plan, 5).tolist() == [1, 4, 3]


def test_what_keeps_a_listener_at_ease_block_by_block() -> None:
    likely = np.array([[0.9, 0.5, 0.7, 0.96], [0.4, 0.45, 0.5, 0.6]])
    comfortable, distance = _at_ease(likely, 10, np.array([9, 3]), np.array([0, 2]), COMFORT)
    # (0.785 + (7.85 - 9)/20 - 0.22 * 0.9)/0.78/0.96 and, too much for the easiest, 0.93.
    aim = (0.785 + (7.85 - 9.0) / 20.0 - 0.198) / 0.78 / 0.96
    off = [0.5 / 0.96 - aim, 0.7 / 0.96 - aim, 1.0 - aim, 0.45 / 0.6 - 0.93, 0.0, 1.0 - 0.93]
    assert distance[0] == pytest.approx([math.inf, *(abs(each) for each in off[:3])])
    assert distance[1] == pytest.approx([math.inf, abs(off[3]), math.inf, abs(off[5])])
    assert comfortable.tolist() == [[False, off[0] >= -0.26, True, False], [False, True, False, True]]


def test_each_block_is_asked_its_own_best() -> None:
    score = np.array([[9.0, 0.1, 0.3, 0.2], [9.0, 0.9, 0.1, 0.1], [9.0, 0.9, 0.1, 0.1]])
    comfortable = np.array([[False, True, False, True], [False] * 4, [False, False, True, True]])
    distance = np.array([[math.inf, 0.3, 0.1, 0.5], [math.inf, 0.05, 0.2, 0.5], [math.inf, 0.3, 0.2, 0.5]])
    assert _best_of(score, comfortable, distance).tolist() == [3, 1, 2]


def test_the_comfort_is_the_studys() -> None:
    assert Comfort() == COMFORT == Comfort(0.785, 20.0, (-0.26, 0.10), 0.65, 0.93)


def test_the_lattice_is_drawn_in_about_the_posterior() -> None:
    weights = posterior_by_hand(OFFSETS, CODES)
    drawn = closer(SMALL, weights)
    for nodes, prior, axis, found, found_prior in (
        (SMALL.octaves, SMALL.sigma_weights, 0, drawn.octaves, drawn.sigma_weights),
        (SMALL.windows, SMALL.window_weights, 1, drawn.windows, drawn.window_weights),
        (SMALL.biases, SMALL.bias_weights, 2, drawn.biases, drawn.bias_weights),
    ):
        marginal = weights.sum(axis=tuple(each for each in range(4) if each != axis))
        edges = [2 * nodes[0] - (nodes[0] + nodes[1]) / 2]
        edges += [(a + b) / 2 for a, b in itertools.pairwise(nodes)]
        edges.append(2 * nodes[-1] - (nodes[-1] + nodes[-2]) / 2)
        assert cell_edges(nodes) == pytest.approx(edges)
        widths = np.diff(edges)
        mean = float(marginal @ nodes)
        # A cell filled evenly has a variance of a twelfth of its width squared.
        spread = math.sqrt(float(marginal @ ((nodes - mean) ** 2 + widths**2 / 12.0)))
        low, high = max(nodes[0], mean - 4.0 * spread), min(nodes[-1], mean + 4.0 * spread)
        assert found == pytest.approx(np.linspace(low, high, len(nodes)))
        density = np.interp(found, nodes, prior / widths)
        assert found_prior == pytest.approx(density / density.sum())
    assert drawn.lapses is SMALL.lapses
    # A posterior of one node draws every axis in about it.
    grid = standard_grid()
    one = np.zeros(grid.shape)
    one[20, 4, 9, 1] = 1.0
    near = closer(grid, one)
    for nodes, prior, place, found, found_prior in (
        (grid.octaves, grid.sigma_weights, 20, near.octaves, near.sigma_weights),
        (grid.windows, grid.window_weights, 4, near.windows, near.window_weights),
        (grid.biases, grid.bias_weights, 9, near.biases, near.bias_weights),
    ):
        edges = cell_edges(nodes)
        reach = 4.0 * (edges[place + 1] - edges[place]) / math.sqrt(12.0)
        assert found == pytest.approx(np.linspace(nodes[place] - reach, nodes[place] + reach, len(nodes)))
        density = np.interp(found, nodes, prior / np.diff(edges))
        assert found_prior == pytest.approx(density / density.sum())
    sharp = np.array([0.0, 0.0, 1.0, 0.0])
    nodes, _ = drawn_in(SMALL.octaves, SMALL.sigma_weights, sharp)
    assert (nodes[0], nodes[-1]) == pytest.approx((3.0 - 4.0 / math.sqrt(12.0), 4.0))


@pytest.mark.parametrize("more", [[], [2, 2, 1]])
def test_a_block_is_read_off_both_lattices_node_by_node(more: list[int]) -> None:
    offsets, codes = OFFSETS + [8.0] * len(more), CODES + more
    tally = tallied(offsets, [("flat", "unison", "sharp")[code] for code in codes])
    close, errors, joint = posterior_of(SMALL, tally)
    assert errors.tolist() == [0.0]
    drawn = closer(SMALL, posterior_by_hand(offsets, codes))
    assert close.octaves == pytest.approx(drawn.octaves)
    expected = np.zeros(joint.shape)
    for s, k, b, lapse in NODES:
        sigma = 2.0 ** close.octaves[s]
        weight = close.sigma_weights[s] * close.window_weights[k] * close.bias_weights[b] * close.lapse_weights[lapse]
        for offset, code in zip(offsets, codes, strict=True):
            chances = response_probabilities(
                offset, sigma, close.biases[b] * sigma, close.windows[k] * sigma, close.lapses[lapse]
            )
            weight *= chances[code]
        expected[s, k, b, lapse, 0] = weight
    assert joint == pytest.approx(expected / expected.sum(), rel=1e-9)


def test_with_both_orders_the_error_of_the_order_is_a_fifth_axis() -> None:
    firsts = ["harmonic", "fretted", "harmonic", "fretted", "fretted", "harmonic", "fretted"]
    tally = tallied(OFFSETS, WORDS, firsts)
    close, errors, joint = posterior_of(SMALL, tally)
    assert joint.shape == (4, 2, 3, 2, 9)
    # First look: the stated nodes, weighted by two normals about 0 over each node's cell.
    nodes = np.array([-3.0, -1.6, -0.8, -0.35, 0.0, 0.35, 0.8, 1.6, 3.0])
    density = 0.8 * norm.pdf(nodes, scale=0.35) + 0.2 * norm.pdf(nodes, scale=1.3)
    prior = density * np.diff(cell_edges(nodes))
    prior /= prior.sum()
    first_look = np.zeros((4, 2, 3, 2, 9))
    for node in NODES:
        for place, error in enumerate(nodes):
            weight = prior_at(node) * prior[place]
            for offset, code, first in zip(OFFSETS, CODES, firsts, strict=True):
                weight *= chances_at(node, offset, error if first == "harmonic" else -error)[code]
            first_look[(*node, place)] = weight
    first_look /= first_look.sum()
    again, weights = drawn_in(nodes, prior, first_look.sum(axis=(0, 1, 2, 3)))
    assert errors == pytest.approx(again)
    lattice = closer(SMALL, first_look.sum(axis=-1))
    assert close.biases == pytest.approx(lattice.biases)
    second = np.zeros((4, 2, 3, 2, 9))
    for s, k, b, lapse in NODES:
        sigma = 2.0 ** close.octaves[s]
        for place, error in enumerate(errors):
            weight = weights[place] * lattice.sigma_weights[s] * lattice.window_weights[k]
            weight *= lattice.bias_weights[b] * lattice.lapse_weights[lapse]
            for offset, code, first in zip(OFFSETS, CODES, firsts, strict=True):
                bias = close.biases[b] + (error if first == "harmonic" else -error)
                weight *= response_probabilities(
                    offset, sigma, bias * sigma, close.windows[k] * sigma, close.lapses[lapse]
                )[code]
            second[s, k, b, lapse, place] = weight
    assert joint == pytest.approx(second / second.sum(), rel=1e-8)
    found = estimate_tally(SMALL, tally)
    assert found.trials == 7
    assert found.order_error_low_cents < found.order_error_cents < found.order_error_high_cents
    one = summarised(close, joint.sum(axis=-1), 7, (errors, joint.sum(axis=(1, 2, 3))))
    assert found == one
    assert estimate_tally(SMALL, tallied(OFFSETS, WORDS)).order_error_cents is None


def test_an_estimates_figures_are_quantiles_of_cells_filled_evenly() -> None:
    weights = posterior_by_hand(OFFSETS, CODES)
    rng = np.random.default_rng(4)
    count = 400_000
    drawn = rng.choice(weights.size, size=count, p=weights.ravel())
    s, k, b, _ = np.unravel_index(drawn, weights.shape)
    found = summarised(SMALL, weights, 7)
    sigma = 2.0 ** SMALL.octaves[s]
    # Sigma: the cell of a node is filled evenly in octaves; the figure is the square of the mean root.
    ends = np.quantile(SMALL.octaves[s] + rng.uniform(-0.5, 0.5, count), [0.05, 0.95])
    assert np.log2([found.low_cents / 0.6744897501960817, found.high_cents / 0.6744897501960817]) == pytest.approx(
        ends, abs=0.01
    )
    assert found.sigma_cents == pytest.approx(np.sqrt(sigma).mean() ** 2, rel=0.005)
    assert found.threshold_cents == pytest.approx(0.6744897501960817 * found.sigma_cents)
    edges = cell_edges(SMALL.biases)
    bias = sigma * rng.uniform(edges[b], edges[b + 1])
    assert [found.bias_low_cents, found.bias_cents, found.bias_high_cents] == pytest.approx(
        np.quantile(bias, [0.05, 0.5, 0.95]), abs=0.06
    )
    edges = np.maximum(cell_edges(SMALL.windows), 0.0)
    window = sigma * rng.uniform(edges[k], edges[k + 1])
    assert found.window_cents == pytest.approx(np.median(window), rel=0.01)
    assert found.interval_octaves == pytest.approx(np.log2(found.high_cents / found.low_cents))
    assert (found.trials, found.order_error_cents, found.order_error_low_cents) == (7, None, None)
    # The order's error counts in sigmas too.
    errors, over = np.array([-1.0, 0.0, 1.0]), weights.sum(axis=(1, 3))
    split = summarised(SMALL, weights, 7, (errors, over))
    edges = cell_edges(errors)
    error = sigma * rng.uniform(edges[b], edges[b + 1])
    assert [split.order_error_low_cents, split.order_error_cents, split.order_error_high_cents] == pytest.approx(
        np.quantile(error, [0.05, 0.5, 0.95]), abs=0.12
    )


def test_a_posterior_at_either_end_of_the_lattice_ends_there() -> None:
    low, figure, high = sigma_interval(SMALL, np.array([1.0, 0.0, 0.0, 0.0]))
    assert (low, figure, high) == pytest.approx((0.55, 1.0, 1.45))
    low, figure, high = sigma_interval(SMALL, np.array([0.0, 0.0, 0.0, 1.0]))
    assert (low, figure, high) == pytest.approx((3.55, 4.0, 4.45))
    both = sigma_interval(SMALL, np.array([[0.02, 0.03, 0.9, 0.05], [0.25, 0.25, 0.25, 0.25]]))
    assert both[0, [0, 2]] == pytest.approx([2.5, 3.5])
    assert both[1, [0, 2]] == pytest.approx([0.7, 4.3])


def test_the_lattice_of_every_block() -> None:
    grid = standard_grid()
    assert grid.octaves == pytest.approx([-0.5 + n / 6.0 for n in range(46)])
    # A stranger's sigma: even from 1.4 to 40 c, tails beyond, and an even floor of three thousandths.
    beyond = [max((0.5 - octave) / 0.4, (octave - 5.3) / 0.5, 0.0) for octave in grid.octaves]
    prior = np.array([math.exp(-0.5 * far**2) + 0.003 for far in beyond])
    assert grid.sigma_weights == pytest.approx(prior / prior.sum())
    assert grid.window_weights.sum() == pytest.approx(1.0)
    assert grid.window_weights * 9.05 == pytest.approx([0.4, 0.9, 1.0, 1.0, 1.0, 1.1, 1.3, 0.85, 0.5, 0.1], rel=0.2)
    assert grid.windows.tolist() == [0.1, 0.3, 0.5, 0.7, 0.9, 1.1, 1.4, 1.9, 2.6, 3.6]
    assert grid.biases.tolist() == [-4.0, -2.7, -1.8, -1.2, -0.8, -0.5, -0.25, 0.0, 0.25, 0.5, 0.8, 1.2, 1.8, 2.7, 4.0]
    assert (grid.lapses.tolist(), grid.lapse_weights.tolist()) == ([0.005, 0.03, 0.10], [0.42, 0.36, 0.22])
    density = sum(share * norm.pdf(grid.biases, scale=sd) for share, sd in ((0.75, 0.25), (0.2, 0.7), (0.05, 2.0)))
    weights = density * np.diff(cell_edges(grid.biases))
    assert grid.bias_weights == pytest.approx(weights / weights.sum())
    assert mixture_weights(mirrored((1.0,)), ((1.0, 1.0),)) == pytest.approx(
        normalised(norm.pdf(np.array([-1.0, 0.0, 1.0])))
    )
    # Quarters of an octave about 40 c, from 0.35 to 100 c, in hundredths.
    sizes = [round(40.0 * 2.0 ** (n / 4.0), 2) for n in range(-27, 6)]
    assert grid.sizes_cents.tolist() == [0.0, *(size for size in sizes if 0.35 <= size <= 100.0)]
    assert offset_sizes(1).tolist() == [0.0, 0.62, 1.25, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0]


def test_the_normal_distribution_far_out() -> None:
    x = np.array([-38.0, -37.5, -20.0, -8.0, -7.1, -7.07, -7.0, -1.0, 0.0, 1.0, 7.0, 7.07, 7.1, 8.0, np.inf, -np.inf])
    assert normal_cdf(x) == pytest.approx(norm.cdf(x), rel=2e-6, abs=1e-298)
    assert normal_cdf(np.linspace(-6.0, 6.0, 41)) == pytest.approx(norm.cdf(np.linspace(-6.0, 6.0, 41)), rel=1e-10)
    assert normal_density([0.0, 1.0, -2.0]) == pytest.approx(norm.pdf([0.0, 1.0, -2.0]))
    assert float(normal_cdf(0.0)) == 0.5
    assert normal_cdf(np.full((2, 3), 1.0)).shape == (2, 3)


def test_single_precision_is_taken_as_the_numbers_it_holds() -> None:
    x = np.linspace(-8.0, 8.0, 33, dtype=np.float32) / np.float32(3.0)
    assert np.array_equal(normal_cdf(x), normal_cdf(x.astype(float)))
    assert np.array_equal(normal_density(x), normal_density(x.astype(float)))
    single = [np.array([value], dtype=np.float32) for value in (7.7, 5.3, 1.1, 3.3, 0.07)]
    double = [value.astype(float) for value in single]
    assert np.array_equal(response_probabilities(*single), response_probabilities(*double))
    assert psychometric_curve(OFFSETS, WORDS, FIRSTS, [0, 5])[1].offsets_cents.dtype == np.float64  # type: ignore[arg-type]


def test_the_likelihood_and_its_top() -> None:
    offsets = np.array([-8.0, 0.0, 8.0])
    counts = np.array([[[9, 2, 1], [2, 8, 2], [1, 3, 12]], [[5, 5, 2], [3, 6, 3], [2, 5, 9]]], dtype=float)
    parameters = np.array([[6.0, 0.5, 4.0], [9.0, -1.0, 3.0]])
    for row in range(2):
        chances = response_probabilities(offsets, *parameters[row], 0.03)
        assert chances_of(offsets, 0.03, parameters)[row] == pytest.approx(chances)
        assert log_likelihood(offsets, counts, 0.03, parameters)[row] == pytest.approx(
            float((counts[row] * np.log(chances)).sum())
        )
    tops, values = most_likely(offsets, counts, 0.03, np.array([5.0, 0.0, 3.0]))
    for row in range(2):
        at = log_likelihood(offsets, counts[[row]], 0.03, tops[[row]])[0]
        assert values[row] == pytest.approx(at, abs=1e-12)
        for step in (*np.eye(3) * 1e-2, *np.eye(3) * -1e-2):
            assert log_likelihood(offsets, counts[[row]], 0.03, tops[[row]] + step)[0] < at
    # From far off it comes to the same.
    again, _ = most_likely(offsets, counts, 0.03, np.array([[40.0, 10.0, 30.0], [0.8, -3.0, 1.0]]))
    assert again == pytest.approx(tops, rel=1e-4, abs=1e-4)
    # Without lapses and with an answer that was all but impossible it stays finite.
    assert np.isfinite(log_likelihood(offsets, counts, 0.0, np.array([[0.01, 0.0, 0.0]] * 2))).all()


def test_where_answers_set_no_bound_is_told() -> None:
    offsets = np.array([-20.0, 0.0, 20.0])
    perfect = np.array([[5, 0, 0], [0, 5, 0], [0, 0, 5]])
    unrelated = np.array([[2, 2, 2], [2, 2, 2], [2, 2, 2]])
    plain = np.array([[4, 1, 0], [1, 4, 1], [0, 1, 4]])
    for counts, unbounded in ((perfect, True), (unrelated, True), (plain, False)):
        tops, _ = most_likely(offsets, counts[None].astype(float), 0.02, np.array([10.0, 0.0, 8.0]))
        best = best_of(offsets, counts, 0.02, tops[0])
        assert best.unbounded is unbounded
        assert [best.sigma_cents, best.bias_cents, best.window_cents] == tops[0].tolist()


def test_borders_that_answers_leave_open_are_drawn_to_the_offsets_asked() -> None:
    # Borders at -3.5 and 1.5 keep a quarter of their way to -3 and to 0: -3.125 and 0.375.
    found = _drawn_to_offsets(np.array([-10.0, -3.0, 0.0, 4.0, 11.0]), 1.0, 2.5, 0.25)
    assert found == pytest.approx((1.375, 1.75))


def test_an_ear_that_wavers_only_where_its_borders_lie_is_not_bounded() -> None:
    # Three of five at the border, sigma 2: the border lies 0.2533 sigmas inside; a sigma of 0.01 does as well.
    offsets, window = np.array([-500.0, -100.0, 0.0, 100.0, 500.0]), 100.0 - 2.0 * norm.ppf(0.6)
    clean = np.array([[5, 0, 0], [3, 2, 0], [0, 5, 0], [0, 2, 3], [0, 0, 5]])
    assert best_of(offsets, clean, 0.0, np.array([2.0, 0.0, window])).unbounded
    assert not best_of(
        offsets, clean + np.array([[0, 0, 0]] * 2 + [[1, 0, 0]] + [[0, 0, 0]] * 2), 0.0, np.array([40.0, 0.0, 60.0])
    ).unbounded
    # One, two and three of six whatever was asked: a sigma twice as large, bias and window with it, does as well.
    unrelated = np.array([[1, 2, 3]] * 3)
    at = 5000.0 * 0.5 * norm.ppf(5.0 / 6.0)
    assert best_of(np.array([-2.0, 0.0, 2.0]), unrelated, 0.0, np.array([5000.0, at, at])).unbounded


def test_the_search_stays_within_its_bounds() -> None:
    beyond = np.array([[-99.0, -2e4, -1.0], [99.0, 2e4, 2e4], [0.3, -7.0, 0.5]])
    low, high = math.log(0.01), math.log(10_000.0)
    assert _within(beyond) == pytest.approx(np.array([[low, -1e4, 0.0], [high, 1e4, 1e4], [0.3, -7.0, 0.5]]))


def test_a_fit_counts_how_badly_simulated_answers_fit() -> None:
    offsets = np.tile([-12.0, -6.0, 0.0, 6.0, 12.0], 6)
    listener = SimulatedListener(7.0, 4.0)
    rng = np.random.default_rng(2)
    answers = [listener.judge(float(offset), rng) for offset in offsets]
    found = estimate_threshold(offsets, answers, lapse_rate=0.02)
    tally = tallied(offsets, answers)
    best = np.array([[found.best.sigma_cents, found.best.bias_cents, found.best.window_cents]])
    assert found.log_likelihood_at_best == pytest.approx(
        log_likelihood(tally.offsets_cents, tally.counts[None].astype(float), 0.02, best)[0], abs=1e-9
    )
    # Six trials at each offset: each is a group of its own. Deviance: twice the log-likelihood lost to the shares seen.
    expected = 6.0 * response_probabilities(tally.offsets_cents, *best[0], 0.02)
    lost = sum(
        seen * math.log(seen / wanted)
        for seen, wanted in zip(tally.counts.ravel().tolist(), expected.ravel(), strict=True)
        if seen
    )
    assert found.deviance == pytest.approx(2.0 * lost, rel=1e-4)
    assert found.fit_p_value * 401.0 == pytest.approx(round(found.fit_p_value * 401.0), abs=1e-9)
    assert 1.0 / 401.0 <= found.fit_p_value <= 1.0
    assert found.lapse_rate == 0.02
    # A generator that is given is drawn from.
    rng = np.random.default_rng(5)
    estimate_threshold(offsets[:5], answers[:5], rng=rng)
    assert rng.random() != np.random.default_rng(5).random()
    # Offsets that were asked but once are taken together until there are five.
    fewer = estimate_threshold([-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0], ["flat", "flat", "unison"] + ["sharp"] * 4)
    assert 0.0 <= fewer.deviance < 30.0


def test_how_badly_answers_fit_is_judged_among_blocks_drawn_at_the_best_fit_each_fitted_from_two_places() -> None:
    # A listener of whom some simulated blocks are fitted better from half the sigma.
    offsets, listener, rng = np.tile([-20.0, -4.0, 4.0, 20.0], 6), SimulatedListener(3.0, 4.0, 0.0, 0.1), Draws(0)
    answers = [listener.judge(float(offset), each) for each in (np.random.default_rng(7),) for offset in offsets]
    found, tally = estimate_threshold(offsets, answers, lapse_rate=0.1), tallied(offsets, answers)
    best = np.array([found.best.sigma_cents, found.best.bias_cents, found.best.window_cents])
    chances = response_probabilities(tally.offsets_cents, *best, 0.1)
    drawn = rng.stream(Purpose.LISTENER).multinomial(np.full(4, 6), chances, size=(400, 4)).astype(float)
    one, other = (most_likely(tally.offsets_cents, drawn, 0.1, best * [share, 1.0, 1.0]) for share in (1.0, 0.5))

    def share_as_bad(tops: np.ndarray) -> float:
        wanted = 6.0 * chances_of(tally.offsets_cents, 0.1, tops)
        deviances = 2.0 * xlogy(drawn, drawn / wanted).sum(axis=(1, 2))
        return (1 + int(np.count_nonzero(deviances >= found.deviance - 1e-9))) / 401

    assert found.fit_p_value == share_as_bad(np.where((other[1] > one[1])[:, None], other[0], one[0]))
    assert found.fit_p_value < share_as_bad(one[0])
    # As many of each answer whatever was asked: nothing is lost against the shares seen.
    even = estimate_threshold(np.repeat([-8.0, 0.0, 8.0], 6), ["flat", "unison", "sharp"] * 6, lapse_rate=0.1)
    assert even.deviance == pytest.approx(0.0, abs=1e-3)
    # No block fits better than one in which all is right; most fit as well, the others worse.
    right = estimate_threshold([-20.0, -20.0, 0.0, 20.0, 20.0], ["flat", "flat", "unison", "sharp", "sharp"])
    assert right.fit_p_value == 1.0


@pytest.mark.parametrize(
    ("offsets", "codes"),
    [
        ([-8.0, -8.0, 0.0, 0.0, 4.0, 4.0, 8.0], [0, 1, 1, 2, 1, 2, 2]),
        ([-50.0, -30.0, -30.0, -10.0, 5.0, 20.0, 20.0], [0, 1, 0, 2, 2, 2, 1]),
        ([-20.0, -5.0, 5.0, 20.0, 30.0, 30.0], [0, 0, 0, 1, 2, 0]),
        ([-0.5, -0.5, 0.4, 0.4, 0.0, 1.0, 1.0], [0, 2, 2, 0, 2, 2, 2]),
    ],
)
def test_each_of_twelve_sigmas_starts_from_its_best_bias_and_window(offsets: list[float], codes: list[int]) -> None:
    starts = _starts(tallied(offsets, [("flat", "unison", "sharp")[code] for code in codes]), 0.03)
    sigmas = [0.02 * (100.0 / 0.02) ** (n / 11.0) for n in range(12)]
    windows = np.array([0.0, *(0.35 * (90.0 / 0.35) ** (n / 16.0) for n in range(17))])[:, None]
    side = [0.35 * (48.0 / 0.35) ** (n / 10.0) for n in range(11)]
    biases = np.array([*side, *(-each for each in side), 0.0])
    assert starts[:, 0] == pytest.approx(sigmas)
    for sigma, start in zip(sigmas, starts, strict=True):

        def told(bias: np.ndarray, window: np.ndarray, sigma: float = sigma) -> np.ndarray:
            chances = [response_probabilities(offset, sigma, bias, window, 0.03) for offset in offsets]
            return np.asarray(sum(np.log(each[..., code]) for each, code in zip(chances, codes, strict=True)))

        assert float(told(start[1], start[2])) == pytest.approx(float(told(biases, windows).max()), abs=1e-9)


@pytest.mark.parametrize(
    ("asked", "firsts"),
    [
        ([5, 5, 5], [0, 1, 2]),
        ([4, 1, 5, 4], [0, 2]),
        ([1, 1, 1, 1, 1, 1, 4], [0, 5]),
        ([9, 4], [0]),
        ([4, 9], [0]),
        ([6, 2, 2], [0]),
        ([6, 2, 3, 5], [0, 1, 3]),
        ([5, 4, 5, 5], [0, 1, 3]),
    ],
)
def test_offsets_beside_each_other_are_taken_together_until_there_are_five_trials(
    asked: list[int], firsts: list[int]
) -> None:
    assert _groups(np.array(asked)) == firsts


def test_the_flat_prior_is_flat_in_every_part() -> None:
    offsets, answers = [-8.0, 8.0, 0.0, 4.0, -4.0, 16.0], ["flat", "sharp", "unison", "unison", "flat", "sharp"]
    grid = standard_grid()
    even = replace(
        grid,
        lapses=np.array([0.04]),
        lapse_weights=np.ones(1),
        sigma_weights=np.full(46, 1 / 46),
        window_weights=np.diff(cell_edges(grid.windows)) / np.ptp(cell_edges(grid.windows)),
        bias_weights=np.diff(cell_edges(grid.biases)) / np.ptp(cell_edges(grid.biases)),
    )
    found = estimate_threshold(offsets, answers, lapse_rate=0.04, prior="flat")
    assert found.threshold_cents == pytest.approx(estimate_tally(even, tallied(offsets, answers)).threshold_cents)
    known = replace(
        grid,
        lapses=np.array([0.04]),
        lapse_weights=np.ones(1),
        sigma_weights=Prior(4.0).weights(grid.sigma_cents),
    )
    found = estimate_threshold(offsets, answers, lapse_rate=0.04, prior=Prior(4.0))
    assert found.threshold_cents == pytest.approx(estimate_tally(known, tallied(offsets, answers)).threshold_cents)


def test_the_best_placement_is_the_best_of_all_that_are_tried() -> None:
    sigma, bias, window, lapse = 5.0, 1.0, 3.0, 0.02

    def of(offset: float) -> np.ndarray:
        return fisher_information(np.array(offset), sigma, bias, window, np.array(lapse))

    found = best_placement_variance(
        40, np.array([sigma]), np.array([bias]), np.array([window]), np.array([lapse]), np.array([0.0, 2.0, 1.0, 50.0])
    )
    best = math.inf
    for small, large in itertools.combinations(SIZES_IN_SIGMAS, 2):
        for share in (0.0, 0.15, 0.3, 0.5):
            for caught in (0.1, 0.2, 0.3, 0.4):
                total = caught * of(0.0)
                for size, part in ((small, 1.0 - share), (large, share)):
                    total = total + (1.0 - caught) * part * (of(-size * sigma) + of(size * sigma)) / 2.0
                inverse = np.linalg.inv(40.0 * total + np.diag([1e-9, 2.0, 1.0, 50.0]))
                best = min(best, float(inverse[0, 0]) / math.log(2.0) ** 2)
    assert found[0] == pytest.approx(best, rel=1e-6)
    # What is known beside the trials makes the bound lower (van Trees), and nothing known leaves Cramer and Rao's.
    total = 40.0 * (of(-6.0) + of(6.0) + of(0.0)) / 3.0
    assert least_variance(total) == pytest.approx(np.linalg.inv(total)[0, 0] / math.log(2.0) ** 2, rel=1e-6)
    assert least_variance(total, np.array([5.0, 0.0, 0.0, 0.0])) < least_variance(total)
    # Asked where nothing can be learnt it stays finite.
    assert least_variance(np.zeros((4, 4))) == pytest.approx(1e9 / math.log(2.0) ** 2)
    assert np.isfinite(of(1e4)).all()


def test_a_ladder_walked_to_both_ends() -> None:
    offsets, right = [4.0] * 9, ["sharp"] * 9
    assert [place_on_ladder(5, 30, offsets[:n], right[:n]) for n in range(5)] == [5, 3, 1, 1, 1]  # type: ignore[arg-type]
    wrong = ["flat"] * 9
    assert [place_on_ladder(25, 30, offsets[:n], wrong[:n]) for n in range(4)] == [25, 28, 29, 29]  # type: ignore[arg-type]
    # In haste only until the first that is not right; a catch trial leaves both as they are.
    assert level_steps(4.0, "sharp", hurried=True) == -2
    assert level_steps(4.0, "sharp", hurried=False) == -1
    assert level_steps(4.0, "unison", hurried=True) == 1
    assert level_steps(-4.0, "sharp", hurried=True) == 3
    assert level_steps(0.0, "sharp", hurried=True) == 0
    assert place_on_ladder(9, 30, [0.0, 4.0], ["flat", "sharp"]) == 7
    assert place_on_ladder(9, 30, [4.0, 4.0], ["unison", "sharp"]) == 9
    sizes = np.array([0.0, 1.0, 2.0, 4.0])
    assert [off_the_last(2, 1, last, sizes) for last in (None, 2.0, -2.0, 1.0)] == [2, 1, 2, 2]
    assert off_the_last(1, -1, -1.0, sizes) == 2
    grid = standard_grid()
    assert [grid.sizes_cents[start_place(grid, cents)] for cents in (40.0, 43.0, 45.0, 1e-9, 1e3)] == [
        40.0,
        40.0,
        47.57,
        grid.sizes_cents[1],
        95.14,
    ]


@pytest.mark.parametrize(
    ("last", "run", "first", "second", "truth"),
    [
        # No catch at the start or after a catch; else with a chance of 0.22/0.78 = 0.28205; then flat below a half.
        (0, 0, 0.0, 0.49, -1),
        (0, 0, 0.0, 0.5, 1),
        (0, 1, 0.0, 0.9, 1),
        (1, 1, 0.2820, 0.9, 0),
        (1, 1, 0.2821, 0.9, 1),
        (-1, 3, 0.9, 0.1, -1),
        # A fifth alike is turned.
        (-1, 4, 0.9, 0.1, 1),
        (1, 4, 0.9, 0.9, -1),
        (1, 4, 0.9, 0.1, -1),
        (1, 4, 0.1, 0.9, 0),
    ],
)
def test_the_next_truth(last: int, run: int, first: float, second: float, truth: int) -> None:
    assert draw_sides(np.array([last]), np.array([run]), np.array([[first, second]])).tolist() == [truth]


def test_how_often_the_last_truth_came_running() -> None:
    assert runs_of(()) == (0, 0)
    assert [runs_of(row) for row in ((5.0,), (5.0, 0.0), (-5.0, 5.0, 3.0), (1.0,) * 6)] == [
        (1, 1),
        (0, 1),
        (1, 2),
        (1, 4),
    ]


def test_independent_truths() -> None:
    uniforms = np.array([[0.2199, 0.9], [0.22, 0.49], [0.22, 0.5], [0.9, 0.1]])
    assert draw_independent_sides(uniforms).tolist() == [0, -1, 1, -1]
    chances = np.array([[0.2, 0.5, 0.3]] * 5)
    assert answer_codes(chances, np.array([0.0, 0.199, 0.2, 0.699, 0.7])).tolist() == [0, 0, 1, 1, 2]


def level_cents(track: Track) -> float:
    """Return where the staircase of a weighted track stands."""
    return float(standard_grid().sizes_cents[track._place()])


def test_a_track_says_something_of_the_ear_from_five_answers_on() -> None:
    assert level_cents(begin_track("weighted", start_cents=40.0).answered(40.0, "sharp")) == pytest.approx(28.28)
    four = begin_track("balanced")
    for offset in (8.0, -8.0, 4.0, -4.0):
        four = four.answered(offset, "unison")
    assert four.estimate() is None
    found = four.answered(0.0, "unison").estimate()
    assert found is not None
    assert found.trials == 5
    assert begin_track("balanced", prior=Prior(5.0)).prior == Prior(5.0)


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("last", [0, 2, 4])
@pytest.mark.parametrize(("trial", "right"), [(7, 5), (30, 30), (30, 8)])
@pytest.mark.parametrize("band", [(-0.26, 0.10), (1.0, 1.0)])
def test_another_rules_size_is_brought_within_comfort(
    side: int, last: int, trial: int, right: int, band: tuple[float, float]
) -> None:
    weights = posterior_by_hand(OFFSETS, CODES)
    comfort = replace(COMFORT, band=band)
    told = [told_by_hand(weights, side, float(offset)) for offset in SMALL.sizes_cents]
    chances = [round(each[1], 9) for each in told]
    best = max(chances[1:])
    wanted = comfort.goal + (comfort.goal * trial - right) / comfort.horizon
    aim = min(max((wanted - 0.22 * chances[0]) / 0.78 / best, comfort.hardest), comfort.easiest)
    distance = {place: round(chances[place] / best - aim, 9) for place in range(1, 5) if place != last}
    comfortable = [place for place, far in distance.items() if band[0] <= far <= band[1]]
    nearest = min(distance, key=lambda place: abs(distance[place]))

    def asked(wish: int | None) -> list[int]:
        return held_places(
            SMALL,
            weights[None],
            np.array([side]),
            wish=None if wish is None else np.array([wish]),
            trial=trial,
            right=np.array([right]),
            last=np.array([last]),
            comfort=comfort,
        ).tolist()

    for wish in (1, 2, 3, 4):
        assert asked(wish) == [min(comfortable, key=lambda place: abs(place - wish)) if comfortable else nearest]
    assert asked(None) == [max(comfortable, key=lambda place: told[place][2]) if comfortable else nearest]
    if band == COMFORT.band:
        usual = held_places(
            SMALL,
            weights[None],
            np.array([side]),
            wish=None,
            trial=trial,
            right=np.array([right]),
            last=np.array([last]),
        )
        assert usual.tolist() == asked(None)


@pytest.mark.parametrize("rule", ["balanced", "unheld", "entropy", "held weighted", "held entropy"])
def test_a_block_of_a_study_is_asked_by_its_rule(rule: str) -> None:
    people = Population(np.array([3.0]), np.array([2.0]), np.array([1.0]), np.array([0.05]), 4.0)
    comfort = replace(COMFORT, goal=0.7)
    block = simulate_blocks(
        people,
        14,
        rule,  # type: ignore[arg-type]
        seed=1,
        start_cents=15.0,
        comfort=comfort,
        both_orders=False,
    )
    # Balanced, and harmonic first, where nothing is said.
    usual = simulate_blocks(people, 14, seed=1, start_cents=15.0, comfort=comfort)
    assert np.array_equal(usual.offsets_cents, block.offsets_cents) is (rule == "balanced")
    turned = simulate_blocks(people, 14, seed=1, start_cents=15.0, comfort=comfort, both_orders=True)
    assert not np.array_equal(usual.answers, turned.answers)
    grid = standard_grid()
    sizes, start = grid.sizes_cents.tolist(), start_place(grid, 15.0)
    offsets, codes = block.offsets_cents[:, 0], block.answers[:, 0]
    words = [("flat", "unison", "sharp")[code] for code in codes]
    weights = grid.prior()
    for n, offset in enumerate(offsets):
        if offset:
            side, place = np.array([int(np.sign(offset))]), sizes.index(abs(offset))
            same = n > 0 and offset * offsets[n - 1] > 0.0
            last = np.array([sizes.index(abs(offsets[n - 1])) if same else 0])
            right = np.array([int(block.right[:n, 0].sum())])
            level = np.array([place_on_ladder(start, len(sizes), offsets[:n].tolist(), words[:n])])  # type: ignore[arg-type]
            if n == 0:
                expected = start
            elif rule == "balanced":
                expected = balanced_places(grid, weights[None], side, trial=n, right=right, last=last, comfort=comfort)[
                    0
                ]
            elif rule == "entropy":
                expected = entropy_places(grid, weights[None], side, last=last)[0]
            elif rule == "unheld":
                gain = np.round(predictions(grid, weights[None], side)[0][0], 9)
                expected = max(set(range(1, len(sizes))) - set(last.tolist()), key=lambda place: (gain[place], -place))
            else:
                wish = level if rule == "held weighted" else None
                expected = held_places(
                    grid, weights[None], side, wish=wish, trial=n, right=right, last=last, comfort=comfort
                )[0]
            assert place == expected
        weights = updated(weights, grid.attentive_chances(float(offset))[codes[n]], grid.lapses)


def test_a_staircase_that_would_repeat_asks_one_place_beside() -> None:
    at, side = np.array([1, 2, 3, 3]), np.array([1, 1, -1, 1])
    run = _Run(np.array([1, 1, -1, -1]), at, at, at, at, np.zeros(4, dtype=bool))
    for rule in ("weighted", "plain"):
        plan = _Plan(rule, (), 1, COMFORT, ())  # type: ignore[arg-type]
        assert _places(SMALL, SMALL.prior()[None], side, run, plan, 5).tolist() == [2, 1, 2, 3]


def test_a_run_of_truths_and_the_level_are_counted_block_by_block() -> None:
    zeros = np.zeros(5, dtype=np.int64)
    last, run = np.array([0, 1, -1, 1, -1]), np.array([0, 1, 2, 1, 4])
    begun = _Run(last, run, zeros, zeros, np.array([2, 2, 28, 2, 3]), np.ones(5, dtype=bool))
    sides, places, answers = np.array([1, 1, -1, 0, 1]), np.array([1, 2, 3, 0, 5]), np.array([2, 2, 2, 0, 1])
    after = begun.after(sides, places, answers, "weighted", 30)
    # First of a row, second, third, another truth, another truth.
    assert after.run.tolist() == [1, 2, 3, 1, 1]
    assert (after.last.tolist(), after.place.tolist()) == (sides.tolist(), places.tolist())
    # Two down twice, to the foot; three up to the top; a catch trial leaves it; one up when unsure.
    assert after.level.tolist() == [1, 1, 29, 2, 4]
    assert after.right.tolist() == [1, 1, 0, 0, 0]
    assert after.hurried.tolist() == [True, True, False, True, False]


def test_seeds_go_round() -> None:
    people = Population(np.full(2, 5.0), np.full(2, 3.0), np.zeros(2), np.zeros(2))
    both = simulate_blocks(people, 6, "weighted", seed=MAX_SEED)
    first = simulate_blocks(people.part(slice(1, 2)), 6, "weighted", seed=0)
    assert np.array_equal(both.offsets_cents[:, 1], first.offsets_cents[:, 0])
    assert np.array_equal(both.answers[:, 1], first.answers[:, 0])


@pytest.mark.parametrize("rule", ["balanced", "weighted", "plain", "unheld", "entropy"])
def test_a_population_is_drilled_the_same_whatever_it_is_cut_into(rule: str) -> None:
    rng = np.random.default_rng(6)
    sigma = np.exp2(rng.uniform(1.0, 5.0, 4))
    people = Population(sigma, 0.7 * sigma, 0.2 * sigma, np.full(4, 0.03))
    whole = simulate_blocks(people, 12, rule, seed=40, marks=(5, 12), both_orders=True)  # type: ignore[arg-type]
    assert whole.marks == (5, 12)
    assert whole.octaves.shape == (2, 4, 3)
    assert whole.offsets_cents.shape == whole.answers.shape == whole.right.shape == (12, 4)
    for who in range(4):
        alone = simulate_blocks(
            people.part(slice(who, who + 1)),
            12,
            rule,  # type: ignore[arg-type]
            seed=40 + who,
            marks=(5, 12),
            both_orders=True,
        )
        assert np.array_equal(alone.offsets_cents[:, 0], whole.offsets_cents[:, who])
        assert alone.octaves[:, 0] == pytest.approx(whole.octaves[:, who], abs=1e-9)
    # Right: the sign of the answer is that of the offset.
    signs = np.sign(whole.offsets_cents).astype(int)
    assert np.array_equal(whole.right, whole.answers - 1 == signs)
    # And the posterior that was read is the one of these answers.
    weights = standard_grid().prior()
    for offset, answer in zip(whole.offsets_cents[:, 2], whole.answers[:, 2], strict=True):
        weights = updated(weights, standard_grid().attentive_chances(float(offset))[answer], standard_grid().lapses)
    assert whole.octaves[1, 2] == pytest.approx(sigma_interval(standard_grid(), weights.sum(axis=(1, 2, 3))), abs=1e-9)


def test_the_plain_staircase_counts_unison_as_wrong() -> None:
    # A listener who calls everything unison: up three places a trial, to the top of the ladder and beside it.
    timid = Population(np.array([1.0]), np.array([1e6]), np.zeros(1), np.zeros(1))
    sizes = standard_grid().sizes_cents
    start = start_place(standard_grid(), 5.0)
    for rule, step in (("plain", 3), ("weighted", 1)):
        asked = simulate_blocks(timid, 30, rule, seed=3, start_cents=5.0).offsets_cents[:, 0]  # type: ignore[arg-type]
        walked = [float(abs(offset)) for offset in asked if offset]
        place = start
        for size in walked:
            assert size in {sizes[place], sizes[place - 1]}
            place = min(place + step, len(sizes) - 1)


class Drawn:
    """A generator whose two uniforms are known."""

    def __init__(self, catch: float, side: float) -> None:
        self.uniforms = np.array([[catch, side]])

    def random(self, shape: tuple[int, int]) -> np.ndarray:
        assert shape == (1, 2)
        return self.uniforms


def test_what_was_asked_before_a_track_counts_among_the_truths_and_in_nothing_else() -> None:
    track = begin_track("balanced", start_cents=20.0)

    def asked(track: Track, catch: float, side: float, before: tuple[float, ...] = ()) -> float:
        return track.next_offset(Drawn(catch, side), before)  # type: ignore[arg-type]

    # The first is never a catch; after a pair before it one may be.
    assert asked(track, 0.0, 0.9) == 20.0
    assert asked(track, 0.0, 0.9, (5.0,)) == 0.0
    # Four sharps before it turn the fifth.
    assert asked(track, 0.9, 0.9, (5.0,) * 3) == 20.0
    assert asked(track, 0.9, 0.9, (5.0,) * 4) == -20.0
    # The last offset is not asked again, one before the track is.
    assert asked(begin_track("weighted", start_cents=20.0), 0.9, 0.9, (20.0,)) == 20.0
    again = begin_track("weighted", start_cents=20.0).answered(28.28, "unison")
    assert level_cents(again) == pytest.approx(23.78)
    assert asked(begin_track("weighted", start_cents=20.0).answered(23.78, "unison"), 0.9, 0.9) == 20.0
    assert asked(begin_track("weighted", start_cents=20.0).answered(-23.78, "unison"), 0.9, 0.9) == 23.78
    # Where truths are independent a unison may follow a unison, and any truth itself.
    free = begin_track("balanced", independent=True).answered(0.0, "unison")
    assert asked(free, 0.0, 0.9) == 0.0
    assert asked(begin_track("balanced").answered(0.0, "unison"), 0.0, 0.9) > 0.0


def test_the_balanced_track_asks_what_the_rule_says() -> None:
    track = begin_track("balanced", start_cents=20.0)
    for offset, answer in ((20.0, "sharp"), (-11.89, "flat"), (0.0, "sharp"), (5.95, "unison")):
        track = track.answered(offset, answer)  # type: ignore[arg-type]
    grid = standard_grid()
    weights = grid.prior()
    for offset, code in ((20.0, 2), (-11.89, 0), (0.0, 2), (5.95, 1)):
        weights = updated(weights, grid.attentive_chances(offset)[code], grid.lapses)
    last = grid.sizes_cents.tolist().index(5.95)
    for side, place in ((0.9, last), (0.1, 0)):
        sides = np.array([1 if side > 0.5 else -1])
        expected = balanced_places(grid, weights[None], sides, trial=4, right=np.array([2]), last=np.array([place]))
        asked = track.next_offset(Drawn(0.9, side))  # type: ignore[arg-type]
        assert asked == sides[0] * grid.sizes_cents[expected[0]]
    # Of itself the rule would ask this again.
    for offset, answer in ((10.0, "sharp"), (33.64, "flat")):
        once = begin_track("balanced").answered(offset, answer)  # type: ignore[arg-type]
        assert once.next_offset(Drawn(0.9, 0.9)) not in {0.0, offset}  # type: ignore[arg-type]
    places = [_place_of(SMALL, offset, side) for offset, side in ((8.0, 1), (-8.0, -1), (8.0, -1), (-8.0, 1))]
    assert places == [3, 3, 0, 0]
    assert [_place_of(SMALL, offset, 1) for offset in (None, 0.0, 7.7)] == [0, 0, 0]
    smallest = float(grid.sizes_cents[1])
    assert _place_of(grid, smallest, 1) == 1
    assert smallest < 1.0


def test_a_prior_is_a_normal_in_octaves_mixed_with_a_flat_one() -> None:
    sigma = np.exp2(np.arange(7.0))
    octaves = np.log2(sigma * 0.6744897501960817 / 5.0)
    normal = norm.pdf(octaves, scale=1.5)
    expected = 0.7 * normal / normal.sum() + 0.3 / 7.0
    assert Prior(5.0, 1.5, 0.3).weights(sigma) == pytest.approx(expected)
    # So far off that every sigma is all but impossible, the nearest is left.
    for threshold_cents, place in ((1e9, -1), (1e-9, 0)):
        far = Prior(threshold_cents, 0.1, 0.3).weights(sigma)
        assert far.dtype == np.float64
        assert far[place] == pytest.approx(0.7 + 0.3 / 7.0)
        assert far.sum() == pytest.approx(1.0)


def test_simulated_people_are_drawn_in_one_order() -> None:
    traits = Traits(0.3, 1.1, 0.4, 0.08, -2.0)
    found = _people(5, 21, np.random.default_rng(4), traits)
    rng = np.random.default_rng(4)
    sigma = np.exp(rng.uniform(np.log(1.0), np.log(40.0), 5))
    assert found.sigma_cents == pytest.approx(sigma)
    assert found.window_cents == pytest.approx(sigma * rng.uniform(0.3, 1.1, 5))
    assert found.bias_cents == pytest.approx(sigma * rng.normal(0.0, 1.0, 5) * 0.4)
    assert found.lapse_rate == pytest.approx(rng.uniform(0.0, 1.0, 5) * 0.08)
    assert found.drift_octaves == pytest.approx(-0.1)
    run = TrialRun(*(np.array(each) for each in ([4.0, 8.0], [8.0, 4.0], [5.0, 3.9], [9.0, 8.0], [0.5, 0.75])))
    assert run.sd_octaves == pytest.approx(1.0)
    assert run.median_ratio == pytest.approx(1.25)
    assert run.coverage == 0.5
    drifting = run_listeners(2, 9, seed=3, traits=traits)
    people = _people(2, 9, np.random.default_rng(0), traits)
    assert people.drift_octaves == pytest.approx(-2.0 / 8.0)
    blocks = simulate_blocks(people_behind(drifting, traits), 9, "balanced", seed=3)
    assert drifting.right_share == pytest.approx(blocks.right.mean(axis=0))


@pytest.mark.parametrize("rule", ["weighted", None])
def test_a_trial_run_is_a_block_of_each_and_what_is_made_of_it(rule: str | None) -> None:
    run = run_listeners(2, 12, seed=3, rule=rule) if rule else run_listeners(2, 12, seed=3)  # type: ignore[arg-type]
    people = _people(2, 12, Draws(3).stream(Purpose.POPULATION), Traits())
    blocks = simulate_blocks(people, 12, rule or "balanced", seed=3)  # type: ignore[arg-type]
    assert run.right_share.tolist() == blocks.right.mean(axis=0).tolist()
    for who in range(2):
        answers = [("flat", "unison", "sharp")[code] for code in blocks.answers[:, who]]
        one = estimate_tally(standard_grid(), tallied(blocks.offsets_cents[:, who], answers))
        assert (run.low_cents[who], run.estimated_cents[who], run.high_cents[who]) == (
            one.low_cents,
            one.threshold_cents,
            one.high_cents,
        )


def people_behind(run: TrialRun, traits: Traits) -> Population:
    """The people behind a run: half way through a block sigma has drifted half as far."""
    people = _people(2, 9, Draws(3).stream(Purpose.POPULATION), traits)
    assert run.true_cents == pytest.approx(
        0.6744897501960817 * people.sigma_cents * 2.0 ** (traits.drift_octaves / 2.0)
    )
    return people


FIRSTS = ["harmonic", "fretted", "harmonic", "fretted", "fretted", "harmonic", "fretted"]


def test_a_blocks_trials_are_read_off_the_standing_lattice() -> None:
    tally = tallied(OFFSETS, WORDS, FIRSTS)
    assert estimate_trials(OFFSETS, WORDS, FIRSTS) == estimate_tally(standard_grid(), tally)  # type: ignore[arg-type]


def test_the_curve_is_the_mean_over_the_posterior_with_its_quantiles() -> None:
    at = np.array([-20.0, -5.0, 0.0, 4.0, 30.0])
    estimate, curve = psychometric_curve(OFFSETS, WORDS, FIRSTS, at)  # type: ignore[arg-type]
    tally = tallied(OFFSETS, WORDS, FIRSTS)
    grid, errors, joint = posterior_of(standard_grid(), tally)
    assert estimate == estimate_tally(standard_grid(), tally)
    assert curve.offsets_cents.tolist() == at.tolist()
    assert curve.chances.shape == curve.low.shape == curve.high.shape == (3, 5)
    # Three pairs of seven were heard harmonic first; the order's error turns its sign with them.
    weights = joint.ravel()
    sigma = grid.sigma_cents[:, None, None, None, None]
    window, bias = grid.windows[:, None, None, None], grid.biases[:, None, None]
    lapse = grid.lapses[:, None]
    for place, offset in enumerate(at):
        chances = np.zeros((3, *joint.shape))
        for sign, share in ((1.0, 3.0 / 7.0), (-1.0, 4.0 / 7.0)):
            centre = offset / sigma + bias + sign * errors
            flat, sharp = ndtr(-centre - window), ndtr(centre - window)
            for answer, chance in enumerate((flat, 1.0 - flat - sharp, sharp)):
                chances[answer] += share * ((1.0 - lapse) * chance + lapse / 3.0)
        for answer in range(3):
            each = chances[answer].ravel()
            mean = float(each @ weights)
            order = np.argsort(each)
            ends = np.interp([0.05, 0.95], np.cumsum(weights[order]), each[order])
            assert curve.chances[answer, place] == pytest.approx(mean, abs=0.004)
            assert curve.low[answer, place] == pytest.approx(min(ends[0], mean), abs=0.02)
            assert curve.high[answer, place] == pytest.approx(max(ends[1], mean), abs=0.02)


def test_nodes_are_taken_at_even_steps_of_the_posteriors_sum() -> None:
    joint = np.full((20, 5, 4, 5, 1), 1.0 / 2000.0)
    assert [axis.tolist() for axis in _at_even_steps(joint)] == [
        axis.ravel().tolist() for axis in np.indices(joint.shape)
    ]


def test_a_quantity_in_sigmas_that_lies_at_the_end_of_the_lattice() -> None:
    # All of it at a sigma of 4, in the last cell, from 1 to 3: even from 4 to 12 cents; and in the first, from -2 to 1.
    sigma = np.array([1.0, 2.0, 4.0])
    for first, row, place, low, high in ((-2.0, 2, 1, 4.0, 12.0), (-2.0, 2, 0, -8.0, 4.0), (0.5, 0, 0, 0.5, 1.0)):
        weights = np.zeros((3, 2))
        weights[row, place] = 1.0
        found = _scaled_quantiles(sigma, weights, np.array([first, 1.0, 3.0]))
        assert found == pytest.approx([low + share * (high - low) for share in (0.05, 0.5, 0.95)])


class One:
    """A generator whose next uniform is known."""

    def __init__(self, uniform: float) -> None:
        self.uniform = uniform

    def random(self) -> float:
        return self.uniform


def test_a_simulated_listener_is_the_observer_with_drift_and_order() -> None:
    listener = SimulatedListener(8.0, 5.0, 1.0, 0.04, drift_octaves=0.05, order_error_cents=2.0)
    assert listener.threshold_cents == pytest.approx(0.6744897501960817 * 8.0)
    for n, first, bias in ((1, "harmonic", 3.0), (21, "fretted", -1.0), (3, "fretted", -1.0)):
        flat, unison, _ = response_probabilities(-6.0, 8.0 * 2.0 ** (0.05 * (n - 1)), bias, 5.0, 0.04)
        for uniform, word in (
            (flat - 1e-9, "flat"),
            (flat + 1e-9, "unison"),
            (flat + unison - 1e-9, "unison"),
            (flat + unison + 1e-9, "sharp"),
        ):
            assert listener.judge(-6.0, One(uniform), n=n, first=first) == word  # type: ignore[arg-type]
    # At first, and harmonic first, where nothing else is said.
    flat, *_ = response_probabilities(-6.0, 8.0, 3.0, 5.0, 0.04)
    assert listener.judge(-6.0, One(flat - 1e-9)) == "flat"  # type: ignore[arg-type]
    assert listener.judge(-6.0, One(flat + 1e-9)) == "unison"  # type: ignore[arg-type]


def test_a_population_is_many_observers() -> None:
    people = Population(
        np.array([4.0, 9.0]),
        np.array([3.0, 5.0]),
        np.array([1.0, -2.0]),
        np.array([0.02, 0.0]),
        order_error_cents=1.5,
        drift_octaves=0.1,
    )
    assert people.size == 2
    offsets = np.array([3.0, -7.0])
    for n, first, order in ((1, "harmonic", 1.5), (11, "fretted", -1.5)):
        found = people.chances(offsets, n, first)  # type: ignore[arg-type]
        for who in range(2):
            sigma = people.sigma_cents[who] * 2.0 ** (0.1 * (n - 1))
            bias = people.bias_cents[who] + order
            expected = response_probabilities(
                offsets[who], sigma, bias, people.window_cents[who], people.lapse_rate[who]
            )
            assert found[who] == pytest.approx(expected)
    heavy = replace(people, noise="t4").chances(offsets, 1, "harmonic")
    # Student's t of scipy with four degrees of freedom, scaled to the same quartiles.
    scale = norm.ppf(0.75) / stats.t.ppf(0.75, 4)
    for who in range(2):
        sigma, window, bias = people.sigma_cents[who], people.window_cents[who], people.bias_cents[who] + 1.5
        flat = stats.t.cdf((-offsets[who] - bias - window) / (sigma * scale), 4)
        sharp = stats.t.cdf((offsets[who] + bias - window) / (sigma * scale), 4)
        attentive = np.array([flat, 1.0 - flat - sharp, sharp])
        expected = (1.0 - people.lapse_rate[who]) * attentive + people.lapse_rate[who] / 3.0
        assert heavy[who] == pytest.approx(expected)
    part = replace(people, noise="t4").part(slice(1, 2))
    assert (part.size, part.order_error_cents, part.drift_octaves, part.noise) == (1, 1.5, 0.1, "t4")
    assert (part.sigma_cents[0], part.window_cents[0], part.bias_cents[0], part.lapse_rate[0]) == (9.0, 5.0, -2.0, 0.0)


@pytest.mark.parametrize("rule", ["balanced", "weighted"])
def test_a_block_of_many_is_a_track_of_each(rule: str) -> None:
    people = Population(np.array([3.0, 12.0]), np.array([2.0, 9.0]), np.array([1.0, 0.0]), np.array([0.0, 0.05]), 2.0)
    prior = Prior(4.0, 0.7)
    together = simulate_blocks(
        people,
        9,
        rule,  # type: ignore[arg-type]
        seed=70,
        start_cents=15.0,
        prior=prior,
        both_orders=True,
    )
    assert together.marks == (9,)
    for who in range(2):
        listener = SimulatedListener(
            float(people.sigma_cents[who]),
            float(people.window_cents[who]),
            float(people.bias_cents[who]),
            float(people.lapse_rate[who]),
            order_error_cents=2.0,
        )
        track, draws = begin_track(rule, prior=prior, start_cents=15.0), Draws(70 + who)  # type: ignore[arg-type]
        for n in range(1, 10):
            offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
            # Every second pair has the fretted note first.
            first = "harmonic" if n % 2 else "fretted"
            track = track.answered(offset, listener.judge(offset, draws.stream(Purpose.LISTENER, n), n=n, first=first))  # type: ignore[arg-type]
        assert track.offsets_cents == tuple(together.offsets_cents[:, who])
        found = track.estimate()
        assert found is not None
        assert np.log2(found.sigma_cents) == pytest.approx(together.octaves[0, who, 1], abs=1e-9)
        assert track.interval_octaves == pytest.approx(np.ptp(together.octaves[0, who]), abs=1e-9)
    plain = simulate_blocks(people, 4)
    assert np.array_equal(plain.offsets_cents, simulate_blocks(people, 4, "balanced", seed=0).offsets_cents)
    assert np.max(np.abs(plain.offsets_cents[0])) == 40.0


def test_more_listeners_than_are_advanced_together() -> None:
    sigma = np.full(203, 6.0)
    people = Population(sigma, 0.5 * sigma, 0.0 * sigma, 0.0 * sigma)
    whole = simulate_blocks(people, 2, "weighted", seed=5)
    assert whole.offsets_cents.shape == (2, 203)
    assert whole.octaves.shape == (1, 203, 3)
    rest = simulate_blocks(people.part(slice(200, 203)), 2, "weighted", seed=205)
    assert np.array_equal(whole.answers[:, 200:], rest.answers)
    assert np.array_equal(whole.offsets_cents[:, 200:], rest.offsets_cents)


def test_a_staircase_at_the_foot_of_the_ladder_asks_beside_it() -> None:
    # Whoever is always right walks down to the smallest size; what would repeat is asked one place beside.
    sure = Population(np.array([1e-3]), np.array([1e-4]), np.zeros(1), np.zeros(1))
    sizes = standard_grid().sizes_cents.tolist()
    asked = simulate_blocks(sure, 40, "weighted", seed=2).offsets_cents[:, 0]
    places = [sizes.index(abs(offset)) for offset in asked if offset]
    assert min(places) == 1
    assert set(places[-8:]) <= {1, 2}
    assert not np.any(asked[1:] == asked[:-1])


@pytest.mark.parametrize("offset", [-9.0, 0.0, 4.0])
def test_information_is_the_curvature_of_the_chances(offset: float) -> None:
    sigma, bias, window, lapse = 5.0, 2.0, 3.0, 0.1

    def chances(theta: np.ndarray) -> np.ndarray:
        return response_probabilities(offset, np.exp(theta[0]), theta[1] * sigma, theta[2] * sigma, theta[3])

    at, step = np.array([math.log(sigma), bias / sigma, window / sigma, lapse]), 1e-5
    slopes = np.array([(chances(at + step * one) - chances(at - step * one)) / (2.0 * step) for one in np.eye(4)])
    found = fisher_information(np.array(offset), sigma, bias, window, np.array(lapse))
    expected = (slopes / chances(at)) @ slopes.T
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("side", [-1, 1, 0])
def test_a_biased_listener_is_asked_otherwise_on_either_side(side: int) -> None:
    leaning = SMALL.prior() * np.array([1e-3, 1e-2, 1.0])[:, None]
    leaning /= leaning.sum()
    told = {
        place: told_by_hand(leaning, side, float(SMALL.sizes_cents[place]))[2]
        for place in range(1, len(SMALL.sizes_cents))
    }
    found = entropy_places(SMALL, leaning[None], np.array([side]), last=np.array([0]))
    assert found.tolist() == [max(told, key=told.__getitem__)]
    gain, likely = predictions(SMALL, leaning[None], np.array([side]))
    for place, offset in enumerate(SMALL.sizes_cents):
        loss, right, _ = told_by_hand(leaning, side, float(offset))
        assert (gain[0, place], likely[0, place]) == pytest.approx((loss, right), abs=1e-9)
