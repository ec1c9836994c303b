# flatwright - see README.md. `make help` lists what can be made.
VERSION := 0.1.0
SOVERSION := 0
MODE ?= release
PREFIX ?= /usr/local
LIBDIR ?= $(PREFIX)/lib
MANDIR ?= $(PREFIX)/share/man
BASHDIR ?= $(PREFIX)/share/bash-completion/completions
ZSHDIR ?= $(PREFIX)/share/zsh/site-functions
DEMO := examples/aurora
V ?= 0
SECONDS ?= 20
SIZES ?=
BEFORE ?=
PYTHON ?= /usr/bin/python3
JOBS ?= $(shell nproc 2>/dev/null || echo 1)

PACKAGES := gcc libc6-dev make pkg-config liblapacke-dev libopenblas-dev libgsl-dev libcsv-dev
TEST_PACKAGES := libcmocka-dev libjansson-dev mandoc zsh python3
BROWSER_PACKAGES := chromium tidy libxml2-utils fonts-liberation
LINT_PACKAGES := cppcheck clang-tidy mandoc
BENCH_PACKAGES := libsuitesparse-dev

ifeq ($(filter $(MODE),release debug asan cov fuzz),)
$(error MODE is '$(MODE)', expected release, debug, asan, cov or fuzz)
endif

B := build/$(MODE)
Q := $(if $(filter 1,$(V)),,@)
INSTALL ?= install

# An assert is a promise of ours, whose other side no input reaches: it is no branch to be covered.
# Fortify needs an optimiser, and a sanitizer wants the plain calls: release only. Where sanitizers
# cut up the code, gcc takes every int that becomes a size for one that may be negative.
CFLAGS_release := -O2 -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2 -fstack-protector-strong
CFLAGS_debug := -O0 -g
CFLAGS_asan := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer \
               -Wno-alloc-size-larger-than -Wno-stringop-overflow
CFLAGS_cov := -O0 -g --coverage -DNDEBUG
CFLAGS_fuzz := -O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all
LDFLAGS_release := -Wl,-z,relro,-z,now
LDFLAGS_asan := -fsanitize=address,undefined
LDFLAGS_cov := --coverage
LDFLAGS_fuzz := -fsanitize=address,undefined

WARN := -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wpointer-arith \
        -Wwrite-strings -Wvla -Wformat=2 -Wundef $(if $(CI),-Werror)
DEFINES := -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -DFW_VERSION='"$(VERSION)"'
ALL_CPPFLAGS = $(DEFINES) $(CPPFLAGS)
ALL_CFLAGS = -std=c11 -fPIC $(CFLAGS_$(MODE)) $(WARN) $(CFLAGS)
ALL_LDFLAGS = $(LDFLAGS_$(MODE)) -Wl,--as-needed $(CFLAGS) $(LDFLAGS)

# Asked for once, and only by a rule that links: pkg-config may have to be installed first.
# GSL's own BLAS stays out, OpenBLAS has the same calls.
LIBS = $(eval LIBS := $(filter-out -lgslcblas,\
       $(shell pkg-config --libs lapacke openblas gsl)) -lcsv -lm)$(LIBS)
TEST_LIBS = $(LIBS) -ljansson -lcmocka

# What tests/support/refuse.c and fail.c stand in front of.
WRAPPED := fw_alloc fw_resize fw_copy_text fw_free gsl_rng_alloc \
           open openat fopen fdopen read pread pwrite fsync fflush fclose close stat lstat fstat \
           fstatat access realpath ftruncate fchmod fcntl rename renameat mkdir linkat nanosleep

LIB_SRC := $(filter-out src/cli/%,$(wildcard src/*/*.c))
CLI_SRC := $(wildcard src/cli/*.c)
SUPPORT_SRC := $(wildcard tests/support/*.c)
TEST_SRC := $(wildcard tests/unit/*.c tests/reference/*.c)
SLOW_SRC := $(wildcard tests/slow/*.c)
FAULT_SRC := $(wildcard tests/fault/*.c)
FUZZ_SRC := $(filter-out tests/fuzz/place.c,$(wildcard tests/fuzz/*.c))
BENCH_SRC := $(wildcard tests/bench/*.c)
HEADERS := $(wildcard include/flatwright/*.h)
ALL_SRC := $(LIB_SRC) $(CLI_SRC) $(SUPPORT_SRC) $(TEST_SRC) $(SLOW_SRC) $(FAULT_SRC) $(FUZZ_SRC) tests/fuzz/place.c $(BENCH_SRC)

LIB_OBJ := $(LIB_SRC:%.c=$B/%.o)
CLI_OBJ := $(CLI_SRC:%.c=$B/%.o)
SUPPORT_OBJ := $(SUPPORT_SRC:%.c=$B/%.o)
TESTS := $(TEST_SRC:%.c=$B/%)
SLOW_TESTS := $(SLOW_SRC:%.c=$B/%) tests/python/killed.py
SHARED := libflatwright.so.$(VERSION)
SONAME := libflatwright.so.$(SOVERSION)

# What is tested by a script. Only a plain build can be linked to by others, hence installed.
SCRIPTS := $(wildcard tests/cli/run tests/man.sh tests/house.sh tests/readme.sh tests/session.sh tests/pictures.sh \
                      tests/completion.sh \
                      tests/python/bench.py tests/python/heard.py tests/python/rfc4180.py \
                      tests/python/progress.py tests/python/bands.py tests/python/drawn.py \
                      tests/python/outside.py) \
           $(if $(filter release debug,$(MODE)),tests/install.sh tests/hardening.sh)
RUN = B=$B MODE=$(MODE) CC='$(CC)' FLATWRIGHT='$(abspath $B)/flatwright' tests/run

all: $B/flatwright $B/libflatwright.a $B/$(SHARED) ## build the program and the library

demo: ## install what is missing, build, and work out the example
	$(call need,$(PACKAGES))
	$Q$(MAKE) --no-print-directory $(PARALLEL) all
	$B/flatwright $(DEMO)

check: ## install what is missing, build, and run every test
	$(call need,$(PACKAGES) $(TEST_PACKAGES))
	$Q$(MAKE) --no-print-directory $(PARALLEL) all tests
	$Q$(MAKE) --no-print-directory test

test: all tests $B/tests/fault/memory.so ## run the tests, nothing installed
	+$Q$(RUN) $(TESTS) $(SCRIPTS)

tests: $(TESTS)

slow: all $(SLOW_TESTS) ## run the long simulations, minutes each
	+$QLIMIT=7200 $(RUN) $(SLOW_TESTS)

faults: all $B/tests/fault/memory.so $B/tests/fault/files ## make every request for memory, every file call fail
	+$Q$(RUN) tests/fault/memory.sh tests/fault/files.sh tests/fault/odd.sh

fuzz: ## install clang where it is missing, then any bytes as any file, SECONDS=20 a target
	$(call need,$(PACKAGES) clang libclang-rt-dev)
	$Q$(MAKE) --no-print-directory $(PARALLEL) MODE=fuzz CC=clang fuzz-all
	+$Q SECONDS_EACH=$(SECONDS) JOBS=$(JOBS) B=build/fuzz tests/fuzz/run.sh

fuzz-all: $B/flatwright $(FUZZ_SRC:%.c=$B/%)

bench: ## install the sparse solver it compares with, and time whole jobs (SIZES="2 3 4": decades)
	$(call need,$(PACKAGES) $(TEST_PACKAGES) $(BENCH_PACKAGES))
	$Q$(MAKE) --no-print-directory $(PARALLEL) all $(BENCH_SRC:%.c=$B/%)
	$QSIZES='$(SIZES)' BEFORE='$(BEFORE)' PYTHON='$(PYTHON)' $B/tests/bench/bench

coverage: ## run the tests, and say whether they reach enough of the sources (MISSED=1: what they do not)
	$Q$(MAKE) --no-print-directory $(PARALLEL) MODE=cov all tests
	$Q$(MAKE) --no-print-directory MODE=cov coverage-figures

coverage-figures: all tests $B/tests/fault/memory.so
	$Qfind $B -name '*.gcda' -delete
	+$Q$(RUN) $(TESTS) $(SCRIPTS) || : # tests that limit files or slow requests for memory meet gcov's as well
	$Qgcov -t -b -c $(LIB_OBJ:.o=.gcda) $(CLI_OBJ:.o=.gcda) 2>/dev/null | \
	  awk -f tests/coverage/figures.awk tests/coverage/unreached -

valgrind: all ## install valgrind, and run every command under it
	$(call need,$(PACKAGES) valgrind libc6-dbg)
	+$Q$(RUN) tests/valgrind.sh

same: ## install clang, and compare compilers, optimisers, threads, kernels, two builds: minutes
	$(call need,$(PACKAGES) clang)
	+$QLIMIT=7200 $(RUN) tests/same.sh

mutate: ## change N=40 places of the sources at random (SEED=1), the tests must notice: minutes
	$(call need,$(PACKAGES) $(TEST_PACKAGES))
	$QWRAPPED='$(WRAPPED)' tests/python/mutate.py

browser: ## install a browser and checkers, and put the pages of `report` before them
	$(call need,$(PACKAGES) $(BROWSER_PACKAGES))
	$Q$(MAKE) --no-print-directory $(PARALLEL) all
	+$Q LIMIT=1800 $(RUN) tests/browser/run

session: all ## write the session of man/flatwright-session.7 anew
	$QFLATWRIGHT=$(abspath $B)/flatwright BLESS=1 tests/session.sh

pictures: all ## draw the pictures of examples/pictures anew
	$QFLATWRIGHT=$(abspath $B)/flatwright BLESS=1 tests/pictures.sh

lint: ## install the checkers, and run them: cppcheck, clang-tidy, mandoc
	$(call need,$(PACKAGES) $(TEST_PACKAGES) $(LINT_PACKAGES))
	$Q$(MAKE) --no-print-directory -k $(PARALLEL) lint-all

LINT_SRC := $(filter-out tests/bench/peers.c,$(ALL_SRC))
lint-all: $B/lint/cppcheck $(LINT_SRC:%.c=$B/lint/%.tidy) lint-man

lint-man:
	$Q! mandoc -Tlint man/*.[0-9] | grep -v "not found: Xr flatwright"

# Left out: what clang-tidy tells better (variables not set, conditions always true), constness of
# tables in tests, what comes of not knowing that an assert of cmocka leaves the test, and what a test
# sets that is read through a pointer handed on before.
CPPCHECK_LESS := missingIncludeSystem unmatchedSuppression uninitvar legacyUninitvar \
  knownConditionTrueFalse variableScope constParameterCallback $(addsuffix :tests/*,\
  nullPointer ctunullpointer nullPointerRedundantCheck constVariable unusedStructMember \
  unreadVariable redundantAssignment useClosedFile)
$B/lint/cppcheck: $(LINT_SRC) $(HEADERS) $(wildcard src/*/*.h tests/*/*.h) Makefile
	@mkdir -p $B/lint/cppcheck.d
	$Qcppcheck -q --std=c11 --enable=warning,style,performance,portability --inline-suppr \
	  --error-exitcode=1 --cppcheck-build-dir=$B/lint/cppcheck.d $(DEFINES) \
	  $(addprefix --suppress=,$(CPPCHECK_LESS)) $(LINT_SRC)
	@touch $@

$B/lint/%.tidy: %.c .clang-tidy $(HEADERS) $(wildcard src/*/*.h tests/*/*.h)
	@mkdir -p $(@D)
	$Qclang-tidy --quiet --warnings-as-errors='*' $< -- -std=c11 $(DEFINES) $(WARN) \
	  $(if $(filter src/base/error.c,$<),,-include tests/lint.h) 2>$@.err || \
	  { cat $@.err >&2; false; }
	@touch $@

install: all ## install under PREFIX (/usr/local), into DESTDIR when that is set
	$Q$(INSTALL) -d $(addprefix $(DESTDIR),$(PREFIX)/bin $(LIBDIR)/pkgconfig \
	  $(PREFIX)/include/flatwright $(MANDIR)/man1 $(MANDIR)/man3 $(MANDIR)/man5 $(MANDIR)/man7 \
	  $(BASHDIR) $(ZSHDIR))
	$Q$(INSTALL) $B/flatwright $(DESTDIR)$(PREFIX)/bin/flatwright
	$Q$(INSTALL) -m 644 $B/libflatwright.a $B/$(SHARED) $(DESTDIR)$(LIBDIR)
	$Qln -sf $(SHARED) $(DESTDIR)$(LIBDIR)/$(SONAME)
	$Qln -sf $(SONAME) $(DESTDIR)$(LIBDIR)/libflatwright.so
	$Q$(INSTALL) -m 644 include/flatwright.h $(DESTDIR)$(PREFIX)/include
	$Q$(INSTALL) -m 644 $(HEADERS) $(DESTDIR)$(PREFIX)/include/flatwright
	$Q$(INSTALL) -m 644 man/flatwright.1 $(DESTDIR)$(MANDIR)/man1
	$Q$(INSTALL) -m 644 man/flatwright.3 $(DESTDIR)$(MANDIR)/man3
	$Q$(INSTALL) -m 644 man/flatwright-job.5 $(DESTDIR)$(MANDIR)/man5
	$Q$(INSTALL) -m 644 man/flatwright-session.7 $(DESTDIR)$(MANDIR)/man7
	$Q$B/flatwright completion bash >$(DESTDIR)$(BASHDIR)/flatwright
	$Q$B/flatwright completion zsh >$(DESTDIR)$(ZSHDIR)/_flatwright
	$Qprintf '%s\n' 'Name: flatwright' 'Description: three flats from pair readings' \
	  'Version: $(VERSION)' 'Cflags: -I$(PREFIX)/include' 'Libs: -L$(LIBDIR) -lflatwright' \
	  'Libs.private: -llapacke -lopenblas -lgsl -lcsv -lm' \
	  >$(DESTDIR)$(LIBDIR)/pkgconfig/flatwright.pc

uninstall: ## remove what install put there
	$Qrm -f $(DESTDIR)$(PREFIX)/bin/flatwright \
	  $(addprefix $(DESTDIR)$(LIBDIR)/,libflatwright.a libflatwright.so $(SONAME) $(SHARED) \
	    pkgconfig/flatwright.pc) \
	  $(addprefix $(DESTDIR)$(MANDIR)/,man1/flatwright.1 man3/flatwright.3 man5/flatwright-job.5 \
	    man7/flatwright-session.7) \
	  $(DESTDIR)$(BASHDIR)/flatwright $(DESTDIR)$(ZSHDIR)/_flatwright \
	  $(DESTDIR)$(PREFIX)/include/flatwright.h
	$Qrm -rf $(DESTDIR)$(PREFIX)/include/flatwright

clean: ## remove everything that was built
	$Qrm -rf build

help: ## print this list
	@awk -F':.*## ' '/^[a-z]+:.*## / { printf "%-10s %s\n", $$1, $$2 }' Makefile
	@echo 'MODE=release|debug|asan|cov|fuzz   kind of build, under build/MODE'
	@echo 'V=1                           show every command'
	@echo 'CFLAGS CPPFLAGS LDFLAGS       added to the flags used here'

$B/libflatwright.a: $(LIB_OBJ) $B/link
	$Qrm -f $@
	$Q$(AR) rcs $@ $(LIB_OBJ)

# The map keeps everything but the public prefix inside.
$B/$(SHARED): $(LIB_OBJ) $B/link
	@echo '{ global: fw_*; local: *; };' >$B/libflatwright.map
	$Q$(CC) -shared -Wl,-soname,$(SONAME) $(if $(filter asan,$(MODE)),,-Wl,-z,defs) \
	  -Wl,--version-script=$B/libflatwright.map $(ALL_LDFLAGS) -o $@ $(LIB_OBJ) $(LIBS)

$B/flatwright: $(CLI_OBJ) $B/libflatwright.a $B/link
	$Q$(CC) -pie $(ALL_LDFLAGS) -o $@ $(CLI_OBJ) $B/libflatwright.a $(LIBS)

$B/tests/%: $B/tests/%.o $(SUPPORT_OBJ) $B/libflatwright.a $B/link
	$Q$(CC) -pie $(ALL_LDFLAGS) $(WRAPPED:%=-Wl,--wrap=%) -o $@ $< $(SUPPORT_OBJ) \
	  $B/libflatwright.a $(TEST_LIBS)

# Preloaded into the program by tests; never sanitized itself.
$B/tests/fault/%.so: tests/fault/%.c tests/support/chains.c tests/support/chains.h
	@mkdir -p $(@D)
	$Q$(CC) -std=c11 -O2 -g $(WARN) -fPIC -shared -o $@ $(filter %.c,$^)

$B/tests/fault/files: tests/fault/files.c
	@mkdir -p $(@D)
	$Q$(CC) -std=c11 -O2 -g $(WARN) -o $@ $<

$B/tests/fuzz/command: FUZZED_OBJ := $(filter-out %/main.o,$(CLI_OBJ))
$B/tests/fuzz/command: $(CLI_OBJ)
$B/tests/fuzz/%: $B/tests/fuzz/%.o $B/tests/fuzz/place.o $B/libflatwright.a $B/link
	$Q$(CC) -fsanitize=fuzzer $(ALL_LDFLAGS) -o $@ $< $B/tests/fuzz/place.o $(FUZZED_OBJ) \
	  $B/libflatwright.a $(LIBS)

# The one program that others' solvers are linked to.
$B/tests/bench/peers.o: DEFINES += -isystem /usr/include/suitesparse
$B/tests/bench/peers: TEST_LIBS += -lspqr -lcholmod

$B/%.o: %.c $B/flags
	@mkdir -p $(@D)
	$Q$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

# Stamps that change only when the flags, or the list of sources, do.
$B/flags: FORCE
	$(call stamp,$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS))
$B/link: FORCE
	$(call stamp,$(CC) $(ALL_LDFLAGS) $(WRAPPED) $(LIBS) $(LIB_OBJ) $(CLI_OBJ))

define stamp
@mkdir -p $(@D)
@printf '%s\n' '$(subst ','\'',$1)' | cmp -s - $@ || printf '%s\n' '$(subst ','\'',$1)' >$@
endef

# Installs those of the Debian packages in $1 that are missing; says so in one line.
define need
@missing=; command -v dpkg-query >/dev/null || exit 0; \
for p in $1; do \
  [ "$$(dpkg-query -W -f='$${db:Status-Status}' $$p 2>/dev/null)" = installed ] || \
    missing="$$missing $$p"; \
done; \
[ -n "$$missing" ] || exit 0; \
echo "installing$$missing" >&2; \
root=; [ "$$(id -u)" = 0 ] || root=sudo; \
log=$$(mktemp) || exit 1; \
{ $$root apt-get update || :; \
  $$root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $$missing; \
} >$$log 2>&1 </dev/null || { cat $$log >&2; rm -f $$log; exit 1; }; \
rm -f $$log
endef

# As many jobs as there are cores, unless the caller chose.
PARALLEL = $(if $(filter -j%,$(MAKEFLAGS)),,-j$(JOBS))

FORCE:
.PHONY: all demo check test tests slow faults fuzz fuzz-all valgrind same mutate bench browser \
        pictures session coverage coverage-figures lint lint-all lint-man install uninstall clean help FORCE
.DELETE_ON_ERROR:
.SECONDARY:
-include $(ALL_SRC:%.c=$B/%.d)
