// SPDX-License-Identifier: Apache-2.0
#include "base/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace guidepin {

namespace {

std::size_t allowed(int threads)
{
    return static_cast<std::size_t>(std::clamp(threads, 1, 64));
}

} // namespace

void run_parallel(int threads, std::size_t pieces, std::function<void(std::size_t)> const& work)
{
    std::size_t const wanted = std::min(allowed(threads), pieces);
    std::atomic<std::size_t> next{0};
    std::exception_ptr thrown;
    std::mutex guard;
    auto const run = [&] {
        for (std::size_t piece = next++; piece < pieces; piece = next++) {
            try {
                work(piece);
            } catch (...) {
                std::scoped_lock const lock(guard);
                if (!thrown) thrown = std::current_exception();
            }
        }
    };
    std::vector<std::thread> others;
    for (std::size_t i = 1; i < wanted; ++i) {
        try {
            others.emplace_back(run);
        } catch (std::system_error const&) {
            break; // the system gives no more threads: those we have do the work
        }
    }
    run();
    for (std::thread& other : others) other.join();
    if (thrown) std::rethrow_exception(thrown);
}

void run_in_ranges(int threads, std::size_t count, std::function<void(std::size_t, std::size_t)> const& work)
{
    std::size_t const ranges = std::min(allowed(threads), count);
    run_parallel(threads, ranges, [&](std::size_t i) { work(count * i / ranges, count * (i + 1) / ranges); });
}

} // namespace guidepin
