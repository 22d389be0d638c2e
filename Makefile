# Two commands: `make review` runs the main job on the demo case, `make test` the tests.
PYTHON ?= python3
VENV := .venv
RUN := $(VENV)/bin
CASE ?= cases/a-methane.toml
OUT ?= review

.PHONY: review test

$(VENV)/done: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(RUN)/pip install --quiet --disable-pip-version-check -e '.[dev]'
	touch $@

review: $(VENV)/done
	$(RUN)/regen review $(CASE) -o $(OUT)

test: $(VENV)/done
	$(RUN)/pytest -m 'not slow' -n 2 --dist loadfile
