"""A whole plan switched on: what each broken rule shows, on one small line looked at by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labkit.doors.installed import plans_for
from labkit.doors.plans import (
    LEFT_END,
    RIGHT_END,
    Outcome,
    Site,
    SiteDevice,
    SitePiece,
    SwitchedOn,
    WholePlan,
)
from labkit.fieldbus.errors import PlanError

PLANS = plans_for("devicenet")
SITE = Site(
    (SitePiece(40, ("thick", "thin")), SitePiece(45, ("thin", "thick"))),
    (
        SiteDevice("scanner", 2, 0.5, 0.2),
        SiteDevice("sensors", 15, 2, 0.3, 1),
        SiteDevice("valves", 30, 3, 0.8, 1, 2, 0, 1),
        SiteDevice("drive", 48, 4, 0.3, 2, 1, 2, 2),
        SiteDevice("labeller", 62, 2, 0.5, 1, 1, 3, 4),
        SiteDevice("gate", 80, 5, 0.6, 1, reads_at=5),
    ),
    "scanner",
    (125, 250, 500),
    (1, 2, 3, 4, 6, 8, 10),
    (2, 4, 8),
    (63,),
)
GOOD = PLANS.good_plan(SITE)


def with_device(name: str, plan: WholePlan = GOOD, **changes: object) -> WholePlan:
    changed = replace(plan.devices[name], **changes)  # type: ignore[arg-type]
    return replace(plan, devices={**plan.devices, name: changed})


def on(plan: WholePlan) -> SwitchedOn:
    return PLANS.switched_on(SITE, plan)


def only(plan: WholePlan) -> Outcome:
    """What became of the one broken rule."""
    [outcome] = on(plan).outcomes
    return outcome


def test_a_plan_that_keeps_every_rule_runs() -> None:
    seen = on(GOOD)
    assert seen.outcomes == ()
    assert {each.light for each in seen.devices} == {"green"}
    assert [each.report for each in seen.devices] == ["", *["OK"] * 5]
    assert seen.moves == tuple((name, (name,)) for name in ("valves", "drive", "labeller"))
    asked = ("sensors", "valves", "drive", "labeller", "gate")
    assert seen.reads == tuple((name, (name,)) for name in asked)
    assert seen.supply_current == pytest.approx(2.7, abs=0.02)


def test_another_data_rate_is_a_red_light() -> None:
    outcome = only(with_device("drive", rate=250))
    assert outcome.broken.sentence == (
        "drive is set to 250 kbit/s, the scanner to 500 kbit/s. Set both alike: a bus has one "
        "data rate."
    )
    assert outcome.symptom == (
        "Network indicator red (cannot communicate: duplicate address or bus-off): drive."
    )


def test_a_doubled_address_refuses() -> None:
    outcome = only(with_device("drive", address=GOOD.devices["gate"].address))
    assert "address 5 is taken: it stays off the network" in outcome.symptom
    assert "gate: sizes differ" in outcome.symptom


def test_an_address_that_stays_free_is_margin() -> None:
    outcome = only(with_device("drive", address=63))
    assert outcome.symptom == ""
    assert "next new device" in outcome.margin


def test_a_drop_that_does_not_reach_leaves_its_device_dark() -> None:
    plan = with_device("drive", drop=3)
    assert only(plan).symptom == "Too little voltage, 11 V at least: drive (0.0 V)."
    drive = next(each for each in on(plan).devices if each.name == "drive")
    assert (drive.volts, drive.powered, drive.light) == (0.0, False, "off")


def test_a_long_drop_is_margin_on_this_line() -> None:
    outcome = only(with_device("drive", drop=8))
    assert "drive (8 m)" in outcome.broken.sentence
    assert outcome.margin.startswith("The signal runs into a drop")


def test_who_is_not_in_the_scan_list_is_not_asked() -> None:
    plan = with_device("sensors", listed=False)
    assert "flashing green (on line, no connection established): sensors" in only(plan).symptom
    sensors = next(each for each in on(plan).devices if each.name == "sensors")
    assert sensors.report == "not in the scan list: nobody asks for it"


def test_other_sizes_are_told_by_the_scanner() -> None:
    outcome = only(with_device("drive", input_bytes=1))
    assert "it sends 2 input bytes, the scan list says 1" in outcome.symptom


def test_crossed_outputs_move_the_wrong_thing() -> None:
    seen = on(with_device("labeller", with_device("drive", outputs_at=3), outputs_at=2))
    assert dict(seen.moves) == {
        "valves": ("valves",),
        "drive": ("labeller",),
        "labeller": ("drive",),
    }
    assert {each.light for each in seen.devices} == {"green"}
    assert len(seen.outcomes) == 2
    for outcome in seen.outcomes:
        assert "When the program switches on drive, what moves: labeller." in outcome.symptom


def test_bytes_that_overlap_move_a_part() -> None:
    moves = dict(on(with_device("valves", outputs_at=1)).moves)
    assert moves["valves"] == ("valves in part",)
    assert moves["drive"] == ("valves in part", "drive")


def test_crossed_inputs_show_the_program_the_wrong_one() -> None:
    seen = on(with_device("gate", with_device("sensors", inputs_at=5), inputs_at=0))
    reads = dict(seen.reads)
    assert (reads["sensors"], reads["gate"]) == (("gate",), ("sensors",))
    assert seen.moves == on(GOOD).moves
    sensors, gate = seen.outcomes
    assert sensors.symptom == "When the inputs of sensors come on, the program sees: gate."
    assert "When the inputs of gate come on, the program sees: sensors." in gate.symptom


def test_inputs_over_those_of_another_hide_them_or_are_hidden() -> None:
    seen = on(with_device("sensors", inputs_at=3))
    [outcome] = seen.outcomes
    assert outcome.broken.sentence == (
        "The program reads the inputs of sensors from byte 0 on, and the scan list puts them from "
        "byte 3 on, over those of drive. Make both alike."
    )
    # The drive has the higher node address: its bytes come later, and stay.
    assert dict(seen.reads)["sensors"] == ()
    assert dict(seen.reads)["drive"] == ("drive",)
    hides = on(with_device("gate", inputs_at=2))
    assert dict(hides.reads)["gate"] == ("drive in part",)
    assert dict(hides.reads)["drive"] == ("drive in part",)


def test_a_weak_supply_sags_until_nobody_has_power() -> None:
    seen = on(replace(GOOD, rating=2))
    [outcome] = seen.outcomes
    assert outcome.symptom.startswith("Too little voltage, 11 V at least: scanner (")
    assert not any(each.powered for each in seen.devices)
    assert seen.supply_current == pytest.approx(2.0, abs=0.01)


def test_a_supply_too_far_off_lifts_the_minus_of_the_last() -> None:
    seen = on(replace(GOOD, cables=("thin", "thin"), supply_at=85))
    [outcome] = seen.outcomes
    assert "it loses 7.44 V a conductor, 4.65 V at most" in outcome.broken.sentence
    assert outcome.symptom
    volts = [each.volts for each in seen.devices]
    assert volts == sorted(volts)
    assert min(volts) < 15


def test_a_terminator_that_is_missing_or_too_many() -> None:
    missing = only(replace(GOOD, terminators=frozenset({LEFT_END})))
    assert missing.broken.place == RIGHT_END
    assert missing.margin
    extra = only(replace(GOOD, terminators=GOOD.terminators | {"gate"}))
    assert extra.broken.sentence.startswith("A terminator stands on the drop of gate.")
    assert extra.margin


def test_a_rule_hidden_by_another_tells_what_it_shows_alone() -> None:
    plan = with_device("gate", replace(GOOD, rating=2), listed=False)
    supply, listed = on(plan).outcomes
    assert not supply.alone
    assert listed.alone
    assert "flashing green" in listed.symptom


def test_without_terminators_nobody_is_understood() -> None:
    devices = SITE.devices[:2]
    short = replace(SITE, pieces=(SitePiece(20, ("thick",)),), devices=devices)
    plan = replace(
        GOOD,
        cables=("thick",),
        supply_at=10,
        terminators=frozenset(),
        devices={each.name: GOOD.devices[each.name] for each in devices},
    )
    seen = PLANS.switched_on(short, plan)
    assert seen.errors == "many"
    assert [each.broken.place for each in seen.outcomes] == [LEFT_END, RIGHT_END]
    assert all(each.symptom for each in seen.outcomes)


def test_a_trunk_too_long_for_its_rate() -> None:
    long = replace(SITE, pieces=(SitePiece(90, ("thick",)), SitePiece(95, ("thick",))))
    plan = replace(GOOD, cables=("thick", "thick"))
    seen = PLANS.switched_on(long, plan)
    [outcome] = seen.outcomes
    assert outcome.broken.sentence == (
        "The cable system is 185 m long from the left end of the trunk to the right end of the "
        "trunk; at 500 kbit/s at most 100 m. Take a lower data rate, or thick cable instead of "
        "thin."
    )
    # All devices stand within the first 80 m, and the ends are matched: no wave comes back.
    assert outcome.margin.startswith("An acknowledge must be back within the same bit.")


def test_an_acknowledge_that_comes_too_late() -> None:
    devices = (*SITE.devices[:2], replace(SITE.devices[2], at=160))
    long = replace(SITE, pieces=(SitePiece(170, ("thick",)),), devices=devices)
    plan = replace(
        GOOD,
        cables=("thick",),
        supply_at=80,
        devices={each.name: GOOD.devices[each.name] for each in devices},
    )
    [outcome] = PLANS.switched_on(long, plan).outcomes
    assert "valves" in outcome.symptom


def test_all_drops_together_have_a_limit() -> None:
    plan = GOOD
    for name in plan.devices:
        plan = with_device(name, plan, drop=10)
    sentences = [each.sentence for each in PLANS.broken(SITE, plan)]
    assert any(
        "All drops together are 60 m long; at 500 kbit/s at most 39 m" in s for s in sentences
    )
    assert any("Too much current for the length of a drop" in s for s in sentences)


def test_what_cannot_be_built_is_refused() -> None:
    for plan, told in (
        (replace(GOOD, supply_at=99), "is not on the trunk"),
        (replace(GOOD, cables=("thick",)), "Every piece of the trunk needs a cable."),
        (replace(GOOD, terminators=frozenset({"attic"})), "no place called 'attic'"),
        (with_device("drive", address=64), "node address"),
    ):
        with pytest.raises(PlanError, match=told):
            on(plan)


def test_a_site_without_a_good_plan_is_told() -> None:
    with pytest.raises(PlanError, match="No plan for this site"):
        PLANS.good_plan(replace(SITE, drops=(1,)))


def test_a_site_comes_back_from_json() -> None:
    assert Site.from_json(SITE.to_json()) == SITE
