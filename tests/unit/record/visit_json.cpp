// SPDX-License-Identifier: Apache-2.0
// Oracle: parse_json() of the same text.
#include "record/visit_json.hpp"

#include <gtest/gtest.h>

namespace guidepin::record {
namespace visit_json_test {

constexpr char const* text =
    R"({"a":[[1],{"links":[7]}],"links":[{"x":[1,{"links":[2]}]},"two",[3],null],"z":{"links":[5,6]}})";

TEST(VisitElements, GivesEachElementAndKeepsTheRest)
{
    JsonValue const whole = *parse_json(text);
    std::vector<JsonValue> elements;
    auto const rest = visit_elements(text, "links", [&](JsonValue const& element) -> Outcome {
        elements.push_back(element);
        return {};
    });
    ASSERT_TRUE(rest);
    EXPECT_EQ(elements, *whole.find("links")->array());
    EXPECT_TRUE(rest->find("links")->array()->empty());
    EXPECT_EQ(*rest->find("a"), *whole.find("a"));
    EXPECT_EQ(*rest->find("z"), *whole.find("z")) << "lists of that name further down are left alone";
}

TEST(VisitElements, ErrorsEndIt)
{
    int taken = 0;
    auto const refused = visit_elements(text, "links", [&](JsonValue const&) -> Outcome {
        if (++taken == 2) return Error{Errc::damaged, "the second does not hold"};
        return {};
    });
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::damaged);
    EXPECT_EQ(taken, 2);
    auto const keep = [](JsonValue const&) -> Outcome { return {}; };
    EXPECT_FALSE(visit_elements(R"({"links":[1,2})", "links", keep));
    EXPECT_FALSE(visit_elements(R"({"links":[1],"links":[2]})", "links", keep));
    EXPECT_EQ(visit_elements(R"({"other":1})", "links", keep)->find("links"), nullptr);
    EXPECT_EQ(visit_elements(R"([{"links":[1]}])", "links", keep)->array()->size(), 1u);
}

} // namespace visit_json_test
} // namespace guidepin::record
