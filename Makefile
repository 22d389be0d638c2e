# `make review` runs the main job on the demo case, `make test` the tests, `make test-full` also
# those that take minutes and rarely fail.
PYTHON ?= python3
VENV := .venv
RUN := $(VENV)/bin
CASE ?= cases/a-methane.toml
OUT ?= review

.PHONY: review test test-full

$(VENV)/done: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(RUN)/pip install --quiet --disable-pip-version-check -e '.[dev]'
	touch $@

review: $(VENV)/done
	$(RUN)/regen review $(CASE) -o $(OUT)

test: $(VENV)/done
	$(RUN)/pytest -n 2 --dist loadfile

test-full: $(VENV)/done
	$(RUN)/pytest -m 'full or not full' -n 2 --dist loadfile
