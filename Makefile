# Two commands do everything a new user needs: `make demo` and `make test`.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: help demo test bench requirements

help:
	@echo "make demo   set up, run the whole job on the demo study, write its report"
	@echo "make test   set up what the tests need, then check style, types, imports and run all tests"

demo:
	@$(PYTHON) tools/prepare.py demo
	@$(BIN)/python tools/run_demo.py

test:
	@$(PYTHON) tools/prepare.py test
	@$(BIN)/ruff check src tests tools benchmarks
	@$(BIN)/ruff format --check --quiet src tests tools benchmarks
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-cache
	@$(BIN)/python tools/audit.py
	@$(BIN)/pytest -q -n 2 --dist worksteal

# For those who work on Bonewright itself.
bench:
	@$(PYTHON) tools/prepare.py test
	@for bench in benchmarks/bench_*.py; do $(BIN)/python $$bench || exit 1; done

requirements:
	uv lock --quiet
	uv export --quiet --frozen --no-header --no-emit-project --no-dev --group build -o requirements/runtime.txt
	uv export --quiet --frozen --no-header --no-emit-project --group dev -o requirements/test.txt
