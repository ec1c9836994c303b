# flatwright - see README.md. `make help` lists what can be made.
VERSION := 0.1.0
MODE ?= release
PREFIX ?= /usr/local
V ?= 0

PACKAGES := gcc make pkg-config liblapacke-dev libopenblas-dev libgsl-dev libcsv-dev
TEST_PACKAGES := libcmocka-dev libjansson-dev mandoc

B := build/$(MODE)
Q := $(if $(filter 1,$(V)),,@)

CFLAGS_release := -O2
CFLAGS_debug := -O0 -g
CFLAGS_asan := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
CFLAGS_cov := -O0 -g --coverage
WARN := -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wpointer-arith \
        -Wwrite-strings -Wvla -Wformat=2 -Wundef $(if $(CI),-Werror)
ALL_CPPFLAGS = -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -DFW_VERSION='"$(VERSION)"' $(CPPFLAGS)
ALL_CFLAGS = -std=c11 $(CFLAGS_$(MODE)) $(WARN) -fPIC -MMD -MP $(CFLAGS)
LIBS := -llapacke -lopenblas -lgsl -lcsv -lm

LIB_SRC := $(filter-out $(wildcard src/cli/*.c),$(wildcard src/*/*.c))
CLI_SRC := $(wildcard src/cli/*.c)
TEST_SRC := $(wildcard tests/unit/*.c tests/reference/*.c)
LIB_OBJ := $(LIB_SRC:%.c=$B/%.o)
CLI_OBJ := $(CLI_SRC:%.c=$B/%.o)
SUPPORT_OBJ := $(patsubst %.c,$B/%.o,$(wildcard tests/support/*.c))
TESTS := $(TEST_SRC:%.c=$B/%)

all: $B/flatwright $B/libflatwright.a ## build the program and the library

$B/libflatwright.a: $(LIB_OBJ)
	$(Q)rm -f $@; $(AR) rcs $@ $^

$B/flatwright: $(CLI_OBJ) $B/libflatwright.a
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(CLI_OBJ) $B/libflatwright.a $(LIBS)

$B/%.o: %.c
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -c -o $@ $<

$B/tests/%: $B/tests/%.o $(SUPPORT_OBJ) $B/libflatwright.a
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $< $(SUPPORT_OBJ) $B/libflatwright.a $(LIBS) -ljansson -lcmocka

test: $(TESTS)
	$(Q)set -e; for t in $(TESTS); do LC_ALL=C TZ=UTC $$t; done

clean: ## remove everything that was built
	$(Q)rm -rf build

.PHONY: all test clean
.SECONDARY:
-include $(LIB_OBJ:.o=.d) $(CLI_OBJ:.o=.d) $(SUPPORT_OBJ:.o=.d) $(TEST_SRC:%.c=$B/%.d)
