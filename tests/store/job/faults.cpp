// SPDX-License-Identifier: Apache-2.0
// Each operation of SQLite on the disk fails once, or from then on; or the power goes at it. Whatever
// happens, the job opens, its records hold, each change is there whole or not at all, and what was
// acknowledged is there.
//
// Oracle: the same work without a fault, counted in records after each step; record::check and SQLite's own
// integrity check; derived tables made again from the records. The sweep of each kind ends with the first
// number that no operation reaches, so that none is left out.
#include "fault_file_system.hpp"
#include "fault_job.hpp"
#include "record/derived_digest.hpp"

#include <functional>
#include <map>
#include <tuple>

namespace guidepin::job::faults {

namespace faults_test {

using support::FaultFileSystem;
using support::FaultPlan;
using support::FileOperation;
using support::Survival;

struct Step
{
    std::function<Outcome(Job&)> act;
    bool may_repeat = false; ///< carries a key: a second time on the same job is the same as once
};

struct Work
{
    char const* name;
    std::vector<Step> steps;
};

template <class Value>
Outcome done(Result<Value> const& result)
{
    if (result) return {};
    return result.error();
}

Note note_with_key(char const* key)
{
    Note note;
    note.subject = "link";
    note.name = "N-2";
    note.text = "adapter loose";
    note.key = key;
    return note;
}

std::vector<Work> all_work()
{
    Step const import{[](Job& job) {
        return done(job.import_readings(
            "day.csv",
            readings_of("N-1", "30") + readings_of("N-2", "40").substr(readings_of("", "").find('\n') + 1),
            {}, {}));
    }};
    Step const typed{[](Job& job) {
                         TypedReadings readings;
                         readings.link = "N-2";
                         readings.reference = "R-1";
                         readings.person = "Tomasz";
                         readings.key = "0a1b";
                         readings.taken = Instant{parse_instant("2026-03-02T09:20:00Z")->ms, 0};
                         for (int p = 1; p <= 12; ++p) readings.rows.push_back({p, 13 - p, 0.4});
                         return done(job.enter_readings(readings));
                     },
                     true};
    Step const first_note{[](Job& job) { return job.add_note(note_with_key("n-1")); }, true};
    Step const second_note{[](Job& job) { return job.add_note(note_with_key("n-2")); }, true};
    Step const withdrawal{[](Job& job) -> Outcome {
        for (SourceFile const& file : job.state().files) {
            if (file.name == "first.csv")
                return job.withdraw_import({file.station, file.sequence, "at the wrong panel", {}, {}});
        }
        return Error{Errc::internal, "the base has no first.csv"};
    }};
    Step const rebuild{[](Job& job) { return done(job.rebuild()); }};
    Step const hand_over{[](Job& job) {
        HandOver given;
        given.manifest_sha256 = std::string(64, 'a');
        given.made = Instant{parse_instant("2026-03-02T13:00:00Z")->ms, 0};
        given.files = {{"summary.pdf", 10, std::string(64, 'b')}};
        return job.hand_over(given);
    }};
    return {{"import", {import}},
            {"entries", {typed, first_note, second_note}},
            {"withdrawal", {withdrawal}},
            {"rebuild", {rebuild}},
            {"hand_over", {hand_over}}};
}

/// A way in which things go wrong, tried at each operation.
struct Trouble
{
    char const* name;
    FaultPlan plan;                ///< `at` is filled in
    bool power_goes_after = false; ///< though the work itself went on
    Survival survival = Survival::nothing;
    int stride = 1; ///< from one operation tried to the next; more where another trouble does nearly the same
};

std::vector<Trouble> all_troubles()
{
    using How = FaultPlan::How;
    std::vector<Trouble> list;
    for (FileOperation const kind : {FileOperation::write, FileOperation::sync, FileOperation::truncate,
                                     FileOperation::open, FileOperation::remove, FileOperation::map}) {
        for (bool const lasting : {false, true})
            list.push_back(
                {"error", {kind, 0, How::error, lasting}, false, Survival::nothing, lasting ? 2 : 1});
    }
    for (bool const lasting : {false, true})
        list.push_back(
            {"full disk", {FileOperation::write, 0, How::full, lasting}, false, Survival::nothing, 3});
    list.push_back({"torn write", {FileOperation::write, 0, How::torn, false}});
    list.push_back({"sync fails, then the power goes", {FileOperation::sync, 0, How::error, false}, true});
    list.push_back({"lost write", {FileOperation::write, 0, How::lost, false}});
    list.push_back({"power, unsynced lost", {{}, 0, How::crash, false}});
    list.push_back({"power, unsynced kept", {{}, 0, How::crash, false}, false, Survival::everything, 2});
    list.push_back({"power, unsynced torn", {{}, 0, How::crash, false}, false, Survival::some});
    return list;
}

struct Tally
{
    int runs = 0, struck = 0, refused = 0;
};

class Sweep
{
  public:
    explicit Sweep(FaultJob& place)
        : place_(place)
    {
    }

    /// How many records the job has after none, one, … of the steps, when nothing goes wrong.
    void measure(Work const& work)
    {
        counts_.clear();
        std::string const path = place_.copy("trial.guidepin");
        FaultFileSystem::begin({});
        auto job = Job::open(path, place_.actor, true);
        ASSERT_TRUE(job) << job.error().message;
        counts_.push_back(*job->store().count());
        for (Step const& step : work.steps) {
            auto const went = step.act(*job);
            ASSERT_TRUE(went) << work.name << ": " << went.error().message;
            counts_.push_back(*job->store().count());
        }
    }

    void run(Work const& work)
    {
        measure(work);
        for (Trouble const& trouble : all_troubles()) {
            constexpr int more_than_enough = 2000;
            int at = 1;
            for (; at < more_than_enough; at += trouble.stride * fault_step()) {
                if (!once(work, trouble, at)) break;
                if (::testing::Test::HasFailure()) return;
            }
            EXPECT_LT(at, more_than_enough) << "the sweep has no end";
        }
    }

    std::map<std::string, Tally> const& tallies() const { return tallies_; }

  private:
    /// False when the work has no such operation any more.
    bool once(Work const& work, Trouble const& trouble, int at)
    {
        std::string const kind = trouble.plan.kind ? name_of(*trouble.plan.kind) : "any";
        std::string const what = fmt::format("{}: {} at {} {}{}", work.name, trouble.name, kind, at,
                                             trouble.plan.lasting ? ", lasting" : "");
        SCOPED_TRACE(what);
        std::string const path = place_.copy("trial.guidepin");
        FaultPlan plan = trouble.plan;
        plan.at = at;
        FaultFileSystem::begin(plan);
        std::size_t const acknowledged = act(work, trouble, path);
        bool const struck = FaultFileSystem::struck();
        bool const settles =
            trouble.power_goes_after || plan.how == FaultPlan::How::lost || plan.how == FaultPlan::How::crash;
        // The seed is the number of the operation: a failure names all it takes to see it again.
        if (settles) FaultFileSystem::settle(trouble.survival, static_cast<std::uint64_t>(at));
        FaultFileSystem::begin({});
        verify(path, acknowledged);
        Tally& tally = tallies_[fmt::format("{}, {}", kind, trouble.name)];
        ++tally.runs;
        tally.struck += struck ? 1 : 0;
        tally.refused += acknowledged < work.steps.size() ? 1 : 0;
        return struck;
    }

    /// The steps that were acknowledged, one after the other.
    std::size_t act(Work const& work, Trouble const& trouble, std::string const& path)
    {
        auto job = Job::open(path, place_.actor, true);
        std::size_t acknowledged = 0;
        if (job) {
            for (Step const& step : work.steps) {
                auto went = step.act(*job);
                bool const once_only = !trouble.plan.lasting && trouble.plan.how != FaultPlan::How::crash &&
                                       trouble.plan.how != FaultPlan::How::lost;
                if (!went && once_only && step.may_repeat) {
                    went = step.act(*job);
                    EXPECT_TRUE(went)
                        << "sent once more, after the trouble has gone: " << went.error().message;
                }
                if (!went) {
                    EXPECT_NE(went.error().code, Errc::internal) << went.error().message;
                    break;
                }
                ++acknowledged;
            }
        } else {
            EXPECT_NE(job.error().code, Errc::internal) << job.error().message;
        }
        if (trouble.power_goes_after) FaultFileSystem::cut_power();
        return acknowledged;
    }

    void verify(std::string const& path, std::size_t acknowledged)
    {
        std::optional<std::string> derived;
        {
            auto job = Job::open(path, place_.actor, false);
            ASSERT_TRUE(job) << "does not open for reading: " << job.error().message;
            auto const container = job->store().verify_container();
            ASSERT_TRUE(container) << container.error().message;
            auto const checked = record::check(job->store());
            ASSERT_TRUE(checked) << checked.error().message;
            ASSERT_FALSE(checked->first) << checked->first->text();
            std::int64_t const count = *job->store().count();
            auto const found = std::find(counts_.begin(), counts_.end(), count);
            ASSERT_NE(found, counts_.end()) << count << " records: a change is there in part";
            // Steps without records of their own (a rebuild) have equal counts: the last such is meant.
            ASSERT_GE(count, counts_[acknowledged]) << "something that was acknowledged is not there";
            if (*job->store().derived_basis() == *record::chains_digest(job->store()))
                derived = record::DerivedDigest::of(*job->store().derived_tables())->hex();
        }
        auto job = Job::open(path, place_.actor, true);
        ASSERT_TRUE(job) << "does not open for writing: " << job.error().message;
        auto const same = job->rebuild();
        ASSERT_TRUE(same) << same.error().message;
        ASSERT_TRUE(*same) << "derived tables differ from what the records give";
        if (derived) {
            ASSERT_EQ(*derived, record::DerivedDigest::of(*job->store().derived_tables())->hex())
                << "derived tables said that they were of these records, and were not";
        }
        auto const noted = job->add_note(note_with_key("after"));
        ASSERT_TRUE(noted) << "nothing can be written to it: " << noted.error().message;
    }

    FaultJob& place_;
    std::vector<std::int64_t> counts_;
    std::map<std::string, Tally> tallies_;
};

class StorageFaults : public ::testing::Test
{
  protected:
    void SetUp() override
    {
        FaultFileSystem::install();
        FaultFileSystem::begin({});
        place_.make_base();
    }
    void TearDown() override { FaultFileSystem::uninstall(); }

    static void print(char const* work, std::map<std::string, Tally> const& tallies)
    {
        for (auto const& [name, tally] : tallies) {
            fmt::print("{}: {}: {} faults, {} of them refused the work\n", work, name, tally.struck,
                       tally.refused);
            EXPECT_GT(tally.runs, 0);
        }
    }

    FaultJob place_;
};

class EachWork : public StorageFaults, public ::testing::WithParamInterface<int>
{
};

TEST_P(EachWork, IsThereWholeOrNotAtAllWhateverFails)
{
    Work const work = all_work()[static_cast<std::size_t>(GetParam())];
    Sweep sweep(place_);
    sweep.run(work);
    print(work.name, sweep.tallies());
    EXPECT_GT(sweep.tallies().at("write, error").struck * fault_step(), 3)
        << "too few operations failed to prove anything";
    EXPECT_GT(sweep.tallies().at("sync, error").struck, 0);
}

INSTANTIATE_TEST_SUITE_P(StorageFaults, EachWork, ::testing::Range(0, 5), [](auto const& work) {
    return std::string(all_work()[static_cast<std::size_t>(work.param)].name);
});

/// A job of that name is there whole, or nothing is.
TEST_F(StorageFaults, ANewJobIsThereWholeOrNotAtAll)
{
    std::string const path = place_.file("new.guidepin");
    std::map<std::string, Tally> tallies;
    for (Trouble const& trouble : all_troubles()) {
        for (int at = 1;; at += fault_step()) {
            std::string const kind = trouble.plan.kind ? name_of(*trouble.plan.kind) : "any";
            SCOPED_TRACE(fmt::format("new: {} at {} {}{}", trouble.name, kind, at,
                                     trouble.plan.lasting ? ", lasting" : ""));
            for (auto const& entry : std::filesystem::directory_iterator(place_.folder())) {
                if (entry.path().filename().string().starts_with("new.guidepin"))
                    std::filesystem::remove(entry.path());
            }
            FaultPlan plan = trouble.plan;
            plan.at = at;
            FaultFileSystem::begin(plan);
            auto const made = Job::create(path, FaultJob::settings(), place_.actor);
            bool const struck = FaultFileSystem::struck();
            if (trouble.power_goes_after || plan.how == FaultPlan::How::lost ||
                plan.how == FaultPlan::How::crash)
                FaultFileSystem::settle(trouble.survival, static_cast<std::uint64_t>(at));
            FaultFileSystem::begin({});
            bool const is_there = std::filesystem::exists(path);
            ASSERT_TRUE(is_there || !made) << "it was acknowledged and is not there";
            if (!is_there) {
                auto const again = Job::create(path, FaultJob::settings(), place_.actor);
                ASSERT_TRUE(again) << "the name is free and cannot be taken: " << again.error().message;
            }
            auto job = Job::open(path, place_.actor, true);
            ASSERT_TRUE(job) << (made ? "acknowledged, " : "refused, ")
                             << "but no whole job: " << job.error().message;
            auto const checked = record::check(job->store());
            ASSERT_TRUE(checked && !checked->first);
            ASSERT_EQ(job->state().settings.title, "Harbour Hall");
            Tally& tally = tallies[fmt::format("{}, {}", kind, trouble.name)];
            ++tally.runs;
            tally.struck += struck ? 1 : 0;
            tally.refused += made ? 0 : 1;
            if (!struck) break;
        }
    }
    print("new", tallies);
}

} // namespace faults_test

} // namespace guidepin::job::faults
