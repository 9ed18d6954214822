// SPDX-License-Identifier: Apache-2.0
// Independent pieces of work on a few threads: the one place of the program that starts threads for
// arithmetic. A pure room may not use it (tools/check_layers). Verified by: tests/unit/base/parallel.cpp.
#pragma once

#include <cstddef>
#include <functional>

namespace guidepin {

/// Calls work(0) … work(pieces - 1), each once, on up to `threads` threads (1 to 64), the caller's included.
/// If the system starts no more threads, those that run do the work. What a piece throws (memory) is thrown
/// by this call after all threads have ended.
void run_parallel(int threads, std::size_t pieces, std::function<void(std::size_t)> const& work);

/// Calls work(first, last) for one range of about equal size per thread; together they cover 0 … count - 1.
void run_in_ranges(int threads, std::size_t count, std::function<void(std::size_t, std::size_t)> const& work);

} // namespace guidepin
