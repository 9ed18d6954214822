// SPDX-License-Identifier: Apache-2.0
#include "web/http_work.hpp"

namespace guidepin::web {

Work::Work(WorkLimits limits)
    : limits_(limits)
{
    for (std::size_t i = 0; i < limits_.threads; ++i) threads_.emplace_back([this] { run(); });
}

Work::~Work()
{
    end();
}

bool Work::add(bool stranger, Task task)
{
    {
        std::lock_guard const guard(lock_);
        auto& queue = stranger ? strangers_ : known_;
        if (ending_ || queue.size() >= (stranger ? limits_.stranger_queue : limits_.queue)) return false;
        queue.push_back({std::move(task), std::chrono::steady_clock::now()});
    }
    asked_.notify_one();
    return true;
}

void Work::end()
{
    {
        std::lock_guard const guard(lock_);
        ending_ = true;
    }
    asked_.notify_all();
    for (std::thread& thread : threads_) {
        if (thread.joinable()) thread.join();
    }
}

void Work::run()
{
    std::unique_lock guard(lock_);
    for (;;) {
        asked_.wait(guard, [&] { return has_work() || ending_; });
        if (!has_work()) {
            // A stranger's page that still runs leaves the rest of its queue to the thread that makes it.
            return;
        }
        bool const stranger = known_.empty();
        auto& queue = stranger ? strangers_ : known_;
        Waiting next = std::move(queue.front());
        queue.pop_front();
        bool const late = ending_ || std::chrono::steady_clock::now() - next.since > limits_.patience;
        if (stranger) stranger_runs_ = true;
        guard.unlock();
        next.task(late);
        next.task = nullptr;
        guard.lock();
        if (stranger) {
            stranger_runs_ = false;
            asked_.notify_one();
        }
    }
}

} // namespace guidepin::web
