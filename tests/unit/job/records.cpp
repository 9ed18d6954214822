// SPDX-License-Identifier: Apache-2.0
// No record stops a job from opening, and the order in which the files of several stations come together does
// not matter. Records of all kinds are drawn at random: names that clash, names of nothing, bodies that
// cannot be read. Oracles: every order of merging gives the same state, rows and findings; rebuilding gives
// the same rows; taking news in one by one gives what reading everything gives.
#include "job/findings/explain.hpp"
#include "job/findings/findings.hpp"
#include "job/findings/record_findings.hpp"
#include "job/open/job.hpp"
#include "record/derived_digest.hpp"
#include "record/derived_query.hpp"
#include "record/kind.hpp"
#include "record/merge.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <random>
#include <stdexcept>

#include <fmt/format.h>

#include "fixed_clock.hpp"
#include "scratch_folder.hpp"

namespace guidepin::job {
namespace records_test {

namespace kind = record::kind;
using ::testing::HasSubstr;

constexpr std::int64_t morning = 1'772'438'400'000; // 2026-03-02T08:00:00Z

record::StationKey key_number(std::uint8_t number)
{
    std::array<std::uint8_t, 32> seed{};
    seed[0] = number;
    return record::StationKey::from_seed(seed);
}

/// Leaves the test: what comes next makes no sense without it.
void must(bool holds)
{
    if (!holds) throw std::logic_error("a step of the test failed");
}

/// Draws one record. Few names, so that they clash.
class Draw
{
  public:
    explicit Draw(std::uint32_t seed)
        : random_(seed)
    {
    }

    record::Draft draft()
    {
        switch (number(0, 17)) {
        case 0:
        case 1:
            return made(kind::reference, reference_body(reference()));
        case 2:
        case 3:
            return made(kind::cord_check, cord_check_body(check()));
        case 4:
            return made(
                kind::reference_event,
                reference_event_body({pick({"power-cycle", "launch-cord-left-source", "person-voided"}),
                                      pick({"", "R-1", "R-2", "R-9"}), moment(), "seen"}));
        case 5: {
            TrustDecision decision;
            decision.reference = pick({"R-1", "R-2", "R-9"});
            decision.reason = "looked at it";
            decision.stands = number(0, 1) == 1;
            return made(kind::reference_trusted, trust_decision_body(decision));
        }
        case 6:
            return made(kind::correction, withdrawal_body({station(), number(1, 9), "wrong hall", {}, {}}));
        case 7:
            return made(kind::source_file,
                        source_file_body({"day.csv", 10, std::string(64, 'a'), "readings"}));
        case 8: {
            Note note;
            note.subject = "link";
            note.name = pick({"N-1", "X-9"});
            note.text = "seen";
            return made(kind::note, note_body(note));
        }
        case 9:
            return made(kind::operator_named,
                        person_body({pick({"Ines", "Tomasz"}), Role::technician, {}, {}}));
        case 10:
            return made(kind::pin_change, pin_change_body(pins()));
        case 11:
            return made(kind::kit_override, kit_override_body(override_of(pick({"S", "L", "Z-9"}))));
        case 12:
            return made(kind::step_done, step_body({"no-set-up", "mate", "", {}, {}}));
        case 13:
            // A body that its reader refuses, of any kind.
            return made(
                pick({"reference", "cord-check", "schedule", "link-tested", "kit-item", "setting", "setup"}),
                Result<std::string>(std::string("{\"nothing\":[1,2]}")));
        default:
            return made(kind::link_tested, tested());
        }
    }

  private:
    int number(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
    std::string pick(std::vector<std::string> const& names)
    {
        return names[static_cast<std::size_t>(number(0, static_cast<int>(names.size()) - 1))];
    }
    Instant moment() { return {morning + number(0, 40) * 60'000, 60}; }
    std::string station() { return key_number(static_cast<std::uint8_t>(number(1, 3))).station(); }

    record::Draft made(std::string const& record_kind, Result<std::string> const& body)
    {
        must(body.has_value());
        return {record_kind, moment(), pick({"Ines", "Tomasz"}), *body};
    }
    record::Draft made(std::string_view record_kind, Result<std::string> const& body)
    {
        return made(std::string(record_kind), body);
    }

    ReferenceEntry reference()
    {
        ReferenceEntry entry;
        entry.id = pick({"R-1", "R-1", "R-2"});
        entry.method = "one-cord";
        entry.kit = {.source = pick({"S", "Z-9"}), .meter = "M", .launch = "L", .tail = "T"};
        entry.offset_minutes = 60;
        double const level = -20.0 - number(0, 2);
        for (int p = 1; p <= 12; ++p) {
            entry.position.push_back(static_cast<std::int16_t>(p));
            entry.wavelength_nm.push_back(850);
            entry.power_dbm.push_back(level);
            entry.taken_ms.push_back(moment().ms);
        }
        return entry;
    }
    CordCheckEntry check()
    {
        CordCheckEntry entry;
        entry.id = pick({"C-1", "C-2"});
        entry.reference = pick({"R-1", "R-2", "R-9"});
        entry.offset_minutes = 60;
        double const loss = number(0, 3) == 0 ? 2.5 : 0.1;
        for (int p = 1; p <= 12; ++p) {
            entry.position.push_back(static_cast<std::int16_t>(p));
            entry.far_position.push_back(static_cast<std::int16_t>(p));
            entry.wavelength_nm.push_back(850);
            entry.attenuation_db.push_back(loss);
            entry.length_m.push_back(std::numeric_limits<double>::quiet_NaN());
            entry.taken_ms.push_back(moment().ms);
        }
        return entry;
    }
    PinsChanged pins()
    {
        PinsChanged change;
        change.item = pick({"L", "T", "Z-9"});
        change.end = number(0, 1);
        return change;
    }
    static KitOverride override_of(std::string item)
    {
        KitOverride decision;
        decision.item = std::move(item);
        decision.reason = "needed tonight";
        decision.about = {"calibration"};
        return decision;
    }
    Result<std::string> tested()
    {
        verdict::ReadingColumns readings;
        std::uint32_t const link = readings.links.index_of(pick({"N-1", "N-2", "X-9"}));
        std::uint32_t const reference = readings.references.index_of(pick({"R-1", "R-2", "R-9"}));
        std::uint32_t const person = readings.operators.index_of("Ines");
        readings.is_power = number(0, 3) == 0;
        std::int64_t const taken = moment().ms;
        std::vector<std::uint32_t> rows;
        for (int p = 1; p <= 12; ++p) {
            rows.push_back(static_cast<std::uint32_t>(readings.size()));
            readings.link.push_back(link);
            readings.launch_end.push_back(verdict::LaunchEnd::a);
            readings.position.push_back(static_cast<std::int16_t>(p));
            readings.far_position.push_back(static_cast<std::int16_t>(13 - p));
            readings.wavelength_nm.push_back(850);
            readings.value.push_back((readings.is_power ? -20.4 : 0.4) + 0.1 * number(0, 9));
            readings.length_m.push_back(50);
            readings.taken_ms.push_back(taken);
            readings.offset_minutes.push_back(60);
            readings.reference.push_back(reference);
            readings.operator_name.push_back(person);
            readings.line.push_back(0);
        }
        return link_tested_body(readings, rows, std::string(64, 'b'));
    }

    std::mt19937 random_;
};

/// A folder with a job that has a schedule, and three stations that go on from there.
class Site
{
  public:
    Site()
    {
        auto const settings = settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
require-length = false
[[instrument]]
id = "S"
role = "source"
[[instrument]]
id = "M"
role = "meter"
[[cord]]
id = "L"
role = "launch"
[[cord]]
id = "T"
role = "tail"
)"});
        actor.name = "Ines";
        actor.key_path = folder_ + "/station.key";
        actor.clock = &clock;
        actor.threads = 1;
        EXPECT_TRUE(Job::create(base(), *settings, actor));
        auto job = Job::open(base(), actor, true);
        EXPECT_TRUE(job->import_schedule("schedule.csv",
                                         "link,zone,category,length_m,family,fibres,trunk_type\n"
                                         "N-1,North,OM4,50,mpo-12,12,B\nN-2,North,OM4,50,mpo-12,12,B\n",
                                         {}));
    }
    std::string base() const { return folder_ + "/base.job"; }
    std::string file(std::string const& name) const { return folder_ + "/" + name + ".job"; }

    /// Goes on from the base as station `number`, with `count` records drawn from `seed`.
    std::string station(std::uint8_t number, std::uint32_t seed, int count) const
    {
        std::string const path = file(fmt::format("station-{}", number));
        std::filesystem::copy_file(base(), path, std::filesystem::copy_options::overwrite_existing);
        auto const key = key_number(number);
        auto const store = opened(path, &key);
        Draw draw(seed);
        for (int i = 0; i < count; ++i) {
            record::Draft const draft = draw.draft();
            auto const kept = record::append(*store, std::span(&draft, 1));
            must(kept.has_value());
        }
        return path;
    }
    static std::unique_ptr<record::Store> opened(std::string const& path, record::StationKey const* key)
    {
        auto store =
            record::open_sqlite(path, {{"0.1.0", "facts"}, record::OpenOptions::Access::write, key, 5000});
        must(store.has_value());
        return std::move(*store);
    }

    FixedClock clock{morning + 3'600'000};
    Actor actor;

  private:
    support::ScratchFolder const scratch_;
    std::string const folder_ = scratch_.path().string();
};

/// Everything that follows from the records, as text.
std::string outcome_of(Job& job)
{
    std::string text;
    auto const rows = job.rows();
    must(rows.has_value());
    text += record::DerivedDigest::of(**rows)->hex() + "\n";
    for (RecordRemark const& remark : record_remarks(job.state()))
        text += remark.rule + ": " + remark.text + "\n";
    auto const assessment = job.assessment();
    must(assessment.has_value());
    auto const findings = findings_of(job.state(), **assessment);
    must(findings.has_value());
    for (JobFinding const& entry : *findings)
        text += entry.finding.id + " " + heading_of(job.state(), entry.finding) + "\n";
    for (ReferenceEntry const& entry : job.state().references)
        text += fmt::format("{} of {}:{}\n", entry.id, entry.station, entry.sequence);
    return text;
}

void expect_the_same_in_every_order(std::uint32_t seed)
{
    Site const site;
    std::mt19937 random(seed);
    std::vector<std::string> stations;
    for (std::uint8_t number = 1; number <= 3; ++number)
        stations.push_back(
            site.station(number, static_cast<std::uint32_t>(random()), 1 + static_cast<int>(random() % 11)));
    std::array<std::size_t, 3> order{0, 1, 2};
    std::string expected;
    do {
        std::string const path = site.file("merged");
        std::filesystem::copy_file(site.base(), path, std::filesystem::copy_options::overwrite_existing);
        // Open all the while, as the workbench is: it follows each merge.
        auto follower = Job::open(path, site.actor, true);
        must(follower.has_value());
        for (std::size_t const at : order) {
            auto const merged =
                record::merge(*Site::opened(path, nullptr), *Site::opened(stations[at], nullptr));
            must(merged.has_value());
            auto const followed = follower->refresh();
            must(followed.has_value());
        }
        auto fresh = Job::open(path, site.actor, true);
        if (!fresh) throw std::runtime_error(fresh.error().message);
        std::string const got = outcome_of(*fresh);
        if (expected.empty()) expected = got;
        ASSERT_EQ(got, expected);
        ASSERT_EQ(outcome_of(*follower), expected) << "who follows sees what who reads everything sees";
        auto const same = fresh->rebuild();
        must(same.has_value());
        must(*same);
        std::filesystem::remove(path);
    } while (std::next_permutation(order.begin(), order.end()));
}

TEST(Records, OfThreeStationsGiveTheSameStateInEveryOrderOfMerging)
{
    constexpr int sites = 25;
    std::random_device chance;
    for (int round = 0; round < sites; ++round) {
        std::uint32_t const seed = chance();
        SCOPED_TRACE(fmt::format("seed {}", seed));
        expect_the_same_in_every_order(seed);
    }
}

record::Draft draft_of(std::string_view record_kind, std::int64_t minutes, std::string body)
{
    return {std::string(record_kind), {morning + minutes * 60'000, 60}, "Ines", std::move(body)};
}

std::string reference_text(std::string const& id, double power)
{
    ReferenceEntry entry;
    entry.id = id;
    entry.kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"};
    for (int p = 1; p <= 12; ++p) {
        entry.position.push_back(static_cast<std::int16_t>(p));
        entry.wavelength_nm.push_back(850);
        entry.power_dbm.push_back(power);
        entry.taken_ms.push_back(morning);
    }
    return reference_body(entry).value();
}

TEST(Records, OfTwoReferencesWithOneNameTheFirstIsUsedAndTheOtherIsAFinding)
{
    Site const site;
    auto const key = key_number(2);
    std::vector const drafts{draft_of(kind::reference, 5, reference_text("R-1", -21)),
                             draft_of(kind::reference, 3, reference_text("R-1", -20))};
    ASSERT_TRUE(record::append(*Site::opened(site.base(), &key), drafts));
    auto job = Job::open(site.base(), site.actor, true);
    ASSERT_TRUE(job.has_value()) << job.error().message;
    ASSERT_EQ(job->state().references.size(), 1U);
    EXPECT_EQ(job->state().references[0].power_dbm[0], -20) << "recorded first, though later in its chain";
    auto const assessment = job->assessment();
    ASSERT_TRUE(assessment.has_value());
    auto const findings = findings_of(job->state(), **assessment);
    ASSERT_TRUE(findings.has_value()) << findings.error().message;
    ASSERT_EQ(findings->size(), 1U);
    EXPECT_EQ(heading_of(job->state(), findings->front().finding), "reference R-1: contradicting records");
    EXPECT_THAT(findings->front().finding.evidence, HasSubstr("recorded twice"));
    EXPECT_THAT(findings->front().finding.action, HasSubstr("name of its own"));
    EXPECT_STREQ(urgency_of(**assessment, findings->front()), "must settle");
    // The way out: a person acknowledges it.
    Acknowledgement said;
    said.finding = findings->front().finding.id;
    said.reason = "the second was a trial";
    said.evidence = findings->front().evidence;
    ASSERT_TRUE(job->acknowledge(said).has_value());
    auto const after = findings_of(job->state(), **job->assessment());
    EXPECT_FALSE(after->front().is_open());
}

TEST(Records, ThatCannotBeReadOrNameNothingAreFindings)
{
    Site const site;
    auto const key = key_number(2);
    std::vector const drafts{
        draft_of(kind::link_tested, 1, "{\"link\":\"N-1\",\"readings\":[{\"position\":[1,99]}]}"),
        draft_of(kind::reference_event, 2,
                 reference_event_body({"power-cycle", "R-7", Instant{morning, 60}, ""}).value()),
        draft_of(kind::setting, 3, "{\"rule_set\":\"of-nowhere\"}"),
        draft_of(kind::schedule, 4, "{\"links\":[]}")};
    ASSERT_TRUE(record::append(*Site::opened(site.base(), &key), drafts));
    auto job = Job::open(site.base(), site.actor, true);
    ASSERT_TRUE(job.has_value()) << job.error().message;
    EXPECT_EQ(job->state().readings.size(), 0U) << "nothing of a record that cannot be read is used";
    std::vector<std::string> rules;
    for (RecordRemark const& remark : record_remarks(job->state())) {
        rules.push_back(remark.rule);
        EXPECT_FALSE(remark.action.empty());
    }
    EXPECT_THAT(rules,
                ::testing::IsSupersetOf({"record-unreadable", "settings-unusable", "event-for-nothing"}));
    EXPECT_EQ(job->state().scheduled(), 2U) << "the settings and the schedule before stay in force";
}

} // namespace records_test
} // namespace guidepin::job
