# Two commands: `make solve` runs a case, `make test` the tests.
PYTHON ?= python3
VENV := .venv
RUN := $(VENV)/bin

.PHONY: solve test

$(VENV)/done: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(RUN)/pip install --quiet --disable-pip-version-check -e '.[dev]'
	touch $@

solve: $(VENV)/done
	$(RUN)/regen solve cases/d-water-calorimeter.toml -o solved

test: $(VENV)/done
	$(RUN)/pytest -m 'not slow'
