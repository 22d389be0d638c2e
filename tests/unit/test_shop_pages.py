"""Pages for the shop: what each route needs, proof, limits of gauges, cautions on every page."""

from __future__ import annotations

import csv
import io
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from regen.output.shop import release
from regen.output.shop_pages import sexagesimal
from regen.quantities import decimal
from regen.result import Finding
from tests.helpers.shop_sets import files, result, to_shop

OTHER = ("closeout.jacket=2 mm", "closeout.jacket_alloy=316L")
OTHER += ("closeout.jacket_condition=annealed-minimum",)


def proof(name: str, value: float | None, note: str = "") -> Finding:
    return Finding("proof", name, "proof pressure", value, "Pa", "common_practice", None, note)


@pytest.fixture(scope="module")
def broken():
    """A design that breaks a limit, with its proof pressures."""
    of = result(
        proof("pressure_channels", 171.4e5, "the liner governs <x>"),
        proof("pressure_bore", None, "not known"),
        verdict="fail",
        nominal_kept=False,
    )
    return files(to_shop(of=of, case="d-water-calorimeter"))


class Text(HTMLParser):
    """Gathers text and the names of elements and attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text, self.tags, self.links = "", set(), []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.links += [v for k, v in attrs if k in ("src", "href")]

    def handle_data(self, data):
        self.text += data


def pages(made):
    return {name: Text(text) for name, text in made.items() if name.endswith(".html")}


def test_pages_need_nothing_beside_them(broken):
    for page in pages(broken).values():
        assert "script" not in page.tags
        assert not page.links


def test_every_page_says_first_what_comes_first(broken):
    for name, page in pages(broken).items():
        assert "Local rules and licensed practice come first" in page.text, name
        assert "NOT FOR CUTTING" in page.text, name
    for name in ("traveller.html", "inspection.html"):
        assert "Proof with water" in pages(broken)[name].text
    assert "Nickel salts" in pages(broken)["traveller.html"].text


def test_every_drawing_of_a_broken_design_says_so(broken):
    for name, text in broken.items():
        if name.endswith(".dxf"):
            assert "NOT FOR CUTTING" in text, name


@pytest.mark.parametrize(
    ("verdict", "kept", "said"),
    [
        ("pass", True, "Every limit of the calculation is kept."),
        ("open", True, "Open: the nominal channel keeps every limit, but"),
        ("at risk", True, "At risk: the nominal channel keeps every limit, a band edge or"),
        ("open", False, "NOT FOR CUTTING: a limit of the calculation is not shown to be kept."),
        ("at risk", False, "NOT FOR CUTTING: a limit of the calculation is not shown to be kept."),
        ("fail", False, "NOT FOR CUTTING: the nominal channel breaks a limit of the calculation."),
    ],
)
def test_only_a_nominal_channel_that_keeps_its_limits_is_released(verdict, kept, said):
    """A row may be open with its nominal channel unknown, while another is at risk."""
    assert release(result(verdict=verdict, nominal_kept=kept), None).startswith(said)


def test_proof_pressures_are_those_of_the_strength_checks(broken):
    page = pages(broken)["inspection.html"].text
    assert "171 bar gauge" in page
    assert "the liner governs <x>" in page
    assert "not worked out" in page  # the bore's


def test_gauges_are_set_by_the_tolerances_of_the_case(broken):
    row = re.search(r"<td class=\"text\">A: injector end</td>(.*?)</tr>", broken["inspection.html"])
    cells = [float(cell) for cell in re.findall(r"<td>([-\d.]+)</td>", row.group(1))]
    width, go, no_go = cells[4:7]
    # calorimeter: 0.03 mm of width, 0.05 mm of depth and wall without [shop]
    np.testing.assert_allclose((width - go, no_go - width), 0.03, atol=1e-3)
    depth, least, most, wall, thin, thick = cells[7:]
    np.testing.assert_allclose((depth, wall), (0.6, 1.0), atol=5e-4)
    np.testing.assert_allclose((depth - least, most - depth), 0.05, atol=1e-3)
    np.testing.assert_allclose((wall - thin, thick - wall), 0.05, atol=1e-3)


def test_every_slot_of_every_circuit_is_measured(broken):
    head, *rows = csv.reader(io.StringIO(broken["measured_slots.csv"]), skipinitialspace=True)
    assert head == ["slot", "x [mm]", "width [mm]", "depth [mm]", "wall [mm]"]
    slots = [int(row[0]) for row in rows]
    assert all(cell.strip() == "" for row in rows for cell in row[2:])
    places = len(rows) // 48
    assert slots.count(1) == slots.count(48) == places
    assert places >= 2 * 6  # six circuits
    at = sorted({float(row[1]) for row in rows})
    assert at[0] < -180.0
    assert at[-1] > 20.0


def test_stretches_of_all_circuits_are_in_one_table(broken):
    text = broken["cutting_table.csv"]
    found = list(csv.DictReader(io.StringIO(text)))
    assert [row["stretch"] for row in found] == sorted(row["stretch"] for row in found)
    assert {row["circuit"] for row in found} == {
        "injector-end",
        "barrel",
        "barrel-end",
        "convergent",
        "throat",
        "nozzle",
    }
    for row in found:
        assert int(row["slots"]) * float(row["index angle [deg]"]) == 360.0


@pytest.fixture(scope="module", params=["HIP-bonded", "brazed", "printed"])
def route(request, tmp_path_factory):
    from tests.helpers.shop_sets import CASES

    text = (CASES / "c-ethanol-film.toml").read_text()
    lines = [line for line in text.splitlines() if not line.startswith(("copper", "nickel"))]
    case = tmp_path_factory.mktemp("route") / "other.toml"
    case.write_text("\n".join(lines))
    made = files(to_shop(f"closeout.route={request.param}", *OTHER, case=case))
    return request.param, made


def test_other_routes_have_a_traveller_of_their_own(route):
    name, made = route
    page = pages(made)["traveller.html"].text
    assert "Nickel, cycle" not in page
    assert "wax, weigh" not in page
    assert "Nickel salts" not in page
    assert {
        "HIP-bonded": "Can, evacuate",
        "brazed": "Filler on the lands",
        "printed": "Powder out",
    }[name] in page
    assert page.index("Finish the bore") < page.index("Proof, by inspection") < page.rindex("Mark")


def test_nothing_of_a_printed_liner_is_cut(route):
    name, made = route
    cut = {"cutting_table.csv", "cutting_table.html", "slot_profile.dxf"}
    assert (cut <= set(made)) == (name != "printed")
    assert ("LINER_BLANK_OUTSIDE" in made["lathe_profile.dxf"]) == (name != "printed")
    assert "slot_section.dxf" in made


@pytest.mark.parametrize(
    ("angle", "said"),
    [
        (4.5, "4\u00b0 30\u2032 00.00\u2033"),
        (360.0 / 7.0, "51\u00b0 25\u2032 42.86\u2033"),  # 51.428571 deg
        (0.0, "0\u00b0 00\u2032 00.00\u2033"),
        (359.9999999, "360\u00b0 00\u2032 00.00\u2033"),
    ],
)
def test_angles_as_a_dividing_head_has_them(angle, said):
    assert sexagesimal(angle) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(-0.00004, "0.000"), (1.0005, "1.000"), (float("nan"), "-"), (-2.5, "-2.500")],
)
def test_numbers_of_a_table(value, said):
    assert decimal(value, 3) == said
