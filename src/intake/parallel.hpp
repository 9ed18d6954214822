// SPDX-License-Identifier: Apache-2.0
// Independent pieces of work on a few threads. Room-private.
#pragma once

#include <cstddef>
#include <functional>

namespace guidepin::intake {

/// Calls work(0) … work(pieces - 1), each once, on up to `threads` threads, the caller's included. What a
/// piece throws (memory) is thrown on by this call after all threads have ended.
void run_parallel(int threads, std::size_t pieces, std::function<void(std::size_t)> const& work);

} // namespace guidepin::intake
