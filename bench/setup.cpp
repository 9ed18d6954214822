// SPDX-License-Identifier: Apache-2.0
// room: setup facts
// Time to solve a set-up with a kit of 20 items, beside a baseline that everybody can repeat on the same
// machine: sorting one million 64-bit integers (fixed seed) with std::sort. The ratio moves less than
// milliseconds do.
#include "setup/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <random>
#include <vector>

using namespace guidepin;
using namespace guidepin::setup;

namespace {

double seconds(std::chrono::steady_clock::time_point since)
{
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - since).count();
}

double baseline()
{
    std::mt19937_64 random{1};
    std::vector<std::uint64_t> numbers(1'000'000);
    for (auto& n : numbers) n = random();
    auto const start = std::chrono::steady_clock::now();
    std::sort(numbers.begin(), numbers.end());
    return seconds(start) + (numbers.front() > numbers.back() ? 1 : 0);
}

/// 15 cords, no two alike, four adapters and a pin tool.
Question question_of(int state, bool solvable)
{
    plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};
    auto const pins = [&](int b) {
        return ((state >> b) & 1) != 0 ? plant::Pins::pinned : plant::Pins::unpinned;
    };
    Question question;
    question.source = port_of(mpo12, pins(0));
    question.meter = port_of(mpo12, pins(1));
    question.cabling.first = {"a", plug_of(mpo12, pins(2)), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"b", plug_of(mpo12, pins(3)), plant::EndFitting::opposed_adapter};
    for (int c = 0; c < 15; ++c) {
        auto const bit = [&](int b) { return ((c >> b) & 1) != 0; };
        Cord cord = cord_of(fmt::format("cord-{:02}", c), mpo12,
                            EndPins{bit(0) ? plant::Pins::pinned : plant::Pins::unpinned, bit(2)},
                            EndPins{bit(1) ? plant::Pins::pinned : plant::Pins::unpinned, bit(3)});
        cord.type = c % 2 == 0 ? "A" : "B";
        question.kit.cords.push_back(cord);
    }
    question.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, solvable ? 3 : 0},
                             {plant::KeyRelation::aligned, mpo12.key, solvable ? 1 : 0}};
    question.kit.pin_tools = {{"tool", mpo12.key}};
    question.permitted = {Arrangement::one_cord, Arrangement::two_cord, Arrangement::three_cord,
                          Arrangement::changer};
    return question;
}

} // namespace

int main()
{
    double const sort = baseline();
    for (bool const solvable : {true, false}) {
        double worst = 0;
        double sum = 0;
        for (int state = 0; state < 16; ++state) {
            Question const question = question_of(state, solvable);
            double best = 1e9;
            for (int repeat = 0; repeat < 5; ++repeat) {
                auto const start = std::chrono::steady_clock::now();
                auto const answer = solve(question, SolveOptions{false});
                best = std::min(best, seconds(start));
                if (!answer || answer->plan.has_value() != solvable) {
                    fmt::print("case {}: unexpected answer\n", state);
                    return 1;
                }
            }
            worst = std::max(worst, best);
            sum += best;
        }
        fmt::print("solve, kit of 20 items, all four arrangements, {}: mean {:.3f} ms, worst {:.3f} ms, "
                   "worst / sort of "
                   "1e6 integers ({:.1f} ms) = {:.4f}\n",
                   solvable ? "16 pin combinations" : "no plan (no adapters)", sum / 16 * 1e3, worst * 1e3,
                   sort * 1e3, worst / sort);
        if (worst > 0.010) fmt::print("over 10 ms\n");
    }
    return 0;
}
