"""Alloys, heatings and strengths of the user's own in a case: what is taken, what is refused."""

import pickle
import re
from pathlib import Path

import pytest

from regen.case.read import case_from, starter_text
from regen.errors import CaseError, MissingProperty
from regen.metals import selection as metals
from regen.sources import GIVEN, cite, find
from tests.docs.alloys_page import EXAMPLE_NAME, EXAMPLE_ROWS, EXAMPLE_STANZA

SECTION = "[materials]                           # alloys of your own, as docs/alloys.md shows\n"
ALLOY = 'alloy = "Cu-Cr-Zr"'
CONDITION = 'condition = "solution-annealed-aged"'
FILE = "own-alloy.toml"


class Folder:
    """A folder with a case of its own alloy, each part of which a test may change."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.write(FILE, EXAMPLE_STANZA)
        self.write(f"{EXAMPLE_NAME}.csv", EXAMPLE_ROWS)

    def write(self, name: str, text: str) -> None:
        (self.path / name).parent.mkdir(exist_ok=True, parents=True)
        (self.path / name).write_text(text, encoding="utf-8")

    def changed(self, name: str, old: str, new: str) -> None:
        text = (self.path / name).read_text(encoding="utf-8")
        assert old in text, old
        self.write(name, text.replace(old, new, 1))

    def stanza(self, old: str, new: str) -> None:
        self.changed(FILE, old, new)

    def rows(self, old: str, new: str) -> None:
        self.changed(f"{EXAMPLE_NAME}.csv", old, new)

    def case(self, files=f'["{FILE}"]', more="", name=EXAMPLE_NAME, condition="brazed"):
        text = starter_text()
        changes = (
            (SECTION, f"{SECTION}files = {files}\n"),
            (ALLOY, f'alloy = "{name}"'),
            (CONDITION, f'condition = "{condition}"\n{more}'),
        )
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        return case_from(text, self.path / "case.toml")

    def refused(self, **asked) -> str:
        with pytest.raises(CaseError) as found:
            self.case(**asked)
        return str(found.value)


@pytest.fixture
def folder(tmp_path):
    return Folder(tmp_path)


def test_the_example_of_the_page_is_taken(folder):
    case = folder.case(more='process = ["braze at 935 degC for 10 min"]')
    metal = metals.liner(case.design)
    # half way between 95 MPa at 293.15 K and 62 MPa at 773.15 K
    assert metal.value("yield", 533.15).value == pytest.approx(78.5e6)
    assert metal.limit("short").value == 780.0
    assert metal.table("yield").low[0] == pytest.approx(91e6)
    assert metal.lost == ""
    assert sorted(case.files) == sorted([FILE, f"{EXAMPLE_NAME}.csv"])
    with pytest.raises(MissingProperty, match=rf"add measured rows to {EXAMPLE_NAME}\.csv"):
        metal.value("uts", 300.0)


def test_sources_are_free_text_marked_as_the_users(folder):
    metal = metals.liner(folder.case().design)
    key = metal.table("yield").sources[0]
    assert key == GIVEN + "coupons of load 7"
    assert cite(find(key)) == "“coupons of load 7”, given by the user with the alloy."
    assert metal.alloy.density.source == GIVEN + "mill sheet 4711"


def test_the_design_takes_its_alloys_along(folder):
    design = pickle.loads(pickle.dumps(folder.case().design))
    for path in folder.path.iterdir():
        path.unlink()
    metals.own_alloys.cache_clear()
    assert metals.liner(design).value("yield", 293.15).value == pytest.approx(95e6)
    hash(design.materials)


def test_the_hash_changes_with_the_rows_and_not_with_the_folder(folder, tmp_path):
    one = folder.case().hash
    assert Folder(tmp_path / "other").case().hash == one
    folder.rows("brazed,yield,773.15,62,", "brazed,yield,773.15,63,")
    assert folder.case().hash != one


def test_files_in_a_folder_of_their_own(folder):
    folder.write(f"metals/{FILE}", EXAMPLE_STANZA)
    folder.write(f"metals/{EXAMPLE_NAME}.csv", EXAMPLE_ROWS)
    case = folder.case(f'["metals/{FILE}"]')
    assert f"metals/{EXAMPLE_NAME}.csv" in case.files
    assert metals.liner(case.design).value("yield", 293.15).value == pytest.approx(95e6)


def test_tables_beside_it_are_read(folder):
    head = "condition,T_K,"
    folder.write(
        f"{EXAMPLE_NAME}.fatigue.csv",
        f"{head}strain_range_percent,cycles,source,mark\nbrazed,800,1.2,900,coupons,seen\n",
    )
    folder.write(
        f"{EXAMPLE_NAME}.creep.csv",
        f'{head}stress_MPa,time_h,source,mark\nbrazed,800,30,100,"coupons, long",seen\n',
    )
    folder.write(
        f"{EXAMPLE_NAME}.compared.csv",
        "condition,property,T_K,value,unit,source,mark,why\n"
        "any,thermal_conductivity,293,320,W/m/K,old bar,seen,another heat\n",
    )
    folder.stanza("notes", 'creep_constant = {value=18, unit="-", source="s", mark="seen"}\nnotes')
    metal = metals.liner(folder.case().design)
    assert [test.cycles.tolist() for test in metal.fatigue_tests()] == [[900.0]]
    assert metal.creep().time.tolist() == [360000.0]
    assert metal.creep().sources == (GIVEN + "coupons, long",)
    assert metal.creep().constant.value == 18.0
    assert metal.alloy.compared[0].value == 320.0


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ('"own-alloy.toml"', 'materials.files = "own-alloy.toml": not a list'),
        ("[3]", r"materials\.files\[1\] = 3: not the name of a file"),
        ('[""]', "not the name of a file"),
        ('["own-alloy.toml", "own-alloy.toml"]', r"materials\.files\[2\] = .*named twice"),
        ('["other.toml"]', r"there is no file .*other\.toml"),
    ],
)
def test_files_that_are_none(folder, files, said):
    assert re.search(said, folder.refused(files=files))


WRONG_STANZAS = [
    ("form =", "from =", r'line 4: .*\.from: it is not a known key.* did you mean "form"'),
    ("form =", "from =", r"\.form: it is missing"),
    ('"forged ring"', "3", "3 is not a text"),
    ('{ value = 8890, unit = "kg/m3", source = "mill sheet 4711", mark = "second-hand" }', "8890",
     r"own-alloy\.toml, line 5: .*density: 8890: a bare number has no unit, source and mark"),
    ("8890", '"8890"', 'its value "8890" is not a finite number'),
    ("8890", "inf", "its value inf is not a finite number"),
    ("8890", "8.89", r"density: 8\.89 is impossible\. Accepted: 500 to 25000 kg/m3"),
    ("kg/m3", "g/cm3", 'its unit "g/cm3" is wrong. Accepted: "kg/m3"'),
    ('"mill sheet 4711"', '""', "it has no source"),
    ('"second-hand"', '"secondhand"', 'unknown mark "secondhand".*did you mean "second-hand"'),
    ('unit = "K", source', 'unit = "K", note = 1, source', '"note" is not part of a fact'),
    ("T_max.short", "T_max.medium", r"T_max\.medium: no such service"),
    ("780", "1400", r"T_max\.short: 1400 K lies above solidus, 1343 K"),
    ('"common-practice"', '"memory-low"', "no limit and no strength may be marked memory-low"),
    ("after.brazed", "after.braced", r"after\.braced: no such condition.*mean \"brazed\""),
    ("braze at 935", "braise at 935", 'unknown heating "braise"'),
    ('["coupons were brazed with the part"]', '"coupons"', "notes: it is not a list of texts"),
    ('brazed = "brazed, cooled', 'any = "brazed, cooled', '"any" stands in a table for what holds'),
    ('["Cu-Cr-Zr brazed".conditions]\nbrazed = "brazed, cooled with the furnace, not aged again"',
     "", "conditions: it is missing"),
    ('["Cu-Cr-Zr brazed"]', '["Cu-Cr-Zr brazed"', "it is not TOML: .*line 1"),
    ('["Cu-Cr-Zr brazed"]', '["../Cu"]\nname = "a"\n["Cu-Cr-Zr brazed"]',
     "cannot be the name of an alloy"),
    ('["Cu-Cr-Zr brazed"]', 'top = 3\n["Cu-Cr-Zr brazed"]', '"top" is no stanza of an alloy'),
    ("notes", 'already_soft = ["soft"]\nnotes', '"soft" is no condition of it'),
    ("notes", "holds_to = 773\nnotes", "holds_to: it is not a table of facts"),
    ("notes", "holds_to.brazed = 773\nnotes", r"holds_to\.brazed: 773: a bare number has no"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), WRONG_STANZAS)
def test_stanzas_that_are_refused(folder, old, new, said):
    folder.stanza(old, new)
    assert re.search(said, folder.refused(), re.DOTALL)


ROW = "brazed,yield,773.15,62,58,66,MPa,coupons of load 7,seen"
WRONG_ROWS = [
    ("condition,property,T_K", "condition,property,T", "no column T_K; unknown column .T."),
    ("low,high,unit", "low,low,unit", r"line 1: a column is named twice"),
    (ROW, ROW.replace("brazed", "braced"),
     r'brazed\.csv, line 5 \("braced,.*"braced" is no condition of this alloy.*mean "brazed"'),
    (ROW, ROW.replace("yield", "yeild"), 'unknown property "yeild".*did you mean "yield"'),
    (ROW, ROW.replace("773.15", "0"), "T_K 0 is impossible"),
    (ROW, ROW.replace("773.15", "hot"), 'T_K "hot" is not a finite number'),
    (ROW, ROW.replace(",62,", ",62 MPa,"), 'value "62 MPa" is not a finite number.*units stand in'),
    (ROW, ROW.replace(",62,", ",62e9,"), r"value 62e9 is impossible. Accepted: 0\.1 to 5000 MPa"),
    (ROW, ROW.replace(",62,", ",nan,"), 'value "nan" is not a finite number'),
    (ROW, ROW.replace(",62,", ",6,2,"), "10 values where the header names 9 columns.*decimal"),
    (ROW, ROW.replace("MPa", "Pa"), 'the unit "Pa" is none of yield. Accepted: "MPa"'),
    (ROW, ROW.replace("MPa", ""), "the unit is missing"),
    (ROW, ROW.replace(",58,", ",63,"), "the value lies beyond low, 63 MPa"),
    (ROW, ROW.replace("coupons of load 7", ""), "it has no source"),
    (ROW, ROW.replace("seen", ""), "it has no mark"),
    (ROW, ROW.replace("seen", "memory-low"), "no limit and no strength may be marked memory-low"),
    (ROW, ROW.replace("773.15", "293.15"), r"293\.15 K is given twice for yield"),
    (ROW, ROW.replace("773.15", "273"), r"273 K comes after 293\.15 K for yield.*rising"),
    (ROW, ROW.replace("brazed", "any"), 'yield is given for "any" and for brazed'),
    (ROW, ROW + "\nbrazed,uts,773.15,60,,,MPa,s,seen",
     r"uts 60 MPa of brazed at 773\.15 K lies below its yield"),
    (ROW, ROW + "\nany,thermal_expansion_mean,773.15,18,,,1e-6/K,s,seen",
     "does not say from which temperature. Accepted: expansion_reference"),
    (EXAMPLE_ROWS, "", "it is empty"),
    (EXAMPLE_ROWS, EXAMPLE_ROWS.splitlines()[0], "it has no rows"),
    (EXAMPLE_ROWS, "\n".join(line for line in EXAMPLE_ROWS.splitlines() if "therm" not in line),
     "no thermal_conductivity in condition brazed.*no wall is solved without it"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), WRONG_ROWS)
def test_rows_that_are_refused(folder, old, new, said):
    folder.rows(old, new)
    assert re.search(said, folder.refused(), re.DOTALL)


@pytest.mark.parametrize(
    ("part", "text", "said"),
    [
        ("fatigue", "condition,T_K,strain_range,cycles,source,mark\n", "strain_range_percent"),
        ("fatigue", "brazed,800,1.0,0,s,seen", "cycles 0 is impossible"),
        ("fatigue", "any,800,1.0,10,s,seen", '"any" is no condition of this alloy'),
        ("fatigue", "brazed,800,1.0,10,s,memory-low", "memory-low"),
        ("creep", "brazed,800,1e9,10,s,seen", "stress_MPa 1e9 is impossible"),
        ("compared", "any,yield,800,10,MPa,s,seen,", "it does not say why it is not used"),
    ],
)
def test_tables_beside_it_that_are_refused(folder, part, text, said):
    heads = {
        "fatigue": "condition,T_K,strain_range_percent,cycles,source,mark\n",
        "creep": "condition,T_K,stress_MPa,time_h,source,mark\n",
        "compared": "condition,property,T_K,value,unit,source,mark,why\n",
    }
    whole = text if text.startswith("condition") else heads[part] + text + "\n"
    folder.write(f"{EXAMPLE_NAME}.{part}.csv", whole)
    assert re.search(said, folder.refused())


def test_everything_wrong_is_said_at_once(folder):
    folder.stanza("8890", "8.89")
    folder.stanza("form =", "from =")
    folder.rows(",62,", ",62e9,")
    folder.rows("laser flash of our ring,seen", "laser flash of our ring,sene")
    text = folder.refused(more='process = "braze at 935 degC"')
    for said in ("8.89 is impossible", "known key", "62e9", '"sene"', "liner.process"):
        assert said in text


def test_a_missing_table_says_what_stands_there(folder):
    (folder.path / f"{EXAMPLE_NAME}.csv").unlink()
    text = folder.refused()
    assert "there is no file" in text
    assert f"the rows of {EXAMPLE_NAME} stand there" in text


@pytest.mark.parametrize("name", ["Cu-Cr-Zr", "cu-cr-zr"])
def test_a_built_in_name_is_taken(folder, name):
    folder.stanza(f'["{EXAMPLE_NAME}"]', f'["{name}"]')
    folder.stanza(f'["{EXAMPLE_NAME}".conditions]', f'["{name}".conditions]')
    folder.write(f"{name}.csv", EXAMPLE_ROWS)
    assert f"{name} is the name of a built-in alloy" in folder.refused(name=name)


def test_one_name_in_two_files_is_refused(folder):
    folder.write("second/own.toml", EXAMPLE_STANZA)
    folder.write(f"second/{EXAMPLE_NAME}.csv", EXAMPLE_ROWS)
    text = folder.refused(files=f'["{FILE}", "second/own.toml"]')
    assert f"{EXAMPLE_NAME} is in {FILE} already" in text


def test_an_unknown_name_points_to_the_section(folder):
    text = folder.refused(name="Cu-Cr-Zr brased")
    assert f'did you mean "{EXAMPLE_NAME}"' in text
    assert "bring it yourself: files in [materials]" in text
    assert '"brazed"' in folder.refused(condition="braced")


# --- heatings and strengths ---------------------------------------------------------------------
def test_strengths_and_heatings_in_SI(folder):
    given = (
        'process = ["braze at 935 degC", "age at 450 degC for 3 h"]\n'
        'yield_strength = [["20 degC", "90 MPa"], ["500 degC", "60 MPa"]]\n'
        'ultimate_strength = [["68 degF", "29 ksi"]]\n'
    )
    liner = folder.case(more=given).design.liner
    assert [one.temperature for one in liner.process] == pytest.approx([1208.15, 723.15])
    assert liner.yield_strength.T == pytest.approx((293.15, 773.15))
    assert liner.yield_strength.value == pytest.approx((90e6, 60e6))
    assert liner.ultimate_strength.value == pytest.approx((199.948e6,), rel=1e-4)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ('process = "braze at 935 degC"', 'not a list.*put it in brackets: ."braze at 935'),
        ("process = [3]", r"liner\.process\[1\] = 3: not a text"),
        ('process = ["solder at 300 degC"]', r'unknown heating "solder".*one of braze, HIP, bake'),
        ('process = ["braze at 935"]', "not of the form"),
        ('process = ["HIP at 1100 degC"]', r"begins to melt at 1343 K"),
        ('yield_strength = "90 MPa"', "strength without its temperature"),
        ("yield_strength = 90", "strength without its temperature"),
        ("yield_strength = []", "not a list of pairs"),
        ('yield_strength = [["20 degC"]]', r"yield_strength\[pair 1\] = .*not a pair"),
        ('yield_strength = [["20 degC", 90]]', r"\[pair 1, stress\] = 90: number without a"),
        (
            'yield_strength = [[20, "90 MPa"]]',
            r"\[pair 1, temperature\] = 20: number without a unit",
        ),
        ('yield_strength = [["20 degC", "90 K"]]', "a unit of temperature, not of stress"),
        ('yield_strength = [["20 degC", "0 MPa"]]', "must be above zero"),
        ('yield_strength = [["20 degC", "9 MPa"], ["20 degC", "8 MPa"]]', "pair 2 does not"),
        (
            'yield_strength = [["20 degC", "90 MPa"]]\nultimate_strength = [["20 degC", "80 MPa"]]',
            r"liner\.ultimate_strength = .*: it lies below liner\.yield_strength at 293 K",
        ),
    ],
)
def test_strengths_and_heatings_that_are_refused(folder, given, said):
    assert re.search(said, folder.refused(more=given), re.DOTALL)


def test_the_jacket_is_checked_the_same(tmp_path):
    text = starter_text().replace('nickel = "6 mm"', 'nickel = "6 mm"\njacket_process = ["x"]')
    with pytest.raises(CaseError, match=r"closeout\.jacket_process\[1\]"):
        case_from(text, tmp_path / "case.toml")


def jacketed(more: str, liner: str = "") -> str:
    text = starter_text().replace(
        'nickel = "6 mm"', f'jacket = "3 mm"\njacket_alloy = "316L"\n{more}'
    )
    text = text.replace('copper = "0.2 mm"', "")
    return text.replace(CONDITION, f"{CONDITION}\n{liner}")


BRAZED = 'jacket_condition = "annealed-minimum"\nroute = "brazed"\n'


def test_a_joint_that_heats_the_liner_is_told(tmp_path):
    path = tmp_path / "case.toml"
    (note,) = [n for n in case_from(jacketed(BRAZED), path).notes if "brazed" in n]
    assert "liner.process names no heating" in note
    joint = BRAZED + 'jacket_process = ["braze at 935 degC"]\n'
    (note,) = [n for n in case_from(jacketed(joint), path).notes if "braze" in n]
    assert "it heats the liner too" in note
    both = jacketed(joint, 'process = ["braze at 935 degC"]')
    assert not [n for n in case_from(both, path).notes if "braze" in n]
