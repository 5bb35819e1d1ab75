# On a fresh machine: `make demo` and `make test`. Both need Rust and Python; .ci/setup names missing programs.
# `make help` lists the frequent commands; those without a `##` are for rare use.
# cargo and maturin share one target folder: checks and tests in profile dev, extension and benches in profile release.

REAL ?= ../shared/data
ENGINES ?= tests/engines

PY := .venv/bin/python
SOURCES := $(shell find src -name '*.rs') Cargo.toml Cargo.lock pyproject.toml .ci/setup
# Absolute, so that every build names the same interpreter; another name would trigger a full rebuild.
export PYO3_PYTHON := $(CURDIR)/.venv/bin/python
# pip builds in place through maturin: the release profile, and the same target folder as cargo.
export PATH := $(CURDIR)/.venv/bin:$(PATH)
export MATURIN_PEP517_ARGS := --locked
INSTALL := $(PY) -m pip install --quiet --disable-pip-version-check --no-build-isolation --editable

.PHONY: help demo test test-slow rust python slow-rust slow-rest slow-python test-browser test-engines guide quality accuracy faults worlds \
	bench flame bench-length bench-peers real instructions instructions-record golden columns datasets versions wheel audit miri fuzz \
	mutants release-check clean

help: ## list the commands
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-14s %s\n", $$1, $$2 }' Makefile

demo: ## build, analyse the bundled brews, write a figure and a page
	@start=$$(date +%s); \
	$(MAKE) --no-print-directory .venv/demo && \
	.venv/bin/pourline demo --force && \
	echo "make demo took $$(($$(date +%s) - start)) s"

# The two halves run in parallel; the output of the Python half is shown at its end.
test: ## format, lints, types and the fast tests: about two minutes
	@start=$$(date +%s); \
	$(MAKE) --no-print-directory .venv/test && mkdir -p target && { \
	$(MAKE) --no-print-directory python > target/python.txt 2>&1 & python=$$!; \
	$(MAKE) --no-print-directory rust; rust=$$?; \
	wait $$python; python=$$?; cat target/python.txt; \
	test $$rust = 0 && test $$python = 0; } && \
	echo "all checks passed; make test took $$(($$(date +%s) - start)) s"

rust: .venv/test
	cargo fmt --check
	cargo clippy --locked --quiet --all-targets --features python -- -D warnings
	cargo test --locked --quiet --lib --test rust

python: .venv/test
	$(PY) -m ruff check --quiet .
	$(PY) -m ruff format --check --quiet .
	$(PY) -m mypy --strict
	$(PY) -m pytest -q -m 'not slow'

# Three parts, of which any two may run in parallel.
test-slow: slow-rust slow-rest slow-python ## all other tests: recovery of truth, coverage, notebooks, examples, fuzzer's findings

# Rust tests marked `#[ignore = "slow"]`, and the corpus of fuzzing.
slow-rust:
	cargo test --locked --quiet --lib --test rust -- --ignored
	cargo test --locked --quiet --test replay

# Checks with separate compiler passes: the core without Python, examples of the documentation, its pages.
slow-rest:
	cargo clippy --locked --quiet --all-targets -- -D warnings
	cargo test --locked --quiet --doc
	RUSTDOCFLAGS='-D warnings' cargo doc --locked --quiet --no-deps

slow-python: .venv/test
	$(PY) -m pytest -q -m slow

test-browser: .venv/browser ## notebook, view and pages in a real browser, without a window; pictures of them in out/browser
	@start=$$(date +%s); \
	$(PY) -m pytest -q tests/browser && \
	echo "make test-browser took $$(($$(date +%s) - start)) s"

# Dask and Spark, which needs Java 17, compared with one machine.
test-engines: .venv/engines
	$(PY) -m pytest -q $(ENGINES)

guide: .venv/guide ## the guide as pages that load nothing from outside, into out/guide; warnings are errors
	$(PY) -m sphinx --fail-on-warning --keep-going --fresh-env --quiet -b html -d out/doctrees docs out/guide
	@echo 'open out/guide/README.html'

quality: .venv/engines ## measure all that docs/quality.md and its detail pages state; PARTS='accuracy faults' for some; an hour for all
	@.ci/quality $(PARTS)

accuracy:
	@.ci/quality accuracy

faults:
	@.ci/quality faults

worlds:
	@.ci/quality worlds

bench: ## time of an analysis by length, of many logs by threads, of a sample in live use
	@cargo bench --locked --quiet --bench analyze --bench batch --bench live > target/bench.txt
	@python3 .ci/bench.py

# Instructions of one analysis by function, as a tree; needs valgrind.
flame:
	@mkdir -p target
	@program=$$(CARGO_PROFILE_RELEASE_DEBUG=1 cargo build --locked --release --target-dir target/flame --bench count --quiet --message-format=json | \
	sed -n 's/.*"executable":"\([^"]*count[^"]*\)".*/\1/p' | tail -1) && \
	valgrind --quiet --tool=callgrind --separate-callers=3 '--toggle-collect=pourline::brew::analyze*' --callgrind-out-file=target/callgrind.txt "$$program" 1 2> /dev/null && \
	python3 .ci/flame.py target/callgrind.txt

# Time and memory per sample of one analysis, from 1,000 to 1,000,000 samples.
bench-length:
	@cargo bench --locked --quiet --bench length

# The time of general-purpose methods for a part of the job, compared with the whole analysis.
bench-peers: .venv/peers
	$(PY) benches/peers.py

# Measured series in the folder REAL, if given.
real: .venv/demo
	$(PY) benches/real.py '$(REAL)'

# The instructions of one analysis; fails if they deviate by more than 3 % from the recorded number.
instructions:
	@.ci/instructions

instructions-record:
	@.ci/instructions --record

golden: .venv/demo ## after an intended change: the digests of results, into tests/golden/brews.json
	$(PY) .ci/golden.py

# The descriptions of all columns, from the code into docs/columns.md and README.md.
columns: .venv/test
	$(PY) .ci/stub.py
	$(PY) .ci/columns.py

# The bundled brews, recomputed from their recipes.
datasets: .venv/demo
	$(PY) datasets/make.py

# One wheel under many versions of Python, numpy and pandas, the lowest stated ones too; needs the network.
versions: .venv/demo
	@$(PY) .ci/versions.py

# A wheel as it is published, into dist/.
wheel: .venv/demo
	$(PY) -m maturin build --locked --profile dist --out dist

# Advisories, licences and sources of all that is built in or installed; needs cargo-deny and the network.
audit: .venv/audit
	@command -v cargo-deny >/dev/null || { echo "cargo-deny is missing: 'cargo install --locked cargo-deny'" >&2; exit 1; }
	$(PY) .ci/licences.py
	cargo-deny --all-features --locked --config .ci/deny.toml check licenses bans sources
	cargo-deny --all-features --locked --config .ci/deny.toml check advisories
	$(PY) -c 'import tomllib; print(*tomllib.load(open("pyproject.toml", "rb"))["project"]["dependencies"], sep="\n")' > target/dependencies.txt
	$(PY) -m pip_audit --strict --requirement target/dependencies.txt

# Tests that end within minutes under Miri: lines and units, mathematics with the transforms of a crate, a plan's TOML,
# JSON, quoted fields and dates. Miri randomises the rounding of functions such as powf; that is off here, because tests
# of exact slopes depend on it.
MIRI := log::plain::tests::what log::units math::fourier math::solve math::line math::robust math::dual math::random::tests::the_ \
	what_is_wrong_with_a_plan json_comes_in quoted_fields_and dates_and_times
# Needs 'rustup toolchain install nightly --component miri,rust-src'.
miri:
	@start=$$(date +%s); \
	MIRIFLAGS='-Zmiri-disable-isolation -Zmiri-deterministic-floats' cargo +nightly miri test --locked --lib --test rust -- $(MIRI) && \
	echo "make miri took $$(($$(date +%s) - start)) s"

MINUTES ?= 10
fuzz: ## inputs that break readers or analysis, MINUTES (10) a target; see tests/fuzz/README.md
	@.ci/fuzz $(MINUTES)

SEED ?= 19
MUTANTS ?= 300
# Which changes of the core the tests catch: MUTANTS (300) drawn by SEED (19); takes an hour on two idle cores.
mutants: .venv/mutants
	$(PY) .ci/mutants.py --seed $(SEED) --number $(MUTANTS)

release-check: .venv/demo ## sdist and wheel from a clean clone, in an empty environment: the demo and the first documents' code
	@start=$$(date +%s); \
	.ci/release_check && \
	echo "make release-check took $$(($$(date +%s) - start)) s"

clean: ## remove all that was built
	rm -rf target .venv out dist .pytest_cache .mypy_cache .ruff_cache
	find python -name '_pourline*.so' -delete
	find python tests benches -name __pycache__ -type d -exec rm -rf {} +

# An editable install: changed Python files need no second run, changed Rust files do.
.venv/demo: $(SOURCES)
	@.ci/setup
	@echo 'building the extension (the first time takes a minute or two)'
	@$(INSTALL) '.[plot]'
	@touch $@

.venv/test: .venv/demo
	@$(INSTALL) '.[dev]'
	@touch $@

.venv/peers: .venv/test
	$(PY) -m pip install --quiet --disable-pip-version-check 'hmmlearn>=0.3.3' 'ruptures>=1.1.9'
	@touch $@

.venv/audit: .venv/demo
	$(PY) -m pip install --quiet --disable-pip-version-check 'pip-audit>=2.7'
	@touch $@

# Spark comes as source: its build needs a setuptools that can build a wheel.
.venv/engines: .venv/test
	@$(PY) -m pip install --quiet --disable-pip-version-check 'setuptools>=77'
	@$(INSTALL) '.[engines]'
	@touch $@

.venv/mutants: .venv/demo
	@$(PY) -m pip install --quiet --disable-pip-version-check 'tree-sitter>=0.25' 'tree-sitter-rust>=0.24'
	@touch $@

# Not in .venv/test: JupyterLab and a browser are large.
.venv/browser: .venv/demo
	@.ci/browser
	@$(INSTALL) '.[browser]'
	@touch $@

.venv/guide: .venv/demo
	@$(INSTALL) '.[docs]'
	@touch $@
