// SPDX-License-Identifier: Apache-2.0
// Can the reference have been taken with the kit that it names? Oracle: which pins, faces and families meet,
// by IEC 61754-7 as in docs/methods/reference.md, worked by hand for each case.
#include "job/kit/kit_register.hpp"
#include "job/sheet/kit_file.hpp"
#include "scratch_job.hpp"

namespace guidepin::job {
namespace reference_kit_test {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

class ReferenceKit : public ScratchJob
{
  protected:
    /// A sheet of S, M, L and T with these lines in each.
    static std::string kit(std::string const& source, std::string const& meter, std::string const& launch,
                           std::string const& tail = "")
    {
        return fmt::format(R"(
[[instrument]]
id = "S"
role = "source"
calibration-due = 2026-11-10
{}
[[instrument]]
id = "M"
role = "meter"
calibration-due = 2026-11-10
{}
[[cord]]
id = "L"
role = "launch"
{}
[[cord]]
id = "T"
role = "tail"
{}
)",
                           source, meter, launch, tail);
    }
    void register_kit(std::string const& text)
    {
        auto const file = kit_from_file({"kit.toml", text}, job_->state().tables);
        ASSERT_TRUE(file.has_value()) << file.error().message;
        auto const done = job_->register_kit(*file);
        ASSERT_TRUE(done.has_value()) << done.error().message;
    }
    Trust taken(std::string const& sheet, std::string const& method = "",
                TestKit const& with = {.source = "S", .meter = "M", .launch = "L", .tail = "T"})
    {
        open_new(sheet);
        reference(positions(1, 12), {850}, with, method);
        return reference_now();
    }
};

TEST_F(ReferenceKit, WhatIsUsualFits)
{
    EXPECT_THAT(ids(taken(kit("", "", ""))), IsEmpty());
    EXPECT_THAT(ids(taken(stated_kit)), IsEmpty());
}

TEST_F(ReferenceKit, PinnedToPinnedIsRefusedWhereBothAreStated)
{
    Trust const trust = taken(
        kit("pins = \"pinned\"", "pins = \"pinned\"", "pins-near = \"pinned\"\npins-far = \"unpinned\""));
    EXPECT_EQ(trust.state, "refused");
    EXPECT_THAT(texts(trust), HasSubstr("The source S and the launch cord L do not mate"));
}

TEST_F(ReferenceKit, ADefaultThatDoesNotFitIsARemark)
{
    Trust const trust = taken(kit("", "", "pins-near = \"pinned\"\npins-far = \"unpinned\""));
    EXPECT_EQ(trust.state, "accepted with remarks");
    EXPECT_THAT(ids(trust), Contains("reference.kit-not-stated"));
}

TEST_F(ReferenceKit, FaceAndFamilyCount)
{
    std::string const pins = "pins = \"pinned\"";
    EXPECT_THAT(ids(taken(kit(pins, pins, "face = \"angled\""))), Contains("reference.kit-does-not-mate"));
    EXPECT_THAT(ids(taken(kit("family = \"mpo-16\"", pins, "face = \"flat\""))),
                Contains("reference.kit-does-not-mate"));
}

TEST_F(ReferenceKit, ExchangeablePinsAreARemarkThatNamesTheChange)
{
    std::string const pins = "pins = \"pinned\"";
    Trust const trust = taken(kit(pins, pins, "pins-near = \"pinned\"\nexchangeable-pins = true"));
    EXPECT_EQ(trust.state, "accepted with remarks");
    EXPECT_THAT(texts(trust), HasSubstr("the near end of launch cord L unpinned"));
}

TEST_F(ReferenceKit, ARegisteredCordMayBeTurnedAndItsPinChangeCounts)
{
    char const* const instruments = R"(
[[instrument]]
serial = "S"
role = "source"
pins = "pinned"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[instrument]]
serial = "M"
role = "meter"
pins = "unpinned"
calibrated = 2025-11-10
calibration-due = 2026-11-10
)";
    open_new("");
    register_kit(std::string{instruments} +
                 "[[cord]]\nserial = \"L\"\ncategory = \"OM4\"\npins-near = \"pinned\"\n"
                 "[[cord]]\nserial = \"T\"\ncategory = \"OM4\"\n");
    reference(positions(1, 12));
    EXPECT_THAT(ids(reference_now()), Not(Contains("reference.kit-does-not-mate")));
    EXPECT_THAT(ids(reference_now()), Not(Contains("reference.pins-changed")));

    open_new("");
    register_kit(std::string{instruments} +
                 "[[cord]]\nserial = \"L\"\ncategory = \"OM4\"\npins-exchangeable = \"far\"\n"
                 "[[cord]]\nserial = \"T\"\ncategory = \"OM4\"\n");
    reference(positions(1, 12));
    EXPECT_THAT(texts(reference_now()), HasSubstr("the far end of launch cord L pinned"));
    PinsChanged change;
    change.item = "L";
    change.end = 1;
    change.to = plant::Pins::pinned;
    change.pins_counted = 2;
    auto const changed = job_->change_pins(change);
    ASSERT_TRUE(changed.has_value()) << changed.error().message;
    EXPECT_THAT(ids(reference_now()), Not(Contains("reference.pins-changed")));
}

TEST_F(ReferenceKit, ANeutralMeterTakesAnyPinsAndFace)
{
    open_new("");
    register_kit(R"(
[[instrument]]
serial = "S"
role = "source"
face = "angled"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[instrument]]
serial = "M"
role = "meter"
pins = "neutral"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[cord]]
serial = "L"
category = "OM4"
face = "angled"
[[cord]]
serial = "T"
category = "OM4"
face = "angled"
)");
    reference(positions(1, 12));
    EXPECT_THAT(ids(reference_now()), Not(Contains("reference.kit-does-not-mate")));
}

TEST_F(ReferenceKit, OneCordIsNotTwo)
{
    Trust const trust = taken(stated_kit, "", {.source = "S", .meter = "M", .launch = "L", .tail = "L"});
    EXPECT_EQ(trust.state, "refused");
    EXPECT_THAT(ids(trust), Contains("reference.same-item"));
}

TEST_F(ReferenceKit, TheMethodsCordsHaveToBeNamed)
{
    EXPECT_THAT(ids(taken(stated_kit, "three-cord")), Contains("reference.cord-missing"));
    EXPECT_THAT(ids(taken(stated_kit, "two-cord", {.source = "S", .meter = "M", .launch = "L"})),
                Contains("reference.cord-missing"));
    EXPECT_THAT(ids(taken(stated_kit, "one-cord", {.source = "S", .meter = "M", .launch = "L"})),
                Not(Contains("reference.cord-missing")));
}

TEST_F(ReferenceKit, TwoCordsWithoutPinsDoNotMeet)
{
    EXPECT_THAT(texts(taken(stated_kit, "two-cord")),
                HasSubstr("The launch cord L and the tail cord T do not mate"));
    std::string const pins = "pins = \"pinned\"";
    EXPECT_THAT(ids(taken(kit(pins, pins, "face = \"flat\"", "pins-far = \"pinned\""), "two-cord")),
                IsEmpty());
}

TEST_F(ReferenceKit, WavelengthsOfTheRegisterCount)
{
    open_new("");
    register_kit(R"(
[[instrument]]
serial = "S"
role = "source"
wavelengths = [1310, 1550]
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[instrument]]
serial = "M"
role = "meter"
wavelengths = [850, 1310, 1550]
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[cord]]
serial = "L"
[[cord]]
serial = "T"
)");
    reference(positions(1, 12));
    EXPECT_EQ(reference_now().state, "refused");
    EXPECT_THAT(texts(reference_now()),
                HasSubstr("holds 850 nm; the source S is registered for 1310, 1550 nm"));
    EXPECT_THAT(texts(reference_now()), Not(HasSubstr("the meter M is registered")));
}

} // namespace reference_kit_test
} // namespace guidepin::job
