// SPDX-License-Identifier: Apache-2.0
// A few threads that make pages, and a queue with an end: what does not fit is refused, never kept waiting.
// People with a session go first, and strangers never hold more than one thread.
// Verified by: tests/unit/web/http_work.cpp.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace guidepin::web {

struct WorkLimits
{
    std::size_t threads = 3;
    std::size_t queue = 512, stranger_queue = 64;
    std::chrono::milliseconds patience{4'000}; ///< what waited longer is given up
};

class Work
{
  public:
    /// `late`: it waited too long, or the work ends; only a refusal is to be made.
    using Task = std::function<void(bool late)>;

    explicit Work(WorkLimits limits);
    ~Work();
    Work(Work const&) = delete;
    Work& operator=(Work const&) = delete;

    /// False when the queue is full.
    bool add(bool stranger, Task task);
    /// What runs is finished, what waits is given up; returns when all threads have ended.
    void end();

  private:
    struct Waiting
    {
        Task task;
        std::chrono::steady_clock::time_point since;
    };
    bool has_work() const { return !known_.empty() || (!strangers_.empty() && !stranger_runs_); }
    void run();

    WorkLimits limits_;
    std::mutex lock_;
    std::condition_variable asked_;
    std::deque<Waiting> known_, strangers_;
    bool stranger_runs_ = false, ending_ = false;
    std::vector<std::thread> threads_;
};

} // namespace guidepin::web
