// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/second_look.hpp"

#include "job/doubt/reference_levels.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::job {

namespace {

/// Keeps what the charts showed at first, before anything of a reference changes.
void keep_first_look(WatchedReference& reference)
{
    if (reference.first_look) return;
    WatchedReference first = reference;
    first.tests.clear();
    first.excess.clear();
    reference.first_look = std::make_shared<WatchedReference const>(std::move(first));
}

/// The links of a reference from one test on, as links that teach nothing.
Expectation::LeftOut links_from(WatchedReference const& reference, std::size_t test)
{
    Expectation::LeftOut out{reference.name, {}};
    for (std::size_t t = test; t < reference.tests.size(); ++t) out.links.push_back(reference.tests[t].link);
    std::sort(out.links.begin(), out.links.end());
    return out;
}

/// The steps of look_again(), in their order.
class SecondLook
{
  public:
    SecondLook(Watching& watching, Expectation const& expectation, ChartLimits const& limits,
               cause::Priors const& priors)
        : references_(watching.references)
        , watching_(watching)
        , expectation_(expectation)
        , limits_(limits)
        , done_(watching.references.size(), false)
        , levels_(levels_of(watching, expectation, priors))
    {
        for (std::size_t r = 0; r < references_.size(); ++r) {
            level_doubts_.push_back(
                level_doubt(levels_[r], references_[r].tests.size(), watching.grants_db, priors.report_from));
            if (common_doubt(references_[r])) suspects_.push_back(r);
        }
    }

    /// Takes references whose level is wrong out of the expectation and runs their own charts again.
    void leave_out_wrong_levels()
    {
        for (std::size_t r = 0; r < references_.size(); ++r) {
            if (has_wrong_level(r)) known_.left_out.push_back(links_from(references_[r], 0));
        }
        for (std::size_t r = 0; r < references_.size(); ++r) {
            done_[r] = has_wrong_level(r);
            if (done_[r]) run_again(r);
        }
    }

    /// Keeps the clearest change, leaves its links out of what is expected of the others, and repeats that
    /// until no other reference has moved.
    void leave_out_changes()
    {
        bool changed = !known_.left_out.empty();
        while (true) {
            std::size_t clearest = references_.size();
            double most = 0;
            for (std::size_t const r : suspects_) {
                if (done_[r]) continue;
                if (changed) run_again(r);
                Doubt const* const doubt = common_doubt(references_[r]);
                if (!doubt || doubt->change.first_after == 0) continue;
                double const clear = std::abs(doubt->size.value()) / std::max(doubt->size_u.value(), 1e-6);
                if (clear <= most) continue;
                most = clear;
                clearest = r;
            }
            if (clearest == references_.size()) return;
            done_[clearest] = true;
            known_.left_out.push_back(
                links_from(references_[clearest], common_doubt(references_[clearest])->change.earliest));
            changed = true;
        }
    }

    /// Sets the size of a negative loss to what all readings under the reference share, and not to that of
    /// the lowest reading.
    void size_negative_loss(std::size_t r)
    {
        WatchedReference& reference = references_[r];
        for (Doubt& doubt : reference.doubts) {
            if (doubt.kind != DoubtKind::negative_loss) continue;
            keep_first_look(reference);
            auto const at = static_cast<std::size_t>(std::max(0, doubt.position - 1));
            Decibel const size =
                doubt.position > 0 ? Decibel{reference.position_offset_db[at]} : levels_[r].size;
            if (!(size < Decibel{})) continue;
            doubt.size = size;
            doubt.size_u = doubt.position > 0 ? Decibel{reference.position_u_db[at]} : levels_[r].u;
        }
    }

    /// Replaces a change at the first link by the doubt of the level: that is a wrong level, and all
    /// references together show it better than the charts of one.
    void report_level(std::size_t r)
    {
        WatchedReference& reference = references_[r];
        auto const from_the_first = [](Doubt const& doubt) {
            return doubt.kind == DoubtKind::common && doubt.change.first_after == 0;
        };
        if (!level_doubts_[r] &&
            std::none_of(reference.doubts.begin(), reference.doubts.end(), from_the_first))
            return;
        keep_first_look(reference);
        std::erase_if(reference.doubts, from_the_first);
        if (level_doubts_[r]) reference.doubts.push_back(std::move(*level_doubts_[r]));
    }

  private:
    bool has_wrong_level(std::size_t r) const { return level_doubts_[r] && level_doubts_[r]->material; }

    void run_again(std::size_t r)
    {
        keep_first_look(references_[r]);
        known_.level_unknown = has_wrong_level(r);
        run_charts(watching_, references_[r], expectation_, limits_, known_);
    }

    std::vector<WatchedReference>& references_;
    Watching const& watching_;
    Expectation const& expectation_;
    ChartLimits const& limits_;
    std::vector<bool> done_; ///< its doubts are final
    std::vector<watch::Level> levels_;
    std::vector<std::optional<Doubt>> level_doubts_;
    std::vector<std::size_t> suspects_; ///< those that moved at first
    KnownBefore known_;
};

} // namespace

void look_again(Watching& watching, Expectation const& expectation, ChartLimits const& limits,
                cause::Priors const& priors)
{
    SecondLook look(watching, expectation, limits, priors);
    look.leave_out_wrong_levels();
    look.leave_out_changes();
    for (std::size_t r = 0; r < watching.references.size(); ++r) {
        look.size_negative_loss(r);
        look.report_level(r);
    }
}

void restore_first_look(WatchedReference& reference)
{
    if (!reference.first_look) return;
    auto const first = reference.first_look;
    auto tests = std::move(reference.tests);
    auto excess = std::move(reference.excess);
    reference = *first;
    reference.tests = std::move(tests);
    reference.excess = std::move(excess);
}

} // namespace guidepin::job
