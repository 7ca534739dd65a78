# make demo  - build, review a week of made rides, write demo/report.html
# make test  - all tests that need Go alone (more run where Chromium and npm are, see DEVELOPERS.md)
# make check - what continuous integration runs

GO ?= go

.PHONY: demo test check build script browsertest bench fuzz pictures clean

demo: script
	$(GO) run ./cmd/cogledger demo --force

test:
	$(GO) test ./...

check:
	bash .ci/run

build: script
	$(GO) build -trimpath -o cogledger ./cmd/cogledger

# The chart script is not in the repository; without npm reports carry static charts.
script:
	@if command -v npm >/dev/null 2>&1; then sh report/script/fetch.sh; \
	else echo "npm is not here: reports will carry static charts"; fi

browsertest: script
	COGLEDGER_BROWSER=$${COGLEDGER_BROWSER:-} $(GO) test -count=1 -run InBrowser ./report ./cmd/cogledger

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# FUZZTIME=20m make fuzz runs each target for twenty minutes. Without a bound on minimising, the
# engine spends a minute on each input whose coverage is not the same every time, and seems to stand still.
FUZZTIME ?= 20s
fuzz:
	@for pkg in $$($(GO) list ./...); do \
		for target in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
			echo "== $$pkg $$target"; \
			$(GO) test -run '^$$' -fuzz "^$$target\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 20x $$pkg || exit 1; \
		done; \
	done

# The pictures in docs, taken from the demo by a headless browser.
CHROMIUM ?= chromium
pictures: demo
	cd report/browsertest && npm ci --no-audit --no-fund && node pictures.mjs "$$(command -v $(CHROMIUM))" ../../demo/report.html ../../docs

clean:
	rm -rf cogledger demo dist
