# Set-up happens by itself: every target first makes .venv from the pinned requirement files.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
LINT_SQL := sql
SURROUNDINGS := tests/end_to_end/test_full_disk.py tests/end_to_end/test_surroundings.py \
	tests/integration/test_migrations.py tests/integration/test_left_by_kills.py
# The tests run in two processes; threads of the algebra library would only wait in them.
export OPENBLAS_NUM_THREADS ?= 1

.PHONY: demo test lint bench coverage-bench fuzz faults clean

demo: $(READY)
	$(BIN)/lengthwise demo demo-audit

test: $(READY)
	$(BIN)/python -m pytest -n 2 --dist loadgroup

lint: $(READY)
	$(BIN)/ruff check pipeline tests demo_dataset
	$(BIN)/ruff format --check pipeline tests demo_dataset
	$(BIN)/mypy
	$(BIN)/sqlfluff lint $(LINT_SQL)

bench: $(READY)
	$(BIN)/python -m tests.bench $(ONLY)

coverage-bench: $(READY)
	$(BIN)/python -m tests.coverage $(ONLY)

# Ten thousand mutated files; a smaller set is part of the tests.
fuzz: $(READY)
	$(BIN)/python -m tests.fuzz

# Two hundred kills, then full disks, locks, rights, clocks and databases of older versions.
faults: $(READY)
	$(BIN)/python -m tests.faults
	$(BIN)/python -m pytest $(SURROUNDINGS)

clean:
	rm -rf $(VENV) demo-audit

$(READY): requirements.txt requirements-dev.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed: make PYTHON=python3.12 ..."; exit 1; }
	$(PYTHON) -m venv $(VENV) || { echo "The venv module is missing: on Debian, apt install python3-venv"; exit 1; }
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements-dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	@touch $@
