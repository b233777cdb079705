# Every target sets up its own virtual environment first: nothing but Python 3.11+, make and git
# need be there. PYTHON names the interpreter to build it with.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin

.PHONY: demo test check bench clean

demo: $(VENV)/demo.stamp
	$(BIN)/moundfeed demo

# Most tests wait for other processes, so three at a time are no burden for two cores.
test: $(VENV)/test.stamp
	$(BIN)/python -m pytest -n 3 --dist loadfile

check: $(VENV)/test.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# Speed, every figure beside its goal; BENCH=--quick for a taste.
bench: $(VENV)/test.stamp
	$(BIN)/python -m benchmarks.run $(BENCH)

$(VENV)/demo.stamp: pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/test.stamp: pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	touch $@

clean:
	rm -rf $(VENV) build dist *.egg-info .mypy_cache .ruff_cache .pytest_cache
