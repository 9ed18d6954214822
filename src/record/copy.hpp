// SPDX-License-Identifier: Apache-2.0
// A job's records as one text file, for whoever receives them: each line a record's envelope, so that the
// SHA-256 of a line is the record's hash; then the signed heads. Layout: docs/formats/package.md.
// Verified by: tests/store/record/copy.cpp (round trip, every changed byte is found),
// tests/fuzz/record_copy.cpp.
#pragma once

#include "record/store.hpp"

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::record {

/// The head of each station at which its chain may end without losing anything but records of these kinds: a
/// package that was handed over twice is then the same both times, though the first handing over was
/// recorded. A station that added nothing else is left out.
Result<std::vector<Head>> heads_without_last(Store const& store, std::span<std::string_view const> kinds);

/// Takes bytes; false where they could not be written.
using CopySink = std::function<bool(std::string_view)>;

/// Every chain up to its head in `ends`, in the order of stations and sequences, and the heads up to there.
/// Errors: environment where the sink refuses, and those of reading the store.
Outcome write_copy(Store const& store, std::span<Head const> ends, CopySink const& sink);

/// The copy as a store that can be read and checked; nothing can be added to it. A record that was changed is
/// still read, with the hash that its successor or a head has for it: check() then names it.
/// `name` is what messages call it. invalid_input with the line where this is no copy of records at all.
Result<std::unique_ptr<Store>> read_copy(std::string_view text, std::string name);

} // namespace guidepin::record
