// SPDX-License-Identifier: Apache-2.0
// How somebody who waits for long work is kept informed.
#pragma once

#include <cstddef>
#include <string>

namespace guidepin::job {

/// How far a long piece of work has come; `done` of `total` in bytes or links, `what` in words.
struct Progress
{
    std::string what;
    std::size_t done = 0, total = 0;
};
using ProgressSink = void (*)(void* context, Progress const& progress);

} // namespace guidepin::job
