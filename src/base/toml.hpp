// SPDX-License-Identifier: Apache-2.0
// The library toml++, without its assertions: version 3.3 asserts what a wrong file can break, and in a
// release build it promises the compiler that this never happens. Here a wrong file goes on to the library's
// own error. Verified by: tests/fuzz/rule_set.cpp (and every other fuzzer of a TOML file).
#pragma once

#ifdef NDEBUG
#undef NDEBUG
#define GUIDEPIN_WITHOUT_ASSERTIONS
#endif
#define TOML_ASSERT(expr) static_cast<void>(0)

#include <toml++/toml.h>

#ifdef GUIDEPIN_WITHOUT_ASSERTIONS
#define NDEBUG
#undef GUIDEPIN_WITHOUT_ASSERTIONS
#endif
