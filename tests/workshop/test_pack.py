import csv
import io
import json
import re
import zipfile
from pathlib import Path

import pypdfium2
import pytest
import trimesh

from bonewright.errors import BonewrightError, OutsideRange
from bonewright.pipeline import Run, run_study
from bonewright.study.load import load_study
from bonewright.workshop.amounts import Amount
from bonewright.workshop.pack import MARK, pack_content, pack_files, write_pack
from bonewright.workshop.pack_chapters import PackContent
from bonewright.workshop.pack_choices import PackChoices, bed_from, paper_from, scale_from
from bonewright.workshop.pack_drawings import pack_drawings
from bonewright.workshop.telling import told
from bonewright.workshop.whole_folder import write_folder

DEMO = Path(__file__).parents[2] / "demo"
QUARTER = PackChoices(bed=bed_from("120x120x120"))


@pytest.fixture(scope="module")
def run() -> Run:
    return run_study(load_study(DEMO))


@pytest.fixture(scope="module")
def content(run: Run) -> PackContent:
    return pack_content(run, QUARTER)


@pytest.fixture(scope="module")
def files(content: PackContent) -> dict[str, bytes]:
    return pack_files(content)


@pytest.fixture(scope="module")
def booklet(files: dict[str, bytes]) -> str:
    document = pypdfium2.PdfDocument(files["booklet.pdf"])
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    return re.sub(r"\s+", " ", text)


def test_the_folder_holds_booklet_drawings_hoops_prints_lists_and_a_figure_to_turn(
    files: dict[str, bytes],
) -> None:
    wanted = {"booklet.pdf", "drawings/drawings.pdf", "hoops/hoops.pdf", "hoops/hoops.dxf", MARK}
    wanted |= {
        f"drawings/{view}.{kind}" for view in ("side", "front", "top") for kind in ("svg", "dxf")
    }
    wanted |= {f"prints/{name}/{name}.3mf" for name in ("body", "head", "feet", "skeleton")}
    wanted |= {f"tables/{name}.csv" for name in ("order-list", "check-card", "hoops", "prints")}
    wanted |= {"tables/order-list.xlsx", "screen/figure.glb"}
    assert wanted <= set(files)
    assert set(json.loads(files[MARK])["files"]) == set(files) - {MARK}
    zipfile.ZipFile(io.BytesIO(files["tables/order-list.xlsx"])).testzip()


def test_the_booklet_goes_in_the_order_of_the_work_with_each_caution_where_it_arises(
    booklet: str,
) -> None:
    body = booklet[booklet.index("This booklet leads") :]
    steps = (
        "Order what you need",
        "Print the drawings",
        "Cut and bend the armature",
        "Wire ends and hot metal",
        "Bends, in the order",
        "Cut the hoops",
        "Printing and sanding",
        "Dust of foam, plaster and bone",
        "Resin and silicone",
        "arsenic",
        "Protected birds",
        "Paints and solvents",
        "Tipping",
        "How it stands",
        "Check the finished figure",
        "Lifting",
    )
    places = [body.index(step) for step in steps]
    assert places == sorted(places)
    assert "licensed structural engineer" in body


def test_every_page_of_the_demo_says_that_the_animal_is_invented(files: dict[str, bytes]) -> None:
    for name in ("booklet.pdf", "drawings/drawings.pdf", "hoops/hoops.pdf"):
        for page in pypdfium2.PdfDocument(files[name]):
            assert "INVENTED ANIMAL" in page.get_textpage().get_text_range(), name


def test_the_booklet_gives_the_numbers_of_the_plan(content: PackContent, booklet: str) -> None:
    plan = content.plan
    assert told(plan.armature.mass_kg) in booklet
    assert told(plan.standing.least_tilt) in booklet
    for line in plan.order:
        assert told(line.needed) in booklet, line.item
    for card in content.drawings.cards:
        assert card.name in booklet
    length, width, height = (f"{size:.0f} mm" for size in plan.figure.size_mm)
    assert all(size in booklet for size in (length, width, height))


def test_the_same_choices_give_the_same_bytes(
    content: PackContent, files: dict[str, bytes]
) -> None:
    again = pack_files(content)
    differing = {name for name in files if again[name] != files[name]}
    assert differing <= {"tables/order-list.xlsx"}


def test_the_lists_hold_what_was_drawn_and_cut(
    content: PackContent, files: dict[str, bytes]
) -> None:
    hoops = list(csv.DictReader(io.StringIO(files["tables/hoops.csv"].decode())))
    assert [row["hoop"] for row in hoops] == [card.name for card in content.drawings.cards]
    prints = list(csv.DictReader(io.StringIO(files["tables/prints.csv"].decode())))
    body = [row for row in prints if row["set"] == "body"]
    assert len(body) > 1
    total = sum(float(row["volume_cm3"]) for row in body)
    assert total == pytest.approx(content.plan.body.volume_mm3 / 1000, rel=1e-3)
    for row in body:
        assert f"prints/body/{row['piece']}.stl" in files


def test_the_figure_to_turn_holds_feathers_body_and_bones_at_scale(
    content: PackContent, files: dict[str, bytes]
) -> None:
    scene = trimesh.load(io.BytesIO(files["screen/figure.glb"]), file_type="glb")
    assert {"feathers", "body"} <= set(scene.geometry)
    assert len(scene.geometry) == 2 + len(content.plan.figure.bones)
    length, width, height = content.plan.figure.size_mm / 1000
    assert scene.geometry["feathers"].extents == pytest.approx((width, height, length), rel=1e-4)


def test_a_pack_is_replaced_whole_and_says_how_far_it_is(run: Run, tmp_path: Path) -> None:
    told_of: list[float] = []

    def tell(words: str, share: float) -> None:
        assert words
        told_of.append(share)

    out = tmp_path / "pack"
    out.mkdir()
    (out / MARK).write_text("{}")
    (out / "old.stl").write_text("old")
    booklet = write_pack(run, QUARTER, out, progress=tell)
    assert booklet == out / "booklet.pdf"
    assert booklet.is_file()
    assert not (out / "old.stl").exists()
    assert told_of[0] == 0
    assert told_of == sorted(told_of)
    assert told_of[-1] == 1
    assert [path.name for path in tmp_path.iterdir()] == ["pack"]


def test_life_size_takes_more_paper_or_one_sheet_a_view_from_a_roll(content: PackContent) -> None:
    figure, body = content.plan.figure.at_scale(1), content.plan.body.at_scale(1)
    on_roll, on_a4 = (
        pack_drawings(figure, body, paper=paper_from(words), covering_mm=0.0, bars=())
        for words in ("roll 914", "A4")
    )
    assert on_roll.n_sheets == len(on_roll.views)
    assert on_a4.n_sheets > 15
    assert on_a4.n_card_sheets > on_roll.n_card_sheets


@pytest.mark.parametrize("layer", ["naked", "skeleton"])
def test_other_layers_make_a_whole_pack_too(run: Run, layer: str) -> None:
    files = pack_files(pack_content(run, PackChoices(layer=layer)))
    assert "booklet.pdf" in files
    assert ("hoops/hoops.pdf" in files) == (layer == "naked")
    assert ("prints/body/body.3mf" in files) == (layer == "naked")


def test_a_folder_with_other_files_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(BonewrightError, match="other files"):
        write_folder(tmp_path, {"a/b": b"x"}, mark=MARK)
    assert (tmp_path / "letter.txt").read_text() == "mine"
    with pytest.raises(BonewrightError, match="not a folder"):
        write_folder(tmp_path / "letter.txt", {"a": b"x"}, mark=MARK)


def test_a_folder_that_cannot_be_written_leaves_the_old_pack(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    write_folder(out, {MARK: b"{}", "old": b"old"}, mark=MARK)
    with pytest.raises(BonewrightError, match="could not be written"):
        write_folder(out, {MARK: b"{}", "new": b"new", "new/below": b"x"}, mark=MARK)
    assert (out / "old").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["pack"]


@pytest.mark.parametrize(
    "bad",
    [
        {"state": "plump"},
        {"layer": "fur"},
        {"fill": "straw"},
        {"wall_mm": 0.0},
        {"infill_percent": 120.0},
        {"covering_mm": -1.0},
        {"wall_mm": float("nan")},
    ],
)
def test_a_choice_that_cannot_be_built_is_refused_at_once(bad: dict[str, object]) -> None:
    with pytest.raises(OutsideRange):
        PackChoices(**bad)  # type: ignore[arg-type]


@pytest.mark.parametrize("words", ["", "x", "0", "-4", "1:0", "nan", "inf"])
def test_words_that_are_no_scale_are_refused(words: str) -> None:
    with pytest.raises(OutsideRange):
        scale_from(words)


def test_scales_papers_and_beds_are_read_as_people_write_them() -> None:
    assert scale_from("1:4") == scale_from("4") == 4
    assert scale_from("2:1") == 0.5
    assert scale_from("2,5") == 2.5
    assert paper_from("a3").name == "A3"
    assert paper_from("Roll 914").width_mm == 914
    assert bed_from("220 x 200 × 250 mm").sizes == (220, 200, 250)
    for words in ("B5", "roll 20", "roll"):
        with pytest.raises(OutsideRange):
            paper_from(words)
    for words in ("220", "220x220", "axbxc", "nanx220x220"):
        with pytest.raises(OutsideRange):
            bed_from(words)


def test_amounts_are_told_in_handy_units_without_powers_of_ten() -> None:
    def amount(value: float, low: float, high: float, unit: str) -> Amount:
        return Amount(value=value, low=low, high=high, unit=unit, how="")

    assert told(amount(0.392, 0.345, 0.434, "kg")) == "392 g (345 to 434)"
    assert told(amount(0.00086, 0.0008, 0.0009, "L")) == "0.860 ml (0.800 to 0.900)"
    assert told(amount(6192, 3096, 12383, "feathers")) == "6192 (3096 to 12383)"
    assert told(amount(596, 596, 596, "mm")) == "596 mm"
