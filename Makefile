# Two commands for a fresh machine: `make demo` and `make test`. Both need Rust and Python; .ci/setup says what is missing.
# One target folder serves cargo and maturin: checks and tests in profile dev, the extension and the benches in profile release.

REAL ?= ../shared/data
ENGINES ?= tests/engines

PY := .venv/bin/python
SOURCES := $(shell find src -name '*.rs') Cargo.toml Cargo.lock pyproject.toml .ci/setup
# Absolute, so that every build names the same interpreter and none starts anew because of it.
export PYO3_PYTHON := $(CURDIR)/.venv/bin/python
# pip builds in place through maturin: the release profile, and the same target folder as cargo.
export PATH := $(CURDIR)/.venv/bin:$(PATH)
export MATURIN_PEP517_ARGS := --locked
INSTALL := $(PY) -m pip install --quiet --disable-pip-version-check --no-build-isolation --editable

.PHONY: help demo test test-browser rust python guide accuracy faults steadiness calibration live coverage real bench flame bench-length many test-engines golden versions bench-peers instructions instructions-record beside datasets columns wheel audit miri fuzz fuzz-min mutants release-check clean

help: ## list the commands
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-12s %s\n", $$1, $$2 }' Makefile

demo: ## build, analyse the bundled brews, write a figure and a page
	@start=$$(date +%s); \
	$(MAKE) --no-print-directory .venv/demo && \
	.venv/bin/pourline demo --force && \
	echo "make demo took $$(($$(date +%s) - start)) s"

test: ## every check: format, lints, types, tests, documents
	@start=$$(date +%s); \
	$(MAKE) --no-print-directory .venv/test && \
	$(MAKE) --no-print-directory rust && \
	$(MAKE) --no-print-directory python && \
	echo "all checks passed; make test took $$(($$(date +%s) - start)) s"

rust: .venv/test ## the checks of the Rust side alone
	cargo fmt --check
	cargo clippy --locked --quiet --all-targets -- -D warnings
	cargo clippy --locked --quiet --all-targets --features python -- -D warnings
	cargo test --locked --quiet
	RUSTDOCFLAGS='-D warnings' cargo doc --locked --quiet --no-deps

python: .venv/test ## the checks of the Python side alone
	$(PY) -m ruff check --quiet .
	$(PY) -m ruff format --check --quiet .
	$(PY) -m mypy --strict
	$(PY) -m pytest -q

test-browser: .venv/browser ## notebook, view and pages in a real browser, without a window; pictures of them in out/browser
	@start=$$(date +%s); \
	$(PY) -m pytest -q tests/browser && \
	echo "make test-browser took $$(($$(date +%s) - start)) s"

guide: .venv/guide ## the guide as pages that load nothing from outside, into out/guide; warnings are errors
	$(PY) -m sphinx --fail-on-warning --keep-going --fresh-env --quiet -b html -d out/doctrees docs out/guide
	@echo 'open out/guide/README.html'

accuracy: ## how near to the truth: simulate, analyse, print, keep it in docs/accuracy.md; fails where a bar is missed
	@cargo build --locked --release --quiet --bench accuracy
	@cargo bench --locked --quiet --bench accuracy -- further > target/accuracy.txt; code=$$?; \
	sed 's/, [0-9.]* s$$//' target/accuracy.txt | cat .ci/accuracy.md - > docs/accuracy.md && echo '```' >> docs/accuracy.md; \
	cat target/accuracy.txt; exit $$code

faults: ## what injected faults do to results, 10,000 logs: print, keep it in docs/faults.md; takes some minutes; fails where too many are silent
	@cargo build --locked --release --quiet --bench faults
	@cargo bench --locked --quiet --bench faults > target/faults.txt; code=$$?; \
	cat .ci/faults.md target/faults.txt > docs/faults.md; cat target/faults.txt; exit $$code

steadiness: ## the same pours on many scales: print the page docs/steadiness.md, draw its figure
	cargo bench --locked --quiet --bench steadiness > out.steadiness.tmp
	@mv out.steadiness.tmp docs/steadiness.md; cat docs/steadiness.md

calibration: ## how often a comparison finds what is not there, on simulated studies: print the page docs/calibration.md
	cargo bench --locked --quiet --bench calibration > out.calibration.tmp
	@mv out.calibration.tmp docs/calibration.md; cat docs/calibration.md

live: ## how soon and how rightly pours are called while they run: print the page docs/live_figures.md
	cargo bench --locked --quiet --bench live -- page > out.live.tmp
	@mv out.live.tmp docs/live_figures.md; cat docs/live_figures.md

coverage: ## what the tests of recovery and coverage measure: write docs/coverage.md
	@{ cargo test --locked --quiet --lib -- --show-output --test-threads=1 coverage band && \
	cargo test --locked --quiet --test agitation_recovers --test dialling --test labels --test plan --test profile --test stream_on_the_scale -- --show-output --test-threads=1 --skip any_pours; } \
	> target/coverage.txt
	@awk '/^---- .* stdout ----$$/ {on = 1; print sep $$2; sep = "\n"; next} /^$$/ {on = 0} on {print "  " $$0}' target/coverage.txt \
	| cat .ci/coverage.md - > docs/coverage.md && echo '```' >> docs/coverage.md; cat docs/coverage.md

real: .venv/demo ## try measured series in the folder REAL, where there is one
	$(PY) benches/real.py '$(REAL)'

bench: ## one table: time of an analysis by length, of many logs by threads, of a sample that is watched
	@cargo bench --locked --quiet --bench analyze --bench batch --bench live > target/bench.txt
	@python3 .ci/bench.py

flame: ## where the instructions of one analysis are, as a tree; needs valgrind
	@mkdir -p target
	@program=$$(CARGO_PROFILE_RELEASE_DEBUG=1 cargo build --locked --release --target-dir target/flame --bench count --quiet --message-format=json | \
	sed -n 's/.*"executable":"\([^"]*count[^"]*\)".*/\1/p' | tail -1) && \
	valgrind --quiet --tool=callgrind --separate-callers=3 '--toggle-collect=pourline::brew::analyze*' --callgrind-out-file=target/callgrind.txt "$$program" 1 2> /dev/null && \
	python3 .ci/flame.py target/callgrind.txt

bench-length: ## time and memory of one analysis, a sample, from 1,000 to 1,000,000 samples
	@cargo bench --locked --quiet --bench length

bench-peers: .venv/peers ## the time of general-purpose methods for a part of the job, beside the whole analysis
	$(PY) benches/peers.py

instructions: ## count the instructions of one analysis; fails where they are 3 % off those recorded
	@.ci/instructions

instructions-record: ## count them and record them
	@.ci/instructions --record

beside: .venv/test ## beside general-purpose packages: print the page docs/beside_others.md
	$(PY) benches/beside_others.py > out.beside.tmp
	@mv out.beside.tmp docs/beside_others.md; cat docs/beside_others.md

many: .venv/engines ## many logs: threads, memory of a long table, dask and Spark (which needs Java 17): write docs/many_figures.md
	@{ $(PY) benches/many.py scaling && echo && $(PY) benches/many.py memory && echo && $(PY) benches/engines.py 32; } 2> target/many.log > target/many.txt || \
	{ cat target/many.log >&2; exit 1; }
	@cat .ci/many.md target/many.txt > docs/many_figures.md && echo '```' >> docs/many_figures.md; cat docs/many_figures.md

test-engines: .venv/engines ## dask and Spark (which needs Java 17) against one machine; not part of make test
	$(PY) -m pytest -q $(ENGINES)

datasets: .venv/demo ## make the bundled brews anew from their recipes
	$(PY) datasets/make.py

golden: .venv/demo ## after a meant change: the numbers that are held to the last bit, into tests/golden/brews.json
	$(PY) .ci/golden.py

versions: .venv/demo ## one wheel under many versions of Python, numpy and pandas, the lowest stated ones too; needs the network
	@$(PY) .ci/versions.py

columns: .venv/demo ## what each column means, from the code into docs/columns.md and README.md
	$(PY) .ci/columns.py

wheel: .venv/demo ## a wheel as it is published, into dist/
	$(PY) -m maturin build --locked --profile dist --out dist

audit: .venv/audit ## advisories, licences and sources of all that is built in or installed; needs cargo-deny and the network
	@command -v cargo-deny >/dev/null || { echo "cargo-deny is missing: 'cargo install --locked cargo-deny'" >&2; exit 1; }
	$(PY) .ci/licences.py
	cargo-deny --all-features --locked --config .ci/deny.toml check licenses bans sources
	cargo-deny --all-features --locked --config .ci/deny.toml check advisories
	$(PY) -c 'import tomllib; print(*tomllib.load(open("pyproject.toml", "rb"))["project"]["dependencies"], sep="\n")' > target/dependencies.txt
	$(PY) -m pip_audit --strict --requirement target/dependencies.txt

# Tests that end within minutes there: lines and units, mathematics with the transforms of a crate, a plan's TOML, JSON, quoted fields and dates.
# Miri may round functions such as powf as it likes; here they are what the machine gives, since tests of exact slopes rest on it.
MIRI := log::plain::tests::what log::units math::fourier math::solve math::line math::robust math::dual math::random::tests::the_ \
	what_is_wrong_with_a_plan json_comes_in quoted_fields_and dates_and_times
miri: ## readers and mathematics under Miri; needs 'rustup toolchain install nightly --component miri,rust-src'
	@start=$$(date +%s); \
	MIRIFLAGS='-Zmiri-disable-isolation -Zmiri-deterministic-floats' cargo +nightly miri test --locked --lib --test plan --test reads_logs -- $(MIRI) && \
	echo "make miri took $$(($$(date +%s) - start)) s"

MINUTES ?= 10
fuzz: ## inputs that break readers or analysis, MINUTES (10) a target; needs a nightly toolchain and cargo-fuzz
	@.ci/fuzz run $(MINUTES)

fuzz-min: ## what fuzzing found to be new goes into tests/fuzz/corpus, as few inputs as cover the same
	@.ci/fuzz min

SEED ?= 19
MUTANTS ?= 300
mutants: .venv/mutants ## which changes of the core the tests catch: MUTANTS (300) drawn by SEED (19); takes an hour on two idle cores
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

# Spark comes as source: its build wants a setuptools that knows how to make a wheel.
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
