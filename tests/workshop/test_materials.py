"""Materials follow from volumes, skin and tables; the order list holds no formula."""

import csv
import io
from dataclasses import replace

import numpy as np
import openpyxl
import pytest

from bonewright.body.lost_parts import LostPartsResult
from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK
from bonewright.workshop.amounts import Amount
from bonewright.workshop.armature import armature_of
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import (
    filling_of,
    fitting_fill,
    inner_layer_mm3,
    outer_layer_mm3,
)
from bonewright.workshop.materials import materials_of
from bonewright.workshop.order_list import OrderLine, order_csv, order_lines, order_xlsx
from bonewright.workshop.standing import standing_of

RULES = BuildRules(
    stock=STOCK,
    materials=BUILD_MATERIALS,
    tracts={tract.segment: tract for tract in FEATHER_TRACTS},
    limits={limit.limit: limit for limit in BUILD_LIMITS},
)


def test_a_layer_in_and_around_a_long_rod_is_exact() -> None:
    radius, length, thick = 30.0, 1000.0, 5.0
    volume, skin = np.pi * radius**2 * length, 2 * np.pi * radius * length
    inside = np.pi * (radius**2 - 25.0**2) * length
    outside = np.pi * (35.0**2 - radius**2) * length
    assert inner_layer_mm3(volume, skin, thick) == pytest.approx(inside)
    assert outer_layer_mm3(volume, skin, thick) == pytest.approx(outside)
    assert inner_layer_mm3(volume, skin, 40.0) == pytest.approx(volume)


def test_a_thin_layer_in_a_ball_is_right_within_a_tenth() -> None:
    radius, thick = 60.0, 6.0
    volume, skin = 4 / 3 * np.pi * radius**3, 4 * np.pi * radius**2
    exact = 4 / 3 * np.pi * (radius**3 - 54.0**3)
    assert inner_layer_mm3(volume, skin, thick) == pytest.approx(exact, rel=0.1)


def test_solid_clay_weighs_volume_times_density_with_its_range(naked: FigureToBuild) -> None:
    filling = filling_of(naked, "clay", RULES)
    clay = BUILD_MATERIALS[0]
    litres = naked.volume_mm3 * 1e-6
    assert filling.mass_kg.value == pytest.approx(litres * clay.density_kg_m3 / 1000)
    assert filling.mass_kg.low == pytest.approx(litres * clay.low_kg_m3 / 1000)
    assert filling.centre_mm == pytest.approx(naked.centre_mm, abs=0.5)


def test_core_and_skin_fill_the_figure_and_weigh_less_than_solid_clay(
    naked: FigureToBuild,
) -> None:
    filling = filling_of(naked, "clay on foam", RULES)
    volume = sum(sum(segment.volume_mm3.values()) for segment in filling.segments)
    assert volume == pytest.approx(naked.volume_mm3, rel=1e-4)
    solid, shell = (filling_of(naked, fill, RULES).mass_kg.value for fill in ("clay", "cast shell"))
    assert shell < filling.mass_kg.value < solid


def test_a_small_figure_is_made_solid_and_a_large_one_on_foam(
    naked: FigureToBuild, skeleton: FigureToBuild
) -> None:
    assert fitting_fill(naked.at_scale(4)) == "clay"
    assert fitting_fill(naked) == "clay on foam"
    assert fitting_fill(skeleton) == "cast shell"


def test_feathers_are_counted_on_the_skin_beneath_them(
    naked: FigureToBuild, feathered: FigureToBuild
) -> None:
    filling = filling_of(naked, "clay on foam", RULES)
    materials = materials_of(feathered, naked, filling, rules=RULES, lost=None)
    trunk = next(feathers for feathers in materials.feathers if feathers.segment == "trunk")
    skin_cm2 = naked.segment("trunk").skin_mm2 / 100
    assert trunk.count.value == pytest.approx(2.0 * skin_cm2)
    assert trunk.count.low == pytest.approx(1.0 * skin_cm2)
    assert trunk.to_order == int(np.ceil(trunk.count.value * 1.15))
    depth = feathered.segment("trunk").plumage_mm
    assert trunk.length_mm.value == pytest.approx(2.2 * depth)
    bare = {"foot", "beak", "middle toe"}
    assert not bare & {feathers.segment for feathers in materials.feathers}


def test_at_a_small_scale_fewer_feathers_of_the_shortest_length_cover_as_much(
    naked: FigureToBuild, feathered: FigureToBuild
) -> None:
    small = (feathered.at_scale(8), naked.at_scale(8))
    filling = filling_of(small[1], "clay", RULES)
    materials = materials_of(*small, filling, rules=RULES, lost=None)
    trunk = next(feathers for feathers in materials.feathers if feathers.segment == "trunk")
    true_length = 2.2 * small[0].segment("trunk").plumage_mm
    assert trunk.length_mm.value == 12.0 > true_length
    assert trunk.count.value * 12.0**2 == pytest.approx(trunk.living_count.value * true_length**2)


def test_eyes_and_claws_have_the_size_of_the_lost_parts_or_say_what_is_missing(
    naked: FigureToBuild,
) -> None:
    filling = filling_of(naked.at_scale(2), "clay", RULES)
    figure = naked.at_scale(2)
    eye = np.full(100, 24.0)
    lost = LostPartsResult(sizes={("eye diameter", "skull", "GL"): eye}, doubts=(), findings=())
    known = materials_of(figure, figure, filling, rules=RULES, lost=lost)
    unknown = materials_of(figure, figure, filling, rules=RULES, lost=None)
    assert known.parts[0].size_mm is not None
    assert known.parts[0].size_mm.value == pytest.approx(12.0)
    assert unknown.parts[0].size_mm is None
    assert "lost_parts.csv" in unknown.parts[0].missing


def test_the_order_list_holds_no_formula_whatever_a_material_is_called() -> None:
    amount = Amount(value=1.0, low=0.5, high=2.0, unit="kg", how="-1 x 2", source="@here")
    line = OrderLine(
        item='=HYPERLINK("x")',
        purpose="+cmd",
        needed=amount,
        waste_percent=10,
        order=1.1,
        pack=5.0,
        packs=1,
    )
    (_, row) = csv.reader(io.StringIO(order_csv([line]).decode("utf-8-sig")))
    assert [row[0][:2], row[1][:2], row[10][:2], row[11][:2]] == ["'=", "'+", "'-", "'@"]
    sheet = openpyxl.load_workbook(io.BytesIO(order_xlsx([line]))).active
    cells = next(iter(sheet.iter_rows(min_row=2)))
    assert cells[0].value == '=HYPERLINK("x")'
    assert cells[0].data_type == "s"
    assert cells[2].value == 1.0


def test_the_same_order_gives_the_same_workbook() -> None:
    amount = Amount(value=1.0, low=0.5, high=2.0, unit="kg", how="weighed")
    line = OrderLine(
        item="clay", purpose="x", needed=amount, waste_percent=0, order=1, pack=None, packs=1
    )
    assert order_xlsx([line]) == order_xlsx([replace(line)])


def test_what_is_needed_twice_is_ordered_once(naked: FigureToBuild) -> None:
    rules, figure = RULES, naked.at_scale(4)
    filling = filling_of(figure, "cast shell", rules)
    armature = armature_of(figure, filling, rules)
    materials = materials_of(figure, figure, filling, rules=rules, lost=None)
    lines = order_lines(
        materials=materials,
        armature=armature,
        cuts={},
        base=standing_of(figure, armature, rules).base,
        rules=rules,
        cast=True,
    )
    (resin,) = (line for line in lines if line.item == "casting resin, unfilled")
    assert resin.purpose == "the figure, beak with its sheath, claws"
    parts = sum(part.resin_kg.value for part in materials.parts if part.resin_kg)
    assert resin.needed.value == pytest.approx(filling.mass_kg.value + parts)
    assert resin.order == pytest.approx(1.15 * resin.needed.value)
    assert {line.purpose for line in lines} >= {"moulds, one a segment", "jackets of the moulds"}
