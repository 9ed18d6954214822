// SPDX-License-Identifier: Apache-2.0
// The register of the kit against real job files. Oracles: matings counted by hand from the table in
// docs/methods/setup.md; states that follow from the limits of each case; the same from the records alone
// after reopening.
#include "job/kit/kit_register.hpp"
#include "job/groundwork/trust.hpp"
#include "job/open/choose_set_up.hpp"
#include "job/open/job.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/plan/set_up_card.hpp"
#include "job/plan/set_up_sheet.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>

#include "fixed_clock.hpp"
#include "kit_file_text.hpp"
#include "scratch_test.hpp"

namespace guidepin::job {
namespace kit_register_test {

using setup::Fitness;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

constexpr char const* kit_text = R"(
[[instrument]]
serial = "S"
role = "source"
name = "LED source"
pins = "pinned"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[instrument]]
serial = "M"
role = "meter"
name = "Power meter"
pins = "pinned"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[cord]]
serial = "L"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
[[cord]]
serial = "T"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
pins-exchangeable = "far"
[[cord]]
serial = "X"
type = "A"
category = "OM4"
pins-near = "pinned"
pins-far = "pinned"
[[adapter]]
keys = "opposed"
count = 4
[[pin-tool]]
serial = "tool"
)";

class Register : public support::ScratchTest
{
  protected:
    Register()
        : ScratchTest("2026-03-02T09:00:00Z")
    {
    }
    void SetUp() override { open_new("[rules]\nwavelengths-multimode = [850]\nrequire-length = false\n"); }
    void open_new(std::string const& sheet)
    {
        job_.reset();
        std::filesystem::remove(path());
        auto const settings = settings_from_sheet({"sheet", sheet});
        ASSERT_TRUE(settings.has_value()) << settings.error().message;
        ASSERT_TRUE(Job::create(path(), *settings, actor_).has_value());
        reopen();
        ASSERT_TRUE(job_->import_schedule("schedule.csv",
                                          "link,zone,category,length_m,family,fibres,trunk_type\n"
                                          "N-1,North,OM4,50,mpo-12,12,B\nN-2,North,OM4,50,mpo-12,12,B\n",
                                          {})
                        .has_value());
    }
    void reopen()
    {
        job_.reset();
        auto opened = Job::open(path(), actor_, true);
        ASSERT_TRUE(opened.has_value()) << opened.error().message;
        job_.emplace(std::move(opened).value());
    }
    void later() { clock_ = FixedClock{clock_.now_ms() + 60'000}; }
    KitOutcome bring_kit(std::string const& text = kit_text)
    {
        later();
        auto const file = kit_from_file({"kit.toml", text}, job_->state().tables);
        EXPECT_TRUE(file.has_value()) << (file ? "" : file.error().message);
        auto const kept = job_->register_kit(*file);
        EXPECT_TRUE(kept.has_value()) << (kept ? "" : kept.error().message);
        return kept ? *kept : KitOutcome{};
    }
    Result<ReferenceOutcome> reference(
        std::string const& id, std::string const& method = "one-cord",
        TestKit const& kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"},
        std::vector<std::pair<std::string, std::string>> overrides = {},
        std::string const& day = "2026-03-02")
    {
        later();
        std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
        for (int p = 1; p <= 12; ++p) powers += fmt::format("{},{},850,-20.0,{}T08:00:00Z\n", id, p, day);
        ReferenceOptions how;
        how.kit = kit;
        how.method = method;
        how.overrides = std::move(overrides);
        return job_->take_reference(id + ".csv", powers, {}, how);
    }
    void check(std::string const& id, std::string const& under)
    {
        std::string rows = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
        for (int p = 1; p <= 12; ++p)
            rows += fmt::format("{},{},{},{},850,0.10,2026-03-02T08:10:00Z\n", id, under, p, p);
        ASSERT_TRUE(job_->take_cord_check(id + ".csv", rows, {}, "", false).has_value());
    }
    void measure(std::string const& link, std::string const& under, std::string const& ends)
    {
        std::string text =
            "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
        for (char const end : ends) {
            for (int const wavelength : {850, 1300}) {
                for (int p = 1; p <= 12; ++p)
                    text += fmt::format("{},{},{},{},{},0.40,2026-03-02T09:00:00Z,{}\n", link, end, p, 13 - p,
                                        wavelength, under);
            }
        }
        ASSERT_TRUE(job_->import_readings(link + under + ends + ".csv", text, {}, {}).has_value());
    }
    KitRegister all(char const* day = "2026-03-02") const
    {
        return kit_register(job_->state(), *parse_day(day));
    }
    KitStanding of(std::string const& serial, char const* day = "2026-03-02") const
    {
        KitRegister const kit = all(day);
        KitStanding const* const standing = kit.find(serial);
        EXPECT_NE(standing, nullptr) << serial;
        return standing ? *standing : KitStanding{};
    }
    /// Matings near and far.
    std::vector<int> matings(std::string const& serial) const
    {
        std::vector<int> counts;
        for (EndStanding const& end : of(serial).ends) counts.push_back(end.matings);
        return counts;
    }
    void change_pins(plant::Pins to, int counted, bool good = true)
    {
        later();
        PinsChanged change;
        change.item = "T";
        change.end = 1;
        change.to = to;
        change.pins_counted = counted;
        EXPECT_EQ(job_->change_pins(change).has_value(), good);
    }
    void inspect(int end, std::vector<char const*> const& found, bool debris = false)
    {
        later();
        FaceInspected inspection;
        inspection.seen.item = "T";
        inspection.seen.end = end;
        inspection.seen.loose_debris = debris;
        for (char const* words : found) ASSERT_TRUE(add_finding(inspection.seen, words).has_value());
        auto const kept = job_->inspect_face(inspection);
        ASSERT_TRUE(kept.has_value()) << kept.error().message;
    }

    std::optional<Job> job_;
};

TEST_F(Register, ItemsComeFromAFileAndTheSameFileAgainChangesNothing)
{
    EXPECT_EQ(bring_kit().added, 7U);
    auto const again = bring_kit();
    EXPECT_EQ(again.unchanged, 7U);
    EXPECT_EQ(again.added + again.replaced, 0U);
    reopen();
    EXPECT_EQ(job_->state().kit.items.size(), 7U);
    EXPECT_EQ(all().count(Fitness::fit), 7);
    EXPECT_EQ(of("adapters opposed mpo-12").item.count, 4);
    // The kit as the set-up takes it is the file that was brought in.
    KitFile const now = kit_now(job_->state());
    auto const file = kit_from_file({"kit.toml", kit_text}, job_->state().tables);
    EXPECT_EQ(kit_file_text(now), kit_file_text(*file));
}

TEST_F(Register, MatingsOfAOneCordReferenceItsCheckAndItsLinks)
{
    bring_kit();
    ASSERT_TRUE(reference("R-1").has_value());
    EXPECT_THAT(matings("S"), ElementsAre(1));
    EXPECT_THAT(matings("M"), ElementsAre(1));
    EXPECT_THAT(matings("L"), ElementsAre(1, 1));
    EXPECT_THAT(matings("T"), ElementsAre(0, 0)) << "the tail cord is no part of a one-cord reference";
    EXPECT_THAT(matings("X"), ElementsAre(0, 0));
    check("C-1", "R-1");
    EXPECT_THAT(matings("L"), ElementsAre(1, 2));
    EXPECT_THAT(matings("T"), ElementsAre(1, 1));
    EXPECT_THAT(matings("X"), ElementsAre(1, 1));
    EXPECT_THAT(matings("M"), ElementsAre(2));
    measure("N-1", "R-1", "a"); // two wavelengths: one mating
    measure("N-2", "R-1", "ab");
    EXPECT_THAT(matings("L"), ElementsAre(1, 5));
    EXPECT_THAT(matings("T"), ElementsAre(1, 4));
    EXPECT_THAT(matings("S"), ElementsAre(1));
    measure("N-1", "R-1", "b"); // a retest is another
    EXPECT_THAT(matings("L"), ElementsAre(1, 6));
    EXPECT_EQ(of("L").references, 1);
    EXPECT_EQ(of("L").links, 2);
    EXPECT_EQ(of("X").links, 2) << "it stands in the kit of their reference";
    auto const before = matings("L");
    reopen();
    EXPECT_EQ(matings("L"), before);
    SourceFile const last = job_->state().files.back();
    ASSERT_TRUE(job_->withdraw_import({last.station, last.sequence, "wrong panel", {}, {}}).has_value());
    EXPECT_THAT(matings("L"), ElementsAre(1, 5));
}

TEST_F(Register, MatingsOfTwoAndThreeCordReferences)
{
    bring_kit();
    ASSERT_TRUE(
        reference("R-2", "two-cord", {.source = "S", .meter = "M", .launch = "L", .tail = "T"}).has_value());
    EXPECT_THAT(matings("L"), ElementsAre(1, 1));
    EXPECT_THAT(matings("T"), ElementsAre(1, 1));
    check("C-2", "R-2");
    EXPECT_THAT(matings("L"), ElementsAre(1, 2));
    EXPECT_THAT(matings("T"), ElementsAre(1, 2));
    EXPECT_THAT(matings("M"), ElementsAre(1)) << "the tail cord stays in the meter";
    ASSERT_TRUE(reference("R-3", "three-cord").has_value());
    EXPECT_THAT(matings("X"), ElementsAre(1, 1));
    check("C-3", "R-3");
    EXPECT_THAT(matings("X"), ElementsAre(2, 1));
    EXPECT_THAT(matings("L"), ElementsAre(2, 4));
    EXPECT_THAT(matings("T"), ElementsAre(2, 3));
}

TEST_F(Register, AWarningComesBeforeTheLimitAndARefusalBeforeItIsPassed)
{
    bring_kit();
    setup::RegisterLimits limits;
    limits.matings = 4;
    limits.warn_at = 0.75;
    ASSERT_TRUE(job_->limit_kit(limits).has_value());
    for (char const* id : {"R-1", "R-2"}) ASSERT_TRUE(reference(id).has_value());
    EXPECT_EQ(of("L").fitness, Fitness::fit); // 2 of 4
    ASSERT_TRUE(reference("R-3").has_value());
    EXPECT_EQ(of("L").fitness, Fitness::warned); // 3 of 4
    ASSERT_TRUE(reference("R-4").has_value());   // 4 of 4
    auto const records = *job_->store().count();
    auto const over = reference("R-5");
    ASSERT_FALSE(over.has_value());
    EXPECT_EQ(over.error().code, Errc::refused);
    EXPECT_THAT(over.error().message, HasSubstr("L: 5 matings, over the limit of 4"));
    EXPECT_EQ(*job_->store().count(), records) << "nothing of a refused reference is kept";
    // A limit of its own beats that of the register, both ways.
    ASSERT_TRUE(job_->limit_item("L", 100, std::nullopt).has_value());
    ASSERT_TRUE(reference("R-5").has_value());
    EXPECT_EQ(of("L").matings_limit, 100);
    EXPECT_EQ(of("T").matings_limit, 4);
}

TEST_F(Register, AnOverrideIsKeptWithItsReferenceAndShown)
{
    bring_kit();
    setup::RegisterLimits limits;
    limits.matings = 1;
    ASSERT_TRUE(job_->limit_kit(limits).has_value());
    ASSERT_TRUE(reference("R-1").has_value());
    ASSERT_FALSE(reference("R-2").has_value());
    EXPECT_FALSE(reference("R-2", "one-cord",
                           {.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"},
                           {{"L", "  "}})
                     .has_value())
        << "an empty reason is none";
    EXPECT_FALSE(reference("R-2", "one-cord",
                           {.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"},
                           {{"T", "why not"}})
                     .has_value())
        << "T has nothing to override";
    auto const kept = reference(
        "R-2", "one-cord", {.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"},
        {{"L", "spare comes on Tuesday"}});
    ASSERT_TRUE(kept.has_value()) << kept.error().message;
    reopen();
    KitStanding const standing = of("L");
    EXPECT_EQ(standing.fitness, Fitness::overridden);
    ASSERT_EQ(standing.findings.size(), 1U);
    EXPECT_EQ(standing.findings[0].override_reason, "Ines: spare comes on Tuesday");
    ASSERT_EQ(job_->state().kit.overrides.size(), 1U);
    EXPECT_THAT(job_->state().kit.overrides[0].about, ElementsAre("matings"));
    EXPECT_TRUE(*job_->rebuild());
}

TEST_F(Register, CalibrationIsRefusedBeforeTheReferenceIsKeptAndARemarkWhereOverridden)
{
    bring_kit();
    TestKit const kit{.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"};
    clock_ = FixedClock{parse_instant("2026-12-01T09:00:00Z")->ms};
    auto const late = reference("R-1", "one-cord", kit, {}, "2026-12-01");
    ASSERT_FALSE(late.has_value());
    EXPECT_THAT(late.error().message, HasSubstr("source S: out of calibration for 21 days"));
    EXPECT_THAT(late.error().message, HasSubstr("meter M"));
    std::vector<std::pair<std::string, std::string>> const reasons{{"S", "bench check on file"},
                                                                   {"M", "bench check on file"}};
    ASSERT_TRUE(reference("R-1", "one-cord", kit, reasons, "2026-12-01").has_value());
    auto const trust = reference_trust(job_->state(), **job_->assessment());
    ASSERT_EQ(trust.size(), 1U);
    EXPECT_EQ(trust[0].state, "accepted with remarks");
    EXPECT_EQ(trust[0].reasons[0].id, "reference.calibration-overridden");
    EXPECT_THAT(trust[0].reasons[0].text, HasSubstr("Ines: bench check on file"));
    // A new certificate ends the decision: what comes after it is judged by the certificate.
    std::string next(kit_text);
    next.replace(next.find("calibrated = 2025-11-10"), 23, "calibrated = 2026-12-10");
    next.replace(next.find("calibration-due = 2026-11-10"), 28, "calibration-due = 2027-12-10");
    EXPECT_EQ(bring_kit(next).replaced, 1U);
    EXPECT_EQ(of("S", "2026-12-11").fitness, Fitness::fit);
    EXPECT_EQ(of("M", "2026-12-11").fitness, Fitness::overridden);
    EXPECT_EQ(of("S", "2027-12-11").fitness, Fitness::refused);
    // It heals nothing before it, and the old one still covers what was taken under it.
    EXPECT_EQ(*calibrated_until(job_->state(), "S", *parse_day("2026-12-01")), *parse_day("2026-11-10"));
    EXPECT_EQ(*calibrated_until(job_->state(), "S", *parse_day("2026-12-10")), *parse_day("2027-12-10"));
}

TEST_F(Register, AJobWithoutRegisteredKitKeepsAndRefusesAReferenceOutOfCalibration)
{
    open_new("[rules]\nwavelengths-multimode = [850]\n"
             "[[instrument]]\nid = \"S\"\nrole = \"source\"\ncalibration-due = 2026-01-10\n"
             "[[instrument]]\nid = \"M\"\nrole = \"meter\"\ncalibration-due = 2026-11-10\n"
             "[[cord]]\nid = \"L\"\nrole = \"launch\"\nmatings-limit = 2\n");
    TestKit const kit{.source = "S", .meter = "M", .launch = "L"};
    ASSERT_TRUE(reference("R-1", "one-cord", kit).has_value());
    EXPECT_EQ(reference_trust(job_->state(), **job_->assessment())[0].state, "refused");
    EXPECT_EQ(of("S").fitness, Fitness::refused);
    EXPECT_FALSE(of("S").registered);
    // The decision is recorded, and counts from then on: not for the reference before it.
    ASSERT_TRUE(reference("R-2", "one-cord", kit, {{"S", "bench check on file"}}).has_value());
    auto const trust = reference_trust(job_->state(), **job_->assessment());
    EXPECT_EQ(trust[0].state, "refused");
    EXPECT_EQ(trust[1].state, "accepted with remarks");
    // A limit of the job sheet holds as well.
    auto const worn = reference("R-3", "one-cord", kit);
    ASSERT_FALSE(worn.has_value());
    EXPECT_THAT(worn.error().message, HasSubstr("L: 3 matings, over the limit of 2"));
}

TEST_F(Register, PinsAreAsLastChangedAndALoosePinRefuses)
{
    bring_kit();
    change_pins(plant::Pins::pinned, 2);
    KitStanding standing = of("T");
    EXPECT_EQ(standing.ends[1].pins, plant::Pins::pinned);
    EXPECT_EQ(standing.ends[0].pins, plant::Pins::unpinned);
    EXPECT_EQ(standing.pin_changes, 1);
    EXPECT_EQ(standing.fitness, Fitness::fit);
    EXPECT_EQ(kit_now(job_->state()).kit.cords[1].ends[1].plug.pins, plant::Pins::pinned);
    EXPECT_EQ(bring_kit().unchanged, 7U) << "the file of the morning does not undo the change";
    EXPECT_EQ(of("T").ends[1].pins, plant::Pins::pinned);
    change_pins(plant::Pins::unpinned, 1);
    standing = of("T");
    EXPECT_EQ(standing.fitness, Fitness::refused);
    EXPECT_THAT(standing.findings[0].text, HasSubstr("1 pin counted after the last change at the far end"));
    EXPECT_FALSE(reference("R-1").has_value());
    change_pins(plant::Pins::unpinned, 2); // found: counted again
    standing = of("T");
    EXPECT_EQ(standing.fitness, Fitness::fit);
    EXPECT_EQ(standing.pin_changes, 2) << "counting again is no change";
    EXPECT_TRUE(reference("R-1").has_value());
    PinsChanged change;
    change.item = "L";
    change.to = plant::Pins::pinned;
    change.pins_counted = 2;
    auto const fixed = job_->change_pins(change);
    ASSERT_FALSE(fixed.has_value()) << "its pins are fixed";
    EXPECT_EQ(fixed.error().code, Errc::refused);
    change.item = "TT";
    EXPECT_EQ(job_->change_pins(change).error().code, Errc::not_found);
    reopen();
    EXPECT_EQ(of("T").pin_changes, 2);
}

TEST_F(Register, EndFacesAreJudgedByTheTableAndAgeWithAPinChange)
{
    bring_kit();
    inspect(0, {});
    EXPECT_EQ(of("T").fitness, Fitness::fit);
    // multimode-pc, zone A: 4 defects of up to 5 um, none above (IEC 61300-3-35, edition 2 (2015), as
    // quoted).
    inspect(1, {"7 A defect 5.5"});
    KitStanding standing = of("T");
    EXPECT_EQ(standing.fitness, Fitness::refused);
    ASSERT_TRUE(standing.ends[1].face.has_value());
    EXPECT_FALSE(standing.ends[1].face->pass);
    EXPECT_THAT(standing.ends[1].face->breaches.at(0), HasSubstr("position 7, zone A"));
    EXPECT_EQ(standing.ends[1].face->edition, "2 (2015)");
    EXPECT_FALSE(reference("R-1").has_value());
    later();
    ASSERT_TRUE(job_->override_item("T", "only for the cord check").has_value());
    EXPECT_EQ(of("T").fitness, Fitness::overridden);
    EXPECT_TRUE(reference("R-1").has_value());
    inspect(1, {"7 A defect 6"}); // new evidence: the decision no longer holds
    EXPECT_EQ(of("T").fitness, Fitness::refused);
    inspect(1, {"7 A defect 4.5"});
    EXPECT_EQ(of("T").fitness, Fitness::fit);
    inspect(1, {}, true);
    EXPECT_EQ(of("T").fitness, Fitness::refused) << "loose debris";
    inspect(1, {});
    change_pins(plant::Pins::pinned, 2);
    standing = of("T");
    EXPECT_EQ(standing.fitness, Fitness::warned);
    EXPECT_TRUE(standing.ends[1].face->outdated);
    setup::RegisterLimits limits;
    limits.end_faces_required = true;
    ASSERT_TRUE(job_->limit_kit(limits).has_value());
    EXPECT_EQ(of("T").fitness, Fitness::refused);
    EXPECT_EQ(of("S").fitness, Fitness::fit) << "asked of cords";
    FaceInspected nowhere;
    nowhere.seen.item = "T";
    ASSERT_TRUE(add_finding(nowhere.seen, "13 A defect 1").has_value());
    EXPECT_EQ(job_->inspect_face(nowhere).error().code, Errc::invalid_input) << "twelve positions";
}

TEST_F(Register, ItemsLeaveComeBackAndAreRenewed)
{
    bring_kit();
    ASSERT_TRUE(reference("R-1").has_value());
    EXPECT_FALSE(job_->remove_item("L", " ").has_value()) << "a reason is needed";
    later();
    ASSERT_TRUE(job_->remove_item("L", "ferrule chipped").has_value());
    EXPECT_EQ(job_->remove_item("L", "again").error().code, Errc::conflict);
    auto const gone = reference("R-2");
    ASSERT_FALSE(gone.has_value());
    EXPECT_THAT(gone.error().message, HasSubstr("L left the kit: ferrule chipped"));
    EXPECT_EQ(all().items.back().item.serial, "L") << "removed ones stand last";
    EXPECT_THAT(reference_trust(job_->state(), **job_->assessment())[0].state, "accepted")
        << "what was taken with it stays known";
    EXPECT_EQ(bring_kit().replaced, 1U);
    EXPECT_THAT(matings("L"), ElementsAre(1, 1)) << "it brings its count back";
    clock_ = FixedClock{parse_instant("2026-03-02T12:00:00Z")->ms};
    ASSERT_TRUE(job_->renew_item("L", "new plugs").has_value());
    EXPECT_THAT(matings("L"), ElementsAre(0, 0));
    EXPECT_EQ(of("L").references, 1) << "its history stays";
    clock_ = FixedClock{parse_instant("2026-03-03T12:00:00Z")->ms};
    ASSERT_TRUE(reference("R-3", "one-cord",
                          {.source = "S", .meter = "M", .launch = "L", .tail = "T", .substitution = "X"}, {},
                          "2026-03-03")
                    .has_value());
    EXPECT_THAT(matings("L"), ElementsAre(1, 1));
}

TEST_F(Register, EntriesWithAKeyAreKeptOnce)
{
    bring_kit();
    PinsChanged change;
    change.item = "T";
    change.to = plant::Pins::pinned;
    change.pins_counted = 2;
    change.key = "k1";
    FaceInspected inspection;
    inspection.seen.item = "T";
    inspection.key = "k2";
    for (int time = 0; time < 2; ++time) {
        ASSERT_TRUE(job_->change_pins(change).has_value());
        ASSERT_TRUE(job_->inspect_face(inspection).has_value());
    }
    EXPECT_EQ(*job_->store().count("pin-change"), 1);
    EXPECT_EQ(*job_->store().count("inspection"), 1);
    // A key that no form has is refused, not cut: two such keys could be one after the cut.
    std::string const too_long(65, 'a');
    change.key = inspection.key = too_long;
    EXPECT_EQ(job_->change_pins(change).error().code, Errc::usage);
    EXPECT_EQ(job_->inspect_face(inspection).error().code, Errc::usage);
    EXPECT_EQ(job_->override_item("T", "reason", too_long).error().code, Errc::usage);
    EXPECT_TRUE(*job_->rebuild()) << "derived rows were as a rebuild makes them";
}

// A set-up that needed an instrument out of calibration, or a cord over its limit, was planned, printed and
// recorded without a word: refused items were only sorted to the end of the kit.
TEST_F(Register, ASetUpIsPlannedWithoutWhatIsRefused)
{
    bring_kit();
    auto const planned = [this](char const* day) {
        JobSetupWish wish;
        wish.today = *parse_day(day);
        auto all = job_setups(job_->state(), wish);
        EXPECT_TRUE(all.has_value()) << (all ? "" : all.error().message);
        return all ? std::move(*all) : JobSetups{};
    };
    JobSetups const good = planned("2026-03-02");
    ASSERT_EQ(good.groups.size(), 1U);
    EXPECT_TRUE(good.unsolved.empty());
    EXPECT_THAT(good.groups[0].setup.decisions, IsEmpty());

    // 21 days after the end of both calibrations: no set-up, the reason and what ends it.
    JobSetups const late = planned("2026-12-01");
    EXPECT_TRUE(late.groups.empty());
    ASSERT_EQ(late.unsolved.size(), 1U);
    EXPECT_THAT(late.unsolved[0].links, ElementsAre("N-1", "N-2"));
    EXPECT_THAT(late.unsolved[0].reason, HasSubstr("source S: out of calibration for 21 days."));
    EXPECT_THAT(late.unsolved[0].reason, HasSubstr("meter M"));
    EXPECT_THAT(late.unsolved[0].reason,
                HasSubstr("Use another, enter its new calibration, or override it with a reason."));
    // One that was planned when all was well is not kept either.
    auto const kept = choose(*job_, good.groups[0], *parse_day("2026-12-01"));
    ASSERT_FALSE(kept.has_value());
    EXPECT_EQ(kept.error().code, Errc::refused);
    EXPECT_TRUE(job_->state().setups.empty());

    // A person decides: the sheet, and with it card and record, says which, who and why.
    clock_ = FixedClock{parse_instant("2026-12-01T07:00:00Z")->ms};
    for (char const* serial : {"S", "M"})
        ASSERT_TRUE(job_->override_item(serial, "bench check on file").has_value());
    JobSetups const decided = planned("2026-12-01");
    ASSERT_EQ(decided.groups.size(), 1U);
    ASSERT_EQ(decided.groups[0].setup.decisions.size(), 2U);
    EXPECT_THAT(decided.groups[0].setup.decisions[0],
                HasSubstr("Used by decision of Ines: bench check on file."));
    SetupSheet const sheet = sheet_of(decided.groups[0].setup, &decided.groups[0]);
    bool told = false;
    for (report::Said const& said : job_card_of(sheet, {}).facts)
        told = told || said.text.find("Ines: bench check on file") != std::string::npos;
    EXPECT_TRUE(told);
    EXPECT_TRUE(choose(*job_, decided.groups[0], *parse_day("2026-12-01")).has_value());
}

TEST_F(Register, AnotherItemIsTakenWhereTheKitHasOne)
{
    bring_kit();
    setup::RegisterLimits limits;
    limits.matings = 1;
    ASSERT_TRUE(job_->limit_kit(limits).has_value());
    ASSERT_TRUE(reference("R-1").has_value());
    JobSetupWish wish;
    wish.today = *parse_day("2026-03-02");
    auto const without = job_setups(job_->state(), wish);
    ASSERT_TRUE(without.has_value());
    ASSERT_EQ(without->unsolved.size(), 1U);
    EXPECT_THAT(without->unsolved[0].reason, HasSubstr("L: 2 matings, over the limit of 1."));
    std::string more(kit_text);
    more += "[[cord]]\nserial = \"L-new\"\ncategory = \"OM4\"\npins-near = \"unpinned\"\npins-far = "
            "\"unpinned\"\n";
    bring_kit(more);
    auto const with = job_setups(job_->state(), wish);
    ASSERT_TRUE(with.has_value());
    ASSERT_EQ(with->groups.size(), 1U);
    SolvedSetup const& solved = with->groups[0].setup;
    std::vector<std::string> used;
    for (auto const& use : {solved.plan.launch, solved.plan.tail})
        used.push_back(solved.question.kit.cords[static_cast<std::size_t>(use.cord)].id);
    EXPECT_THAT(used, ::testing::UnorderedElementsAre("L-new", "T"));
    EXPECT_THAT(solved.decisions, IsEmpty());
}

TEST_F(Register, AKitFileAloneIsJudgedByItsOwnDates)
{
    auto const file = kit_from_file({"kit.toml", kit_text}, job_->state().tables);
    ASSERT_TRUE(file.has_value());
    EXPECT_TRUE(kit_rulings(*file, nullptr, *parse_day("2026-11-10")).empty());
    KitRulings const rulings = kit_rulings(*file, nullptr, *parse_day("2026-11-11"));
    ASSERT_EQ(rulings.size(), 2U);
    EXPECT_THAT(rulings.at("S").refused[0], HasSubstr("out of calibration for 1 day."));
    EXPECT_TRUE(without_refused(*file, rulings).instruments.empty());
    EXPECT_EQ(without_refused(*file, rulings).kit.cords.size(), 3U);
}

// The light path of a certificate invented a pinned port, copied the face of the link to it and made every
// cord end the complement of the cabling's.
TEST_F(Register, TheLightPathOfACertificateIsWhatTheKitSays)
{
    using plant::Pins;
    bring_kit();
    ASSERT_TRUE(reference("R-1").has_value());
    check("C-1", "R-1");
    measure("N-1", "R-1", "a");
    ASSERT_TRUE(
        reference("R-2", "two-cord", {.source = "S", .meter = "M", .launch = "L", .tail = "Q"}).has_value());
    check("C-2", "R-2");
    measure("N-2", "R-2", "b");
    auto const certificate = [this](std::size_t link) {
        auto const assessment = job_->assessment();
        EXPECT_TRUE(assessment.has_value());
        auto made = certificate_of(job_->state(), **assessment, link);
        EXPECT_TRUE(made.has_value()) << (made ? "" : made.error().message);
        return std::move(*made);
    };
    report::LinkCertificate const first = certificate(0);
    ASSERT_TRUE(first.light_path.has_value());
    ASSERT_EQ(first.light_path->bodies.size(), 5U);
    EXPECT_EQ(first.light_path->bodies[0].right->pins, Pins::pinned);
    EXPECT_EQ(first.light_path->bodies[1].serial, "L");
    EXPECT_EQ(first.light_path->bodies[1].right->pins, Pins::unpinned);
    EXPECT_EQ(first.light_path->bodies[3].left->pins, Pins::unpinned);
    EXPECT_TRUE(first.light_path->joints[0].stays);
    EXPECT_FALSE(first.light_path->joints[3].stays) << "one-cord: the tail cord enters the meter after it";
    for (auto const& joint : first.light_path->joints) EXPECT_EQ(joint.fault, "");

    // Launched at B, two cords, a tail cord that nobody registered.
    report::LinkCertificate const second = certificate(1);
    EXPECT_EQ(second.light_path->joints[1].label, "End B");
    EXPECT_TRUE(second.light_path->joints[3].stays);
    EXPECT_EQ(second.light_path->bodies[3].detail, "not recorded");
    EXPECT_FALSE(second.light_path->bodies[3].left->known);
    EXPECT_TRUE(second.light_path->bodies[1].left->known);

    // Pins that are changed after the test leave its picture as it was; before a test they are drawn, and
    // said where they cannot be mated.
    clock_ = FixedClock{parse_instant("2026-03-02T12:00:00Z")->ms};
    change_pins(Pins::pinned, 2);
    EXPECT_EQ(certificate(0).light_path->bodies[3].left->pins, Pins::unpinned);
    auto const late = item_at(job_->state(), "T", Instant{clock_.now_ms(), 0});
    ASSERT_TRUE(late.has_value());
    EXPECT_EQ(late->cord.ends[1].plug.pins, Pins::pinned);
    EXPECT_FALSE(item_at(job_->state(), "Q", Instant{clock_.now_ms(), 0}).has_value());
}

TEST_F(Register, WhatCannotBeMatedAsRegisteredIsDrawnAndSaid)
{
    bring_kit();
    ASSERT_TRUE(reference("R-1", "one-cord", {.source = "S", .meter = "M", .launch = "X", .tail = "T"})
                    .has_value()); // X: pinned at both ends
    check("C-1", "R-1");
    measure("N-1", "R-1", "a");
    auto const assessment = job_->assessment();
    ASSERT_TRUE(assessment.has_value());
    auto const made = certificate_of(job_->state(), **assessment, 0);
    ASSERT_TRUE(made.has_value());
    EXPECT_EQ(made->light_path->bodies[1].left->pins, plant::Pins::pinned);
    EXPECT_NE(made->light_path->joints[0].fault, "");
    bool said = false;
    for (std::string const& remark : made->remarks)
        said = said || remark.find("source S and launch cord X cannot be mated") != std::string::npos;
    EXPECT_TRUE(said);
}

} // namespace kit_register_test
} // namespace guidepin::job
