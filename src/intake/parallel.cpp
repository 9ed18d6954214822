// SPDX-License-Identifier: Apache-2.0
#include "intake/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace guidepin::intake {

void run_parallel(int threads, std::size_t pieces, std::function<void(std::size_t)> const& work)
{
    auto const wanted = std::min(static_cast<std::size_t>(std::clamp(threads, 1, 64)), pieces);
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

} // namespace guidepin::intake
