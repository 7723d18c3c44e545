"""Types and batches: compared where they can be, named where they differ, silent where they do not."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.simulate.seeds import TUNING_WORLDS
from wearplan.wear import learn, look_ahead
from wearplan.wear.evidence.groups import folded, groups_of, labelled
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.findings.batches import mixture
from wearplan.wear.findings.compare import evidence, makes_of
from wearplan.wear.regression.posterior import Prior, fit


@cache
def learnt(name: str, k: int):
    world = TUNING_WORLDS[name][k].world()
    return world, learn(world.site)


def test_a_grouped_factor_is_that_of_a_mixed_model():
    # reference: statsmodels GLS with the covariance of a mixed model (a random intercept by tool, variances known): the
    # estimate of the grouped factor and its standard error
    sm = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(2)
    tools, reads, tau, sd = 12, 4, 0.3, 0.1
    group = np.repeat(np.arange(tools) % 2, reads).astype(float)
    values = 1.0 + 0.4 * group + np.repeat(rng.normal(0, tau, tools), reads) + rng.normal(0, sd, tools * reads)
    block = tau**2 * np.ones((reads, reads)) + sd**2 * np.eye(reads)
    reference = sm.GLS(values, np.c_[np.ones(len(values)), group], sigma=np.kron(np.eye(tools), block)).fit(
        cov_type="fixed scale"
    )
    readings = make_readings(
        life=np.repeat(np.arange(tools), reads), path_km=np.c_[np.ones(len(values)), group], wear_mm=values, sd_mm=sd,
        log_rate=False, proportional=False,
    )  # fmt: skip
    found = fit(readings, Prior.flat(2, sd=1e4, tau=tau, theta=0.0, shared=0.0, scale=1.0))
    assert found.mode[:2] == pytest.approx(reference.params, abs=1e-5)
    assert np.sqrt(np.diag(found.covariance)[:2]) == pytest.approx(reference.bse, rel=1e-4)


def test_evidence_is_the_ratio_of_two_densities():
    # Dickey 1971: prior density at 0 over posterior density at 0
    from scipy.stats import norm

    ratio = norm.pdf(0.0, 0.0, 0.25) / norm.pdf(0.0, 0.2, 0.06)
    assert evidence(0.2, 0.06, 0.25) == pytest.approx(np.log(ratio))


def test_a_mixture_is_found_and_one_sort_is_not():
    rng = np.random.default_rng(5)
    variance = np.full(40, 0.01)
    plain = rng.normal(1.0, 0.15, 40)
    first = np.array([0, 10, 20])
    assert mixture(plain, variance, first)[1] < 3.0
    bad = (np.arange(40) >= 10) & (np.arange(40) % 3 == 0)
    at, gain, share, times, chance = mixture(np.where(bad, 2.0 * plain, plain), variance, first)
    assert first[at] == 10
    assert gain > 10.0
    assert 0.2 <= share <= 0.5
    assert 1.6 < times < 2.4
    assert chance[bad].min() > 0.8
    assert chance[~bad].max() < 0.5


def test_a_better_grade_is_compared():
    _, found = learnt("grade", 2)
    (one,) = [each for each in found.types if each.tool_type in ("disc-a", "disc-b")]
    low, high = (0.7, 0.95) if one.tool_type == "disc-b" else (1.05, 1.4)
    assert low < one.wear_times.p50 < high
    assert one.named
    assert one.cost_times is not None
    # by hand: price less core, disc-b dearer by a fifth, limits alike
    core = 0.75 * (3000.0 - 1100.0), 0.75 * (3600.0 - 1100.0)
    ratio = (3600.0 - core[1]) / (3000.0 - core[0])
    ratio = ratio if one.tool_type == "disc-b" else 1.0 / ratio
    assert one.cost_times.p50 == pytest.approx(ratio * one.wear_times.p50, rel=1e-6)
    assert len(one.trial) >= 4
    assert any("disc-" in remark and " wears x" in remark for remark in found.remarks)


def test_a_type_in_one_zone_alone_is_not_told_from_it():
    _, found = learnt("grade", 2)
    (twin,) = [each for each in found.types if each.tool_type == "disc-t"]
    assert twin.wear_times is None
    assert twin.only_in == "centre"


def test_a_batch_without_a_label_is_named_with_its_tools():
    world, found = learnt("batch", 2)
    (batch,) = found.batches
    assert batch.label is None
    assert batch.wear_times.p05 < 2.0 < batch.wear_times.p95 * 1.1
    assert any(remark.startswith("a batch of discs differs") for remark in found.remarks)
    process = world.truth.process
    chance = {place: chance for place, _, chance in batch.in_place}
    state = world.truth.run.state
    truly = {
        int(number): process.bad(i, int(state.fitted_ring[i])) for i, number in enumerate(process.numbers)
        if process.kinds[i] == "disc" and state.fitted_ring[i] > 0
    }  # fmt: skip
    sure = [place for place, each in chance.items() if each > 0.9]
    assert sure
    assert np.mean([truly.get(place, False) for place in sure]) > 0.8
    # what will be fitted may be of it too
    plain = replace(found, by_kind={k: replace(one, suspicion=None) for k, one in found.by_kind.items()})
    discs = [i for i, kind in enumerate(look_ahead(world.site, found, draws=50).layout.kinds) if kind == "disc"]
    with_it, without = (
        look_ahead(world.site, each, draws=200).potential_mm[:, discs, -1].mean() for each in (found, plain)
    )
    assert with_it > 1.1 * without


def test_no_alarm_where_all_tools_are_alike():
    _, found = learnt("as modelled", 2)
    assert not found.batches
    assert not any(one.named for one in found.types)


def test_labels_that_differ_by_case_or_space_are_one():
    world, found = learnt("batch", 2)

    lives = [life for life in found.lives if life.from_m > 0 and life.stints[0].from_m == life.from_m][:4]
    at = {
        (life.from_m, life.stints[0].position): label
        for life, label in zip(lives, ("K 7", "k7", "K 7", "other"), strict=True)
    }
    stops = tuple(
        replace(stop, fittings=tuple(replace(f, new_batch=at.get((stop.driven_m, f.position))) for f in stop.fittings))
        for stop in world.site.inspections
    )
    types = world.site.wheel.tool_types
    wheel = replace(world.site.wheel, tool_types=(replace(types[0], make="Works A"), *types[1:]))
    site = replace(world.site, inspections=stops, wheel=wheel)
    assert [labelled(site, lives).get(life.id) for life in lives] == ["K 7", "K 7", "K 7", "other"]
    assert folded(site) == ['batch "K 7" is also written "k7"; they are taken as one']
    assert makes_of(site, types[0].code, types[1].code) is None
    both = replace(site, wheel=replace(wheel, tool_types=(*wheel.tool_types[:1], replace(types[1], make="WORKS a"))))
    assert makes_of(both, types[0].code, types[1].code) in (("Works A",) * 2, ("WORKS a",) * 2)


def test_a_type_with_one_tool_and_a_batch_fitted_everywhere_are_borne():
    world, found = learnt("grade", 2)
    kind = found.by_kind["disc"]
    lives = [life for life in found.lives if life.kind == "disc"]
    one = [life for life in lives if life.tool_type == "disc-b"][:1]
    groups = groups_of(world.site, "disc", [*[x for x in lives if x.tool_type != "disc-b"], *one], {})
    assert set(groups.types) <= {"disc-b"}
    everywhere = groups_of(world.site, "disc", lives, {life.id: "k7" for life in lives})
    assert everywhere.batches == ("k7",)
    assert everywhere.row("disc-a", lives[0].id)[-1] == 1.0
    assert kind.groups.reference in ("disc-a", "disc-b")
