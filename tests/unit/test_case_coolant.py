"""A coolant of the case's own: its files refused in clear words, all that is wrong at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from regen.case.coolant import PROPERTIES, STEEPEST
from regen.case.read import case_from, load_case
from regen.errors import CaseError

WATER = (Path(__file__).parents[1] / "helpers" / "water.toml").read_text(encoding="utf-8")
CASES = Path(__file__).parents[2] / "cases"
KEROSENE = CASES / "invented-kerosene.csv"

HEAD = "T [K], density [kg/m3], heat_capacity [J/(kg K)], viscosity [mPa s], conductivity [W/(m K)]"
BODY = (
    ("300", "800", "2000", "1.2", "0.11"),
    ("320", "785", "2080", "0.95", "0.108"),
    ("340", "770", "2160", "0.75", "0.106"),
    ("360", "755", "2240", "0.6", "0.104"),
    ("380", "740", "2320", "0.5", "0.102"),
    ("400", "725", "2400", "0.42", "0.1"),
)
LINE_HEAD = "p [bar], T [K], latent_heat [kJ/kg], vapour_density [kg/m3], surface_tension [N/m]"
LINE = (
    ("1", "310", "300", "3", "0.02"),
    ("2", "330", "290", "6", "0.018"),
    ("4", "350", "275", "12", "0.016"),
    ("8", "375", "255", "24", "0.013"),
)
BOILS = 'saturation = "line.csv"\ncritical_pressure = "20 bar"\nmolar_mass = "170 g/mol"'


def text_of(head=HEAD, body=BODY, **cells):
    """Text of a table with some cells replaced: row_column = value."""
    rows = [list(row) for row in body]
    for place, value in cells.items():
        row, column = place.removeprefix("c").split("_")
        rows[int(row)][int(column)] = value
    return "\n".join([head, *(", ".join(row) for row in rows)]) + "\n"


@pytest.fixture
def case(tmp_path):
    """Return the water chamber with a coolant of its own."""

    def read(table=None, line=None, keys="", *, fluid="our oil", drop=()):
        (tmp_path / "own.csv").write_text(text_of() if table is None else table)
        (tmp_path / "line.csv").write_text(text_of(LINE_HEAD, LINE) if line is None else line)
        new = f'fluid = "{fluid}"\ntable = "own.csv"\n{keys}'
        text = WATER.replace('fluid = "water"', new)
        for one in drop:
            text = text.replace(one, "")
        return case_from(text, tmp_path / "case.toml")

    return read


@pytest.fixture
def refused(case):
    """Return the problems of a case."""

    def read(*args, **kwargs):
        with pytest.raises(CaseError) as error:
            case(*args, **kwargs)
        return error.value.problems

    return read


@pytest.fixture
def refused_keys(refused, recorded):
    """Return the keys of the problems of a case, each as it is recorded."""

    def read(*args, **kwargs):
        problems = refused(*args, **kwargs)
        recorded(problems)
        return [problem.key for problem in problems]

    return read


@pytest.mark.parametrize(
    ("unit", "wrong"),
    [
        ("density [kg/m3]", "density [g/cm3]"),
        ("[J/(kg K)]", "[kJ/(kg K)]"),
        ("viscosity [mPa s]", "viscosity [Pa s]"),
    ],
)
def test_numbers_under_a_unit_that_is_not_theirs_are_impossible(refused_keys, unit, wrong):
    """Each is right but for the unit of its column: a thousand times too much or too little."""
    assert set(refused_keys(text_of(HEAD.replace(unit, wrong)))) == {"coolant.table"}


def test_enthalpies_under_a_wrong_unit_are_impossible(case, refused):
    """40 kJ/kg in 20 K is 2000 J/(kg K); read as J/kg it is 2."""
    head = HEAD.replace("heat_capacity [J/(kg K)]", "enthalpy [J/kg]")
    body = [(r[0], r[1], str(40 * n), *r[3:]) for n, r in enumerate(BODY)]
    assert "enthalpy rises by 2 J/(kg K)" in refused(text_of(head, body))[0].what
    right = text_of(head.replace("[J/kg]", "[kJ/kg]"), body)
    assert case(right).design.coolant.table.enthalpy[1] == pytest.approx(40e3)


def test_density_does_not_rise_with_temperature_but_for_cold_water(case, refused):
    (problem,) = refused(text_of(c3_1="800"))  # after 770
    assert problem.what.startswith("own.csv, line 5")
    assert problem.what.endswith("density rises with temperature")
    # water from 0 to 4 degC: 999.84 to 999.97 kg/m3
    assert case(text_of(c0_1="799.9", c1_1="800")).design.coolant.table.density[:2] == (799.9, 800)


def test_cells_in_quotation_marks_are_named(refused_keys):
    text = "\n".join(f'"{line}"' for line in text_of().splitlines()) + "\n"
    assert refused_keys(text) == ["coolant.table"]


def test_a_table_in_si(case):
    head = (
        "T [degC], density [kg/m3], heat_capacity [kJ/(kg K)], viscosity [cP], "
        "conductivity [W/(m K)], sound_speed [m/s]"
    )
    body = tuple(
        (str(float(r[0]) - 273.15), r[1], str(float(r[2]) / 1e3), *r[3:], "1300") for r in BODY
    )
    coolant = case(text_of(head, body), keys=BOILS).design.coolant
    data, line = coolant.table, coolant.saturation
    assert data.T == pytest.approx((300.0, 320.0, 340.0, 360.0, 380.0, 400.0))
    assert data.p == ()
    assert data.density[1] == 785.0
    assert data.heat_capacity[2] == pytest.approx(2160.0)
    assert data.viscosity[0] == pytest.approx(1.2e-3)
    assert data.sound_speed == (1300.0,) * 6
    assert line.p == pytest.approx((1e5, 2e5, 4e5, 8e5))
    assert line.latent_heat[0] == pytest.approx(300e3)
    assert coolant.critical_pressure == pytest.approx(20e5)
    assert coolant.molar_mass == pytest.approx(0.170)
    assert coolant.fluid == "our oil"


def grid_text(pressures=("10", "50"), **cells):
    head = "p [bar], " + HEAD
    rows = tuple((p, *row) for p in pressures for row in BODY)
    return text_of(head, rows, **cells)


def test_a_grid_in_si(case):
    data = case(grid_text()).design.coolant.table
    assert data.p == pytest.approx((10e5, 50e5))
    assert len(data.T) == 6
    assert len(data.density) == 12


BAD = {
    "viscosity missing": text_of(
        HEAD.replace("viscosity [mPa s], ", ""), tuple((*r[:3], r[4]) for r in BODY)
    ),
    "heat capacity missing": text_of(
        HEAD.replace("heat_capacity [J/(kg K)], ", ""), tuple((*r[:2], *r[3:]) for r in BODY)
    ),
    "heat capacity and enthalpy": text_of(
        HEAD + ", enthalpy [kJ/kg]", tuple((*r, str(2 * n)) for n, r in enumerate(BODY))
    ),
    "unknown column": text_of(HEAD.replace("viscosity", "viscocity")),
    "column twice": text_of(HEAD.replace("conductivity", "density").replace("W/(m K)", "kg/m3")),
    "column without unit": text_of(HEAD.replace("density [kg/m3]", "density")),
    "unit of another kind": text_of(HEAD.replace("mPa s", "W/(m K)")),
    "no header": "\n".join(", ".join(row) for row in BODY) + "\n",
    "gap": text_of(c2_1=""),
    "word": text_of(c2_1="n/a"),
    "infinite": text_of(c2_1="inf"),
    "short row": text_of(body=(*BODY[:3], BODY[3][:4], *BODY[4:])),
    "negative": text_of(c3_3="-0.6"),
    "zero": text_of(c0_4="0"),
    "falls": text_of(c3_0="330"),
    "repeats": text_of(c3_0="340"),
    "few": text_of(body=BODY[:4]),
    "empty": HEAD + "\n",
    "jump": text_of(c3_1="350"),
    "enthalpy falls": text_of(
        HEAD.replace("heat_capacity [J/(kg K)]", "enthalpy [kJ/kg]"), c4_2="2200"
    ),
    "one pressure": grid_text(("10",)),
    "pressure falls": grid_text(("50", "10")),
    "hole in the grid": grid_text(c7_1="330"),
    "temperature falls in the grid": grid_text(c8_1="310"),
    "density falls with pressure": grid_text(c7_2="780"),
}


@pytest.mark.parametrize("table", BAD.values(), ids=BAD)
def test_bad_tables_are_refused(refused_keys, table):
    assert set(refused_keys(table)) == {"coolant.table"}


def test_all_that_is_wrong_is_told_at_once(refused, refused_keys):
    head = HEAD.replace("viscosity [mPa s], ", "").replace("heat_capacity", "heat_capacitance")
    body = tuple((*r[:3], r[4]) for r in BODY)
    assert len(refused(text_of(head, body, c1_1="x", c4_0="y"))) == 3  # the column, two cells
    both = text_of(c1_1="-1", c4_3="-1"), text_of(LINE_HEAD, LINE, c2_1="320"), BOILS
    assert refused_keys(*both) == [*["coolant.table"] * 2, "coolant.saturation"]


def test_a_list_of_troubles_is_cut(refused_keys):
    rows = tuple(("1", "x", "x", "x", "x") for _ in range(20))
    assert len(refused_keys(text_of(body=rows))) == 13


BAD_LINES = {
    "column missing": text_of(
        LINE_HEAD.replace(", surface_tension [N/m]", ""), tuple(r[:4] for r in LINE)
    ),
    "pressure falls": text_of(LINE_HEAD, LINE, c2_0="1.5"),
    "temperature falls": text_of(LINE_HEAD, LINE, c2_1="320"),
    "latent heat rises": text_of(LINE_HEAD, LINE, c2_2="295"),
    "vapour gets thinner": text_of(LINE_HEAD, LINE, c2_3="5"),
    "tension rises": text_of(LINE_HEAD, LINE, c2_4="0.019"),
    "no tension": text_of(LINE_HEAD, LINE, c3_4="0"),
    "few": text_of(LINE_HEAD, LINE[:3]),
    "beyond the critical pressure": text_of(LINE_HEAD, LINE, c3_0="21"),
    "hotter than the liquid": text_of(LINE_HEAD, LINE, c3_1="410"),
    "colder than the liquid": text_of(LINE_HEAD, LINE, c0_1="295"),
    "vapour as dense as liquid": text_of(LINE_HEAD, LINE, c3_3="900"),
}


@pytest.mark.parametrize("line", BAD_LINES.values(), ids=BAD_LINES)
def test_bad_saturation_is_refused(refused_keys, line):
    assert refused_keys(None, line, BOILS) == ["coolant.saturation"]


@pytest.mark.parametrize(
    ("table", "given", "keys"),
    [
        (None, ["saturation"], ["critical_pressure", "molar_mass"]),
        (grid_text(), ["saturation", "critical_pressure", "molar_mass"], ["saturation"]),
        (None, ["molar_mass"], ["molar_mass"]),
    ],
    ids=["missing", "of a grid", "without saturation"],
)
def test_what_saturation_asks_for(refused_keys, table, given, keys):
    lines = [line for line in BOILS.splitlines() if line.split()[0] in given]
    assert refused_keys(table, keys="\n".join(lines)) == [f"coolant.{key}" for key in keys]


def test_keys_of_a_table_without_one(refused_keys):
    keys = [f"coolant.{key}" for key in ("saturation", "critical_pressure", "molar_mass")]
    assert refused_keys(keys=BOILS, fluid="water", drop=['table = "own.csv"']) == keys


@pytest.mark.parametrize(
    "fluid", ["hydrogen-peroxide", "Nitrous-Oxide", "ammonia", "hydrogen", "methane", ""]
)
def test_names_that_no_table_makes_a_coolant(refused_keys, fluid):
    assert refused_keys(fluid=fluid) == ["coolant.fluid"]


def test_a_fluid_that_is_not_built_in_is_told_of_the_table(refused_keys):
    assert refused_keys(fluid="our oil", drop=['table = "own.csv"']) == ["coolant.fluid"]


def test_named_as_the_fuel_it_burns_as_the_fuel(case):
    fuel = case(fluid="propane-like", keys="").design.coolant
    assert not fuel.returns_to_injector
    text = WATER.replace('fuel = "propane"', 'fuel = "RP-1"').replace('"0.6 kg/s"', '"fuel"')
    path = case(fluid="RP-1", keys="").path
    text = text.replace('fluid = "water"', 'fluid = "RP-1"\ntable = "own.csv"')
    coolant = case_from(text, path).design.coolant
    assert coolant.returns_to_injector
    assert coolant.fuel_fraction == 1.0


def test_notes_say_what_is_not_known(case):
    text = "\n".join(case().notes)
    assert "own.csv has our oil from 300 to 400 K; nothing is taken beyond" in text
    assert "taken as independent of pressure" in text
    assert "taken as incompressible" in text
    assert (
        "boiling and burnout are not judged; give coolant.saturation, or coolant.critical" in text
    )
    text = "\n".join(case(keys='critical_pressure = "20 bar"').notes)
    assert "not judged below coolant.critical_pressure, 20 bar; give coolant.saturation" in text
    text = "\n".join(case(grid_text(), keys=BOILS.splitlines()[1]).notes)
    assert "independent of pressure" not in text
    assert "incompressible" not in text
    assert "not judged" not in "\n".join(case(keys=BOILS).notes)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("jackson", "it needs the critical point"),
        ("krasnoshchekov_protopopov", "it needs the critical point"),
        ("spencer_rousar", "fitted to oxygen"),
        ("utrc_kerosene", "fitted to kerosene"),
    ],
)
def test_correlations_that_ask_for_more_are_refused(case, tmp_path, name, said):
    path = case().path
    text = WATER.replace('fluid = "water"', 'fluid = "our oil"\ntable = "own.csv"')
    with pytest.raises(CaseError) as error:
        case_from(text + f'\n[models]\ncoolant_side = "{name}"\n', path)
    (problem,) = error.value.problems
    assert said in problem.what
    assert '"gnielinski"' in problem.accepted


def test_water_in_the_fuel_is_told_of_the_pure_coolant(tmp_path):
    text = (CASES / "c-ethanol-film.toml").read_text(encoding="utf-8")
    text = text.replace("mixture_ratio = 1.2", "fuel_water = 0.2\nmixture_ratio = 1.2")
    notes = "\n".join(case_from(text, tmp_path / "case.toml").notes)
    assert "the fuel holds 0.2 of water, and the coolant's properties are those of pure" in notes
    assert "give coolant.table" in notes
    assert "the film is taken as pure ethanol" in notes


def test_the_example_is_sound_and_says_that_it_is_invented(tmp_path):
    text = KEROSENE.read_text(encoding="utf-8")
    assert "INVENTED" in text.splitlines()[0]
    (tmp_path / KEROSENE.name).write_text(text)
    path = tmp_path / "case.toml"
    path.write_text(WATER.replace('fluid = "water"', f'fluid = "oil"\ntable = "{KEROSENE.name}"'))
    table = load_case(path).design.coolant.table
    assert len(table.T) == 23
    assert (table.T[0], table.T[-1]) == (260.0, 700.0)


def test_the_page_of_own_coolants_has_the_forms_that_are_read():
    page = (CASES.parent / "docs" / "coolants.md").read_text(encoding="utf-8")
    for column in PROPERTIES:
        assert f"`{column}`" in page
    for header in (HEAD.replace("J/(kg K)", "kJ/(kg K)"), LINE_HEAD):
        assert header in page
    assert f"factor of {['', 'one', 'two'][int(STEEPEST)]}" in page
